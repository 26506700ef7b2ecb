"""Brings in a log or photos that exist already: how they read, what clashes, and then all in one go or none of it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import streamlit as st
from streamlit.runtime.uploaded_file_manager import UploadedFile

from prospect.errors import InputRefused, ProspectError
from prospect.issues import IssueLog
from prospect.pipeline import LogReading, Wording, against_record, read_file_guarded, read_for, read_log_text
from prospect.pipeline.log_photos import Match, is_of_photos
from prospect.sources.log_reading import spoken
from prospect.store import Ground
from prospect.ui.bring_photos import ask_about_photos, photos_in, save_photos
from prospect.ui.cards import reading_report
from prospect.ui.entry import (
    BLANK,
    Entry,
    clock,
    close,
    keep,
    leave,
    new_key,
    note,
    opened,
    put_away,
    ready_to_save,
    say_state,
)
from prospect.ui.open_ground import workspace
from prospect.ui.reading import table, words
from prospect.ui.uploads import laid_down
from prospect.ui.visitor import who_is_looking

PASTE = "paste"
MOST_PASTED = 150_000
"""Longest text to paste, characters: a draft holds a little more (`prospect.store.drafts`)."""
_READ = "read"
_CLASHES_SHOWN = 60


@dataclass(frozen=True, slots=True)
class Looked:
    """How a log read: the reading, or why it was refused.

    Attributes
    ----------
    mark
        What was read, in short, to see when it is another.
    reading
        What it held; None when nothing of it can be used.
    refusal
        Why not.
    log
        What was met on the way, when it was refused, or when it is of photos.
    photos
        Where each photo belongs, when it is of photos.
    """

    mark: str
    reading: LogReading | None
    refusal: str = ""
    log: IssueLog | None = None
    photos: tuple[Match, ...] = ()


def begin_paste(ground: Ground) -> str:
    """Open a form to paste a log into; return its key."""
    for draft in ground.pending():
        if draft.key.startswith(f"{PASTE} ") and BLANK in draft.content:
            ground.drop_draft(draft.key)
    key = new_key(PASTE)
    ground.keep_draft(key, {BLANK: "yes"})
    return key


@st.fragment
def bring_in_page(key: str) -> None:
    """Draw where a log is pasted or given as a file, and how it reads, until it is saved or put away."""
    ground = workspace().ground
    entry = opened(ground, key)
    if entry.done is not None:
        st.rerun()
    with st.container(key="entry"):
        st.html(
            "<h1>Bring in a log</h1><p>Paste it as it stands in your table, with the line of headings: holes, layers, "
            "samples, bars, tests – several tables one under the other are fine. Nothing goes on record before you "
            "have seen how it reads. Photos of a walk find their holes by place and time.</p>"
        )
        note(
            ground, entry, "text", "The log", {}, most=MOST_PASTED, height=300,
            placeholder="hole\tfrom\tto\ttexture\tcolour\nH1\t0\t20\tsilt loam\t10YR 3/2",
        )  # fmt: skip
        st.button("See how it reads", key=f"{key} look", on_click=_look, args=(ground, entry))
        if who_is_looking().may_import:
            uploads = _files(ground, entry)
        else:
            uploads = []
            st.html('<p class="cw-note">Files are read in only on the machine that holds the ground.</p>')
        looked = _looked(ground, entry)
        chosen: tuple[Match, ...] = ()
        with st.container():
            if looked is not None and looked.photos:
                if looked.log is not None:
                    st.html(reading_report(looked.log))
                chosen = ask_about_photos(ground, looked.photos, key)
            elif looked is not None:
                _report(ground, looked)
        say_state(entry)
        with st.container(horizontal=True, key="entry-end"):
            if looked is not None and looked.photos:
                st.button(
                    "Keep these photos", type="primary", key=f"{key} keep", on_click=_keep_photos,
                    args=(ground, entry, uploads, chosen), disabled=bool(ground.read_only) or not uploads,
                )  # fmt: skip
            else:
                st.button(
                    "Save all of it", type="primary", key=f"{key} save", on_click=_save, args=(ground, entry),
                    disabled=bool(ground.read_only) or looked is None or looked.reading is None,
                )  # fmt: skip
            st.button("Not now", key=f"{key} later", on_click=leave, args=(ground, entry))
            st.button("Put it away", key=f"{key} away", on_click=put_away, args=(ground, entry))


def _files(ground: Ground, entry: Entry) -> Sequence[UploadedFile]:
    """Take files and read them once; return them."""
    files = st.file_uploader(
        "Or files: tables, waypoints, a zip of them, photos",
        key=f"{entry.key} files",
        accept_multiple_files=True,
    )
    if files:
        mark = _mark(b"".join(part for one in files for part in (one.name.encode(), one.getbuffer())))
        held = _held(entry)
        if held is None or held.mark != mark:
            with st.spinner("Reading …"):
                _hold(entry, _read_files(ground, files, mark))
    return files


def _report(ground: Ground, looked: Looked) -> None:
    """Say how a log reads: counts, problems row by row, what it holds, what is on record already."""
    if looked.reading is None:
        st.html(
            '<section class="cw-land cw-iron" role="alert"><h3><span aria-hidden="true">■</span> It cannot be used as '
            f"it is</h3><p>{words(looked.refusal)}</p></section>"
        )
        if looked.log is not None and len(looked.log.issues) > 1:
            st.html(reading_report(looked.log))
        return
    st.html(reading_report(looked.reading.log))
    against = against_record(looked.reading.book, ground.log_book())
    told = [f"Read as {spoken(looked.reading.book)}."]
    if against.completed:
        told.append(f"On record in part and completed: {spoken(against.completed)}.")
    if against.same:
        told.append(f"{against.same:,} of them are on record already and are passed over.")
    if against.taken:
        told.append(
            f"{len(against.taken):,} of them say otherwise than what is on record under their name: they are left out "
            "and nothing on record is written over. Give them another name here, or change what is on record."
        )
    st.html(f'<p class="cw-reads">{words(" ".join(told))}</p>')
    if against.taken:
        shown = against.taken[:_CLASHES_SHOWN]
        rest = (
            f", the first {len(shown)} of {len(against.taken):,}" if len(against.taken) > len(shown) else ""
        )
        st.html(table(("", "name", "stands otherwise on record"), shown, f"What contradicts{rest}"))


def _look(ground: Ground, entry: Entry) -> None:
    """Read what was pasted."""
    keep(ground, entry)
    text = entry.text_of("text")
    if not text.strip():
        entry.trouble = "There is nothing to read yet: paste the log first."
        return
    entry.content[_READ] = _mark(text.encode())
    keep(ground, entry)


def _looked(ground: Ground, entry: Entry) -> Looked | None:
    """Return how the log reads that was last looked at; None when none was, or when it was changed since."""
    held, text = _held(entry), entry.text_of("text")
    mark = _mark(text.encode())
    if text.strip() and entry.text_of(_READ) == mark:
        if held is None or held.mark != mark:
            held = _read_text(ground, text, mark)
            _hold(entry, held)
        return held
    return held if held is not None and not text.strip() else None


def _read_text(ground: Ground, text: str, mark: str) -> Looked:
    return _read(mark, lambda: read_log_text(text, ground, today=date.today().isoformat(), usual="holes"))


def _read_files(ground: Ground, uploads: Sequence[UploadedFile], mark: str) -> Looked:
    with laid_down(uploads) as path:
        try:
            if is_of_photos(path):
                matches, log = photos_in(ground, path)
                return Looked(mark, None, log=log, photos=matches)
        except InputRefused as error:
            return Looked(mark, None, str(error), error.log)
        return _read(mark, lambda: _log_of(ground, path))


def _log_of(ground: Ground, path: Path) -> LogReading:
    found = read_for(ground, "holes", path, Wording(today=date.today().isoformat()), read=read_file_guarded)
    return LogReading(found.book, found.log, found.source)


def _read(mark: str, reading: Callable[[], LogReading]) -> Looked:
    try:
        return Looked(mark, reading())
    except InputRefused as error:
        return Looked(mark, None, str(error), error.log)
    except ProspectError as error:
        return Looked(mark, None, str(error))


def _save(ground: Ground, entry: Entry) -> None:
    """Put all of it on record in one go; what clashes is left out, and said."""
    if not ready_to_save(ground, entry):
        return
    looked = _looked(ground, entry)
    if looked is None or looked.reading is None:
        entry.trouble = "Not saved: look first how it reads."
        return
    book = looked.reading.book
    try:
        against = against_record(book, ground.log_book())
        ground.add_log(book, origin=f"{looked.reading.log.file} ({entry.key})")
    except ProspectError as error:
        entry.trouble = f"Not saved: {error}"
        return
    left = [name for _, name, _ in against.taken]
    told = f"Saved: {spoken(against.new)}, {clock()}."
    if against.completed:
        told += f" Completed: {spoken(against.completed)}."
    if left:
        more = " …" if len(left) > 12 else ""
        told += f" Left out, as they contradict what is on record: {', '.join(left[:12])}{more}."
    close(ground, entry, told)


def _keep_photos(
    ground: Ground, entry: Entry, uploads: Sequence[UploadedFile], chosen: tuple[Match, ...]
) -> None:
    if not ready_to_save(ground, entry):
        return
    try:
        with laid_down(uploads) as path:
            told = save_photos(ground, path, chosen)
    except ProspectError as error:
        entry.trouble = f"Not saved: {error}"
        return
    close(ground, entry, told)


def _mark(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:16]


def _held(entry: Entry) -> Looked | None:
    return st.session_state.get(f"{entry.key} looked")


def _hold(entry: Entry, looked: Looked) -> None:
    st.session_state[f"{entry.key} looked"] = looked

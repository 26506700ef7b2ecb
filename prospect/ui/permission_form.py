"""The form by which it is written down what somebody said about going onto a parcel."""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path

import streamlit as st
from streamlit.runtime.uploaded_file_manager import UploadedFile

from prospect.errors import ProspectError
from prospect.store import Change, Ground
from prospect.ui.entry import (
    BLANK,
    Entry,
    choice,
    clock,
    close,
    line,
    new_key,
    note,
    offer_to_save,
    opened,
    pick,
    ready_to_save,
    say_faults,
    say_state,
    tick,
)
from prospect.ui.open_ground import workspace
from prospect.ui.permission_cards import caution_for
from prospect.ui.permission_reading import (
    HOW,
    SCOPE_WORDS,
    SPEAKERS,
    STATUS_WORDS,
    PermissionReading,
    days_in_words,
    limits_in_words,
    measures,
    read_permission,
)
from prospect.ui.reading import words
from prospect.ui.visitor import who_is_looking
from prospect.ui.workspace import Workspace

KIND = "permission"
_MOST_OFFERED = 1000
_SUFFIX = re.compile(r"\.[a-z0-9]{1,5}")


def begin_answer(ground: Ground, parcel_id: str = "", person: str = "") -> str:
    """Open a form for an answer; return its key."""
    key = new_key(KIND)
    ground.keep_draft(key, {BLANK: "yes", **_filled({"parcel": parcel_id, "person": person})})
    return key


def what_became_of_answer(ground: Ground) -> str:
    """Return what became of a form whose draft is gone."""
    last = next((change for change in reversed(ground.audit()) if change.action == "permit"), None)
    saved = f" The last answer on record is for parcel {_parcel(last)}." if last else ""
    return f"Nothing is being typed there any more: it was saved or put away.{saved}"


@st.fragment
def permission_form(key: str) -> None:
    """Draw the form until it is saved or put away."""
    space = workspace()
    ground = space.ground
    entry = opened(ground, key)
    if entry.done is not None:
        st.rerun()
    reading = read_permission(entry.content, ground.settings.units)
    faults = reading.wrong | (reading.missing if entry.tried else {})
    with st.container(key="entry"):
        st.html("<h1>An answer</h1>")
        _which(space, ground, entry, faults)
        with st.container(key="entry-what"):
            st.html("<h2>What happened?</h2>")
            choice(ground, entry, "status", "What was said", STATUS_WORDS, faults)
        status = entry.text_of("status")
        with st.container():  # stays when it is empty, so that what stands below it is not moved
            if status in ("asked", "granted"):
                _reach(ground, entry, status, faults)
        paper = _rest(ground, entry, faults)
        _end(ground, entry, reading, faults, paper)


def _which(space: Workspace, ground: Ground, entry: Entry, faults: Mapping[str, str]) -> None:
    with st.container(key="entry-who"):
        st.html("<h2>Whose ground?</h2>")
        known = parcel_ids(space)
        if 0 < len(known) <= _MOST_OFFERED:
            pick(ground, entry, "parcel", "Parcel", known, faults, placeholder="choose or type its number")
        else:
            line(ground, entry, "parcel", "Parcel", faults, placeholder="its number on the map", most=200)
        with st.container():
            if known and entry.text_of("parcel") and entry.text_of("parcel") not in known:
                st.html('<p class="cw-note">No parcel of that number is on the map of this ground.</p>')
        line(ground, entry, "person", "Who spoke", faults, placeholder="name", most=200)
        choice(ground, entry, "speaks as", "Speaks as", SPEAKERS, faults)
        caution = caution_for(entry.text_of("speaks as"))
        if caution:
            st.html(f'<p class="cw-caution">▲ {words(caution)}</p>')


def _reach(ground: Ground, entry: Entry, status: str, faults: Mapping[str, str]) -> None:
    asked = measures(ground.settings.units)
    scope = entry.text_of("scope")
    with st.container(key="entry-limits"):
        st.html("<h2>Leave for what?</h2>" if status == "granted" else "<h2>What was asked for?</h2>")
        choice(ground, entry, "scope", "Each one holds those before it", SCOPE_WORDS, faults)
        with st.container(horizontal=True):
            if scope in ("auger", "dig", "take"):
                line(ground, entry, "depth", f"How deep ({asked['depth'].sign})", faults, most=20)
                line(ground, entry, "volume", f"How much dug ({asked['volume'].sign})", faults, most=20)
        with st.container():
            if scope in ("dig", "take"):
                tick(ground, entry, "machine", "A machine may be used")
        with st.container():
            if scope == "take":
                line(
                    ground, entry, "amount", f"How much taken away ({asked['amount'].sign})", faults, most=20
                )
                tick(ground, entry, "may sell", "What is made of it may be sold")
        with st.container(horizontal=True):
            line(ground, entry, "from", "From", faults, placeholder="2026-05-31", most=20)
            line(ground, entry, "until", "Until", faults, placeholder="2026-09-30", most=20)
        line(
            ground,
            entry,
            "conditions",
            "Conditions",
            faults,
            placeholder="gate shut, not in the hay",
            most=2000,
        )


def _rest(ground: Ground, entry: Entry, faults: Mapping[str, str]) -> UploadedFile | None:
    with st.container(key="entry-rest"):
        st.html("<h2>Anything else?</h2>")
        choice(ground, entry, "how", "How it was said", HOW, faults)
        note(ground, entry, "note", "Note", faults)
        if not who_is_looking().here:
            return None
        paper = st.file_uploader(
            "A paper that belongs to it, signed slip or letter", key=f"{entry.key} paper", max_upload_size=50
        )
        st.html(
            '<p class="cw-note">The paper is kept with the answer when it is saved, on this machine only.</p>'
        )
        return paper


def _end(
    ground: Ground,
    entry: Entry,
    reading: PermissionReading,
    faults: Mapping[str, str],
    paper: UploadedFile | None,
) -> None:
    with st.container():  # what comes and goes here moves no button under a finger
        if reading.entry is not None:
            said = reading.entry
            parts = (
                f"<b>parcel {words(said.parcel_id)}</b>",
                words(STATUS_WORDS[said.status]),
                words(f"to {SCOPE_WORDS[said.scope]}" if said.scope else ""),
                words(limits_in_words(said, ground.settings.units)),
                words(days_in_words(said)),
            )
            st.html(f'<p class="cw-reads">Reads as: {" · ".join(part for part in parts if part)}</p>')
        if entry.tried:
            say_faults(faults)
        say_state(entry)
    offer_to_save(ground, entry, _save, (ground, entry, paper))


def parcel_ids(space: Workspace) -> Sequence[str]:
    """Return the identifiers of the parcels on the map, each once, sorted; empty without such a layer."""
    frame = space.frame("parcels")
    if frame is None:
        return ()
    return tuple(sorted({str(name) for name in frame["parcel_id"] if str(name).strip()}))


def owners_of(space: Workspace, parcel_id: str) -> tuple[str, ...]:
    """Return the owners that the map names for a parcel."""
    return owners_by_parcel(space, (parcel_id,)).get(parcel_id, ())


def owners_by_parcel(space: Workspace, parcel_ids: Collection[str]) -> dict[str, tuple[str, ...]]:
    """Return the owners that the map names for some parcels; those it names nobody for are left out."""
    frame = space.frame("parcels")
    if frame is None or "owner" not in frame.columns:
        return {}
    ids = frame["parcel_id"].astype(str)
    here = ids.isin(set(parcel_ids))
    found: dict[str, dict[str, None]] = {}
    for parcel_id, owner in zip(ids[here], frame["owner"][here], strict=True):
        if isinstance(owner, str) and owner.strip():
            found.setdefault(parcel_id, {})[owner] = None
    return {parcel_id: tuple(owners) for parcel_id, owners in found.items()}


def _save(ground: Ground, entry: Entry, paper: UploadedFile | None) -> None:
    if not ready_to_save(ground, entry):
        return
    said = read_permission(entry.content, ground.settings.units).entry
    if said is None:
        return
    try:
        with tempfile.TemporaryDirectory(prefix="claywalk-") as folder:
            saved = ground.permit(said, document=_laid_down(Path(folder), paper))
    except ProspectError as error:
        entry.trouble = f"Not saved: {error}"
        return
    close(ground, entry, f"Saved: parcel {saved.parcel_id}, {STATUS_WORDS[saved.status][2:]}, {clock()}.")


def _laid_down(folder: Path, paper: UploadedFile | None) -> Path | None:
    """Write an uploaded paper down under a name of our own; None when there is none."""
    if paper is None:
        return None
    suffix = Path(str(paper.name)).suffix.lower()
    path = folder / f"paper{suffix if _SUFFIX.fullmatch(suffix) else ''}"
    path.write_bytes(paper.getbuffer())
    return path


def _filled(content: Mapping[str, str]) -> dict[str, str]:
    return {name: text for name, text in content.items() if text}


def _parcel(change: Change) -> str:
    try:
        return str(json.loads(change.detail)["parcel_id"])
    except (ValueError, KeyError, TypeError):
        return "(unknown)"

"""Takes a log into the ground: from a file or from text that somebody pasted, and says what became of each item."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, fields
from pathlib import Path

from prospect.issues import Issue, IssueLog
from prospect.layerfile import LayerSource
from prospect.pipeline.area import ground_lonlat
from prospect.pipeline.reading import USUAL, guarded
from prospect.records import LogBook
from prospect.sources.log_reading import Asked, Known, LogReading, read_log_pasted, spoken
from prospect.store import Ground

_PASTED = "pasted text.txt"
_NAMES = {
    "holes": "hole_id",
    "samples": "sample_id",
    "bars": "bar_id",
    "tests": "test_id",
    "batches": "batch_id",
}
_ONE = {"holes": "hole", "samples": "sample", "bars": "bar", "tests": "bench test", "batches": "batch"}


@dataclass(frozen=True, slots=True)
class LogIntake:
    """What became of a log.

    Attributes
    ----------
    log, source
        How it was read, and where it came from.
    saved
        What was new and is on record now.
    clashes
        What was not saved, because something else of its name is on record.
    notes
        Sentences for a person.
    """

    log: IssueLog
    source: LayerSource
    saved: LogBook
    clashes: LogBook
    notes: tuple[str, ...]


def read_log_text(text: str, ground: Ground, *, today: str = "", usual: str = "samples") -> LogReading:
    """Read a log from text that somebody pasted, in a process of its own, and keep nothing.

    Parameters
    ----------
    text
        Tables under each other, each with its headings, parted by tabs, commas or semicolons.
    ground
        The ground it is for: its place, its holes and its samples.
    today
        ISO date; later ones are mistakes.
    usual
        What a list of places is taken for where nothing else tells: `samples` or `holes`.

    Raises
    ------
    InputRefused
        When nothing of it can be used; its log says why.
    """
    asked = Asked(
        usual=usual, bounds=ground_lonlat(ground), today=today, known=known_names(ground.log_book())
    )
    with tempfile.TemporaryDirectory(prefix="claywalk-") as name:
        path = Path(name) / _PASTED
        path.write_bytes(text.encode("utf-8", errors="replace"))
        return guarded(read_log_pasted, path, "log", "log", asked, limits=USUAL)


def take_log(ground: Ground, reading: LogReading) -> LogIntake:
    """Save what a log held; what is on record word for word is passed over, and each clash is said.

    Parameters
    ----------
    ground
        Where it goes.
    reading
        From `read_log_text`, or of a file.

    Raises
    ------
    GroundError
        When it cannot be saved; nothing was then.
    """
    before = ground.log_book()
    clashes = ground.add_log(reading.book, origin=reading.source.origin)
    saved = _new(reading.book, before, clashes)
    for issue in clash_issues(clashes, reading.log.file):
        reading.log.note(issue)
    notes = [f"Saved: {spoken(saved)}."] if saved else ["Nothing new to save."]
    same = _count(reading.book) - _count(saved) - _count(clashes)
    if same:
        notes.append(f"{same} on record already, word for word.")
    if clashes:
        notes.append(f"Not saved: {spoken(clashes)}, as something else of that name is on record.")
    return LogIntake(reading.log, reading.source, saved, clashes, tuple(notes))


def known_names(book: LogBook) -> Known:
    """Return what a log needs to know of what is on record."""
    places = {sample.hole_id: (sample.lon, sample.lat) for sample in reversed(book.samples) if sample.hole_id}
    places |= {hole.hole_id: (hole.lon, hole.lat) for hole in book.holes}
    names = {sample.sample_id for sample in book.samples} | {batch.batch_id for batch in book.batches}
    return Known(places, frozenset(names))


def clash_issues(clashes: LogBook, file: str) -> Iterator[Issue]:
    """Give a word on each item whose name is taken, and what to do."""
    for kind, key in _NAMES.items():
        for item in getattr(clashes, kind):
            name = getattr(item, key)
            what = f"a different {_ONE[kind]} of that name is on record and was kept"
            action = f"Not saved: {what}. Give this one another name, or change the one on record in the app."
            expected = f"a name that no other {_ONE[kind]} has"
            yield Issue("warning", file, f"{_ONE[kind]} {name}", key, name, expected, action)


def _new(book: LogBook, before: LogBook, clashes: LogBook) -> LogBook:
    parts = {}
    for kind, key in _NAMES.items():
        there = {getattr(one, key) for one in (*getattr(before, kind), *getattr(clashes, kind))}
        parts[kind] = tuple(one for one in getattr(book, kind) if getattr(one, key) not in there)
    return LogBook(**parts)


def _count(book: LogBook) -> int:
    return sum(len(getattr(book, item.name)) for item in fields(LogBook))

"""Takes a log into the ground: from a file or from text that somebody pasted, and says what became of each item."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from operator import attrgetter
from pathlib import Path
from typing import Any

from prospect.issues import Issue, IssueLog
from prospect.layerfile import LayerSource
from prospect.pipeline.area import ground_lonlat
from prospect.pipeline.reading import USUAL, guarded
from prospect.records import LogBook, contradictions
from prospect.sources.log_reading import Asked, Known, LogReading, read_log_pasted, spoken
from prospect.store import Ground, sort_out

_PASTED = "pasted text.txt"
_NAMES = {
    "holes": "hole_id",
    "samples": "sample_id",
    "bars": "bar_id",
    "tests": "test_id",
    "batches": "batch_id",
}
_CALLED = {
    "kind": "what it is or was dug with",
    "lon": "place",
    "lat": "place",
    "usable": "clay worth having or not",
    "dry": "water met or not",
    "water_cm": "depth of the water",
    "top_cm": "upper depth",
    "bottom_cm": "lower depth",
    "hole_id": "hole",
    "specimen": "sample or batch",
    "fields": "other columns",
    "values": "what was measured",
    "words": "what was seen",
    "fired_c": "temperature",
}
_UNIT_AT_ITS_END = re.compile(r"_(cm|mm|m|g|kg|pct|deg|days)$")
_ONE = {"holes": "hole", "samples": "sample", "bars": "bar", "tests": "bench test", "batches": "batch"}


@dataclass(frozen=True, slots=True)
class Against:
    """What a log brings beside what is on record.

    Attributes
    ----------
    new
        What is not on record yet.
    completed
        What is on record in part, as it becomes.
    same
        How many add nothing to what is on record.
    clashes
        What contradicts something of its kind and name.
    differ
        What of it does, in words, by part of the log (`bars`) and name.
    """

    new: LogBook
    completed: LogBook
    same: int
    clashes: LogBook
    differ: Mapping[tuple[str, str], tuple[str, ...]]

    @property
    def taken(self) -> tuple[tuple[str, str, str], ...]:
        """Kind, name and the fields that differ, of each clash."""
        return tuple((_ONE[part], name, ", ".join(names)) for (part, name), names in self.differ.items())


@dataclass(frozen=True, slots=True)
class LogIntake:
    """What became of a log.

    Attributes
    ----------
    log, source
        How it was read, and where it came from.
    against
        What of it was new, completed what was on record, or was not saved.
    notes
        Sentences for a person.
    """

    log: IssueLog
    source: LayerSource
    against: Against
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
    """Save what a log held; what is on record as it is is passed over, and each clash is said.

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
    against = against_record(reading.book, ground.log_book())
    ground.add_log(reading.book, origin=reading.source.origin)
    for issue in clash_issues(against, reading.log.file):
        reading.log.note(issue)
    notes = [f"Saved: {spoken(against.new)}." if against.new else "Nothing new to save."]
    if against.completed:
        notes.append(f"Completed: {spoken(against.completed)}.")
    if against.same:
        notes.append(f"{against.same} on record already.")
    if against.clashes:
        notes.append(f"Not saved: {spoken(against.clashes)}, as something else of that name is on record.")
    return LogIntake(reading.log, reading.source, against, tuple(notes))


def against_record(book: LogBook, on_record: LogBook) -> Against:
    """Return what of a log is new, completes what is on record, adds nothing, or contradicts it."""
    new: dict[str, tuple[Any, ...]] = {}
    whole: dict[str, tuple[Any, ...]] = {}
    clashes: dict[str, tuple[Any, ...]] = {}
    differ: dict[tuple[str, str], tuple[str, ...]] = {}
    same = 0
    for part, key in _NAMES.items():
        held = {getattr(item, key): item for item in getattr(on_record, part)}
        items = getattr(book, part)
        found = sort_out(items, attrgetter(key), {name: (item, 0) for name, item in held.items()})
        new[part] = tuple(found.new.values())
        whole[part] = tuple(one.after for one in found.amended)
        clashes[part] = found.clashes
        same += len(items) - len(new[part]) - len(whole[part]) - len(found.clashes)
        for item in found.clashes:
            name = getattr(item, key)
            fields = contradictions(held.get(name) or found.new[name], item)
            differ[part, name] = tuple(dict.fromkeys(map(_in_words, fields)))
    return Against(LogBook(**new), LogBook(**whole), same, LogBook(**clashes), differ)


def _in_words(name: str) -> str:
    """Return what a person calls a field of a record: `depth_cm` is the depth."""
    return _CALLED.get(name) or _UNIT_AT_ITS_END.sub("", name).replace("_", " ")


def known_names(book: LogBook) -> Known:
    """Return what a log needs to know of what is on record."""
    places = {sample.hole_id: (sample.lon, sample.lat) for sample in reversed(book.samples) if sample.hole_id}
    places |= {hole.hole_id: (hole.lon, hole.lat) for hole in book.holes}
    names = {sample.sample_id for sample in book.samples} | {batch.batch_id for batch in book.batches}
    return Known(places, frozenset(names))


def clash_issues(against: Against, file: str) -> Iterator[Issue]:
    """Give a word on each item that contradicts what is on record: in which fields, and what to do."""
    for part, key in _NAMES.items():
        for item in getattr(against.clashes, part):
            name = getattr(item, key)
            differ = ", ".join(against.differ[part, name])
            action = (
                f"Not saved: {differ} stand otherwise on record. Change the {_ONE[part]} on record in the app, or give "
                "this one another name if it is another."
            )
            expected = f"the same {differ} as on record"
            yield Issue("warning", file, f"{_ONE[part]} {name}", key, name, expected, action)

"""Puts what a hole's form says on record, part by part, with the bags that go home."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Final, NamedTuple

from prospect.errors import ProspectError
from prospect.records import Hole, LogBook
from prospect.store import ChangedMeanwhile, Ground
from prospect.ui.entry import WAS, Entry, close, keep, put, put_away, ready_to_save
from prospect.ui.hole_reading import (
    BAG,
    PLACE,
    HoleReading,
    bag_name,
    bagged,
    content_of,
    marks,
    next_hole_name,
    of_layer,
    read_hole,
    sample_of,
)

KIND: Final = "hole"
HEAD, END = "hole", "end"
"""The parts of the form besides the layers, which go by their marks."""
PART = "part"
"""Name of the argument in the page's address that holds which part of the form is open."""
OF, REVISION, CLASH = "of", "revision", "clash"
BAGGED = "bagged"
"""Field of a layer that holds the name of the sample that was noted with it."""
HEAD_FIELDS = ("name", "kind", "place", "error", "day", "facing")
END_FIELDS = ("stopped", "depth", "water", "dry", "note")


class HoleOnRecord(NamedTuple):
    """A hole on record, and the revision that an edit of it must name."""

    hole: Hole
    revision: int


def on_record(ground: Ground, name: str) -> HoleOnRecord | None:
    """Return a hole by its name; None when there is none."""
    found = ground.on_record(KIND, name) if name else None
    return (
        HoleOnRecord(found.item, found.revision)
        if found is not None and isinstance(found.item, Hole)
        else None
    )


def recorded_hole(ground: Ground, entry: Entry) -> HoleOnRecord | None:
    """Return the hole on record that the form changes; None for a new one, and for one that was taken out."""
    return on_record(ground, entry.text_of(OF)) if OF in entry.content else None


def read_form(ground: Ground, entry: Entry, recorded: HoleOnRecord | None) -> HoleReading:
    """Read the form, and look whether the name of a new hole is free."""
    reading = read_hole(
        entry.content, ground.settings.units, date.today().isoformat(), recorded.hole if recorded else None
    )
    if OF in entry.content:
        return reading
    other = on_record(ground, entry.text_of("name"))
    if other is None or other.hole == reading.hole:
        return reading
    names = [hole.hole_id for hole in reversed(ground.holes())]
    free = next_hole_name(set(names), names)
    fault = f"There is a hole of that name already, and it is never written over. {free} is free."
    return replace(reading, hole=None, wrong={**reading.wrong, "name": fault})


def _put_on_record(
    ground: Ground, entry: Entry, hole: Hole, recorded: HoleOnRecord | None
) -> HoleOnRecord | None:
    """Save a hole, unless it is on record as it is; return it as it is on record, None when its name is taken."""
    if recorded is None and OF not in entry.content:
        taken = ground.add_log(LogBook(holes=(hole,)), origin=f"the app ({entry.key})")
        return None if taken else on_record(ground, hole.hole_id)
    if recorded is not None and recorded.hole == hole:
        return recorded
    saved = ground.edit_log(hole, int(entry.text_of(REVISION)))
    return HoleOnRecord(hole, saved.revision)


def _settle_marks(entry: Entry, reading: HoleReading, saved: HoleOnRecord, units: str) -> None:
    """Take what is on record now for what the change of it began from; the marks of the layers stay as they are."""
    for name in [name for name in entry.content if name.startswith(WAS)]:
        del entry.content[name]
    entry.content |= origins(saved, units)
    for mark in marks(entry.content):
        entry.content.pop(of_layer(mark, PLACE), None)
    entry.content |= {of_layer(mark, PLACE): str(place) for place, mark in enumerate(reading.order, 1)}


def origins(recorded: HoleOnRecord, units: str) -> dict[str, str]:
    """Return what a change of a hole on record has to know of it."""
    return {
        OF: recorded.hole.hole_id,
        REVISION: str(recorded.revision),
        **{WAS + name: text for name, text in content_of(recorded.hole, units).items()},
    }


def _note_bags(ground: Ground, entry: Entry, reading: HoleReading) -> None:
    """Put the bags that go home on record as samples, each under the name that was shown for it."""
    if reading.hole is None:
        return
    layers = dict(zip(reading.order, reading.hole.layers, strict=True))
    for mark, name in bag_names(ground, entry).items():
        sample = sample_of(reading.hole, layers[mark], name)
        try:
            taken = ground.add_samples([sample], origin=f"the app ({entry.key})")
        except ProspectError as error:
            entry.trouble = f"The bag {name} is not on record yet: {error}"
            return
        if not taken:
            put(entry, {of_layer(mark, BAGGED): name, of_layer(mark, BAG): ""})


def bag_names(ground: Ground, entry: Entry) -> dict[str, str]:
    """Return the name for each bag that goes home, by the mark of its layer."""
    names = [sample.sample_id for sample in reversed(ground.samples())]
    taken = {*names, *(draft.content.get("name", "") for draft in ground.pending())}
    found: dict[str, str] = {}
    for mark in bagged(entry.content):
        found[mark] = bag_name(entry.text_of(OF) or entry.text_of("name"), {*taken, *found.values()}, names)
    return found


def save_hole(ground: Ground, entry: Entry, part: str) -> bool:
    """Put the hole on record as it stands; return whether to go on from this part of the form.

    What is wrong on the part itself holds one up; what is missing elsewhere (its place, while there is no signal)
    keeps everything in the draft and lets the work at the hole go on.
    """
    if not ready_to_save(ground, entry):
        return False
    recorded = recorded_hole(ground, entry)
    reading = read_form(ground, entry, recorded)
    if reading.hole is None:
        here = [name for name in reading.wrong | reading.missing if not part or is_shown(name, part)]
        held_up = bool(here) and not (
            part == HEAD and set(here) <= {"place"} and "place" not in reading.wrong
        )
        keep(ground, entry)
        entry.tried = held_up
        return not held_up
    try:
        saved = _put_on_record(ground, entry, reading.hole, recorded)
    except ChangedMeanwhile:
        entry.content[CLASH] = "yes"
        entry.tried = False
        keep(ground, entry)
        return False
    except ProspectError as error:
        entry.trouble = f"Not saved: {error}"
        return False
    if saved is None:
        entry.trouble = "Not saved: a hole of that name was put on record meanwhile."
        return False
    _settle_marks(entry, reading, saved, ground.settings.units)
    _note_bags(ground, entry, reading)
    entry.tried = False
    trouble = entry.trouble
    keep(ground, entry)
    entry.trouble = entry.trouble or trouble
    return True


def put_hole_away(ground: Ground, entry: Entry) -> None:
    """Forget what was typed since the hole was saved; all of it when it never was."""
    if of := entry.text_of(OF):
        close(ground, entry, f"Put away what was typed since. {of} stays on record as it was saved.")
    else:
        put_away(ground, entry)


def is_shown(name: str, part: str) -> bool:
    """Whether a field stands on a part of the form."""
    first = name.split(" ")[0]
    if part in (HEAD, END):
        return name in (HEAD_FIELDS if part == HEAD else END_FIELDS)
    return first == part

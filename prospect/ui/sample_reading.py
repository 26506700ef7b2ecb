"""What the fields of a sample's form say: a sample, or what is wrong with which field, in words."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from prospect.cartography import place_in_words, read_place
from prospect.errors import WrongUsage
from prospect.records import Sample
from prospect.sources.numbers import METRES, read_length
from prospect.sources.sample_rows import DEEPEST_CM, date_fault, read_date, read_usable
from prospect.text import plain

EXTRAS: dict[str, str] = {
    "feel": "How it feels, wet and rolled",
    "moist colour": "Colour, moist",
    "fizz": "With a drop of vinegar",
    "roots and stones": "Roots and stones",
    "smell": "Smell",
}
"""Fields of our own that a sample keeps beside the usual ones, and how they are asked for."""
FIZZ: dict[str, str] = {"none": "stays still", "weak": "fizzes a little", "strong": "fizzes hard"}
USABLE: dict[str, str] = {"yes": "● yes", "no": "■ no", "unknown": "○ not known"}
LABELS: dict[str, str] = {
    "name": "Name on the bag",
    "hole": "Hole",
    "place": "Place",
    "error": "How sure of the place",
    "top": "From",
    "bottom": "To",
    "day": "Day",
    "usable": "Worth having",
    **EXTRAS,
    "note": "Note",
}
"""What each field of the form is called."""
LONGEST_LABEL = 8
"""A name that still fits on the label of a small bag (own judgement), characters."""
FARTHEST_OFF_M = 100_000.0
"""Most that a place can be off, m: beyond it, it is no place (own judgement)."""
_NUMBERED = re.compile(r"(.*?)(\d+)", re.DOTALL)
_COLUMN = {name: name.replace(" ", "_") for name in EXTRAS}


@dataclass(frozen=True, slots=True)
class SampleReading:
    """What a form says.

    Attributes
    ----------
    sample
        The sample; None while something is wrong or missing.
    wrong
        Field → what is wrong with what stands in it.
    missing
        Field → why it cannot be left empty.
    """

    sample: Sample | None
    wrong: dict[str, str] = field(default_factory=dict)
    missing: dict[str, str] = field(default_factory=dict)


def depth_unit(units: str) -> str:
    """Return the unit in which depths are asked for and shown."""
    return "in" if units == "us" else "cm"


def content_of(sample: Sample, units: str) -> dict[str, str]:
    """Return a sample as the text of the form's fields; fields that are empty are left out."""
    unit = depth_unit(units)
    depths = {"top": sample.top_cm, "bottom": sample.bottom_cm}
    content = {
        "name": sample.sample_id,
        "hole": sample.hole_id,
        "place": place_as_numbers(sample.lon, sample.lat),
        "error": "" if sample.position_error_m is None else f"{sample.position_error_m:g}",
        **{name: "" if depth is None else depth_as_number(depth, unit) for name, depth in depths.items()},
        "day": sample.date,
        "usable": sample.usable,
        **{name: sample.fields.get(column, "") for name, column in _COLUMN.items()},
        "note": sample.note,
    }
    return {name: text for name, text in content.items() if text}


def read_sample(
    content: Mapping[str, str], units: str, today: str, onto: Sample | None = None
) -> SampleReading:
    """Return the sample that the form's fields say.

    Parameters
    ----------
    content
        Text by field; fields that are empty are left out.
    units
        `metric` or `us`: the unit of a depth that does not name its own.
    today
        ISO date; nobody has dug later.
    onto
        The sample that is being changed: what the form does not ask for stays as it is there.
    """
    wrong: dict[str, str] = {}
    was = content_of(onto, units) if onto else {}
    place = place_said(content.get("place", ""), wrong)
    error_m = length_said(content.get("error", ""), "m", "m", FARTHEST_OFF_M, "error", "5 or 5 m", wrong)
    unit = depth_unit(units)
    top, bottom = (
        length_said(content.get(name, ""), "cm", unit, DEEPEST_CM, name, f"30 or 30 {unit}", wrong)
        for name in ("top", "bottom")
    )
    if top is not None and bottom is not None and top > bottom:
        wrong["bottom"] = "The lower end lies above the upper one. Expected a depth that is no smaller."
    day = day_said(content.get("day", ""), today, wrong)
    usable = read_usable(content.get("usable", "")) or "unknown"
    name = plain(content.get("name", ""), 80)
    missing = {}
    if not (name or onto):
        missing["name"] = "A sample needs a name: the one you wrote on the bag."
    if "place" not in content:
        missing["place"] = "A sample needs its place. Until you have it, it stays here as a draft."
    # What was not touched stays as it is on record, to its last decimal and letter.
    touched = (
        {field for field in LABELS if content.get(field, "") != was.get(field, "")} if onto else set(LABELS)
    )
    wrong = {field: words for field, words in wrong.items() if field in touched}
    if wrong or missing:
        return SampleReading(None, wrong, missing)
    read: dict[str, Any] = {
        "hole": {"hole_id": plain(content.get("hole", ""), 80)},
        "place": {"lon": place[0], "lat": place[1]} if place else {},
        "error": {"position_error_m": error_m},
        "top": {"top_cm": top},
        "bottom": {"bottom_cm": bottom},
        "day": {"date": day},
        "usable": {"usable": usable},
        "note": {"note": plain(content.get("note", ""), 4000, lines=True)},
    }
    changes = {
        key: value for field, values in read.items() if field in touched for key, value in values.items()
    }
    base = onto or Sample(name, *(place or (0.0, 0.0)))
    return SampleReading(replace(base, **changes, fields=_fields(content, base, touched)))


def next_name(taken: Collection[str], newest_first: Sequence[str]) -> str:
    """Return a short name that is free: the one after the newest sample's, or else S1.

    Parameters
    ----------
    taken
        Every name on record and in drafts.
    newest_first
        Names on record, the newest first.
    """
    for name in newest_first:
        match = _NUMBERED.fullmatch(name)
        if match and len(name) <= LONGEST_LABEL and len(match[2]) <= 5 and match[1].isprintable():
            return _free(match[1], int(match[2]) + 1, len(match[2]), taken)
    return _free("S", 1, 1, taken)


def place_as_numbers(lon: float, lat: float) -> str:
    """Return a place as the form's field holds it."""
    return place_in_words(lon, lat).replace("°", "")


def depth_as_number(depth_cm: float, unit: str) -> str:
    """Return a depth as a bare number in a unit."""
    return f"{round(depth_cm * METRES['cm'] / METRES[unit], 2):g}"


def depths_in_words(sample: Sample, units: str) -> str:
    """Return a sample's depths; empty when neither is known."""
    unit = depth_unit(units)
    top, bottom = (
        None if depth is None else depth_as_number(depth, unit) for depth in (sample.top_cm, sample.bottom_cm)
    )
    if top is not None and bottom is not None:
        return f"{top} to {bottom} {unit}"
    if bottom is not None:
        return f"down to {bottom} {unit}"
    return "" if top is None else f"from {top} {unit} on"


def place_said(text: str, wrong: dict[str, str]) -> tuple[float, float] | None:
    """Return the longitude and latitude that a field says; what is wrong with it goes into `wrong`."""
    if not text:
        return None
    try:
        return read_place(text)
    except WrongUsage as error:
        wrong["place"] = str(error)
        return None


def length_said(
    text: str, unit: str, default: str, most: float, name: str, expected: str, wrong: dict[str, str]
) -> float | None:
    """Return the length that a field says, in `unit`; what is wrong with it goes into `wrong`."""
    if not text.strip():
        return None
    value = read_length(text, unit, default=default)
    if value is None or not 0 <= value <= most:
        wrong[name] = f"'{plain(text, 40)}' is not a length from 0 up. Expected a number such as {expected}."
        return None
    return round(value, 3)


def day_said(text: str, today: str, wrong: dict[str, str]) -> str:
    """Return the ISO date that a field says; what is wrong with it goes into `wrong`."""
    if not text.strip():
        return ""
    found = read_date(text.strip())
    expected = "a day such as 2026-05-31" if found is None else date_fault(found[0], today)
    if found is None or expected:
        wrong["day"] = f"'{plain(text, 40)}' cannot be the day. Expected {expected}."
        return ""
    return found[0]


def _fields(content: Mapping[str, str], base: Sample, touched: Collection[str]) -> dict[str, str]:
    fields = dict(base.fields)
    for name in EXTRAS:
        if name in touched:
            fields.pop(_COLUMN[name], None)
            text = plain(content.get(name, ""), 300)
            if text:
                fields[_COLUMN[name]] = text
    return fields


def _free(stem: str, number: int, digits: int, taken: Collection[str]) -> str:
    while f"{stem}{number:0{digits}d}" in taken:
        number += 1
    return f"{stem}{number:0{digits}d}"

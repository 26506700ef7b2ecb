"""Turns a placed row into a sample: names, depths, date and verdict, each kept, mended or refused with a reason."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date

from prospect.records import Sample, Usable
from prospect.sources.coordinates import Spot
from prospect.sources.field_names import field_names
from prospect.sources.numbers import names_unit, read_length, read_number, read_range, unit_of_heading
from prospect.sources.point_rows import Cells, PointRows
from prospect.text import plain

DEEPEST_CM = 100_000.0
EARLIEST = "1850-01-01"
"""Older dates are what programs write for an unknown one (own judgement)."""
_SHALLOW_CM = 5.0
_ISO = re.compile(r"^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ].*)?$")
_COMPACT = re.compile(r"^(\d{4})(\d{2})(\d{2})$")
_DOTTED = re.compile(r"^(\d{1,2})\.(\d{1,2})\.(\d{4})$")
_SLASHED = re.compile(r"^(\d{1,2})[/-](\d{1,2})[/-](\d{4})$")


class _Refused(Exception):
    """The row cannot become a sample; it was said why."""


def make_samples(rows: PointRows, today: str = "") -> tuple[Sample, ...]:
    """Return the samples of all placed rows; the tally says what became of every row, `today` bounds the dates.

    A row word for word like an earlier one is refused; another sample under a name already used gets a new name.
    """
    return tuple(samples_by_item(rows, today).values())


def samples_by_item(rows: PointRows, today: str = "") -> dict[int, Sample]:
    """Return the samples of all placed rows by the number of their row, as `make_samples` does."""
    by_item: dict[int, Sample] = {}
    by_name: dict[str, Sample] = {}
    first_item: dict[str, int] = {}
    for item, cells in rows.rows:
        spot = rows.spots.get(item)
        if spot is None:
            continue
        try:
            sample = _sample(rows, item, cells, spot, today)
        except _Refused:
            continue
        earlier = by_name.get(sample.sample_id)
        if earlier == sample:
            noun = rows.tally.noun
            action = f"Left out: the same as {noun} {first_item[sample.sample_id]}."
            rows.tally.refuse(item, "sample_id", sample.sample_id, f"each {noun} once", action)
            continue
        if earlier is not None:
            name = _free_name(sample.sample_id, by_name)
            action = f"The name is that of {rows.tally.noun} {first_item[sample.sample_id]}; called {name}."
            rows.tally.repair(item, "sample_id", sample.sample_id, "each name once", action)
            sample = replace(sample, sample_id=name)
        by_name[sample.sample_id] = by_item[item] = sample
        first_item.setdefault(sample.sample_id, item)
    _doubt_shallow(rows, by_name.values())
    return by_item


def _doubt_shallow(rows: PointRows, samples: Iterable[Sample]) -> None:
    """Say when all depths under headings without a unit are so small that they may be metres."""
    headings = [rows.heading(name) for name in ("top_cm", "bottom_cm", "depth")]
    if any("cm" in heading.lower() or unit_of_heading(heading) for heading in headings):
        return
    depths = [d for sample in samples for d in (sample.top_cm, sample.bottom_cm) if d]
    if depths and max(depths) <= _SHALLOW_CM and any(not depth.is_integer() for depth in depths):
        heading = next(filter(None, headings))
        action = f"Read as cm. If they are metres, call the column {heading}_m."
        rows.tally.note(heading, f"at most {max(depths):g}", "depths in cm", action, warning=True)


def read_date(text: str) -> tuple[str, bool] | None:
    """Return an ISO date and whether it had to be rewritten; None when the text is no date or could be two."""
    for pattern, order in ((_ISO, (1, 2, 3)), (_COMPACT, (1, 2, 3)), (_DOTTED, (3, 2, 1))):
        match = pattern.match(text)
        if match:
            year, month, day = (int(match[part]) for part in order)
            return _iso(year, month, day, text)
    match = _SLASHED.match(text)
    if match is None:
        return None
    first, second, year = int(match[1]), int(match[2]), int(match[3])
    if first > 12 or first == second:
        return _iso(year, second, first, text)
    return _iso(year, first, second, text) if second > 12 else None


def date_fault(iso: str, today: str) -> str:
    """Return what was expected of a date that nobody can have dug on, or '' when it is possible; '' for no today."""
    if today and iso > today:
        return f"a date until today ({today})"
    return "" if iso >= EARLIEST else f"a date after {EARLIEST}"


def read_usable(text: str) -> Usable | None:
    """Return the verdict that a word stands for; None for a word that is none."""
    words = field_names().words
    bare = text.strip().lower().rstrip(".!")
    if bare in words["yes"]:
        return "yes"
    if bare in words["no"]:
        return "no"
    return "unknown" if bare in words["unknown"] else None


def _sample(rows: PointRows, item: int, cells: Cells, spot: Spot, today: str) -> Sample:
    top, bottom = _depths(rows, item, cells)
    hole = plain(rows.text(cells, "hole_id"), 80)
    name = plain(rows.text(cells, "sample_id"), 80)
    noun = rows.tally.noun
    dug_on = _date(rows, item, cells, today)
    return Sample(
        sample_id=name or (f"{hole}-{item}" if hole else f"{noun} {item}"),
        lon=round(spot.lon, 8),
        lat=round(spot.lat, 8),
        hole_id=hole,
        position_error_m=_position_error(rows, item, cells),
        top_cm=top,
        bottom_cm=bottom,
        date=dug_on,
        usable=_usable(rows, item, cells),
        quality=_quality(rows, item, cells),
        note=plain(rows.text(cells, "note"), 4000, lines=True),
        fields=dict(_other_fields(rows, cells, bool(dug_on))),
    )


def _other_fields(rows: PointRows, cells: Cells, dated: bool) -> Iterator[tuple[str, str]]:
    """Give every column that did not end up in a field of the sample."""
    used = {column for name in rows.columns if name != "date" or dated for column in rows.group(cells, name)}
    for column, text in cells.items():
        if text and column not in used:
            yield plain(column, 80), plain(text, 4000, lines=True)


def _depths(rows: PointRows, item: int, cells: Cells) -> tuple[float | None, float | None]:
    text = rows.text(cells, "depth")
    both = (
        read_range(text, "cm", decimal_comma=rows.decimal_comma, default=_unit(rows, "depth"))
        if text
        else None
    )
    top = _depth(rows, item, cells, "top_cm")
    bottom = _depth(rows, item, cells, "bottom_cm")
    if both is not None and both[0] >= 0 and both[1] <= DEEPEST_CM:
        top = round(both[0], 3) if top is None else top
        bottom = round(both[1], 3) if bottom is None else bottom
    elif text and bottom is None:
        bottom = _depth(rows, item, cells, "depth")
    if top is not None and bottom is not None and top > bottom:
        expected = "a top above its bottom"
        rows.tally.refuse(item, "top_cm", f"{top:g} to {bottom:g} cm", expected, "Left out: mend the row.")
        raise _Refused
    return top, bottom


def _depth(rows: PointRows, item: int, cells: Cells, name: str) -> float | None:
    text = rows.text(cells, name)
    if not text:
        return None
    unit = _unit(rows, name)
    value = read_length(text, "cm", decimal_comma=rows.decimal_comma, default=unit)
    if value is None or not 0 <= value <= DEEPEST_CM:
        expected = "a depth of 0 cm or more, such as 30 or 30 cm"
        rows.tally.refuse(item, rows.heading(name), text, expected, "Left out: mend the row.")
        raise _Refused
    said = names_unit(text)
    if said and said != (unit or "cm"):
        action = f"Turned into {value:.4g} cm."
        rows.tally.repair(item, rows.heading(name), text, f"a depth in {unit or 'cm'}", action)
    return round(value, 3)


def _unit(rows: PointRows, name: str) -> str:
    heading = rows.heading(name)
    unit = unit_of_heading(heading)
    if unit and unit != "cm":
        action = f"Read as {unit} and turned into cm."
        rows.tally.note(heading, heading, "depths in cm", action)
    return unit


def _position_error(rows: PointRows, item: int, cells: Cells) -> float | None:
    text = rows.text(cells, "position_error_m")
    if not text or text.startswith("-9"):
        return None
    unit = unit_of_heading(rows.heading("position_error_m"))
    value = read_length(text, "m", decimal_comma=rows.decimal_comma, default=unit)
    if value is None or not 0 <= value <= 100_000:
        rows.tally.repair(item, "position_error_m", text, "metres", "Taken as not known.")
        return None
    return round(value, 2)


def _date(rows: PointRows, item: int, cells: Cells, today: str) -> str:
    text = rows.text(cells, "date")
    if not text:
        return ""
    found = read_date(text)
    expected = "a date such as 2026-05-31" if found is None else date_fault(found[0], today)
    if found is None or expected:
        action = "Taken as not known; the text stays with the sample."
        rows.tally.repair(item, rows.heading("date"), text, expected, action)
        return ""
    iso, rewritten = found
    if rewritten:
        rows.tally.repair(item, rows.heading("date"), text, "a date such as 2026-05-31", f"Read as {iso}.")
    return iso


def _usable(rows: PointRows, item: int, cells: Cells) -> Usable:
    text = rows.text(cells, "usable")
    verdict = read_usable(text)
    if verdict is None:
        rows.tally.refuse(item, rows.heading("usable"), text, "yes, no or unknown", "Left out: mend the row.")
        raise _Refused
    return verdict


def _quality(rows: PointRows, item: int, cells: Cells) -> float | None:
    text = rows.text(cells, "quality")
    if not text:
        return None
    percent = text.rstrip().endswith("%")
    value = read_number(text.rstrip(" %"), decimal_comma=rows.decimal_comma or "." not in text)
    value = value / 100 if value is not None and percent else value
    if value is None or not 0 <= value <= 1:
        rows.tally.repair(item, rows.heading("quality"), text, "0 to 1", "Taken as not known.")
        return None
    return value


def _iso(year: int, month: int, day: int, text: str) -> tuple[str, bool] | None:
    try:
        iso = date(year, month, day).isoformat()
    except ValueError:
        return None
    return iso, not text.startswith(iso)


def _free_name(name: str, taken: dict[str, Sample]) -> str:
    number = 2
    while f"{name}-{number}" in taken:
        number += 1
    return f"{name}-{number}"

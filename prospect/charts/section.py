"""Holes and faces side by side, their layers in their true colours, by depth or by elevation."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from prospect.charts.drawing import Drawing, Shape, Words, line, rectangle, shown
from prospect.charts.munsell_colour import munsell_to_srgb
from prospect.clay.evidence import depth_reached_cm
from prospect.records import Hole, HoleLayer, Sample

MOST_HOLES = 15
"""Strips that still can be told apart on one page (own judgement)."""
_TOP, _STRIP, _GAP, _LEFT = 58.0, 52.0, 78.0, 54.0
_LEAST_CM = 100.0
_MOST_RELIEF = 3.0
"""How many times the deepest hole the heights may differ before strips by height become too thin (own judgement)."""
_STEPS = (0.25, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 5000, 50_000, 1_000_000)


def hole_section(
    holes: Sequence[Hole],
    samples: Sequence[Sample] = (),
    elevations_m: Mapping[str, float] | None = None,
    units: str = "metric",
    high: float = 320.0,
) -> Drawing:
    """Draw strips of holes side by side.

    Parameters
    ----------
    holes
        At most `MOST_HOLES`, in the order in which they stand.
    samples
        Those taken from them are marked at their depth.
    elevations_m
        Height of the ground by hole; a hole's own entry comes first. By elevation only where every hole has one and
        they do not lie too far apart; else by depth, which the picture says with the reason.
    units
        `metric` (cm, m) or `us` (inches, feet).
    high
        Height of the strips in the drawing's units.

    Raises
    ------
    ValueError
        When there are more holes than fit.
    """
    if len(holes) > MOST_HOLES:
        raise ValueError(f"{len(holes)} holes do not fit side by side; {MOST_HOLES} do")
    mapped = elevations_m or {}
    heights = [
        hole.elevation_m if hole.elevation_m is not None else mapped.get(hole.hole_id) for hole in holes
    ]
    known = [height for height in heights if height is not None]
    deepest = max([_LEAST_CM, *(depth_reached_cm(hole) or 0.0 for hole in holes)])
    apart_m = max(known) - min(known) if len(known) == len(holes) > 1 else None
    by_elevation = apart_m is not None and apart_m * 100.0 <= _MOST_RELIEF * deepest
    tops_cm = [
        (max(known) - height) * 100.0 if by_elevation and height is not None else 0.0 for height in heights
    ]
    ends_cm = [top + (depth_reached_cm(hole) or 0.0) for top, hole in zip(tops_cm, holes, strict=True)]
    lowest = max([_LEAST_CM, *ends_cm])
    scale = high / lowest
    items: list[Shape | Words] = _axis(lowest, scale, len(holes), max(known) if by_elevation else None, units)
    if len(holes) > 1 and not by_elevation:
        why = (
            "not every height is known"
            if apart_m is None
            else f"the holes lie {_far(apart_m, units)} apart in height"
        )
        items.append(Words((_LEFT + 18, _TOP + high + 24), f"drawn by depth: {why}", 10, "faded"))
    for place, (hole, top_cm) in enumerate(zip(holes, tops_cm, strict=True)):
        left = _LEFT + 18 + place * (_STRIP + _GAP)
        taken = [sample for sample in samples if sample.hole_id == hole.hole_id]
        items += _strip(hole, taken, left, _TOP + top_cm * scale, scale)
    width = _LEFT + 18 + max(len(holes), 1) * (_STRIP + _GAP)
    names = ", ".join(shown(hole.hole_id, 16) for hole in holes) or "no hole"
    return Drawing(width, _TOP + high + 30, f"Layers of {names}", tuple(items))


def _far(metres: float, units: str) -> str:
    return f"{metres / 0.3048:.0f} ft" if units == "us" else f"{metres:.0f} m"


def _axis(
    lowest_cm: float, scale: float, holes: int, highest_m: float | None, units: str
) -> list[Shape | Words]:
    per, unit = (2.54, "in") if units == "us" else (1.0, "cm")
    if highest_m is not None:
        per, unit = (30.48, "ft") if units == "us" else (100.0, "m")
    span = lowest_cm / per
    step = next(step for step in _STEPS if span / step <= 8)
    right = _LEFT + 18 + holes * (_STRIP + _GAP) - 10
    items: list[Shape | Words] = []
    if highest_m is None:
        marks = [(number * step * per, f"{number * step:g}") for number in range(int(span / step) + 1)]
    else:
        top = highest_m * 100.0 / per
        first = int(top // step) * step
        marks = []
        while first >= top - span:
            marks.append(((top - first) * per, f"{first:g}"))
            first -= step
    for down_cm, told in marks:
        y = _TOP + down_cm * scale
        items += [
            line((_LEFT, y), (right, y), stroke="line", width=0.6),
            Words((_LEFT - 6, y + 4), told, 11, "faded", "end"),
        ]
    how = f"height, {unit}" if highest_m is not None else f"depth, {unit}"
    items.append(Words((8, _TOP - 22), how, 11, "slate"))
    return items


def _strip(
    hole: Hole, samples: Sequence[Sample], left: float, top: float, scale: float
) -> list[Shape | Words]:
    right = left + _STRIP
    reached = depth_reached_cm(hole)
    items: list[Shape | Words] = [
        Words((left + _STRIP / 2, top - 26), shown(hole.hole_id, 12), 14, "slate", "middle", bold=True),
        Words((left + _STRIP / 2, top - 12), shown(hole.kind or hole.date, 12), 10, "faded", "middle"),
        line((left - 8, top), (right + 8, top), stroke="slate", width=1.6),
    ]
    if reached is not None:
        end = top + reached * scale
        items.append(rectangle(left, top, right, end, fill="paper", stroke="line", dash=(3, 3)))
    if not hole.layers:
        items.append(Words((left + _STRIP / 2, top + 20), "no layers", 10, "faded", "middle"))
    floor = 0.0
    for layer in hole.layers:
        if layer.top_cm is None or layer.bottom_cm is None:
            continue
        items += _layer(layer, left, right, top + layer.top_cm * scale, top + layer.bottom_cm * scale)
        floor = max(floor, layer.bottom_cm)
    for sample in samples:
        if sample.top_cm is None and sample.bottom_cm is None:
            continue
        ends = [depth for depth in (sample.top_cm, sample.bottom_cm) if depth is not None]
        y0 = top + min(ends) * scale
        y1 = max(top + max(ends) * scale, y0 + 3)
        bracket = ((left - 6, y0), (left - 10, y0), (left - 10, y1), (left - 6, y1))
        items.append(line(*bracket, stroke="iron", width=2.0))
    if hole.water_cm is not None:
        y = top + hole.water_cm * scale
        items += [
            line((left - 6, y), (right + 6, y), stroke="glaze", width=2.0, dash=(6, 3)),
            Words((right + 6, y - 3), "water", 10, "glaze", halo=True),
        ]
    deepest = max(reached or 0.0, floor)
    if hole.stopped_by and deepest:
        at = (left + _STRIP / 2, top + deepest * scale + 13)
        items.append(Words(at, shown(hole.stopped_by, 12), 10, "iron", "middle", halo=True))
    return items


def _layer(layer: HoleLayer, left: float, right: float, top: float, bottom: float) -> list[Shape | Words]:
    colour = munsell_to_srgb(layer.moist_colour) or munsell_to_srgb(layer.dry_colour)
    box = rectangle(
        left,
        top,
        right,
        bottom,
        fill=colour or "shelf",
        stroke="slate",
        width=0.8,
        hatch="" if colour else "line",
    )
    items: list[Shape | Words] = [box]
    told = layer.texture or ("clay" if layer.usable == "yes" else "")
    if layer.usable == "yes":
        items.append(line((right + 3, top + 1), (right + 3, bottom - 1), stroke="reed", width=4.0))
        told = f"{told} ●" if told else "clay ●"
    if told and bottom - top >= 12:
        rows = _broken(told)
        first = (top + bottom) / 2 - 6 * (len(rows) - 1) + 4
        items += [
            Words((right + 9, first + 12 * row), text, 10.5, "reed" if layer.usable == "yes" else "slate")
            for row, text in enumerate(rows)
            if bottom - top >= 12 * len(rows) or row == 0
        ]
    return items


def _broken(text: str) -> list[str]:
    """Return words in rows short enough to stand beside a strip."""
    rows: list[str] = []
    for word in shown(text, 40).split():
        if rows and len(rows[-1]) + len(word) < 11:
            rows[-1] += f" {word}"
        else:
            rows.append(word)
    return rows[:3]

"""A small map of one parcel for a letter: its line, planned spots by number, water and roads, scale and north."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from prospect.cartography import area_in_words
from prospect.share.paper import SMALL, Look, Paper
from prospect.share.parcel_view import ParcelView
from prospect.share.wording import MapWords, filled

Point = tuple[float, float]
Units = Literal["metric", "us"]

_FINEST_MM, _ROAD_MM = 0.05, 1.1
_M_PER_FOOT = 0.3048
_STEPS = (1, 2, 5)
_NORTH = Look("B", 0.86, 1.24)
_FEW = 12
_DIRECTIONS = 16
_REACHES = (1.0, 1.4, 1.8, 2.4, 3.0, 3.8, 4.8)
_DASH = (2.2, 0.8)


def draw_parcel(
    paper: Paper, view: ParcelView, corner: Point, size: Point, units: Units, words: MapWords
) -> float:
    """Draw the map with its scale and key below it; return y below.

    Parameters
    ----------
    paper
        The page.
    view
        The parcel.
    corner, size
        Upper left corner of the map, and its width and greatest height without what stands below, mm.
    units
        For the scale bar.
    words
        What stands beside it.
    """
    margin = _number_radius(paper, view) + 0.6
    inner = (size[0] - 2 * margin, size[1] - 2 * margin)
    placing = _Placing.of(view.shape, (corner[0] + margin, corner[1] + margin), inner)
    for shape in view.water:
        _draw_water(paper, shape, placing)
    _draw_roads(paper, view, placing)
    for ring in _rings(placing.thin(view.shape)):
        paper.stroke(placing.points(ring), 0.5, closed=True)
    _draw_spots(paper, view, placing)
    _, south, _, north = view.shape.bounds
    below = corner[1] + (north - south) * placing.per_m + 2 * margin + 0.6 * paper.em
    below = _draw_scale(paper, corner[0], below, size[0], placing.per_m, units, words)
    below = _draw_key(paper, view, corner[0], below, size[0], words)
    return _draw_caption(paper, view, corner[0], below, size[0], units, words)


def scale_length(most_m: float, units: Units) -> tuple[float, str]:
    """Return the longest round length (m) up to `most_m` and its words; round = 1, 2 or 5 and noughts, m or ft."""
    unit_m, unit = (_M_PER_FOOT, "ft") if units == "us" else (1.0, "m")
    most = most_m / unit_m
    power = 10.0 ** math.floor(math.log10(most))
    length = max(step * power for step in _STEPS if step * power <= most * (1 + 1e-9))
    if units == "metric" and length >= 1000:
        return length, f"{length / 1000:g} km"
    return length * unit_m, f"{length:,.0f} {unit}" if length >= 1 else f"{length:g} {unit}"


def spread(points: Sequence[Point], apart: float, within: Sequence[BaseGeometry]) -> list[Point]:
    """Return where the numbers of points stand so that no two touch: on the point, or else near it.

    Parameters
    ----------
    points
        Where they belong.
    apart
        Least distance between the middles of two numbers.
    within
        Where their middles should stay, the best first.

    Notes
    -----
    Places are tried from the nearest outwards, in sixteen directions; where all are taken the number stays on its
    point. A number also keeps off the points of the others.
    """
    found: list[Point] = []
    for index, point in enumerate(points):
        others = [other for i, other in enumerate(points) if i != index]
        tried = [point, *_around(point, apart)]
        ordered = [
            spot
            for shape in within
            for spot, hit in zip(tried, shapely.contains_xy(shape, np.array(tried)), strict=True)
            if hit
        ]
        free = (
            spot
            for spot in ordered
            if all(math.dist(spot, other) >= apart for other in found)
            and all(math.dist(spot, other) >= 0.62 * apart for other in others)
        )
        found.append(next(free, point))
    return found


def _around(point: Point, apart: float) -> list[Point]:
    angles = [2 * math.pi * k / _DIRECTIONS - math.pi / 4 for k in range(_DIRECTIONS)]
    return [
        (point[0] + reach * apart * math.cos(angle), point[1] + reach * apart * math.sin(angle))
        for reach in _REACHES
        for angle in angles
    ]


@dataclass(frozen=True, slots=True)
class _Placing:
    """Where the plane of a parcel lies on the page: its upper left corner in both, and mm per m."""

    west: float
    north: float
    left: float
    top: float
    per_m: float

    @classmethod
    def of(cls, shape: BaseGeometry, corner: Point, size: Point) -> _Placing:
        """Fit a shape into a box: in the middle of its width, at its upper edge."""
        west, south, east, north = shape.bounds
        per_m = min(size[0] / max(east - west, 1e-6), size[1] / max(north - south, 1e-6))
        indent = (size[0] - (east - west) * per_m) / 2
        return cls(west, north, corner[0] + indent, corner[1], per_m)

    def points(self, places: Iterable[Point]) -> list[Point]:
        """Return places of the plane on the page."""
        return [
            (self.left + (x - self.west) * self.per_m, self.top + (self.north - y) * self.per_m)
            for x, y in places
        ]

    def thin(self, shape: BaseGeometry) -> BaseGeometry:
        """Return a shape without what is too fine to print."""
        return shapely.simplify(shape, _FINEST_MM / self.per_m)


def _rings(shape: BaseGeometry) -> list[list[Point]]:
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
    rings = [ring for part in parts for ring in (part.exterior, *part.interiors)]
    return [list(ring.coords) for ring in rings]


def _draw_water(paper: Paper, shape: BaseGeometry, placing: _Placing) -> None:
    thin = placing.thin(shape)
    if thin.geom_type != "Polygon":
        paper.stroke(placing.points(thin.coords), 0.3, grey=0.3, dash=_DASH)
        return
    shore = placing.points(thin.exterior.coords)
    paper.fill(shore, 0.86)
    for island in thin.interiors:
        paper.fill(placing.points(island.coords), 1.0)
    paper.stroke(shore, 0.2, grey=0.4)


def _draw_roads(paper: Paper, view: ParcelView, placing: _Placing) -> None:
    """Draw both edges of the roads, cut off at the parcel's line."""
    half = _ROAD_MM / 2 / placing.per_m
    broad = shapely.union_all([shape.buffer(half, cap_style="flat") for shape in view.roads])
    for ring in _rings(placing.thin(shapely.intersection(broad, view.shape))):
        paper.stroke(placing.points(ring), 0.22, grey=0.35, closed=True)


def _number_radius(paper: Paper, view: ParcelView) -> float:
    return (0.62 if len(view.spots) <= _FEW else 0.53) * paper.em


def _draw_spots(paper: Paper, view: ParcelView, placing: _Placing) -> None:
    radius, points = _number_radius(paper, view), placing.points(view.spots)
    on_page = shapely.transform(view.shape, lambda places: np.array(placing.points(places)))
    inside = on_page.buffer(-radius - 0.3)
    places = spread(points, 2 * radius + 0.5, (inside, on_page.envelope))
    for point, spot in zip(points, places, strict=True):
        if spot != point:
            paper.stroke([point, spot], 0.2)
            paper.disc(*point, 0.55)
    for number, (x, y) in enumerate(places, start=1):
        _draw_number(paper, x, y, radius, number)


def _draw_number(paper: Paper, x: float, y: float, radius: float, number: int) -> None:
    look = Look("B", 1.26 * radius / paper.em, 1.2, align="C")
    paper.disc(x, y, radius, grey=1.0, rim=0.35)
    paper.write(x - radius, y - paper.line(look) / 2, 2 * radius, str(number), look)


def _draw_scale(
    paper: Paper, x: float, y: float, width: float, per_m: float, units: Units, words: MapWords
) -> float:
    length_m, text = scale_length(0.45 * width / per_m, units)
    long, foot = length_m * per_m, y + 0.45 * paper.em
    paper.stroke([(x, y), (x, foot), (x + long, foot), (x + long, y)], 0.3)
    below = paper.write(x + long + 0.6 * paper.em, y - 0.35 * paper.em, width - long, text, SMALL)
    north, tip, head = x + width - 1.6 * paper.em, foot - 1.5 * paper.em, 0.32 * paper.em
    paper.stroke([(north, foot), (north, tip)], 0.35)
    paper.stroke(
        [(north - head, tip + 1.6 * head), (north, tip), (north + head, tip + 1.6 * head)],
        0.35,
    )
    paper.write(north + 0.5 * paper.em, y - 0.45 * paper.em, 2 * paper.em, words.north, _NORTH)
    return below + 0.2 * paper.em


def _draw_key(paper: Paper, view: ParcelView, x: float, y: float, width: float, words: MapWords) -> float:
    """Explain the marks that the map has, side by side as far as there is room."""
    at, line, gap = x, 1.2 * paper.line(SMALL), 0.4 * paper.em
    for mark, there, word in (
        ("spot", view.spots, words.spot),
        ("road", view.roads, words.road),
        ("water", view.water, words.water),
    ):
        if not there:
            continue
        mark_wide = (2 * _number_radius(paper, view)) if mark == "spot" else 2.2 * paper.em
        wide = mark_wide + gap + paper.wide(word, SMALL)
        if at > x and at + wide > x + width:
            at, y = x, y + line
        _draw_mark(paper, mark, at, y + paper.line(SMALL) / 2, mark_wide)
        paper.write(at + mark_wide + gap, y, width - mark_wide - gap, word, SMALL)
        at += wide + 3 * gap
    return y + (line if at > x else 0.0)


def _draw_mark(paper: Paper, mark: str, x: float, y: float, wide: float) -> None:
    if mark == "spot":
        _draw_number(paper, x + wide / 2, y, wide / 2, 1)
    elif mark == "road":
        for edge in (y - _ROAD_MM / 2, y + _ROAD_MM / 2):
            paper.stroke([(x, edge), (x + wide, edge)], 0.22, grey=0.35)
    else:
        paper.stroke([(x, y), (x + wide, y)], 0.3, grey=0.3, dash=_DASH)


def _draw_caption(
    paper: Paper, view: ParcelView, x: float, y: float, width: float, units: Units, words: MapWords
) -> float:
    name = filled(words.parcel, parcel=view.parcel_id)
    parts = [f"{name}, {area_in_words(view.area_ha, units)}.", words.lines]
    if view.source:
        parts.append(filled(words.source, source=view.source))
    return paper.write(x, y, width, " ".join(parts), SMALL)

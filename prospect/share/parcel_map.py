"""A small map of one parcel for a letter: its line, planned spots by number, water and roads, scale and north."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Literal

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
_NUMBER = Look("B", 0.78, 1.2, align="C")
_DIRECTIONS = 16


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
    margin = _number_radius(paper) + 0.6
    placed = _placing(
        view.shape, (corner[0] + margin, corner[1] + margin), size[0] - 2 * margin, size[1] - 2 * margin
    )
    place, per_m, height = placed
    for shape in view.water:
        _draw_water(paper, shape, place, per_m)
    _draw_roads(paper, view, place, per_m)
    for ring in _rings(view.shape, per_m):
        paper.stroke([place(*point) for point in ring], 0.5, closed=True)
    _draw_spots(paper, [place(*spot) for spot in view.spots], corner, (size[0], height + 2 * margin))
    below = corner[1] + height + 2 * margin + 0.6 * paper.em
    below = _draw_scale(paper, corner[0], below, size[0], per_m, units, words)
    below = _draw_key(paper, view, corner[0], below, size[0], words)
    return _draw_caption(paper, view, corner[0], below, size[0], units, words)


def scale_length(most_m: float, units: Units) -> tuple[float, str]:
    """Return the longest round length up to `most_m` and its words; round = 1, 2 or 5 and noughts, m or ft."""
    unit_m, unit = (_M_PER_FOOT, "ft") if units == "us" else (1.0, "m")
    most = most_m / unit_m
    power = 10.0 ** math.floor(math.log10(most))
    length = max(step * power for step in _STEPS if step * power <= most * (1 + 1e-9))
    if units == "metric" and length >= 1000:
        return length, f"{length / 1000:g} km"
    return length * unit_m, f"{length:,.0f} {unit}" if length >= 1 else f"{length:g} {unit}"


def spread(points: Sequence[Point], apart: float, corner: Point, size: Point) -> list[Point]:
    """Return where the numbers of points stand so that no two touch: on the point, or else near it.

    Parameters
    ----------
    points
        Where they belong.
    apart
        Least distance between the middles of two numbers.
    corner, size
        The box that they should stay within.

    Notes
    -----
    Places are tried from the nearest outwards, in sixteen directions; where all are taken the number stays on its
    point. A number moved aside also keeps off the points of the others.
    """
    found: list[Point] = []
    for index, point in enumerate(points):
        others = [other for i, other in enumerate(points) if i != index]
        tried = [point, *_around(point, apart)]
        inside = [
            spot
            for spot in tried[1:]
            if corner[0] + apart / 2 <= spot[0] <= corner[0] + size[0] - apart / 2
            and corner[1] + apart / 2 <= spot[1] <= corner[1] + size[1] - apart / 2
        ]
        free = (
            spot
            for spot in (point, *inside)
            if all(math.dist(spot, other) >= apart for other in found)
            and all(math.dist(spot, other) >= (0.62 * apart) for other in others)
        )
        found.append(next(free, point))
    return found


def _around(point: Point, apart: float) -> list[Point]:
    angles = [2 * math.pi * k / _DIRECTIONS - math.pi / 4 for k in range(_DIRECTIONS)]
    return [
        (point[0] + reach * apart * math.cos(angle), point[1] + reach * apart * math.sin(angle))
        for reach in (1.0, 1.4, 1.8, 2.4, 3.0, 3.8, 4.8)
        for angle in angles
    ]


def _placing(
    shape: BaseGeometry, corner: Point, width: float, height: float
) -> tuple[Callable[[float, float], Point], float, float]:
    """Return a function from m to mm on the page, mm per m, and how high the shape stands there, mm."""
    west, south, east, north = shape.bounds
    per_m = min(width / max(east - west, 1e-6), height / max(north - south, 1e-6))
    indent = (width - (east - west) * per_m) / 2

    def place(x: float, y: float) -> Point:
        return corner[0] + indent + (x - west) * per_m, corner[1] + (north - y) * per_m

    return place, per_m, (north - south) * per_m


def _rings(shape: BaseGeometry, per_m: float) -> list[list[Point]]:
    parts = shapely.get_parts(shapely.simplify(shape, _FINEST_MM / per_m))
    rings = [ring for part in parts for ring in (part.exterior, *part.interiors)]
    return [list(ring.coords) for ring in rings]


def _draw_water(
    paper: Paper, shape: BaseGeometry, place: Callable[[float, float], Point], per_m: float
) -> None:
    thin = shapely.simplify(shape, _FINEST_MM / per_m)
    if thin.geom_type == "Polygon":
        paper.fill([place(*point) for point in thin.exterior.coords], 0.86)
        for island in thin.interiors:
            paper.fill([place(*point) for point in island.coords], 1.0)
        paper.stroke([place(*point) for point in thin.exterior.coords], 0.2, grey=0.4)
    else:
        paper.stroke([place(*point) for point in thin.coords], 0.3, grey=0.3, dash=(2.2, 0.8))


def _draw_roads(paper: Paper, view: ParcelView, place: Callable[[float, float], Point], per_m: float) -> None:
    """Draw both edges of the roads, cut off at the parcel's line."""
    half = _ROAD_MM / 2 / per_m
    broad = [shape.buffer(half, cap_style="flat") for shape in view.roads]
    for part in shapely.get_parts(shapely.intersection(shapely.union_all(broad), view.shape)):
        if part.geom_type == "Polygon":
            thin = shapely.simplify(part, _FINEST_MM / per_m)
            for ring in (thin.exterior, *thin.interiors):
                paper.stroke([place(*point) for point in ring.coords], 0.22, grey=0.35)


def _number_radius(paper: Paper) -> float:
    return 0.62 * paper.em


def _draw_spots(paper: Paper, points: Sequence[Point], corner: Point, size: Point) -> None:
    radius = _number_radius(paper)
    places = spread(points, 2 * radius + 0.5, corner, size)
    for point, spot in zip(points, places, strict=True):
        if spot != point:
            paper.stroke([point, spot], 0.2)
            paper.disc(*point, 0.55)
    for number, (x, y) in enumerate(places, start=1):
        _draw_number(paper, x, y, number)


def _draw_number(paper: Paper, x: float, y: float, number: int) -> None:
    radius = _number_radius(paper)
    paper.disc(x, y, radius, grey=1.0, rim=0.35)
    paper.write(x - radius, y - paper.line(_NUMBER) / 2, 2 * radius, str(number), _NUMBER)


def _draw_scale(
    paper: Paper, x: float, y: float, width: float, per_m: float, units: Units, words: MapWords
) -> float:
    length_m, text = scale_length(0.45 * width / per_m, units)
    long, tick = length_m * per_m, 0.45 * paper.em
    paper.stroke([(x, y), (x, y + tick), (x + long, y + tick), (x + long, y)], 0.3)
    below = paper.write(x + long + 0.6 * paper.em, y - 0.35 * paper.em, width, text, SMALL)
    tip, high = x + width - 1.6 * paper.em, 1.5 * paper.em
    paper.stroke([(tip, y + tick), (tip, y + tick - high)], 0.35)
    head = 0.32 * paper.em
    paper.stroke(
        [
            (tip - head, y + tick - high + 1.6 * head),
            (tip, y + tick - high),
            (tip + head, y + tick - high + 1.6 * head),
        ],
        0.35,
    )
    paper.write(tip + 0.5 * paper.em, y - 0.45 * paper.em, 2 * paper.em, words.north, Look("B", 0.86, 1.24))
    return below + 0.2 * paper.em


def _draw_key(paper: Paper, view: ParcelView, x: float, y: float, width: float, words: MapWords) -> float:
    radius, at, line = _number_radius(paper), x, paper.line(SMALL) * 1.2
    for kind, word in (("spot", words.spot), ("road", words.road), ("water", words.water)):
        there = {"spot": view.spots, "road": view.roads, "water": view.water}[kind]
        if not there:
            continue
        mark = 2 * radius if kind == "spot" else 2.2 * paper.em
        wide = mark + 0.4 * paper.em + paper.wide(word, SMALL)
        if at > x and at + wide > x + width:
            at, y = x, y + line
        middle = y + paper.line(SMALL) / 2
        if kind == "spot":
            _draw_number(paper, at + radius, middle, 1)
        elif kind == "road":
            for edge in (middle - _ROAD_MM / 2, middle + _ROAD_MM / 2):
                paper.stroke([(at, edge), (at + mark, edge)], 0.22, grey=0.35)
        else:
            paper.stroke([(at, middle), (at + mark, middle)], 0.3, grey=0.3, dash=(2.2, 0.8))
        paper.write(at + mark + 0.4 * paper.em, y, width, word, SMALL)
        at += wide + 1.2 * paper.em
    return y + (line if at > x else 0.0)


def _draw_caption(
    paper: Paper, view: ParcelView, x: float, y: float, width: float, units: Units, words: MapWords
) -> float:
    name = filled(words.parcel, parcel=view.parcel_id) if view.parcel_id else words.nameless
    parts = [f"{name}, {area_in_words(view.area_ha, units)}.", words.lines]
    if view.source:
        parts.append(filled(words.source, source=view.source))
    return paper.write(x, y, width, " ".join(parts), SMALL)

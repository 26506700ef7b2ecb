"""Draws on paper what a screen shows: the shapes and words of a drawing, in the colours of the light theme."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from prospect.charts import Dot, Drawing, Shape, Words, theme_colour
from prospect.palette import Rgb

if TYPE_CHECKING:
    from prospect.share.paper import Paper

_PT_PER_MM = 72 / 25.4
_HATCH_MM = 1.3
_HALO_MM = (-0.35, 0.0, 0.35)
"""Where the paper's colour is laid around letters that lines would run through."""


def draw(paper: Paper, drawing: Drawing, left: float, top: float, width: float) -> float:
    """Draw a picture with its upper left corner at a place, as wide as given; return y below it, all in mm."""
    scale = width / drawing.width

    def at(point: tuple[float, float]) -> tuple[float, float]:
        return left + point[0] * scale, top + point[1] * scale

    for item in drawing.items:
        if isinstance(item, Words):
            size = item.size * scale * _PT_PER_MM
            x, y = at(item.at)
            around = [(dx, dy) for dx in _HALO_MM for dy in _HALO_MM if dx or dy] if item.halo else []
            for dx, dy, colour in (*((dx, dy, "paper") for dx, dy in around), (0.0, 0.0, item.colour)):
                paper.word(
                    x + dx, y + dy, item.text, size, _rgb(colour), item.anchor, bold=item.bold, turn=item.turn_deg
                )  # fmt: skip
        elif isinstance(item, Dot):
            x, y = at(item.at)
            r = item.radius * scale
            corners = [(x + r * np.cos(a), y + r * np.sin(a)) for a in np.linspace(0, 2 * np.pi, 25)[:-1]]
            if item.shape == "diamond":
                r *= 1.25
                corners = [(x, y - r), (x + r, y), (x, y + r), (x - r, y)]
            paper.shape(corners, closed=True, fill=_rgb(item.fill))
            paper.shape(corners, closed=True, stroke=_rgb(item.stroke), thick=0.15)
        else:
            _draw_shape(paper, item, [at(point) for point in item.points], scale)
    return top + drawing.height * scale


def _draw_shape(paper: Paper, shape: Shape, points: list[tuple[float, float]], scale: float) -> None:
    dash = (shape.dash[0] * scale, shape.dash[-1] * scale) if shape.dash else None
    fill = _rgb(shape.fill) if shape.fill else None
    if fill is not None:
        paper.shape(points, closed=True, fill=fill)
    if shape.hatch and len(points) > 2:
        for line in _hatched(points):
            paper.shape(line, stroke=_rgb(shape.hatch), thick=0.2)
    if shape.stroke:
        paper.shape(
            points,
            closed=shape.closed,
            stroke=_rgb(shape.stroke),
            thick=max(shape.width * scale, 0.1),
            dash=dash,
        )


def _hatched(points: list[tuple[float, float]]) -> list[list[tuple[float, float]]]:
    """Return slanting lines within a shape."""
    area = shapely.make_valid(shapely.Polygon(points))
    west, south, east, north = area.bounds
    high = north - south
    found: list[list[tuple[float, float]]] = []
    for x in np.arange(west - high, east, _HATCH_MM):
        inside = area.intersection(shapely.LineString([(x, north), (x + high, south)]))
        found += [
            [(float(px), float(py)) for px, py in part.coords]
            for part in shapely.get_parts(inside)
            if part.geom_type == "LineString" and part.length > 0.2
        ]
    return found


def _rgb(name: str) -> Rgb:
    colour = theme_colour(name)
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)

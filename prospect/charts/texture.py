"""The US texture triangle with clays on it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from prospect.charts.drawing import Dot, Drawing, Point, Shape, Words, kept_apart, line, shown

_LEFT, _TOP, _SIDE = 46.0, 22.0, 340.0
_HIGH = _SIDE * 3**0.5 / 2
Corner = tuple[float, float]
"""Sand and clay, percent."""

CLASS_OUTLINES: Mapping[str, tuple[Corner, ...]] = {
    "clay": ((0, 100), (0, 60), (20, 40), (45, 40), (45, 55)),
    "silty clay": ((0, 60), (0, 40), (20, 40)),
    "sandy clay": ((45, 55), (45, 35), (65, 35)),
    "silty clay loam": ((0, 40), (0, 27), (20, 27), (20, 40)),
    "clay loam": ((20, 40), (20, 27), (45, 27), (45, 40)),
    "sandy clay loam": ((45, 35), (45, 27), (52, 20), (80, 20), (65, 35)),
    "loam": ((23, 27), (43, 7), (52, 7), (52, 20), (45, 27)),
    "silt loam": ((0, 27), (0, 12), (8, 12), (20, 0), (50, 0), (23, 27)),
    "silt": ((0, 12), (0, 0), (20, 0), (8, 12)),
    "sandy loam": ((43, 7), (50, 0), (70, 0), (85, 15), (80, 20), (52, 20), (52, 7)),
    "loamy sand": ((70, 0), (85, 0), (90, 10), (85, 15)),
    "sand": ((85, 0), (100, 0), (90, 10)),
}
"""Corners of the classes (USDA Soil Survey Manual, Handbook 18, chapter 3); a test holds them to the rules."""
_NAMES: Mapping[str, Corner] = {
    "clay": (21, 58), "silty clay": (7, 46), "sandy clay": (51, 41.5), "silty clay loam": (10, 33),
    "clay loam": (32, 33), "sandy clay loam": (61, 26.5), "loam": (41, 18), "silt loam": (21, 13),
    "silt": (6, 5), "sandy loam": (64, 10),
    "loamy sand": (82.5, 5.2), "sand": (92, 2.5),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class TexturePoint:
    """One clay on the triangle: its label, its shares in percent, and how far they may be off in percentage points."""

    label: str
    sand_pct: float
    clay_pct: float
    error_pct: float = 0.0


def texture_triangle(points: Sequence[TexturePoint]) -> Drawing:
    """Draw the texture triangle.

    Parameters
    ----------
    points
        Clays; one whose shares are doubtful gets a field as wide as its doubt.
    """
    items: list[Shape | Dot | Words] = []
    for name, corners in CLASS_OUTLINES.items():
        fill = "shelf" if "clay" in name else "paper"
        items.append(Shape(tuple(_at(*corner) for corner in corners), True, fill, "line", 1.2))
        x, y = _at(*_NAMES[name])
        items += _stacked(name, x, y)
    items += _axes()
    labels = kept_apart(
        [_at(point.sand_pct, point.clay_pct)[1] for point in points], 15.0, _TOP + 8, _TOP + _HIGH
    )
    for point, label_y in zip(points, labels, strict=True):
        x, y = _at(point.sand_pct, point.clay_pct)
        if point.error_pct > 0:
            items.append(_doubt(point))
        items += [
            Dot((x, y), 5.0, "iron"),
            Words((x + 9, label_y + 4), shown(point.label, 16), 13, "iron", bold=True, halo=True),
        ]
    told = ", ".join(shown(point.label, 16) for point in points) or "no clay on it yet"
    return Drawing(_SIDE + 2 * _LEFT, _HIGH + _TOP + 58, f"Texture triangle: {told}", tuple(items))


def _at(sand_pct: float, clay_pct: float) -> Point:
    """Return where shares lie: clay up, sand to the left."""
    silt = 100.0 - sand_pct - clay_pct
    x = _LEFT + _SIDE * (silt + clay_pct / 2) / 100.0
    return x, _TOP + _HIGH * (1 - clay_pct / 100.0)


def _stacked(name: str, x: float, y: float) -> list[Words]:
    parts = name.split(" ") if name not in ("clay", "loam", "silt", "sand") else [name]
    rows = [" ".join(parts[:-1]), parts[-1]] if len(parts) == 3 else parts
    top = y - 11 * (len(rows) - 1) / 2
    return [Words((x, top + 11 * row + 3), text, 10, "faded", "middle") for row, text in enumerate(rows)]


def _axes() -> list[Shape | Words]:
    items: list[Shape | Words] = []
    for share in range(20, 100, 20):
        for one, other in (
            ((100 - share, share), (0, share)),
            ((share, 0), (share, 100 - share)),
            ((100 - share, 0), (0, 100 - share)),
        ):
            items.append(line(_at(*one), _at(*other), stroke="line", width=0.5, dash=(2, 4)))
        x, y = _at(100 - share, share)
        items.append(Words((x - 7, y + 4), f"{share}", 11, "faded", "end"))
        x, y = _at(0, 100 - share)
        items.append(Words((x + 7, y + 4), f"{share}", 11, "faded"))
        x, y = _at(share, 0)
        items.append(Words((x, y + 16), f"{share}", 11, "faded", "middle"))
    items.append(Shape((_at(100, 0), _at(0, 100), _at(0, 0)), True, "", "slate", 1.4))
    middle = _TOP + _HIGH / 2
    items += [
        Words((_LEFT + _SIDE * 0.25 - 30, middle), "clay %", 13, "slate", "middle", turn_deg=60),
        Words((_LEFT + _SIDE * 0.75 + 30, middle), "silt %", 13, "slate", "middle", turn_deg=-60),
        Words((_LEFT + _SIDE / 2, _TOP + _HIGH + 38), "sand %", 13, "slate", "middle"),
    ]
    return items


def _doubt(point: TexturePoint) -> Shape:
    """Return the six corners of the shares that a doubt allows, cut to the triangle."""
    off = point.error_pct
    corners = ((off, -off), (0, -off), (-off, 0), (-off, off), (0, off), (off, 0))
    inside = []
    for sand, clay in corners:
        one = max(point.sand_pct + sand, 0.0)
        two = min(max(point.clay_pct + clay, 0.0), 100.0)
        inside.append((min(one, 100.0 - two), two))
    return Shape(tuple(_at(*corner) for corner in inside), True, "", "iron", 1.0, (3, 3), hatch="line")

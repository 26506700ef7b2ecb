"""The plasticity chart: liquid limit against plasticity index, with the lines that part clays from silts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from prospect.charts.drawing import Dot, Drawing, Point, Shape, Words, kept_apart, line, rectangle, shown
from prospect.clay.plasticity import a_line, u_line

WORKABLE = (12.0, 30.0)
"""Plasticity indices that suit the wheel (own judgement)."""
_LEFT, _TOP, _WIDE, _HIGH = 50.0, 16.0, 352.0, 262.0


@dataclass(frozen=True, slots=True)
class LimitsPoint:
    """One clay on the chart: its label, liquid and plastic limit, percent."""

    label: str
    liquid_limit_pct: float
    plastic_limit_pct: float


def plasticity_chart(points: Sequence[LimitsPoint]) -> Drawing:
    """Draw the plasticity chart of ASTM D2487 (Casagrande).

    Parameters
    ----------
    points
        Clays. The chart reaches to a liquid limit of 100, farther where a clay does.
    """
    most_ll = max([100.0, *(10 * -(-point.liquid_limit_pct // 10) for point in points)])
    most_pi = 0.6 * most_ll

    def at(liquid: float, index: float) -> Point:
        return _LEFT + _WIDE * liquid / most_ll, _TOP + _HIGH * (1 - index / most_pi)

    items: list[Shape | Dot | Words] = [
        rectangle(*at(0, WORKABLE[1]), *at(most_ll, WORKABLE[0]), fill="shelf"),
        Words(
            (at(most_ll, 0)[0] - 6, at(0, WORKABLE[0])[1] - 6), "workable on the wheel", 11, "faded", "end"
        ),
    ]
    for liquid in range(0, int(most_ll) + 1, 20):
        x, y = at(liquid, 0)
        items += [
            line((x, _TOP), (x, y), stroke="line", width=0.6),
            Words((x, y + 17), f"{liquid}", 11, "faded", "middle"),
        ]
    for height in range(0, int(most_pi) + 1, 10):
        x, y = at(0, height)
        items.append(line((x, y), (_LEFT + _WIDE, y), stroke="line", width=0.6))
        items.append(Words((x - 7, y + 4), f"{height}", 11, "faded", "end"))
    flat_to = 20 + 4 / 0.73
    a_end = min(most_ll, 20 + most_pi / 0.73)
    u_end = min(most_ll, 8 + most_pi / 0.9)
    items += [
        line(at(4, 4), at(flat_to, 4), at(a_end, a_line(a_end)), stroke="slate", width=1.8),
        line(at(16, 0), at(16, 7), at(u_end, u_line(u_end)), stroke="slate", width=1.2, dash=(6, 4)),
        line(at(7, 7), at(20 + 7 / 0.73, 7), stroke="slate", width=1.0),
        line(at(50, 0), at(50, u_line(50.0)), stroke="slate", width=1.0, dash=(2, 3)),
        Words(_beside(at(a_end - 5, a_line(a_end - 5)), 6, 14), "A-line", 12, "slate", "end", halo=True),
        Words(_beside(at(u_end - 5, u_line(u_end - 5)), -8, 2), "U-line", 12, "slate", "end", halo=True),
        rectangle(_LEFT, _TOP, _LEFT + _WIDE, _TOP + _HIGH, stroke="slate", width=1.4),
    ]
    for name, liquid, index in (
        ("CL", 39, 20),
        ("CH", 74, 46),
        ("ML", 41, 9),
        ("MH", 74, 24),
        ("CL-ML", 9, 9.5),
    ):
        items.append(Words(at(liquid, index), name, 12, "faded", "middle"))
    places = [
        at(point.liquid_limit_pct, point.liquid_limit_pct - point.plastic_limit_pct) for point in points
    ]
    labels = kept_apart([y for _, y in places], 15.0, _TOP + 8, _TOP + _HIGH)
    for point, (x, y), label_y in zip(points, places, labels, strict=True):
        items.append(Dot((x, y), 5.0, "iron"))
        items.append(Words((x + 9, label_y + 4), shown(point.label, 16), 13, "iron", bold=True, halo=True))
    items += [
        Words((_LEFT + _WIDE / 2, _TOP + _HIGH + 38), "liquid limit, %", 13, "slate", "middle"),
        Words((16, _TOP + _HIGH / 2), "plasticity index, %", 13, "slate", "middle", turn_deg=90),
    ]
    told = ", ".join(shown(point.label, 16) for point in points) or "no clay on it yet"
    return Drawing(_LEFT + _WIDE + 26, _TOP + _HIGH + 52, f"Plasticity chart: {told}", tuple(items))


def _beside(point: Point, right: float, down: float) -> Point:
    return point[0] + right, point[1] + down

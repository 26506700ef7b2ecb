"""The firing curve: absorption and total shrinkage from cone to cone, and where the clay is mature."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

from prospect.charts.drawing import Dot, Drawing, Shape, Words, line, rectangle, shown
from prospect.clay.cones import cone_rank, cones, fahrenheit
from prospect.clay.firing_curve import FiringStep, MaturingRange
from prospect.clay.spread import Spread

_LEFT, _TOP, _WIDE, _HIGH = 40.0, 30.0, 362.0, 226.0


def firing_curve(
    steps: Sequence[FiringStep],
    *,
    wanted: tuple[float, float] | None = None,
    mature: MaturingRange | None = None,
    units: Literal["metric", "us"] = "metric",
) -> Drawing:
    """Draw how a clay changes from cone to cone.

    Parameters
    ----------
    steps
        From cool to hot (`prospect.clay.firing_curve.firing_steps`).
    wanted
        Absorption that the wanted use asks for, percent: a band.
    mature
        Where the clay is mature: marked.
    units
        °C or °F beside the cones.
    """
    names = cones().names
    ranks = [cone_rank(step.cone) for step in steps]
    first = max(min(ranks, default=4) - 1, 0)
    last = min(max(ranks, default=12) + 1, len(names) - 1)
    spreads = [spread for step in steps for spread in (step.absorption_pct, step.total_shrinkage_pct)]
    values = [spread.high for spread in spreads if spread is not None]
    most = max(20.0, 5.0 * -(-max(values, default=0.0) // 5.0))

    def x_of(rank: float) -> float:
        return _LEFT + _WIDE * (rank - first) / max(last - first, 1)

    def y_of(percent: float) -> float:
        return _TOP + _HIGH * (1 - min(max(percent, 0.0), most) / most)

    items: list[Shape | Dot | Words] = []
    if mature is not None:
        left, right = cone_rank(mature.first) - 0.35, cone_rank(mature.last) + 0.35
        items += [
            rectangle(x_of(max(left, first)), _TOP, x_of(min(right, last)), _TOP + _HIGH, fill="shelf"),
            Words((x_of((left + right) / 2), _TOP - 9), "mature", 12, "reed", "middle", bold=True),
        ]
    if wanted is not None:
        top, bottom = y_of(min(wanted[1], most)), y_of(wanted[0])
        items.append(rectangle(_LEFT, top, _LEFT + _WIDE, bottom, stroke="reed", width=1.0, dash=(4, 3)))
        items.append(
            Words((_LEFT + _WIDE - 6, bottom - 6), "absorption wanted", 11, "reed", "end", halo=True)
        )
    for percent in range(0, int(most) + 1, 5):
        items.append(line((_LEFT, y_of(percent)), (_LEFT + _WIDE, y_of(percent)), stroke="line", width=0.6))
        items.append(Words((_LEFT - 7, y_of(percent) + 4), f"{percent}", 11, "faded", "end"))
    every = max(1, (last - first) // 7 + 1)
    for rank in range(first, last + 1, every):
        celsius = cones().celsius[rank]
        heat = f"{fahrenheit(celsius):.0f}°F" if units == "us" else f"{celsius:.0f}°C"
        items += [
            line((x_of(rank), _TOP + _HIGH), (x_of(rank), _TOP + _HIGH + 5), stroke="slate"),
            Words((x_of(rank), _TOP + _HIGH + 20), names[rank], 13, "slate", "middle", bold=True),
            Words((x_of(rank), _TOP + _HIGH + 35), heat, 9.5, "faded", "middle"),
        ]
    items.append(rectangle(_LEFT, _TOP, _LEFT + _WIDE, _TOP + _HIGH, stroke="slate", width=1.4))
    ends: list[tuple[float, float]] = []
    for title, colour, shape, pick in (
        ("absorption", "glaze", "round", lambda step: step.absorption_pct),
        ("total shrinkage", "iron", "diamond", lambda step: step.total_shrinkage_pct),
    ):
        items += _series(steps, title, colour, shape, pick, x_of, y_of, ends)  # type: ignore[arg-type]
    for step in steps:
        faults = [fault for fault in step.faults if fault != "none"]
        for row, fault in enumerate(faults[:2]):
            x = x_of(cone_rank(step.cone))
            items.append(
                Words(
                    (x, _TOP + _HIGH - 8 - 13 * row), f"▲ {shown(fault, 14)}", 11, "iron", "middle", halo=True
                )
            )
    items += [
        Words(
            (_LEFT + _WIDE / 2, _TOP + _HIGH + 56),
            "cone (heat-work, not a temperature)",
            12,
            "slate",
            "middle",
        ),
        Words((_LEFT - 7, _TOP - 10), "%", 12, "slate", "end"),
    ]
    told = ", ".join(f"cone {step.cone}" for step in steps) or "nothing fired yet"
    return Drawing(_LEFT + _WIDE + 26, _TOP + _HIGH + 68, f"Firing curve: {told}", tuple(items))


def _series(
    steps: Sequence[FiringStep],
    title: str,
    colour: str,
    shape: Literal["round", "diamond"],
    pick: Callable[[FiringStep], Spread | None],
    x_of: Callable[[float], float],
    y_of: Callable[[float], float],
    ends: list[tuple[float, float]],
) -> list[Shape | Dot | Words]:
    known = [(x_of(cone_rank(step.cone)), spread) for step in steps if (spread := pick(step)) is not None]
    if not known:
        return []
    items: list[Shape | Dot | Words] = [
        line(*((x, y_of(spread.mean)) for x, spread in known), stroke=colour, width=2.0)
    ]
    for x, spread in known:
        if spread.n > 1:
            items.append(line((x, y_of(spread.low)), (x, y_of(spread.high)), stroke=colour, width=1.2))
        items.append(Dot((x, y_of(spread.mean)), 4.5, colour, shape=shape))
    x, y = known[0][0], y_of(known[0][1].mean)
    # Beside its first point, and not on what stands there already.
    y = y - 12 if all(abs(y - 12 - taken) > 14 or abs(x - at) > 90 for at, taken in ends) else y + 22
    ends.append((x, y))
    items.append(Words((x - 4, y), title, 12, colour, bold=True, halo=True))
    return items

"""What is odd about a set of bars, and what they say together: mean, spread, and the one that does not fit."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from prospect.clay.firing import absorption, linear_shrinkage
from prospect.clay.spread import Spread, spread_of
from prospect.records import Bar

_LEAST_GAP_PCT = 1.5
"""What lies no farther from the middle is never questioned (own judgement)."""


class Together(NamedTuple):
    """What several bars say of one thing, percent."""

    title: str
    values: tuple[tuple[str, float], ...]

    @property
    def spread(self) -> Spread:
        """Mean and spread of the bars, and which of them look unlike the others."""
        return spread_of([value for _, value in self.values], _LEAST_GAP_PCT)


def drying_shrinkage(bar: Bar) -> float | None:
    """Return the linear shrinkage on drying, percent of the length when made; None when not measured."""
    return _shrunk(bar.plastic_mm, bar.dry_mm)


def firing_shrinkage(bar: Bar) -> float | None:
    """Return the linear shrinkage in the kiln, percent of the dry length; None when not measured."""
    return _shrunk(bar.dry_mm, bar.fired_mm)


def water_taken_up(bar: Bar) -> float | None:
    """Return the absorption, percent of the fired weight (ASTM C373); None when not measured or not possible."""
    if bar.fired_g is None or bar.saturated_g is None or not 0 < bar.fired_g <= bar.saturated_g:
        return None
    return absorption(bar.fired_g, bar.saturated_g)


def together(bars: Iterable[Bar]) -> list[Together]:
    """Return what the bars say together: drying once, firing and absorption for each cone by itself."""
    bars = list(bars)
    found = [_of("Drying shrinkage", bars, drying_shrinkage)]
    for heat, at in _by_heat(bars).items():
        found.append(_of(f"Firing shrinkage at {heat}", at, firing_shrinkage))
        found.append(_of(f"Water taken up at {heat}", at, water_taken_up))
    return [one for one in found if one.values]


def in_words(one: Together) -> str:
    """Return what several bars say of one thing in a sentence."""
    spread = one.spread
    if spread.deviation is None:
        return f"{one.title}: {spread.mean:.1f} %, from one bar."
    return f"{one.title}: {spread.mean:.1f} %, give or take {spread.deviation:.1f}, from {spread.n} bars."


def doubts_of(bars: Sequence[Bar]) -> tuple[str, ...]:
    """Return what is odd, in words; nothing of it keeps a bar off the record."""
    doubts = []
    for bar in bars:
        name = bar.bar_id or "one bar"
        if (shrunk := drying_shrinkage(bar)) is not None and shrunk < 0:
            doubts.append(
                f"{name} is longer dry than when it was made. Clay shrinks as it dries: measure it once more."
            )
        elif shrunk is not None and shrunk > 20:
            doubts.append(
                f"{name} shrank {shrunk:.0f} % on drying, which is very much. Are both lengths in one unit?"
            )
        if (grown := firing_shrinkage(bar)) is not None and grown < -1:
            doubts.append(f"{name} came out of the kiln longer than it went in. Did it bloat?")
        elif grown is not None and grown > 25:
            doubts.append(
                f"{name} shrank {grown:.0f} % in the kiln, which is very much. Are both lengths in one unit?"
            )
    for one in together(bars):
        doubts.extend(_outliers(one))
    return tuple(doubts)


def _outliers(one: Together) -> list[str]:
    """Question a bar that looks unlike the others (`prospect.clay.spread`)."""
    spread = one.spread
    odd = [one.values[at] for at in spread.questioned]
    alike = [value for at, (_, value) in enumerate(one.values) if at not in spread.questioned]
    return [
        f"{one.title}: {name} says {value:.1f} %, the others about {sum(alike) / len(alike):.1f} %. "
        f"Measure {name} once more, or note what was different about it."
        for name, value in odd
    ]


def _of(title: str, bars: Iterable[Bar], measure: Callable[[Bar], float | None]) -> Together:
    return Together(title, tuple((bar.bar_id, value) for bar in bars if (value := measure(bar)) is not None))


def _by_heat(bars: Iterable[Bar]) -> dict[str, list[Bar]]:
    groups: dict[str, list[Bar]] = {}
    for bar in bars:
        heat = (
            f"cone {bar.cone}"
            if bar.cone
            else "a heat not noted"
            if bar.fired_c is None
            else f"{bar.fired_c:.0f} °C"
        )
        groups.setdefault(heat, []).append(bar)
    return groups


def _shrunk(before: float | None, after: float | None) -> float | None:
    return None if not before or not after else linear_shrinkage(before, after)

"""Which bars wait for what: to dry, to be fired, to be boiled, to be looked at for lime pops."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from prospect.records import Bar

WAITS: dict[str, str] = {
    "dry": "drying",
    "fired": "the kiln",
    "boiled": "boiling",
    "looked": "a look for lime pops",
}
"""Stage that comes next → what a bar waits for."""
LIME_DAYS = 14.0
"""Days after a low firing until lime has had time to take up water and push (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class BarSet:
    """Bars that were made together: of one specimen, after one preparation, on one day.

    Attributes
    ----------
    specimen, preparation, date
        What they share.
    bars
        In the order saved.
    """

    specimen: str
    preparation: str
    date: str
    bars: tuple[Bar, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of its bars."""
        return tuple(bar.bar_id for bar in self.bars)


@dataclass(frozen=True, slots=True)
class Waiting:
    """The bars of a set that wait for the same.

    Attributes
    ----------
    stage
        Which comes next: a key of `WAITS`.
    of
        The set.
    names
        Names of those that wait.
    """

    stage: str
    of: BarSet
    names: tuple[str, ...]


def next_stage(bar: Bar) -> str:
    """Return the stage that a bar waits for; empty when it has gone through all."""
    if bar.dry_mm is None and bar.dry_g is None and not is_fired(bar):
        return "dry"
    if not is_fired(bar):
        return "fired"
    if bar.saturated_g is None and not is_lost(bar):
        return "boiled"
    if not bar.looked_for_faults or (bar.waited_days is not None and bar.waited_days < LIME_DAYS):
        return "" if is_lost(bar) else "looked"
    return ""


def is_fired(bar: Bar) -> bool:
    """Whether a bar was in the kiln, by anything that is known of that."""
    return bool(bar.cone or bar.fired_c is not None or bar.fired_mm is not None or bar.fired_g is not None)


def is_lost(bar: Bar) -> bool:
    """Whether a bar melted, so that nothing more can be measured on it."""
    return "slump" in bar.faults


def sets_of(bars: Iterable[Bar]) -> list[BarSet]:
    """Return bars as the sets in which they were made, the newest first."""
    groups: dict[tuple[str, str, str], list[Bar]] = {}
    for bar in bars:
        groups.setdefault((bar.specimen, bar.preparation, bar.date), []).append(bar)
    return [BarSet(*shared, tuple(found)) for shared, found in reversed(groups.items())]


def waiting(bars: Iterable[Bar]) -> list[Waiting]:
    """Return what waits, stage by stage in the order of work, the oldest set first."""
    found: list[Waiting] = []
    sets = list(reversed(sets_of(bars)))
    for stage in WAITS:
        for one in sets:
            names = tuple(bar.bar_id for bar in one.bars if next_stage(bar) == stage)
            if names:
                found.append(Waiting(stage, one, names))
    return found

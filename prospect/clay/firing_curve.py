"""How a clay changes from cone to cone, and where it is mature."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from prospect.clay.cones import cone_rank, cone_temperature_c
from prospect.clay.measuring import Measurement
from prospect.clay.spread import Spread

FALLING_PCT = 0.5
"""By how much the total shrinkage must fall from one cone to the next to count as falling (own judgement)."""
GOOD_RANGE_CONES = 2
"""A clay that is mature over so many cones forgives an uneven kiln (own judgement)."""


@dataclass(frozen=True, slots=True)
class FiringStep:
    """What the bars fired to one cone say.

    Attributes
    ----------
    cone
        As on record, `06`.
    temperature_c
        The temperature that goes with it, °C.
    absorption_pct, total_shrinkage_pct
        With their spread; None when not measured.
    faults
        Faults seen, each once; `none` where bars were looked at and had none.
    colours
        Fired colours as noted.
    bars
        Names of the bars.
    """

    cone: str
    temperature_c: float
    absorption_pct: Spread | None = None
    total_shrinkage_pct: Spread | None = None
    faults: tuple[str, ...] = ()
    colours: tuple[str, ...] = ()
    bars: tuple[str, ...] = ()

    @property
    def overfired(self) -> bool:
        """Whether the bars say that this was too hot."""
        return bool({"bloat", "slump"} & set(self.faults))


@dataclass(frozen=True, slots=True)
class MaturingRange:
    """The cones between which a clay is mature for a use.

    Attributes
    ----------
    first, last
        Coolest and hottest tested cone that suits, without one between that does not.
    cones
        How many cones of the table the range spans.
    open_below, open_above
        Whether nothing cooler, or hotter, was tested that would end the range.
    """

    first: str
    last: str
    cones: int
    open_below: bool
    open_above: bool

    def sentence(self) -> str:
        """Return it in words."""
        alone = self.first == self.last
        span = f"at cone {self.first}" if alone else f"from cone {self.first} to {self.last}"
        width = "" if self.cones >= GOOD_RANGE_CONES else "; a narrow range wants an even kiln"
        more = [word for word, said in (("cooler", self.open_below), ("hotter", self.open_above)) if said]
        untested = f"; nothing {' or '.join(more)} was tested" if more else ""
        return f"mature {span}{width}{untested}"


def firing_steps(measurements: Iterable[Measurement], preparation: str) -> tuple[FiringStep, ...]:
    """Return the steps of one preparation from cool to hot; bars without a cone are left out (they say so)."""
    by_cone: dict[str, list[Measurement]] = {}
    for item in measurements:
        if item.cone and item.preparation == preparation:
            by_cone.setdefault(item.cone, []).append(item)
    steps = []
    for cone in sorted(by_cone, key=cone_rank):
        here = by_cone[cone]
        spreads = {item.key: item.spread for item in here}
        words = {
            key: tuple(dict.fromkeys(str(item.value) for item in here if item.key == key))
            for key in ("faults", "fired_colour")
        }
        faults = tuple(fault for fault in words["faults"] if fault != "none") or words["faults"]
        bars = tuple(dict.fromkeys(name for item in here for name in item.sources))
        steps.append(
            FiringStep(
                cone,
                cone_temperature_c(cone),
                spreads.get("absorption_pct"),
                spreads.get("total_shrinkage_pct"),
                faults,
                words["fired_colour"],
                bars,
            )
        )
    return tuple(steps)


def maturing_range(
    steps: Sequence[FiringStep], absorption_pct: tuple[float, float], within: tuple[str, str] | None = None
) -> MaturingRange | None:
    """Return where a clay is mature; None when no tested cone suits or nothing was tested.

    Parameters
    ----------
    steps
        From cool to hot (`firing_steps`).
    absorption_pct
        Least and greatest absorption that is wanted.
    within
        Coolest and hottest cone to look at; None = all.

    Notes
    -----
    A cone suits when the mean absorption lies in the band, no bar bloated or slumped, and the total shrinkage has not
    fallen from the cone before, which is how bloating begins (own judgement). The longest run of suiting steps counts.
    """
    looked = [
        step
        for step in steps
        if step.absorption_pct is not None
        and (within is None or cone_rank(within[0]) <= cone_rank(step.cone) <= cone_rank(within[1]))
    ]
    runs: list[list[int]] = [[]]
    for place, step in enumerate(looked):
        before = looked[place - 1] if place else None
        suits = _suits(step, before, absorption_pct)
        if suits:
            runs[-1].append(place)
        elif runs[-1]:
            runs.append([])
    best = max(runs, key=len)
    if not best:
        return None
    first, last = looked[best[0]], looked[best[-1]]
    return MaturingRange(
        first.cone,
        last.cone,
        cone_rank(last.cone) - cone_rank(first.cone) + 1,
        open_below=best[0] == 0 and looked[0] is steps[0],
        open_above=best[-1] == len(looked) - 1 and looked[-1] is steps[-1],
    )


def _suits(step: FiringStep, before: FiringStep | None, band: tuple[float, float]) -> bool:
    assert step.absorption_pct is not None
    if not band[0] <= step.absorption_pct.mean <= band[1] or step.overfired:
        return False
    if before is None or before.total_shrinkage_pct is None or step.total_shrinkage_pct is None:
        return True
    return before.total_shrinkage_pct.mean - step.total_shrinkage_pct.mean <= FALLING_PCT

"""Judges one preparation of a clay for one use, and keeps what each part of the judgement rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

from prospect.clay.cones import cone_rank
from prospect.clay.firing_curve import FiringStep, firing_steps, maturing_range
from prospect.clay.measuring import ANY, Measurement
from prospect.clay.munsell import Fired, expected_fired, fired_group
from prospect.clay.preparation import read_preparation
from prospect.clay.uses import Mark, Part, Question, Use, judgement

Fitness = Literal["fit", "likely fit", "fit with help", "not fit", "not known"]
_CHANGED_BY_SCREENING = ("fizz", "roots", "grit", "stones_pct", "lime_range")
_NOT_TESTED = "not tested"
_WORST_COLOUR = 0.2
_LATER_COLOUR_COSTS = 0.15
"""How much a group of colour further down a use's list suits less (own judgement)."""


@dataclass(frozen=True, slots=True)
class PartVerdict:
    """One part of a judgement.

    Attributes
    ----------
    key, title, question
        The part.
    suits
        0..1; None when nothing of it was measured.
    weight
        Its share of the judgement, the shares of a use sum to 1.
    reason
        What was found, in words.
    measurements
        What it rests on.
    help
        What to do about it; empty when nothing need be done.
    caps
        Whether it caps the whole judgement.
    doubtful
        Whether it was not measured, and what was seen lets expect that it will rule the use out.
    """

    key: str
    title: str
    question: Question
    suits: float | None
    weight: float
    reason: str
    measurements: tuple[Measurement, ...] = ()
    help: str = ""
    caps: bool = False
    doubtful: bool = False


@dataclass(frozen=True, slots=True)
class UseVerdict:
    """What one preparation of a clay is for one use.

    Attributes
    ----------
    use
        The use.
    preparation
        As written on record.
    fitness
        In a word.
    quality
        0..1 over what is known; None when too little is.
    completeness
        Share of the judgement that rests on something measured, 0..1.
    parts
        In the trade's order.
    untested
        What was not measured yet, in words, with what can be expected of it.
    would_change
        What would change the verdict, the strongest first: cures and tests, with what it would be then.
    capped_by
        What caps the quality; empty when nothing does.
    """

    use: Use
    preparation: str
    fitness: Fitness
    quality: float | None
    completeness: float
    parts: tuple[PartVerdict, ...]
    untested: tuple[str, ...]
    would_change: tuple[str, ...]
    capped_by: str = ""

    def sentence(self) -> str:
        """Return the verdict in one sentence."""
        if self.fitness == "not known":
            return f"For {self.use.title}: not known yet."
        cap = f", held down by {self.capped_by}" if self.capped_by else ""
        return f"For {self.use.title}: {self.fitness}{cap}."


@dataclass(frozen=True, slots=True)
class _Standing:
    fitness: Fitness
    quality: float | None
    completeness: float
    capped_by: str = ""


def judge(measurements: Sequence[Measurement], preparation: str, use: Use) -> UseVerdict:
    """Return what one preparation of a clay is for one use.

    Parameters
    ----------
    measurements
        Of the clay, all preparations (`measurements_of`).
    preparation
        Which one is judged.
    use
        What for.

    Notes
    -----
    The quality is the mean over the parts that are known, weighted as `layers/clay/uses.toml` says; what is not known
    is left out and lowers the completeness. A fault that caps holds the quality of this preparation down to the cap,
    and so does a want that nothing else makes good. Nothing is called fit that was not fired as hot as the use fires
    it, and nothing of which one part alone would not be: that part wants help. Nothing is called likely fit while what
    is seen of it lets expect that a part not tested yet will rule it out.
    """
    known = holding_for(measurements, preparation)
    steps = firing_steps(known, preparation)
    known = _fired_for(known, steps, use)
    parts = judgement().parts_of(use.key)
    total = sum(part.weight for part in parts)
    judged = tuple(_part(part, part.weight / total, known, steps, use) for part in parts)
    now = _stand(judged)
    return UseVerdict(
        use,
        preparation,
        now.fitness,
        now.quality,
        now.completeness,
        judged,
        tuple(_untested(part) for part in judged if part.suits is None),
        _would_change(judged, parts, use, now),
        now.capped_by,
    )


def _stand(judged: Sequence[PartVerdict]) -> _Standing:
    """Return how a clay stands for one use when its parts are as they are."""
    rules = judgement().rules
    told = [part for part in judged if part.suits is not None]
    completeness = sum(part.weight for part in told)
    if not told or completeness < rules.least_completeness:
        return _Standing("not known", None, completeness)
    quality, capped_by = sum(part.weight * (part.suits or 0.0) for part in told) / completeness, ""
    caps = [part for part in judged if part.caps]
    if caps and quality > rules.capped_at:
        quality, capped_by = rules.capped_at, caps[0].reason
    if quality >= rules.fit_from and min(part.suits or 0.0 for part in told) < rules.helped_from:
        return _Standing("fit with help", quality, completeness, capped_by)
    if quality >= rules.fit_from:
        fired = all(part.suits is not None for part in judged if part.question == "maturing")
        if fired and completeness >= rules.sure_completeness:
            return _Standing("fit", quality, completeness, capped_by)
        if any(part.doubtful for part in judged):
            return _Standing("not known", None, completeness)
        return _Standing("likely fit", quality, completeness, capped_by)
    fitness: Fitness = "fit with help" if quality >= rules.helped_from else "not fit"
    return _Standing(fitness, quality, completeness, capped_by)


def holding_for(measurements: Sequence[Measurement], preparation: str) -> tuple[Measurement, ...]:
    """Return the measurements that hold for a preparation.

    What was seen at the hole holds for the raw clay. For a screened or washed one it still says how plastic the clay
    is, but no longer how much lime, root or grit is in it; a blend is a clay of its own.
    """
    kind = read_preparation(preparation).kind
    return tuple(
        item
        for item in measurements
        if item.preparation == preparation
        or (
            item.preparation == ANY
            and (kind == "raw" or (kind in ("screened", "washed") and item.key not in _CHANGED_BY_SCREENING))
        )
    )


def _fired_for(
    known: Sequence[Measurement], steps: Sequence[FiringStep], use: Use
) -> tuple[Measurement, ...]:
    """Leave out what bars did hotter than the use fires them, or hotter than they are mature for it already."""
    if not use.cones:
        return tuple(known)
    hottest = use.cones[-1]
    if use.absorption_pct:
        band = (use.absorption_pct[0], use.absorption_pct[1])
        mature = maturing_range(steps, band, (use.cones[0], hottest))
        hottest = mature.last if mature is not None else hottest
    limit = cone_rank(hottest)
    return tuple(
        item
        for item in known
        if item.key not in ("faults", "pops") or not item.cone or cone_rank(item.cone) <= limit
    )


def _part(
    part: Part, weight: float, known: Sequence[Measurement], steps: Sequence[FiringStep], use: Use
) -> PartVerdict:
    if part.special == "maturing":
        return _maturing(part, weight, known, steps, use)
    if part.special == "melting":
        return _melting(part, weight, known, steps)
    if part.special == "colour":
        return _colour(part, weight, known, use)
    found: list[tuple[float, Mark, Measurement]] = []
    for mark in part.marks:
        read = [(mark.suits(item.value, use.key), mark, item) for item in known if item.key == mark.measure]
        suiting = [(suits, mark, item) for suits, mark, item in read if suits is not None]
        found += suiting
        if suiting and part.take == "first":
            break
    if not found:
        return PartVerdict(part.key, part.title, part.question, None, weight, _NOT_TESTED)
    suits, mark, item = min(found, key=lambda one: one[0])
    if part.take == "first" and len(found) > 1:
        suits = sum(one[0] for one in found) / len(found)
    side = mark.side(item.value) if suits < judgement().rules.advised_below else ""
    advice = {"low": mark.low or part.low, "high": mark.high or part.high, "": ""}[side]
    if mark.measure == "faults":
        advice = judgement().cure(str(item.value))
    caps = (isinstance(item.value, str) and item.value in mark.caps) or (side == "low" and suits < part.needs)
    measurements = tuple(one for _, _, one in found)
    reason = f"{item.value}" if caps and mark.measure == "faults" else _told(mark, item)
    return PartVerdict(part.key, part.title, part.question, suits, weight, reason, measurements, advice, caps)


def _told(mark: Mark, item: Measurement) -> str:
    value = (
        f"{item.value:.3g}{' ' + item.unit if item.unit else ''}"
        if isinstance(item.value, float)
        else item.value
    )
    fired = f" at cone {item.cone}" if item.cone else ""
    return f"{mark.title}{fired}: {value}"


def _maturing(
    part: Part, weight: float, known: Sequence[Measurement], steps: Sequence[FiringStep], use: Use
) -> PartVerdict:
    first, last = use.cones
    band = (use.absorption_pct[0], use.absorption_pct[1])
    inside = [
        step
        for step in steps
        if step.absorption_pct is not None and cone_rank(first) <= cone_rank(step.cone) <= cone_rank(last)
    ]
    behind = tuple(
        item for item in known if item.key in ("absorption_pct", "total_shrinkage_pct") and item.cone
    )
    if not inside:
        melted = next(
            (step for step in steps if step.overfired and cone_rank(step.cone) <= cone_rank(first)), None
        )
        if melted is not None:
            reason = f"overfired at cone {melted.cone} already, below cone {first}"
            faults = tuple(item for item in known if item.key == "faults" and item.cone == melted.cone)
            return PartVerdict(
                part.key,
                part.title,
                part.question,
                0.0,
                weight,
                reason,
                faults,
                "It matures lower than this use.",
            )
        return PartVerdict(
            part.key, part.title, part.question, None, weight, f"no absorption from cone {first} to {last}"
        )
    mature = maturing_range(steps, band, (first, last))
    if mature is not None:
        suits = 1.0 if mature.cones >= 2 or mature.open_below or mature.open_above else 0.75
        return PartVerdict(part.key, part.title, part.question, suits, weight, mature.sentence(), behind)
    best = min(inside, key=lambda step: _outside(step, band))
    assert best.absorption_pct is not None
    off = _outside(best, band)
    suits = max(0.0, 1.0 - off / 8.0)
    dense = best.absorption_pct.mean < band[0]
    over = next((step for step in inside if step.overfired), None)
    if over is not None:
        return PartVerdict(
            part.key, part.title, part.question, min(suits, 0.2), weight, f"overfired at cone {over.cone}", behind,
            "Fire it lower.",
        )  # fmt: skip
    reason = f"absorption {best.absorption_pct.mean:.3g} % at cone {best.cone}, wanted {band[0]:g} to {band[1]:g} %"
    advice = (
        "Fire it lower: it is denser than this use wants."
        if dense
        else "Fire it hotter, or blend in a clay that matures lower."
    )
    return PartVerdict(part.key, part.title, part.question, suits, weight, reason, behind, advice)


def _outside(step: FiringStep, band: tuple[float, float]) -> float:
    assert step.absorption_pct is not None
    return max(band[0] - step.absorption_pct.mean, step.absorption_pct.mean - band[1], 0.0)


def _melting(
    part: Part, weight: float, known: Sequence[Measurement], steps: Sequence[FiringStep]
) -> PartVerdict:
    melted = [
        item for item in known if (item.key, item.value) in (("came_out", "melted"), ("faults", "slump"))
    ]
    if melted:
        at = f" at cone {melted[0].cone}" if melted[0].cone else ""
        return PartVerdict(
            part.key, part.title, part.question, 1.0, weight, f"melts{at}: a glaze of its own", tuple(melted)
        )
    if steps:
        hottest = steps[-1]
        behind = tuple(item for item in known if item.cone == hottest.cone)
        reason = f"stays a clay to cone {hottest.cone}: it coats, it does not glaze"
        return PartVerdict(part.key, part.title, part.question, 0.6, weight, reason, behind)
    return PartVerdict(part.key, part.title, part.question, None, weight, "not fired yet")


def _colour(part: Part, weight: float, known: Sequence[Measurement], use: Use) -> PartVerdict:
    chips = [item for item in known if item.key == "fired_colour" and fired_group(str(item.value))]
    if use.cones:
        within = [
            item
            for item in chips
            if item.cone and cone_rank(use.cones[0]) <= cone_rank(item.cone) <= cone_rank(use.cones[1])
        ]
        chips = within or chips
    iron = [item for item in known if item.key == "fe2o3_pct"]
    if chips:
        behind, group = chips[-1], str(fired_group(str(chips[-1].value)))
        at = f" at cone {behind.cone}" if behind.cone else ""
        reason = f"fires {group}{at} ({behind.value})"
    elif iron:
        behind, group = iron[-1], _by_iron(iron[-1].number or 0.0)
        reason = f"{iron[-1].value:.2g} % iron oxide: expected {group}"
    else:
        groups, told = _forecast(known)
        doubtful = bool(groups and use.wants_colour) and groups[0] not in use.wants_colour
        return PartVerdict(part.key, part.title, part.question, None, weight, told, doubtful=doubtful)
    # A colour that a use does not want at all cannot be made good by anything else.
    unwanted = bool(use.wants_colour) and group not in use.wants_colour
    suits = _colour_suits(group, use)
    return PartVerdict(part.key, part.title, part.question, suits, weight, reason, (behind,), caps=unwanted)


def _colour_suits(group: str | None, use: Use) -> float:
    if not use.wants_colour:
        return 1.0
    if group not in use.wants_colour:
        return _WORST_COLOUR
    return 1.0 - _LATER_COLOUR_COSTS * use.wants_colour.index(group)


def _by_iron(iron_pct: float) -> str:
    """Return the fired colour in oxidation that goes with an iron oxide content (own judgement)."""
    limits = ((1.0, "white"), (2.5, "buff"), (9.0, "red"))
    return next((group for limit, group in limits if iron_pct < limit), "dark")


def _forecast(known: Sequence[Measurement]) -> tuple[tuple[str, ...], str]:
    """Return the colours that the raw clay lets expect, the likeliest first, and how to say it."""
    raw = next((item for item in known if item.key in ("moist_colour", "dry_colour")), None)
    groups, why = expected_fired(str(raw.value)) if raw else ((), "")
    if groups:
        return groups, f"not fired yet; the raw colour lets expect {' or '.join(groups)} ({why})"
    return (), f"not fired yet{f' ({why})' if why else ''}"


def _untested(part: PartVerdict) -> str:
    return part.title if part.reason == _NOT_TESTED else f"{part.title}: {part.reason}"


def _would_change(
    judged: Sequence[PartVerdict], parts: Sequence[Part], use: Use, now: _Standing
) -> tuple[str, ...]:
    """Return what would change the verdict: cures of what weighs most against it, then the weightiest unknowns."""
    against = sorted(
        (part for part in judged if part.suits is not None and part.suits < 0.7 and part.help),
        key=lambda part: -part.weight * (1.0 - (part.suits or 0.0)),
    )
    unknown = sorted((part for part in judged if part.suits is None), key=lambda part: -part.weight)
    worst = {part.key: _worst(part, use) for part in parts}

    def if_it_were(part: PartVerdict, suits: float, caps: bool) -> Fitness:
        other = replace(part, suits=suits, caps=caps, doubtful=False)
        return _stand([other if one is part else one for one in judged]).fitness

    said = []
    for part in against:
        then = if_it_were(part, 1.0, False)
        said.append(part.help if then == now.fitness else f"{part.help} With that mended: {then}.")
    for part in unknown:
        outcomes = {
            "it suits": if_it_were(part, 1.0, False),
            "it does not": if_it_were(part, *worst[part.key]),
        }
        told = [f"where {words}, {then}" for words, then in outcomes.items() if then != now.fitness]
        if told:
            said.append(f"Testing {part.title}: {'; '.join(told)}.")
    return tuple(said)


def _worst(part: Part, use: Use) -> tuple[float, bool]:
    """Return how little a part can suit a use, and whether it rules the use out then."""
    if part.special == "colour":
        least = min(_colour_suits(group, use) for group in get_args(Fired))
        return least, bool(use.wants_colour) and least <= _WORST_COLOUR
    return 0.0, part.needs > 0 or any(mark.caps for mark in part.marks)

"""What a hole says to the map: clay, no clay, or not known because it stopped short."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from prospect.clay.report import ClayReport, assess
from prospect.clay.specimen import Specimen, layer_at, specimen_of
from prospect.records import Hole, HoleLayer, LogBook, Sample, Usable

Reach = Literal["reached", "partly", "stopped short", "not known"]

_WORDS: Mapping[Usable, str] = {"yes": "usable", "no": "not usable"}

PASSED_OVER_CM = 5.0
"""A gap between two layers that is no more than this is none (own judgement)."""


@dataclass(frozen=True, slots=True)
class HoleEvidence:
    """One hole as evidence.

    Attributes
    ----------
    hole_id
        The hole.
    usable
        `yes` when any layer within the depths is usable; `no` when it went through them and none was; else `unknown`.
    quality, completeness
        Of the best usable layer that was tested, 0..1; quality None when none was.
    reach
        How far the hole went through the depths that the score is about.
    reasons
        In words.
    """

    hole_id: str
    usable: Usable
    quality: float | None
    completeness: float
    reach: Reach
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Judged:
    """A sample or a layer, what it says, and the depths for which it says it."""

    name: str
    usable: Usable
    quality: float | None
    completeness: float
    top_cm: float | None
    bottom_cm: float | None
    why: str = ""


def depth_reached_cm(hole: Hole) -> float | None:
    """Return how deep a hole went for certain: as noted, else its deepest layer; None when neither is known."""
    known = [depth for layer in hole.layers for depth in (layer.bottom_cm, layer.top_cm) if depth is not None]
    depths = [*known, *([hole.depth_cm] if hole.depth_cm is not None else [])]
    return max(depths) if depths else None


def reach_of(hole: Hole, top_cm: float, bottom_cm: float) -> Reach:
    """Return whether a hole went through the depths between which a score looks for clay."""
    deepest = depth_reached_cm(hole)
    if deepest is None:
        return "not known"
    if deepest <= top_cm:
        return "stopped short"
    return "reached" if deepest >= bottom_cm else "partly"


def hole_evidence(
    book: LogBook, hole: Hole, purpose: str = "any", depths_cm: tuple[float, float] = (25.0, 200.0)
) -> HoleEvidence:
    """Return what a hole says to the map.

    Parameters
    ----------
    book
        The log: samples taken from the hole, their tests and bars.
    hole
        The hole.
    purpose
        What the clay is wanted for.
    depths_cm
        Depths that the score is about.

    Notes
    -----
    A barren hole is evidence as much as a good one, but only where it went through the depths and all of them were
    looked at: one that stopped short, or of which a part was not noted, is unknown and not barren.
    """
    top, bottom = depths_cm
    reach = reach_of(hole, top, bottom)
    judged = _judged(book, hole, purpose, depths_cm)
    good = [item for item in judged if item.usable == "yes"]
    bad = [item for item in judged if item.usable == "no"]
    unclear = [item for item in judged if item.usable == "unknown" and item.why]
    reasons = [f"{item.name}: {item.why or _WORDS[item.usable]}" for item in (*good, *bad, *unclear)]
    tested = [item for item in (good or judged) if item.quality is not None]
    best = max(tested, key=lambda item: item.quality or 0.0, default=None)
    if good:
        usable: Usable = "yes"
    elif reach == "reached" and bad and len(bad) == len(judged) and not _unseen_cm(bad, top, bottom):
        usable = "no"
        reasons.append("it went through these depths and found none")
    else:
        usable = "unknown"
        deepest = depth_reached_cm(hole)
        reasons.append(
            {
                "stopped short": f"it stopped at {deepest or 0:g} cm, above these depths: not known, not barren",
                "partly": f"it went to {deepest or 0:g} cm only: what lies below is not known",
                "not known": "how deep it went is not noted",
                "reached": "not everything between these depths was judged: what was not noted is not known",
            }[reach]
        )
    return HoleEvidence(
        hole.hole_id,
        usable,
        None if best is None else best.quality,
        0.0 if best is None else best.completeness,
        reach,
        tuple(reasons),
    )


def _unseen_cm(judged: Sequence[_Judged], top_cm: float, bottom_cm: float) -> float:
    """Return how much of a depth window was not judged, gaps of a hand's breadth passed over."""
    seen = sorted(
        (item.top_cm, item.bottom_cm)
        for item in judged
        if item.top_cm is not None and item.bottom_cm is not None
    )
    unseen, down_to = 0.0, top_cm
    for top, bottom in [*seen, (bottom_cm, bottom_cm)]:
        gap = min(top, bottom_cm) - down_to
        unseen += gap if gap > PASSED_OVER_CM else 0.0
        down_to = max(down_to, min(bottom, bottom_cm))
    return unseen


def _judged(book: LogBook, hole: Hole, purpose: str, depths_cm: tuple[float, float]) -> tuple[_Judged, ...]:
    """Return every sample and every layer within the depths, judged each for itself.

    A sample stands for its layer where nothing was said of the layer. Where the layer was called usable and no sample
    of it is, the two contradict each other, and the layer is not known.
    """
    samples = [
        (layer_at(hole, sample.top_cm, sample.bottom_cm), _of_sample(book, sample, purpose))
        for sample in book.samples
        if sample.hole_id == hole.hole_id and _within(sample, depths_cm)
    ]
    found = [item for _, item in samples]
    for number, layer in enumerate(hole.layers, 1):
        if not _within(layer, depths_cm):
            continue
        name = f"layer {number}"
        own = _judged_by(assess(Specimen(name, hole=hole, layer=layer), purpose), name, layer)
        taken = [item for source, item in samples if source is layer]
        verdicts = {item.usable for item in taken}
        if own.usable == "yes" and verdicts == {"no"}:
            own = replace(own, usable="unknown", why="called usable, but its sample is not: take another")
        elif own.usable == "unknown" and verdicts in ({"yes"}, {"no"}):
            whose = f"{_WORDS[taken[0].usable]}, as {' and '.join(item.name for item in taken)}"
            own = replace(taken[0], name=name, top_cm=layer.top_cm, bottom_cm=layer.bottom_cm, why=whose)
        found.append(own)
    return tuple(found)


def _of_sample(book: LogBook, sample: Sample, purpose: str) -> _Judged:
    report = assess(specimen_of(book, sample.sample_id), purpose)
    return _judged_by(report, f"sample {sample.sample_id}", sample)


def _judged_by(report: ClayReport, name: str, what: Sample | HoleLayer) -> _Judged:
    return _Judged(name, report.usable, report.quality, report.completeness, what.top_cm, what.bottom_cm)


def _within(what: Sample | HoleLayer, depths_cm: tuple[float, float]) -> bool:
    """Whether any of it may lie between two depths; what is not known may."""
    above = what.bottom_cm is not None and what.bottom_cm <= depths_cm[0]
    below = what.top_cm is not None and what.top_cm >= depths_cm[1]
    return not (above or below)

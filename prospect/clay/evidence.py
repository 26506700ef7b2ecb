"""What a hole says to the map: clay, no clay, or not known because it stopped short."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from prospect.clay.report import assess
from prospect.clay.specimen import Specimen, layer_at, specimen_of
from prospect.records import Hole, LogBook, Usable

Reach = Literal["reached", "partly", "stopped short", "not known"]


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
    judged = [
        (name, usable, quality, completeness)
        for name, usable, quality, completeness in _judged(book, hole, purpose, depths_cm)
    ]
    good = [item for item in judged if item[1] == "yes"]
    bad = [item for item in judged if item[1] == "no"]
    reasons = [f"{name}: usable" for name, *_ in good] + [f"{name}: not usable" for name, *_ in bad]
    tested = [item for item in (good or judged) if item[2] is not None]
    best = max(tested, key=lambda item: item[2] or 0.0, default=None)
    if good:
        usable: Usable = "yes"
    elif (
        reach == "reached"
        and judged
        and len(bad) == len(judged)
        and _unseen_cm(book, hole, top, bottom) == 0.0
    ):
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
        None if best is None else best[2],
        0.0 if best is None else best[3],
        reach,
        tuple(reasons),
    )


def _unseen_cm(book: LogBook, hole: Hole, top_cm: float, bottom_cm: float) -> float:
    """Return how much of a depth window no layer and no sample covers, gaps of a hand's breadth passed over."""
    spans = [(layer.top_cm, layer.bottom_cm) for layer in hole.layers]
    spans += [(sample.top_cm, sample.bottom_cm) for sample in book.samples if sample.hole_id == hole.hole_id]
    seen = sorted((top, bottom) for top, bottom in spans if top is not None and bottom is not None)
    unseen, down_to = 0.0, top_cm
    for top, bottom in [*seen, (bottom_cm, bottom_cm)]:
        gap = min(top, bottom_cm) - down_to
        unseen += gap if gap > PASSED_OVER_CM else 0.0
        down_to = max(down_to, min(bottom, bottom_cm))
    return unseen


def _judged(
    book: LogBook, hole: Hole, purpose: str, depths_cm: tuple[float, float]
) -> Sequence[tuple[str, Usable, float | None, float]]:
    top, bottom = depths_cm
    found: list[tuple[str, Usable, float | None, float]] = []
    sampled = [sample for sample in book.samples if sample.hole_id == hole.hole_id]
    tested_layers = []
    for sample in sampled:
        if sample.bottom_cm is not None and sample.bottom_cm <= top:
            continue
        if sample.top_cm is not None and sample.top_cm >= bottom:
            continue
        report = assess(specimen_of(book, sample.sample_id), purpose)
        found.append((f"sample {sample.sample_id}", report.usable, report.quality, report.completeness))
        tested_layers.append(layer_at(hole, sample.top_cm, sample.bottom_cm))
    for number, layer in enumerate(hole.layers, 1):
        if layer in tested_layers:
            continue
        if (layer.bottom_cm is not None and layer.bottom_cm <= top) or (
            layer.top_cm is not None and layer.top_cm >= bottom
        ):
            continue
        report = assess(Specimen(f"layer {number}", hole=hole, layer=layer), purpose)
        found.append((f"layer {number}", report.usable, report.quality, report.completeness))
    return found

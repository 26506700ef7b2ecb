"""A clay with all that was written down about it: sample or batch, layer and hole, tests and bars."""

from __future__ import annotations

from dataclasses import dataclass

from prospect.errors import WrongUsage
from prospect.records import Bar, Batch, BenchTest, Hole, HoleLayer, LogBook, Sample
from prospect.text import plain


@dataclass(frozen=True, slots=True)
class Specimen:
    """What is known of one clay.

    Attributes
    ----------
    name
        Name of the sample, the batch, or the hole and layer.
    sample, batch, hole
        What it is; None where it is none or not on record.
    layer
        The layer of the hole that it came from.
    bars, tests
        In the order they were saved.
    """

    name: str
    sample: Sample | None = None
    batch: Batch | None = None
    hole: Hole | None = None
    layer: HoleLayer | None = None
    bars: tuple[Bar, ...] = ()
    tests: tuple[BenchTest, ...] = ()


def specimen_of(book: LogBook, name: str) -> Specimen:
    """Return what a log book knows of a sample or a batch.

    Raises
    ------
    WrongUsage
        When neither goes by that name.
    """
    sample = next((item for item in book.samples if item.sample_id == name), None)
    batch = next((item for item in book.batches if item.batch_id == name), None)
    if sample is None and batch is None:
        raise WrongUsage(f"There is no sample or batch '{plain(name, 60)}' on record.")
    hole_id = (sample.hole_id if sample else "") or (batch.hole_id if batch else "")
    hole = next((item for item in book.holes if item.hole_id == hole_id), None) if hole_id else None
    layer = layer_at(hole, sample.top_cm, sample.bottom_cm) if hole and sample else None
    return Specimen(
        name,
        sample,
        batch,
        hole,
        layer,
        tuple(bar for bar in book.bars if bar.specimen == name),
        tuple(test for test in book.tests if test.specimen == name),
    )


def layer_at(hole: Hole, top_cm: float | None, bottom_cm: float | None) -> HoleLayer | None:
    """Return the layer of a hole that a depth range shares most with; None when it shares none or is not known."""
    if top_cm is None and bottom_cm is None:
        return hole.layers[0] if len(hole.layers) == 1 else None
    top = bottom_cm if top_cm is None else top_cm
    bottom = top_cm if bottom_cm is None else bottom_cm
    assert top is not None
    assert bottom is not None
    best: tuple[float, HoleLayer] | None = None
    for layer in hole.layers:
        if layer.top_cm is None or layer.bottom_cm is None:
            continue
        shared = min(bottom, layer.bottom_cm) - max(top, layer.top_cm)
        # A single depth lies in a layer without sharing a length with it.
        if shared >= 0 and (best is None or shared > best[0]):
            best = (shared, layer)
    return None if best is None else best[1]

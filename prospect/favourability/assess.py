"""Runs one deposit model over the factors of a ground, a band of rows at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from prospect.criteria import (
    DepositModel,
    Factors,
    Judged,
    criterion_reader,
    for_purpose,
    rule_reader,
)
from prospect.criteria.evaluate import DegreeReader, Reader, Window
from prospect.grid import Raster
from prospect.scoring import apply_gates, weighted_geometric_mean, weighted_linear_combination, weighted_sum
from prospect.types import BoolArray, FloatArray

BAND_CELLS = 65_536
ROUNDING = 1e-5


@dataclass(frozen=True, slots=True)
class Favourability:
    """What one deposit model says of a ground; relative, never a probability.

    Attributes
    ----------
    deposit, title
        Key and plain name of the model.
    value
        Weighted geometric mean of the known criteria after bonuses and gates, 0..1; no data where nothing is known.
    linear
        The linear combination beside it, after the same bonuses and gates.
    completeness
        Share of the weights with data, 0..1.
    can_lead
        (rows, cols) whether the defining evidence is there and enough is known.
    """

    deposit: str
    title: str
    value: Raster
    linear: Raster
    completeness: Raster
    can_lead: BoolArray


@dataclass(frozen=True, slots=True)
class ModelScore:
    """One model on one window: the scores, and the pieces they were made of.

    Attributes
    ----------
    value, linear, completeness, can_lead
        As in `Favourability`, one per cell.
    plain
        The geometric mean before bonuses and gates.
    criteria
        One `Judged` per criterion of the top level, in order.
    gates, bonuses
        Share of the ground on which each fired, 0..1, in order.
    evidence
        Whether the defining evidence is there.
    """

    value: FloatArray
    linear: FloatArray
    completeness: FloatArray
    can_lead: BoolArray
    plain: FloatArray
    criteria: tuple[Judged, ...]
    gates: tuple[FloatArray, ...]
    bonuses: tuple[FloatArray, ...]
    evidence: BoolArray


@dataclass(frozen=True, slots=True)
class PreparedModel:
    """A model made ready for reading one ground, what depends on map units alone worked out already."""

    model: DepositModel
    criteria: tuple[Reader, ...]
    gates: tuple[DegreeReader, ...]
    bonuses: tuple[DegreeReader, ...]
    evidence: tuple[DegreeReader, ...]

    @classmethod
    def of(cls, model: DepositModel, factors: Factors) -> PreparedModel:
        """Make a model (already as its purpose has it) ready for a ground."""
        model = _for_layers(model, factors)
        return cls(
            model,
            tuple(criterion_reader(criterion, factors) for criterion in model.criteria),
            tuple(rule_reader(gate.conditions, gate.when, factors) for gate in model.gates),
            tuple(rule_reader(bonus.conditions, bonus.when, factors) for bonus in model.bonuses),
            tuple(rule_reader(evidence.conditions, "all", factors) for evidence in model.defining),
        )


def _for_layers(model: DepositModel, factors: Factors) -> DepositModel:
    """Take out criteria that only a layer the ground lacks could read; the others keep their proportions."""
    kept = tuple(
        criterion
        for criterion in model.criteria
        if not criterion.only_with or factors.layer(criterion.only_with) is not None
    )
    if len(kept) in (0, len(model.criteria)):
        return model
    total = sum(criterion.weight for criterion in kept)
    return replace(
        model, criteria=tuple(replace(criterion, weight=criterion.weight / total) for criterion in kept)
    )


def assess_model(model: DepositModel, factors: Factors, purpose: str = "any") -> Favourability:
    """Score a whole ground for one deposit model.

    Parameters
    ----------
    model
        As read from its file.
    factors
        The ground.
    purpose
        What the clay is wanted for; a key of `purposes.toml`.

    Returns
    -------
    Favourability
        On the ground's grid.

    Raises
    ------
    WrongUsage
        When there is no such purpose.

    Notes
    -----
    Memory stays at four rasters: bands of rows are scored one after the other.
    """
    prepared = PreparedModel.of(for_purpose(model, purpose), factors)
    rows, cols = factors.grid.shape
    value, linear, completeness, can_lead = score_rows(prepared, slice(0, rows), cols)
    grid, source = factors.grid, f"deposit model {model.key}"
    return Favourability(
        model.key,
        model.title,
        Raster.of(value, grid, "1", source),
        Raster.of(linear, grid, "1", source),
        Raster.of(completeness, grid, "1", source),
        can_lead,
    )


def score_rows(
    prepared: PreparedModel, rows: slice, cols: int
) -> tuple[FloatArray, FloatArray, FloatArray, BoolArray]:
    """Return value, linear, completeness and can_lead of whole rows, scored a narrow band at a time."""
    shape = (rows.stop - rows.start, cols)
    value, linear, completeness = (np.empty(shape, dtype=np.float32) for _ in range(3))
    can_lead = np.empty(shape, dtype=bool)
    step = max(1, BAND_CELLS // cols)
    for start in range(rows.start, rows.stop, step):
        stop = min(start + step, rows.stop)
        band = slice(start - rows.start, stop - rows.start)
        score = score_window(prepared, (slice(start, stop), slice(0, cols)))
        value[band], linear[band] = score.value, score.linear
        completeness[band], can_lead[band] = score.completeness, score.can_lead
    return value, linear, completeness, can_lead


def score_window(prepared: PreparedModel, window: Window) -> ModelScore:
    """Score one window.

    Parameters
    ----------
    prepared
        The model, ready for the ground.
    window
        Slices of rows and columns, with start and stop.

    Returns
    -------
    ModelScore
        Arrays of the window's shape (those of criteria, gates and bonuses broadcast to it).
    """
    model = prepared.model
    shape = (window[0].stop - window[0].start, window[1].stop - window[1].start)
    judged = tuple(read(window) for read in prepared.criteria)
    weights = np.array([criterion.weight for criterion in model.criteria], dtype=np.float32)
    layers = _stack([part.membership for part in judged], shape)
    plain = weighted_geometric_mean(layers, weights)
    linear = weighted_linear_combination(layers, weights)
    known = weighted_sum(_stack([part.known for part in judged], shape), weights / weights.sum())
    bonuses = tuple(read(window) for read in prepared.bonuses)
    gates = tuple(read(window) for read in prepared.gates)
    extra = sum(
        (share * bonus.add for share, bonus in zip(bonuses, model.bonuses, strict=True)), np.float32(0)
    )
    factors = [(share, gate.factor) for share, gate in zip(gates, model.gates, strict=True)]
    value = apply_gates(np.minimum(plain + extra, 1), factors)
    enough = np.float32(model.least_completeness - ROUNDING)
    evidence = _evidence(prepared, window, shape)
    return ModelScore(
        value=value,
        linear=apply_gates(np.minimum(linear + extra, 1), factors),
        completeness=known,
        can_lead=evidence & (known >= enough) & np.isfinite(value),
        plain=plain,
        criteria=judged,
        gates=gates,
        bonuses=bonuses,
        evidence=evidence,
    )


def _evidence(prepared: PreparedModel, window: Window, shape: tuple[int, int]) -> BoolArray:
    found = np.zeros(shape, dtype=bool)
    for read, evidence in zip(prepared.evidence, prepared.model.defining, strict=True):
        found |= read(window) >= max(evidence.least_share - ROUNDING, ROUNDING)
    return found


def _stack(arrays: Sequence[FloatArray], shape: tuple[int, int]) -> FloatArray:
    stacked = np.empty((len(arrays), *shape), dtype=np.float32)
    for place, array in enumerate(arrays):
        stacked[place] = array
    return stacked

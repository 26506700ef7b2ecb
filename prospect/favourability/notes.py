"""What else is worth saying about a criterion at one spot: stand-ins, the best component, how deep the survey saw."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from prospect.criteria import ClassLayer, Criterion, Factors, criterion_reader, judge_rows, place_of
from prospect.criteria.evaluate import CELL_WIDE
from prospect.criteria.factors import factor_list
from prospect.criteria.tables import TableReader
from prospect.favourability.wording import NOT_KNOWN, row_names, value_at

BETTER_BY = 0.15
"""How much better a map unit's best component must be than the whole before it is worth a sentence."""


def criterion_note(criterion: Criterion, cell: Factors, *, top: bool) -> str:
    """Return the note of a criterion on a ground of one cell; empty when there is nothing to add."""
    sentences = list(_standing_in(criterion, cell)) if criterion.factor else []
    sentences += _cut_off(criterion, cell)
    if criterion.note:
        sentences.append(criterion.note)
    sentences += _adjusted(criterion, cell)
    soil_only = {place_of(leaf.factor) for leaf in criterion.leaves()} == {"soil"}
    if top and soil_only and cell.soil is not None and len(cell.soil.table):
        sentences += _best_component(criterion, cell.soil, cell)
        sentences += _survey_reach(cell.soil, cell)
    return " ".join(sentences)


def _standing_in(criterion: Criterion, cell: Factors) -> Iterator[str]:
    if not criterion.otherwise or value_at(criterion.factor, cell) != NOT_KNOWN:
        return
    if value_at(criterion.otherwise, cell) != NOT_KNOWN:
        wanted, used = factor_list()[criterion.factor], factor_list()[criterion.otherwise]
        if wanted.title != used.title:
            yield f"Read from {used.title}, because {wanted.title} is not known."
        else:
            yield f"From the {used.produced_by}, because the {wanted.produced_by} does not say."


def _cut_off(criterion: Criterion, cell: Factors) -> Iterator[str]:
    """Say when a value is missing because the catchment leaves the elevation data."""
    spec = factor_list().get(criterion.factor) if criterion.factor else None
    raster = cell.rasters.get("catchment_cut")
    if spec is None or not spec.needs_catchment or raster is None or raster.mask[0, 0]:
        return
    if raster.values[0, 0] == 1 and value_at(criterion.factor, cell) == NOT_KNOWN:
        yield "Not known here, because the catchment leaves the elevation data."


def _adjusted(criterion: Criterion, cell: Factors) -> Iterator[str]:
    for place, change in enumerate(criterion.adjust):
        before = _membership(replace(criterion, adjust=criterion.adjust[:place]), cell)
        after = _membership(replace(criterion, adjust=criterion.adjust[: place + 1]), cell)
        if after != before and np.isfinite(after):
            yield f"Brought to {after:.2f} by a rule: {change.title or 'of the model'}."


def _membership(criterion: Criterion, cell: Factors) -> float:
    judged = criterion_reader(criterion, cell)(CELL_WIDE)
    return float(np.broadcast_to(judged.membership, (1, 1))[0, 0])


def _best_component(criterion: Criterion, layer: ClassLayer, cell: Factors) -> Iterator[str]:
    memberships = judge_rows(criterion, layer, cell).membership
    percent = layer.row_percent
    known = np.isfinite(memberships) & (percent > 0)
    if known.sum() < 2:
        return
    mean = float((percent[known] * memberships[known]).sum() / percent[known].sum())
    best = int(np.argmax(np.where(known, memberships, -1)))
    if memberships[best] - mean >= BETTER_BY:
        share = percent[best] / percent.sum()
        yield (
            f"A lead: {row_names(layer)[best] or 'one part'}, {share * 100:.0f} % of the map unit, "
            f"reaches {memberships[best]:.2f} against {mean:.2f} for the whole."
        )


def _survey_reach(layer: ClassLayer, cell: Factors) -> Iterator[str]:
    table, percent = TableReader(layer, cell.constants), layer.row_percent
    if "has_horizons" in layer.table:
        described = table.numbers("soil_has_horizons")
        share = float((percent * np.nan_to_num(described)).sum() / percent.sum())
        if share < 0.995:
            yield f"Layers are described for {share * 100:.0f} % of the map unit."
    bottom = table.numbers("soil_profile_bottom_cm")
    if np.isfinite(bottom).any():
        yield f"Nothing is known below {np.nanmax(bottom):.0f} cm."

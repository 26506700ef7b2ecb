"""The best model at each place: a maximum over models that may lead, never an average."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from prospect.errors import NothingToWorkWith
from prospect.favourability.assess import Favourability
from prospect.grid import Raster
from prospect.types import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, slots=True)
class Headline:
    """The leading model at each place.

    Attributes
    ----------
    value
        Its favourability; no data where no model may lead.
    deposit
        (rows, cols) int32: place in `keys`, -1 = none.
    completeness
        Of the leading model.
    keys
        Keys of the models, in the order they were given.
    """

    value: Raster
    deposit: IntArray
    completeness: Raster
    keys: tuple[str, ...]


def best_model(results: Sequence[Favourability]) -> Headline:
    """Take the best of several models at each place.

    Parameters
    ----------
    results
        One per model, on one grid; at equal values the earlier one leads.

    Returns
    -------
    Headline

    Raises
    ------
    NothingToWorkWith
        When no model was scored.
    GridMismatch
        When the models lie on different grids.
    """
    if not results:
        raise NothingToWorkWith("No deposit model was scored.")
    grid = results[0].value.grid
    for result in results:
        grid.require_same(result.value.grid)
    value, completeness, deposit = leading(
        grid.shape,
        ((result.value.values, result.completeness.values, result.can_lead) for result in results),
    )
    return Headline(
        Raster.of(value, grid, "1", "best deposit model"),
        deposit,
        Raster.of(completeness, grid, "1", "best deposit model"),
        tuple(result.deposit for result in results),
    )


def leading(
    shape: tuple[int, int], results: Iterable[tuple[FloatArray, FloatArray, BoolArray]]
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return favourability, completeness and number of the leading model at each place.

    Parameters
    ----------
    shape
        Of the arrays.
    results
        For each model favourability, completeness and whether it may lead.

    Returns
    -------
    value, completeness : float32
        NaN where no model may lead.
    deposit : int32
        -1 where none may.
    """
    value = np.full(shape, np.nan, dtype=np.float32)
    completeness = np.full(shape, np.nan, dtype=np.float32)
    deposit = np.full(shape, -1, dtype=np.int32)
    for place, (theirs, known, can_lead) in enumerate(results):
        better = can_lead & ((deposit < 0) | (theirs > value))
        value[better] = theirs[better]
        completeness[better] = known[better]
        deposit[better] = place
    return value, completeness, deposit

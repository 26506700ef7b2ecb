"""The best model at each place: a maximum over models that may lead, never an average."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from prospect.errors import NothingToWorkWith
from prospect.favourability.assess import Favourability
from prospect.grid import Raster
from prospect.types import IntArray


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
    value = np.full(grid.shape, np.nan, dtype=np.float32)
    completeness = np.full(grid.shape, np.nan, dtype=np.float32)
    deposit = np.full(grid.shape, -1, dtype=np.int32)
    for place, result in enumerate(results):
        grid.require_same(result.value.grid)
        better = result.can_lead & ((deposit < 0) | (result.value.values > value))
        value[better] = result.value.values[better]
        completeness[better] = result.completeness.values[better]
        deposit[better] = place
    return Headline(
        Raster.of(value, grid, "1", "best deposit model"),
        deposit,
        Raster.of(completeness, grid, "1", "best deposit model"),
        tuple(result.deposit for result in results),
    )

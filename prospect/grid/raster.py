"""Values on the grid with their mask, unit and source."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from prospect.errors import GridMismatch
from prospect.grid.grid import Grid
from prospect.types import BoolArray, FloatArray


@dataclass(frozen=True, slots=True)
class Raster:
    """One variable on one grid.

    Attributes
    ----------
    values
        (rows, cols) float32; NaN where `mask` is True.
    mask
        (rows, cols) bool; True where there is no data (the convention of `numpy.ma`).
    grid
        Where the cells are.
    unit
        Unit of the values (`m`, `%`, `class`, `1` for a fraction).
    source
        Where they came from, in words that can be shown.
    """

    values: FloatArray
    mask: BoolArray
    grid: Grid
    unit: str
    source: str

    def __post_init__(self) -> None:
        if self.values.shape != self.grid.shape or self.mask.shape != self.grid.shape:
            raise GridMismatch(
                f"Raster of {self.values.shape}, mask {self.mask.shape} on a grid of {self.grid.shape}."
            )

    @classmethod
    def of(cls, values: FloatArray, grid: Grid, unit: str, source: str) -> Raster:
        """Build a raster from values in which NaN or infinity means no data."""
        values = np.asarray(values, dtype=np.float32)
        mask = ~np.isfinite(values)
        if np.isinf(values).any():
            values = np.where(mask, np.float32(np.nan), values)
        return cls(values, mask, grid, unit, source)

    @property
    def share_known(self) -> float:
        """Share of cells with data, 0..1."""
        return float(1.0 - self.mask.mean())

    def at(self, easting: float, northing: float) -> float:
        """Return the value of the cell that holds a point; NaN outside or without data."""
        place = self.grid.rowcol(easting, northing)
        return float("nan") if place is None else float(self.values[place])

    def window(self, row0: int, row1: int, col0: int, col1: int) -> Raster:
        """Return a view of part of the raster."""
        part = (slice(row0, row1), slice(col0, col1))
        return Raster(
            self.values[part],
            self.mask[part],
            self.grid.window(row0, row1, col0, col1),
            self.unit,
            self.source,
        )

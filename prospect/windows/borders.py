"""What windows tell their neighbours: the values along their rims."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import DTypeLike, NDArray

from prospect.types import IntArray
from prospect.windows.tiling import Tiling, Window

Array = NDArray[Any]


def ring_of(values: Array) -> Array:
    """Return the outermost cells: the north row, the south row, then what is left of the west and the east column."""
    parts = [values[0]]
    if values.shape[0] > 1:
        parts.append(values[-1])
    parts.append(values[1:-1, 0])
    if values.shape[1] > 1:
        parts.append(values[1:-1, -1])
    return np.concatenate(parts)


def with_ring(values: Array, ring: Array) -> None:
    """Write the outermost cells of an array, in the order of `ring_of`."""
    rows, cols = values.shape
    values[0] = ring[:cols]
    at = cols
    if rows > 1:
        values[-1] = ring[at : at + cols]
        at += cols
    inner = max(rows - 2, 0)
    values[1:-1, 0] = ring[at : at + inner]
    if cols > 1:
        values[1:-1, -1] = ring[at + inner : at + 2 * inner]


def ring_cells(window: Window, cols: int) -> IntArray:
    """Return the flat indices in a grid of `cols` columns of a window's outermost cells, in the order of `ring_of`."""
    row = np.arange(window.row0, window.row1, dtype=np.int64)
    col = np.arange(window.col0, window.col1, dtype=np.int64)
    parts = [row[0] * cols + col]
    if row.size > 1:
        parts.append(row[-1] * cols + col)
    parts.append(row[1:-1] * cols + col[0])
    if col.size > 1:
        parts.append(row[1:-1] * cols + col[-1])
    return np.concatenate(parts)


class Borders:
    """The outermost cells of every window of a tiling, and what each window meets around it.

    Parameters
    ----------
    tiling
        The windows.
    dtype
        Type of the values.
    beyond
        Value outside the grid, and of windows that have told nothing yet.
    """

    def __init__(self, tiling: Tiling, dtype: DTypeLike, beyond: float) -> None:
        self._tiling = tiling
        rows, cols = tiling.shape
        # One cell more at both ends, so that a corner is never a special case.
        self._north, self._south = (np.full((tiling.down, cols + 2), beyond, dtype) for _ in range(2))
        self._west, self._east = (np.full((tiling.across, rows + 2), beyond, dtype) for _ in range(2))
        self._beyond = beyond

    def put(self, number: int, ring: Array) -> None:
        """Take the outermost cells of a window, in the order of `ring_of`."""
        window = self._tiling[number]
        down, across = divmod(number, self._tiling.across)
        values = np.empty(window.shape, self._north.dtype)
        with_ring(values, ring)
        col, row = slice(window.col0 + 1, window.col1 + 1), slice(window.row0 + 1, window.row1 + 1)
        self._north[down, col], self._south[down, col] = values[0], values[-1]
        self._west[across, row], self._east[across, row] = values[:, 0], values[:, -1]

    def halo(self, number: int) -> Array:
        """Return the cells around a window: the ring (`ring_of`) of the window grown by one cell on every side."""
        window = self._tiling[number]
        down, across = divmod(number, self._tiling.across)
        rows, cols = window.shape
        wide, high = slice(window.col0, window.col1 + 2), slice(window.row0 + 1, window.row1 + 1)
        out = np.full(2 * (cols + 2) + 2 * rows, self._beyond, self._north.dtype)
        if down > 0:
            out[: cols + 2] = self._south[down - 1, wide]
        if down + 1 < self._tiling.down:
            out[cols + 2 : 2 * (cols + 2)] = self._north[down + 1, wide]
        if across > 0:
            out[2 * (cols + 2) : 2 * (cols + 2) + rows] = self._east[across - 1, high]
        if across + 1 < self._tiling.across:
            out[2 * (cols + 2) + rows :] = self._west[across + 1, high]
        return out

    def seams(self) -> Iterator[tuple[Array, Array]]:
        """Yield the cells on the two sides of each seam from edge to edge, those that run east first."""
        for down in range(self._tiling.down - 1):
            yield self._south[down, 1:-1], self._north[down + 1, 1:-1]
        for across in range(self._tiling.across - 1):
            yield self._east[across, 1:-1], self._west[across + 1, 1:-1]

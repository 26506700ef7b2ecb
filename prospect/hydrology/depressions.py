"""Hollows of an elevation model: filled to the level where they spill, and how deep they were."""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from prospect.hydrology import _kernels as kernels
from prospect.types import BoolArray, FloatArray, IntArray

MANY_CELLS = 1_000_000
"""Cells from which two threads are worth starting (own judgement)."""


def fill_depressions(elevation: FloatArray) -> FloatArray:
    """Return the lowest surface on and above the ground from which water can leave the data everywhere.

    Parameters
    ----------
    elevation : array, shape (rows, cols), metres
        NaN is unknown.

    Returns
    -------
    array, shape (rows, cols), float32
        Exact: a cell lies as high as the lowest of the highest points on all ways (eight neighbours) to the
        edge. The edge is the outermost ring and every cell beside an unknown one; it keeps its height.

    Notes
    -----
    The same surface as the priority flood of Barnes, Lehman & Mulla (2014), found without a queue of all
    cells: cells are gathered into the basins of their pits, the basins joined over their passes from low to
    high (Kruskal's tree), and each basin raised to the pass at which it first meets the edge.
    """
    z, known = known_elevation(elevation)
    lead = np.empty(z.size, dtype=np.int32)
    edge = edge_cells(known)
    by_rows(
        z.shape[0], z.size, lambda first, last: kernels.lowest_neighbours(z, known, edge, first, last, lead)
    )
    pits = kernels.label_basins(lead)
    labels = lead.reshape(z.shape)
    levels = _spill_levels(z, labels, pits)
    filled = np.empty_like(z)
    kernels.raise_basins(z.ravel(), lead, levels, filled.ravel())
    return filled


def depression_depth(elevation: FloatArray, filled: FloatArray | None = None) -> FloatArray:
    """Return how far each cell lies below the level at which its hollow spills, metres, 0 outside hollows.

    Parameters
    ----------
    elevation : array, shape (rows, cols), metres
    filled : array of the same shape, optional
        What `fill_depressions` gave for it, to spare the work.
    """
    z = np.asarray(elevation, dtype=np.float32)
    return (fill_depressions(z) if filled is None else filled) - z


def burn_streams(elevation: FloatArray, streams: BoolArray, depth_m: float = 20.0) -> FloatArray:
    """Return the ground with mapped streams cut into it, so that water follows the map.

    Parameters
    ----------
    elevation : array, shape (rows, cols), metres
    streams : bool array of the same shape
    depth_m : float
        How deep to cut; deeper than the banks and road dams that would hold the water back.

    Raises
    ------
    ValueError
        If the shapes differ or the depth is not positive.
    """
    z = np.array(elevation, dtype=np.float32)
    cut = np.asarray(streams, dtype=np.bool_)
    if cut.shape != z.shape:
        raise ValueError(
            f"Invalid streams of shape {cut.shape}. It must be that of the elevation, {z.shape}."
        )
    if not (math.isfinite(depth_m) and depth_m > 0):
        raise ValueError(f"Invalid depth '{depth_m}'. It must be a positive number of metres.")
    z[cut] -= np.float32(depth_m)
    return z


def _spill_levels(z: FloatArray, labels: IntArray, pits: int) -> FloatArray:
    """Return the level at which each basin spills; basin 0 reaches the edge and has none."""
    levels = np.full(pits + 1, -np.inf, dtype=np.float32)
    if pits:
        height, one, other = basin_passes(z, labels, pits)
        kernels.spill_levels(np.argsort(height), height, one, other, levels)
    return levels


def basin_passes(z: FloatArray, labels: IntArray, pits: int) -> tuple[FloatArray, IntArray, IntArray]:
    """Return the passes between neighbouring basins: their height, and the labels of both; a few more than once."""
    # Room for about eight neighbours of each basin.
    memory = 1 << (8 * pits + 64).bit_length()
    slot = np.empty(memory, dtype=np.int32)
    room = 6 * pits + 64
    while True:
        height = np.empty(room, dtype=np.float32)
        one, other = np.empty(room, dtype=np.int32), np.empty(room, dtype=np.int32)
        seen = np.full(memory, -1, dtype=np.int64)
        number = kernels.basin_passes(z, labels, pits + 1, seen, slot, height, one, other)
        if number <= room:
            return height[:number], one[:number], other[:number]
        room = number


def known_elevation(elevation: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Return contiguous float32 heights, to be read only where they are known, and where that is.

    Raises
    ------
    ValueError
        If the array does not have two dimensions or too many cells to be numbered.
    """
    given = np.asarray(elevation)
    if given.ndim != 2:
        raise ValueError(
            f"Invalid elevation of {given.ndim} dimensions. It must be a grid of rows and columns."
        )
    if given.size > np.iinfo(np.int32).max:
        raise ValueError(f"Invalid elevation of {given.size} cells. It must have fewer than 2^31.")
    z = np.ascontiguousarray(given, dtype=np.float32)
    return z, np.isfinite(z)


def by_rows(rows: int, cells: int, work: Callable[[int, int], object]) -> list[object]:
    """Do work on blocks of rows side by side where the grid is large; return what each gave.

    Parameters
    ----------
    rows, cells
        Of the grid.
    work
        Takes the first row and the one after the last, and writes to those rows only.
    """
    blocks = 1 if cells < MANY_CELLS else min(os.cpu_count() or 1, 8)
    edges = [rows * block // blocks for block in range(blocks + 1)]
    if blocks == 1:
        return [work(0, rows)]
    with ThreadPoolExecutor(blocks) as pool:
        return list(pool.map(work, edges[:-1], edges[1:]))


def edge_cells(known: BoolArray) -> BoolArray:
    """Return the known cells on the outermost ring or beside an unknown cell."""
    inside = np.zeros_like(known)
    rows, cols = known.shape
    if rows > 2 and cols > 2:
        across = known[:, :-2] & known[:, 1:-1] & known[:, 2:]
        inside[1:-1, 1:-1] = across[:-2] & across[1:-1] & across[2:]
    return known & ~inside

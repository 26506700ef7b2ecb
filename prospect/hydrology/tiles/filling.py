"""Hollows filled tile by tile: each tile tells where its rims join and how low, one graph says where all spills."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from prospect.hydrology import _kernels as water_kernels
from prospect.hydrology.depressions import basin_passes
from prospect.hydrology.tiles import _kernels as kernels
from prospect.hydrology.tiles.heights import Heights, read_with_edge
from prospect.types import BoolArray, FloatArray, IntArray
from prospect.windows import Borders, Tiling, Window, WorkFolder, ring_of, write_window
from prospect.windows.work import Result

Passes = tuple[FloatArray, IntArray, IntArray]
"""Height of each pass and the labels on its two sides."""


def fill_tiles(name: str, heights: Heights, tiling: Tiling, work: WorkFolder) -> Path:
    """Fill the hollows of a grid on disk; the same surface as `prospect.hydrology.fill_depressions`.

    Parameters
    ----------
    name
        Name of the result in the work folder.
    heights
        The ground.
    tiling, work
        The tiles and where the result goes.

    Returns
    -------
    Path
        .npy file, float32, NaN = unknown.

    Notes
    -----
    The scheme of Barnes (2016), "Parallel Priority-Flood depression filling for trillion cell digital elevation
    models on desktops or clusters", Computers & Geosciences 96: tiles give their rims and the lowest ways between
    them, one graph of all rims gives the level of each, and tiles are raised on a second visit. Within a tile the
    basins of pits stand for the flood.
    """
    rims = work.stage(
        f"{name}-rims",
        _rim,
        {number: (heights, tiling[number], tiling.shape) for number in range(len(tiling))},
    )
    levels = _levels_of_rims(rims, tiling)
    path = work.array(name, tiling.shape, np.float32)
    work.stage(
        f"{name}-raise",
        _raise,
        {
            number: (heights, tiling[number], tiling.shape, *levels[number], path)
            for number in range(len(tiling))
        },
    )
    return path


def _basins(z: FloatArray, known: BoolArray, edge: BoolArray) -> tuple[IntArray, int, Passes]:
    """Return the basin of each cell (0 reaches the edge of the data), the number of pits and the passes between."""
    # Behind a wall no cell is lower, so that water stays in the tile.
    walled = np.pad(z, 1, constant_values=np.float32(np.inf))
    there = np.pad(known, 1)
    lead = np.empty(walled.size, dtype=np.int32)
    water_kernels.lowest_neighbours(walled, there, np.pad(edge, 1), 0, walled.shape[0], lead)
    pits = water_kernels.label_basins(lead)
    labels = np.ascontiguousarray(lead.reshape(walled.shape)[1:-1, 1:-1])
    return labels, pits, basin_passes(z, labels, pits)


def _rim(heights: Heights, window: Window, shape: tuple[int, int]) -> Result:
    """Return heights and basins along the rim of a tile, and the lowest ways between those basins and the edge."""
    z, known, edge = read_with_edge(heights, window, shape)
    labels, pits, (height, one, other) = _basins(z, known, edge)
    rim = ring_of(labels)
    terminal = np.full(pits + 1, -1, dtype=np.int32)
    for label in (np.zeros(1, np.int32), rim[rim >= 0]):
        terminal[label] = label
    terminals = int(np.count_nonzero(terminal >= 0))
    top = np.empty(terminals, dtype=np.float32)
    first, second = np.empty(terminals, dtype=np.int32), np.empty(terminals, dtype=np.int32)
    number = kernels.terminal_tree(np.argsort(height), height, one, other, terminal, top, first, second)
    return {
        "rim": rim,
        "z": ring_of(z),
        "top": top[:number],
        "first": first[:number],
        "second": second[:number],
    }


def _levels_of_rims(rims: dict[int, Result], tiling: Tiling) -> dict[int, tuple[IntArray, FloatArray]]:
    """Return for each tile the basins along its rim and the level at which each spills."""
    # One number for each basin on a rim, in the order of tiles; 0 is the edge of the data, whatever the tile.
    listed = {number: np.unique(result["rim"][result["rim"] > 0]) for number, result in rims.items()}
    first_of, total = {}, 1
    for number in range(len(tiling)):
        first_of[number] = total
        total += listed[number].size

    def numbered(number: int, labels: IntArray) -> IntArray:
        ids = np.searchsorted(listed[number], labels) + first_of[number]
        return np.where(labels > 0, ids, labels).astype(np.int32)

    nodes, tops = Borders(tiling, np.int32, -1), Borders(tiling, np.float32, np.nan)
    parts: list[Passes] = []
    for number, result in rims.items():
        nodes.put(number, numbered(number, result["rim"]))
        tops.put(number, result["z"])
        parts.append((result["top"], numbered(number, result["first"]), numbered(number, result["second"])))
    parts += _passes_across(nodes, tops)
    height, one, other = (np.concatenate(arrays) for arrays in zip(*parts, strict=True))
    levels = np.full(total, -np.inf, dtype=np.float32)
    water_kernels.spill_levels(np.argsort(height), height, one, other, levels)
    return {
        number: (listed[number], levels[first_of[number] : first_of[number] + listed[number].size])
        for number in range(len(tiling))
    }


def _passes_across(nodes: Borders, tops: Borders) -> list[Passes]:
    """Return the passes between basins on the two sides of every seam, straight across and slanting."""
    parts = []
    for (here, there), (low, high) in zip(nodes.seams(), tops.seams(), strict=True):
        length = here.size
        for shift in (-1, 0, 1):
            a = slice(max(0, -shift), length - max(0, shift))
            b = slice(max(0, shift), length - max(0, -shift))
            one, other = here[a], there[b]
            real = (one >= 0) & (other >= 0) & (one != other)
            parts.append((np.maximum(low[a], high[b])[real], one[real], other[real]))
    return parts


def _raise(
    heights: Heights,
    window: Window,
    shape: tuple[int, int],
    terminals: IntArray,
    levels: FloatArray,
    path: Path,
) -> None:
    """Write a tile raised to where its basins spill, given where those along its rim do."""
    z, known, edge = read_with_edge(heights, window, shape)
    labels, pits, (height, one, other) = _basins(z, known, edge)
    # What leads over the rim is a pass to the edge of the data at the level of the rim.
    height = np.concatenate([height, levels])
    one = np.concatenate([one, np.zeros(levels.size, np.int32)])
    other = np.concatenate([other, terminals.astype(np.int32)])
    spills = np.full(pits + 1, -np.inf, dtype=np.float32)
    if pits:
        water_kernels.spill_levels(np.argsort(height), height, one, other, spills)
    filled = np.maximum(z, spills[labels])
    filled[~known] = np.nan
    write_window(path, window, filled)

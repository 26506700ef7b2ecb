"""Directions of flow tile by tile; on level ground tiles are visited again until no way gets shorter."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from prospect.hydrology import _kernels as water_kernels
from prospect.hydrology.depressions import edge_cells
from prospect.hydrology.tiles import _kernels as kernels
from prospect.hydrology.tiles.heights import Heights
from prospect.types import BoolArray, IntArray
from prospect.windows import Borders, Tiling, Window, WorkFolder, ring_of, with_ring, write_window
from prospect.windows.work import Result

AT_EDGE = 1 << 29
"""Steps that edge cells of a level without a way down begin with: more than any way to a way down."""
FAR = 1 << 30


def direct_tiles(filled: Heights, tiling: Tiling, work: WorkFolder) -> tuple[Path, Path]:
    """Give every cell the neighbour it drains into; the same as `prospect.hydrology.flow_direction`.

    Parameters
    ----------
    filled
        Ground without hollows.
    tiling, work
        The tiles and where the results go.

    Returns
    -------
    directions : Path
        .npy file, int8: 0 east, 1 south-east, 2 south ... 7 north-east, -1 the flow ends or leaves, -2 unknown.
    edge : Path
        .npy file, bool: known cells on the outermost ring or beside an unknown one.
    """
    directions = work.array("direction", tiling.shape, np.int8)
    edge = work.array("edge", tiling.shape, np.bool_)
    told = Borders(tiling, np.int32, FAR)
    heard: dict[int, IntArray] = {}
    believed: dict[int, IntArray] = {}
    visit, turn = list(range(len(tiling))), 0
    while visit:
        heard.update({number: told.halo(number) for number in visit})
        jobs = {
            number: (filled, tiling[number], tiling.shape, heard[number], directions, edge)
            for number in visit
        }
        for number, result in sorted(work.stage(f"direction-{turn}", _direct, jobs).items()):
            told.put(number, result["steps"])
            believed[number] = result["around"]
        # A tile knows the way of the cells around it as far as it leads through the tile itself.
        visit = [number for number in range(len(tiling)) if (told.halo(number) < believed[number]).any()]
        turn += 1
    return directions, edge


def _direct(
    filled: Heights, window: Window, shape: tuple[int, int], around: IntArray, directions: Path, edges: Path
) -> Result:
    """Write the directions of a tile from what is known around it; return the steps to a way down along its rim."""
    # Two more cells: those around the tile have all their neighbours then.
    outer = window.grown(2, shape)
    z, known = filled.read(outer)
    edge = edge_cells(known)
    downstream = np.empty(z.shape, dtype=np.int32)
    water_kernels.steepest_descent(z, known, 0, z.shape[0], downstream)
    codes = np.empty(z.shape, dtype=np.int8)
    kernels.way_codes(downstream.ravel(), known.ravel(), z.shape[1], codes.ravel())
    near = window.grown(1, shape)
    inside = near.within(outer)
    z, known = np.ascontiguousarray(z[inside]), np.ascontiguousarray(known[inside])
    edge, codes = edge[inside], np.ascontiguousarray(codes[inside])
    steps = _first_steps(codes, known, edge, window, near, around)
    sources = np.flatnonzero(steps < FAR)
    sources = sources[np.argsort(steps.ravel()[sources], kind="stable")].astype(np.int32)
    kernels.level_distances(z, known, sources, steps, np.empty(z.size, dtype=np.int32))
    kernels.point_level(z, known, steps, AT_EDGE, codes)
    here = window.within(near)
    write_window(directions, window, codes[here])
    write_window(edges, window, edge[here])
    framed = np.full((window.shape[0] + 2, window.shape[1] + 2), -1, dtype=np.int32)
    framed[_framed(window, near)] = steps
    return {"steps": ring_of(steps[here]), "around": ring_of(framed)}


def _first_steps(
    codes: IntArray, known: BoolArray, edge: BoolArray, window: Window, near: Window, around: IntArray
) -> IntArray:
    """Return 0 on cells with a way down, `AT_EDGE` on level ones at the edge, what is known around, else `FAR`."""
    steps = np.full(codes.shape, FAR, dtype=np.int32)
    steps[codes >= 0] = 0
    steps[(codes == -1) & edge] = AT_EDGE
    framed = np.full((window.shape[0] + 2, window.shape[1] + 2), FAR, dtype=np.int32)
    with_ring(framed, around)
    np.minimum(steps, framed[_framed(window, near)], out=steps)
    steps[~known] = FAR
    return steps


def _framed(window: Window, near: Window) -> tuple[slice, slice]:
    """Return the slices of `near` in a window with a frame of one cell all around, also beyond the grid."""
    return (
        slice(near.row0 - window.row0 + 1, near.row1 - window.row0 + 1),
        slice(near.col0 - window.col0 + 1, near.col1 - window.col0 + 1),
    )

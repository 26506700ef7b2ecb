"""Ways to the stream and the order of streams tile by tile, passed on from rim to rim until every rim knows its own."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from prospect.hydrology.tiles import _kernels as kernels
from prospect.hydrology.tiles.gathering import STEP_DOWN, STEP_RIGHT, TileFlow
from prospect.types import BoolArray, FloatArray, IntArray
from prospect.windows import (
    Borders,
    Tiling,
    Window,
    WorkFolder,
    open_array,
    read_window,
    ring_cells,
    ring_of,
    with_ring,
    write_window,
)
from prospect.windows.work import Result, keep, kept

NOT_YET = -2


def follow_tiles(
    directions: Path, channels: Path, filled: Path, cell_m: float, tiling: Tiling, work: WorkFolder
) -> dict[str, Path]:
    """Follow every cell's water to its stream; the same as `prospect.hydrology.drainage`.

    Parameters
    ----------
    directions, channels, filled
        .npy files: from `direct_tiles`, bool, and the ground that heights are taken from.
    cell_m
        Side of a cell, m.
    tiling, work
        The tiles and where the results go.

    Returns
    -------
    dict
        .npy files `reached` (flat index of the channel cell, -1 = none), `height_above_drainage_m` and
        `distance_to_channel_m` (float32, NaN without one).
    """
    small = tiling.shape[0] * tiling.shape[1] <= np.iinfo(np.int32).max
    paths = {
        "reached": work.array("reached", tiling.shape, np.int32 if small else np.int64),
        "height_above_drainage_m": work.array("height_above_drainage_m", tiling.shape, np.float32),
        "distance_to_channel_m": work.array("distance_to_channel_m", tiling.shape, np.float32),
    }
    files = (directions, channels, filled)
    jobs = {
        number: (files, cell_m, tiling[number], tiling.shape[1], work.scratch(f"ways-{number}"))
        for number in range(len(tiling))
    }
    around = _known_around(work.stage("ways", _ways, jobs), cell_m, tiling, work)
    work.stage(
        "drainage",
        _follow,
        {
            number: (files, cell_m, tiling[number], tiling.shape[1], around[number], paths)
            for number in range(len(tiling))
        },
    )
    return paths


def _ways(files: tuple[Path, Path, Path], cell_m: float, window: Window, cols: int, scratch: Path) -> Result:
    """Return what the rim of a tile knows of its channels by itself; keep the ways that cross it in a file."""
    rows_here, cols_here = window.shape
    frame = (rows_here + 2, cols_here + 2)
    count = 2 * (cols_here + 2) + 2 * rows_here
    reached, distance = np.full(count, NOT_YET), np.zeros(count, dtype=np.float32)
    flow, codes, framed = _followed(files, cell_m, window, cols, (reached, distance))
    halo_place = np.full(frame, -1, dtype=np.int32)
    with_ring(halo_place, np.arange(count, dtype=np.int32))
    rim = ring_of(np.arange(frame[0] * frame[1], dtype=np.int32).reshape(frame)[1:-1, 1:-1])
    rim_place = np.empty(rim.size, dtype=np.int32)
    place = np.full(codes.size, -1, dtype=np.int32)
    below, slant = np.empty(flow.codes.size, dtype=np.int32), np.empty(flow.codes.size, dtype=np.bool_)
    number = kernels.ways_through(rim, codes, framed[0], place, halo_place, rim_place, below, slant)
    keep(scratch, {"below": below[:number], "slant": slant[:number], "rim_place": rim_place})
    asked = np.zeros(count, dtype=np.bool_)
    asked[-1 - below[:number][below[:number] < 0]] = True
    return {
        "reached": ring_of(framed[0][1:-1, 1:-1]),
        "distance": ring_of(framed[1][1:-1, 1:-1]),
        "asked": asked,
    }


def _known_around(
    rims: dict[int, Result], cell_m: float, tiling: Tiling, work: WorkFolder
) -> dict[int, tuple[IntArray, FloatArray]]:
    """Return the channel cell and the length of the way of the cells around each tile, passed on from rim to rim."""
    reached, distance = Borders(tiling, np.int64, NOT_YET), Borders(tiling, np.float32, 0.0)
    for number, result in rims.items():
        reached.put(number, result["reached"])
        distance.put(number, result["distance"])
    heard = {number: np.full(rims[number]["asked"].size, NOT_YET) for number in rims}
    told = True
    while told:
        told = False
        for number, result in rims.items():
            around = reached.halo(number)
            if not ((around != heard[number]) & result["asked"]).any():
                continue
            told, heard[number] = True, around
            crossing = kept(work.scratch(f"ways-{number}"))
            below, slant, place = crossing["below"], crossing["slant"], crossing["rim_place"]
            reached_here = np.empty(below.size, dtype=np.int64)
            distance_here = np.empty(below.size, dtype=np.float32)
            kernels.follow_through(
                below, slant, cell_m, around, distance.halo(number), reached_here, distance_here
            )
            crosses = place >= 0
            result["reached"][crosses] = reached_here[place[crosses]]
            result["distance"][crosses] = distance_here[place[crosses]]
            reached.put(number, result["reached"])
            distance.put(number, result["distance"])
    return {number: (reached.halo(number), distance.halo(number)) for number in rims}


def _followed(
    files: tuple[Path, Path, Path],
    cell_m: float,
    window: Window,
    cols: int,
    around: tuple[IntArray, FloatArray],
) -> tuple[TileFlow, IntArray, tuple[IntArray, FloatArray, FloatArray, FloatArray]]:
    """Return a tile's flow, its directions in a frame, and channel cell, way and height of the channel in a frame."""
    directions, channels, filled = files
    flow, z = TileFlow(directions, window), read_window(filled, window)
    codes = np.pad(flow.codes, 1, constant_values=-2)
    reached = np.full(codes.shape, -1, dtype=np.int64)
    distance, base = np.zeros(codes.shape, dtype=np.float32), np.zeros(codes.shape, dtype=np.float32)
    with_ring(reached, around[0])
    with_ring(distance, around[1])
    with_ring(base, _heights_at(filled, around[0]))
    channel = np.pad(read_window(channels, window), 1)
    first = window.row0 * cols + window.col0
    kernels.follow_to_channel(flow.order, codes, channel, z, cell_m, first, cols, reached, distance, base)
    return flow, codes, (reached, distance, base, z)


def _heights_at(filled: Path, cells: IntArray) -> FloatArray:
    """Return the heights of cells given by flat index; 0 where there is none."""
    heights = np.zeros(cells.size, dtype=np.float32)
    wanted, place = np.unique(cells[cells >= 0], return_inverse=True)
    heights[cells >= 0] = open_array(filled).reshape(-1)[wanted][place]
    return heights


def _follow(
    files: tuple[Path, Path, Path],
    cell_m: float,
    window: Window,
    cols: int,
    around: tuple[IntArray, FloatArray],
    paths: dict[str, Path],
) -> None:
    """Write channel cell, height above it and length of the way for a tile, given all that is around it."""
    _, _, (reached, distance, base, z) = _followed(files, cell_m, window, cols, around)
    reached, distance, base = reached[1:-1, 1:-1], distance[1:-1, 1:-1], base[1:-1, 1:-1]
    found = reached >= 0
    height = np.where(found, np.maximum(z - base, np.float32(0.0)), np.float32(np.nan))
    write_window(paths["reached"], window, reached)
    write_window(paths["height_above_drainage_m"], window, height)
    write_window(paths["distance_to_channel_m"], window, np.where(found, distance, np.float32(np.nan)))


def value_there(path: Path, here: FloatArray, window: Window, cols: int, cells: IntArray) -> FloatArray:
    """Return the values of a grid on disk at flat indices, most of which lie in a window that is at hand."""
    row, col = cells // cols - window.row0, cells % cols - window.col0
    inside = (row >= 0) & (row < window.shape[0]) & (col >= 0) & (col < window.shape[1])
    values = np.empty(cells.size, dtype=here.dtype)
    values[inside] = here[row[inside], col[inside]]
    outside, place = np.unique(cells[~inside], return_inverse=True)
    values[~inside] = open_array(path).reshape(-1)[outside][place]
    return values


def order_tiles(directions: Path, channels: Path, tiling: Tiling, work: WorkFolder) -> Path:
    """Give channel cells Strahler's order; the same as `prospect.hydrology.strahler_order`.

    Returns
    -------
    Path
        .npy file, int8; 0 beside channels, -1 = unknown.
    """
    path = work.array("strahler", tiling.shape, np.int8)
    told = Borders(tiling, np.int8, 0)
    heard: dict[int, IntArray] = {}
    joins: dict[int, BoolArray] = {}
    visit, turn = list(range(len(tiling))), 0
    while visit:
        heard.update({number: told.halo(number) for number in visit})
        jobs = {
            number: (directions, channels, tiling[number], tiling.shape, heard[number], path)
            for number in visit
        }
        for number, result in sorted(work.stage(f"strahler-{turn}", _order, jobs).items()):
            told.put(number, result["order"])
            joins[number] = result["joins"]
        visit = [
            number
            for number in range(len(tiling))
            if ((told.halo(number) != heard[number]) & joins[number]).any()
        ]
        turn += 1
    return path


def _order(
    directions: Path, channels: Path, window: Window, shape: tuple[int, int], around: IntArray, path: Path
) -> Result:
    flow = TileFlow(directions, window)
    channel = read_window(channels, window)
    codes = np.full((window.shape[0] + 2, window.shape[1] + 2), -2, dtype=np.int8)
    near = window.grown(1, shape)
    codes[
        near.row0 - window.row0 + 1 : near.row1 - window.row0 + 1,
        near.col0 - window.col0 + 1 : near.col1 - window.col0 + 1,
    ] = read_window(directions, near)
    framed = np.zeros(codes.shape, dtype=np.int8)
    with_ring(framed, around)
    order = np.zeros(window.shape, dtype=np.int8)
    meeting = np.zeros(window.shape, dtype=np.int8)
    kernels.join_from_around(codes, framed, channel, order, meeting)
    kernels.strahler(flow.order, flow.downstream, channel.ravel(), meeting.ravel(), order.ravel())
    order[flow.codes == -2] = -1
    write_window(path, window, order)
    return {"order": ring_of(np.maximum(order, 0)), "joins": _flows_in(codes, channel)}


def _flows_in(codes: IntArray, channel: BoolArray) -> BoolArray:
    """Return which cells around a tile flow into a channel cell of it, in the order of `ring_of`."""
    rows, cols = codes.shape
    at = ring_cells(Window(0, rows, 0, cols), cols)
    code = codes.reshape(-1)[at]
    row, col = at // cols + STEP_DOWN[code], at % cols + STEP_RIGHT[code]
    inside = (code >= 0) & (row > 0) & (row < rows - 1) & (col > 0) & (col < cols - 1)
    inside[inside] = channel[row[inside] - 1, col[inside] - 1]
    return inside


def value_at_channel_tiles(name: str, values: Path, reached: Path, tiling: Tiling, work: WorkFolder) -> Path:
    """Give every cell the value at its channel cell; the same as `prospect.hydrology.value_at_channel`.

    Parameters
    ----------
    name
        Name of the result in the work folder.
    values, reached
        .npy files of numbers and from `follow_tiles`.
    tiling, work
        The tiles and where the result goes.

    Returns
    -------
    Path
        .npy file, float32, NaN without a channel.
    """
    path = work.array(name, tiling.shape, np.float32)
    jobs = {number: (values, reached, tiling[number], tiling.shape[1], path) for number in range(len(tiling))}
    work.stage(name, _at_channel, jobs)
    return path


def _at_channel(values: Path, reached: Path, window: Window, cols: int, path: Path) -> None:
    cells = read_window(reached, window)
    found = cells >= 0
    out = np.full(window.shape, np.nan, dtype=np.float32)
    out[found] = value_there(values, read_window(values, window), window, cols, cells[found])
    write_window(path, window, out)

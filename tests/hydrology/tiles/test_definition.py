"""Tiles hold to the definitions of edge, fill and direction: against plain loops that know nothing of tiles."""

from __future__ import annotations

import heapq
from collections import deque
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prospect.hydrology.tiles.directions import direct_tiles
from prospect.hydrology.tiles.filling import fill_tiles
from prospect.hydrology.tiles.heights import Heights
from prospect.types import FloatArray
from prospect.windows import Engine, Tiling, WorkFolder, raster_source

ROUND = [(0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1), (-1, 0), (-1, 1)]
STRAIGHT_FIRST = (0, 2, 4, 6, 1, 3, 5, 7)


def around(shape: tuple[int, int], cell: tuple[int, int]) -> list[tuple[int, tuple[int, int]]]:
    found = []
    for code, (down, right) in enumerate(ROUND):
        r, c = cell[0] + down, cell[1] + right
        if 0 <= r < shape[0] and 0 <= c < shape[1]:
            found.append((code, (r, c)))
    return found


def filled_and_directed(z: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Priority flood (Barnes, Lehman & Mulla 2014), then steepest descent and breadth-first search on level ground."""
    cells = [(i, j) for i in range(z.shape[0]) for j in range(z.shape[1]) if np.isfinite(z[i, j])]
    there = set(cells)
    near = {cell: [(k, other) for k, other in around(z.shape, cell) if other in there] for cell in cells}
    edge = {cell for cell in cells if len(near[cell]) < 8}
    filled = z.copy()
    heap = [(float(z[cell]), cell) for cell in edge]
    heapq.heapify(heap)
    seen = set(edge)
    while heap:
        level, cell = heapq.heappop(heap)
        for _, other in near[cell]:
            if other not in seen:
                seen.add(other)
                filled[other] = max(level, float(z[other]))
                heapq.heappush(heap, (float(filled[other]), other))
    codes = np.full(z.shape, -2, np.int8)
    for cell in cells:
        best, codes[cell] = 0.0, -1
        for code, other in near[cell]:
            drop = (float(filled[cell]) - float(filled[other])) * (2**-0.5 if code % 2 else 1.0)
            if drop > best:
                best, codes[cell] = drop, code
    way: dict[tuple[int, int], int] = {cell: 0 for cell in cells if codes[cell] >= 0}
    for sources in (list(way), [cell for cell in cells if cell in edge]):
        queue = deque(cell for cell in sources if way.setdefault(cell, 0) == 0)
        while queue:
            cell = queue.popleft()
            for _, other in near[cell]:
                if other not in way and filled[other] == filled[cell]:
                    way[other] = way[cell] + 1
                    queue.append(other)
    for cell in cells:
        if codes[cell] == -1 and way[cell] > 0:
            by_code = dict(near[cell])
            codes[cell] = next(
                code
                for code in STRAIGHT_FIRST
                if code in by_code
                and filled[by_code[code]] == filled[cell]
                and way[by_code[code]] == way[cell] - 1
            )
    return filled, codes


@st.composite
def grounds(draw: st.DrawFn) -> FloatArray:
    rows, cols = draw(st.integers(1, 11)), draw(st.integers(1, 11))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    heights = draw(st.sampled_from([2, 3, 6, 1000]))
    z = rng.integers(0, heights, (rows, cols)).astype(np.float32)
    z[rng.random(z.shape) < draw(st.sampled_from([0.0, 0.0, 0.05, 0.5]))] = np.nan
    return z


@settings(max_examples=40, deadline=None)
@given(ground=grounds(), tile=st.sampled_from([1, 3, 3, 4, 5, 7]))
def test_fill_and_directions_of_small_grounds_in_tiny_tiles(
    ground: FloatArray, tile: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder: Path = tmp_path_factory.mktemp("tiles")
    np.save(folder / "z.npy", ground)
    work, tiling = WorkFolder(folder / "out", "", Engine()), Tiling(ground.shape, tile, tile)
    path = fill_tiles("filled", Heights(raster_source(folder / "z.npy")), tiling, work)
    directions, _ = direct_tiles(Heights(raster_source(path)), tiling, work)
    filled, codes = filled_and_directed(ground)
    np.testing.assert_array_equal(np.load(path), filled)
    np.testing.assert_array_equal(np.load(directions), codes)

"""Windows tile a grid, and know what lies around them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from prospect.errors import WrongUsage
from prospect.windows import Borders, Tiling, Window, bands, ring_cells, ring_of, with_ring

SIZES = st.integers(1, 9)


@given(rows=SIZES, cols=SIZES, down=SIZES, across=SIZES)
def test_windows_cover_every_cell_once(rows: int, cols: int, down: int, across: int) -> None:
    tiling = Tiling((rows, cols), down, across)
    count = np.zeros((rows, cols), int)
    for number in range(len(tiling)):
        count[tiling[number].slices] += 1
    assert (count == 1).all()


@given(rows=SIZES, cols=SIZES)
def test_a_ring_is_every_outermost_cell_once(rows: int, cols: int) -> None:
    cells = np.arange(rows * cols).reshape(rows, cols)
    ring = ring_of(cells)
    inner = cells[1:-1, 1:-1]
    assert sorted(ring) == sorted(set(cells.ravel()) - set(inner.ravel()))
    np.testing.assert_array_equal(ring, ring_cells(Window(0, rows, 0, cols), cols))
    back = np.where(np.isin(cells, inner), cells, -1)
    with_ring(back, ring)
    np.testing.assert_array_equal(back, cells)


@given(rows=SIZES, cols=SIZES, down=SIZES, across=SIZES)
def test_the_halo_is_what_lies_around(rows: int, cols: int, down: int, across: int) -> None:
    tiling = Tiling((rows, cols), down, across)
    cells = np.arange(rows * cols, dtype=np.int32).reshape(rows, cols)
    borders = Borders(tiling, np.int32, -1)
    for number in range(len(tiling)):
        borders.put(number, ring_of(cells[tiling[number].slices]))
    framed = np.pad(cells, 1, constant_values=-1)
    for number in range(len(tiling)):
        window = tiling[number]
        around = framed[window.row0 : window.row1 + 2, window.col0 : window.col1 + 2]
        np.testing.assert_array_equal(borders.halo(number), ring_of(around))


def test_seams_are_the_two_sides() -> None:
    cells = np.arange(20, dtype=np.int32).reshape(4, 5)
    tiling = Tiling((4, 5), 2, 3)
    borders = Borders(tiling, np.int32, -1)
    for number in range(len(tiling)):
        borders.put(number, ring_of(cells[tiling[number].slices]))
    (north, south), (west, east) = borders.seams()
    np.testing.assert_array_equal((north, south), cells[1:3])
    np.testing.assert_array_equal((west, east), cells[:, 2:4].T)


def test_bands_are_whole_rows() -> None:
    assert [bands((10, 100), 350)[n] for n in range(4)] == [
        (0, 3, 0, 100),
        (3, 6, 0, 100),
        (6, 9, 0, 100),
        (9, 10, 0, 100),
    ]
    assert len(bands((10, 100), 5)) == 10


def test_windows_of_nothing_are_refused() -> None:
    with pytest.raises(WrongUsage, match="at least one cell"):
        Tiling((10, 10), 0, 5)

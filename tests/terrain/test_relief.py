"""Topographic position against an independent filter, and the classes read from it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import generic_filter, uniform_filter

from prospect.terrain import (
    TEN_LANDFORM_NAMES,
    slope_position,
    standardise,
    ten_landforms,
    topographic_position_index,
)
from prospect.testing import plane


def _slow_index(z, radius_cells, shape):
    reach = int(radius_cells)
    rows, cols = np.indices((2 * reach + 1, 2 * reach + 1)) - reach
    window = np.ones(rows.shape, bool) if shape == "square" else rows**2 + cols**2 <= radius_cells**2
    window[reach, reach] = False
    least = np.ceil(0.25 * window.sum())

    def mean(values):
        known = values[np.isfinite(values)]
        return known.mean() if known.size >= least else np.nan

    return z - generic_filter(z, mean, footprint=window, mode="constant", cval=np.nan)


@pytest.mark.parametrize("shape", ["square", "disk"])
@pytest.mark.parametrize("radius", [1.5, 2, 3.7, 6])
def test_agrees_with_a_plain_filter(shape, radius):
    rng = np.random.default_rng(5)
    z = 500 + rng.normal(0, 10, (23, 31)).cumsum(1)
    z[rng.random(z.shape) < 0.2] = np.nan
    z[:9, :9] = np.nan
    z[4, 4] = 500
    found = topographic_position_index(z, 10.0, radius * 10, window=shape)
    expected = _slow_index(z, radius, shape)
    assert np.array_equal(np.isnan(found), np.isnan(expected))
    assert np.allclose(found, expected, atol=2e-4, equal_nan=True)


def test_a_large_radius_agrees_with_a_box_filter():
    z = 2000 + np.random.default_rng(7).normal(0, 1, (150, 170)).cumsum(0)
    found = topographic_position_index(z, 10.0, 400.0)
    side = 81
    mean = (uniform_filter(z, side) * side**2 - z) / (side**2 - 1)
    assert np.allclose(found[41:-41, 41:-41], (z - mean)[41:-41, 41:-41], atol=1e-3)


def test_a_neighbourhood_below_one_and_a_half_cells_is_missing():
    assert np.isnan(topographic_position_index(np.zeros((5, 5)), 30.0, 40.0)).all()
    assert np.isfinite(topographic_position_index(np.zeros((5, 5)), 30.0, 45.0)).all()


@pytest.mark.parametrize("shape", [(1, 1), (2, 2), (0, 0), (1, 9)])
@pytest.mark.parametrize("window", ["square", "disk"])
def test_small_and_empty_grids(shape, window):
    out = topographic_position_index(np.zeros(shape), 10.0, 30.0, window=window)
    assert out.shape == shape
    assert np.isnan(topographic_position_index(np.full(shape, np.nan), 10.0, 30.0, window=window)).all()


def test_an_unknown_window_is_refused():
    with pytest.raises(ValueError, match="window"):
        topographic_position_index(np.zeros((5, 5)), 10.0, 30.0, window="ring")


@settings(deadline=None, max_examples=40)
@given(st.lists(st.floats(-50, 50), min_size=2, max_size=40))
def test_standardised_values_have_mean_nought_and_spread_one(values):
    found = standardise(np.array([[*values, np.nan]]))
    assert np.isnan(found[0, -1])
    known = found[0, :-1].astype(float)
    assert abs(known.mean()) < 1e-4
    assert known.std() == pytest.approx(1.0, abs=1e-3) or (known == 0).all()


def test_a_plane_stands_out_nowhere():
    tpi = topographic_position_index(plane((60, 60), 10, 3, 70), 10, 50)[6:-6, 6:-6]
    assert (standardise(tpi) == 0).all()


def test_unknown_is_no_class():
    nan = np.array([[np.nan]])
    assert slope_position(nan, np.array([[3.0]]))[0, 0] == -1
    assert slope_position(np.array([[0.0]]), nan)[0, 0] == -1
    # far from the mean the slope does not matter
    assert slope_position(np.array([[2.0]]), nan)[0, 0] == 5
    assert ten_landforms(nan, nan, nan)[0, 0] == -1


@pytest.mark.parametrize(
    ("small", "large", "slope", "name"),
    # Weiss (2001), ten landforms: names published, the grid of the two scales from memory.
    [
        (-1.0, -1.0, 9, "canyon"),
        (-1.5, 0.0, 9, "midslope_drainage"),
        (-1.5, 1.0, 9, "upland_drainage"),
        (0.0, -1.2, 9, "u_valley"),
        (0.9, -0.9, 5, "plain"),
        (0.0, 0.0, 5.1, "open_slope"),
        (0.0, 1.5, 9, "upper_slope"),
        (1.0, -1.0, 9, "local_ridge_in_valley"),
        (1.5, 0.2, 9, "midslope_ridge"),
        (1.0, 1.0, 9, "mountain_top"),
    ],
)
def test_ten_landforms(small, large, slope, name):
    code = ten_landforms(np.array([[small]]), np.array([[large]]), np.array([[slope]]))[0, 0]
    assert TEN_LANDFORM_NAMES[code] == name


def _by_hand(z, reach, disk, cells):
    """Return height less the mean of the other known cells in the window, cell by cell in double precision."""
    offset = np.arange(-reach, reach + 1)
    inside = (
        offset[:, None] ** 2 + offset**2 <= reach**2 if disk else np.ones((offset.size, offset.size), bool)
    )
    found = []
    for i, j in cells:
        rows, cols = np.mgrid[i - reach : i + reach + 1, j - reach : j + reach + 1]
        there = inside & (rows >= 0) & (rows < z.shape[0]) & (cols >= 0) & (cols < z.shape[1])
        there &= (rows != i) | (cols != j)
        around = z[rows[there], cols[there]].astype(np.float64)
        around = around[np.isfinite(around)]
        enough = around.size >= np.ceil(0.25 * (inside.sum() - 1)) and np.isfinite(z[i, j])
        found.append(np.float64(z[i, j]) - around.mean() if enough else np.nan)
    return np.array(found)


@pytest.mark.parametrize("window", ["square", "disk"])
@pytest.mark.parametrize("reach", [2, 7, 40, 150])
def test_position_is_the_plain_sum_over_known_cells(window, reach):
    rng = np.random.default_rng(5)
    z = (rng.normal(0.0, 30.0, (310, 290)).cumsum(0) / 5 + 1234.567).astype(np.float32)
    z[100:140, 60:100] = np.nan
    z[rng.random(z.shape) < 0.1] = np.nan
    cells = np.vstack([rng.integers(0, (310, 290), (60, 2)), [[0, 0], [309, 289], [0, 150], [120, 59]]])
    ours = topographic_position_index(z, 1.0, float(reach), window=window)[tuple(cells.T)]
    assert ours == pytest.approx(_by_hand(z, reach, window == "disk", cells), abs=2e-5, nan_ok=True)


@pytest.mark.parametrize("window", ["square", "disk"])
@pytest.mark.parametrize("reach", [3, 30])
def test_a_part_with_its_surroundings_gives_what_the_whole_gives(window, reach):
    rng = np.random.default_rng(6)
    z = np.cumsum(rng.normal(0.0, 1.0, (160, 150)), axis=1).astype(np.float32) + np.float32(412.3)
    z[rng.random(z.shape) < 0.05] = np.nan
    whole = topographic_position_index(z, 5.0, 5.0 * reach, window=window)
    part = topographic_position_index(
        z[50 - reach : 90 + reach, 40 - reach : 80 + reach], 5.0, 5.0 * reach, window=window
    )
    assert np.array_equal(part[reach:-reach, reach:-reach], whole[50:90, 40:80], equal_nan=True)

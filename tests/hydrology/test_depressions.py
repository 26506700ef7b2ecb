"""Filled hollows against an independent reconstruction and on shapes with known answers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from matplotlib.cbook import get_sample_data
from skimage.morphology import reconstruction

from prospect.hydrology import burn_streams, depression_depth, fill_depressions
from prospect.testing import bowl, plane

OUTSIDE = -1.0e6


def reference_fill(z):
    """Return the fill by grey reconstruction (scikit-image); unknown ground is a drain."""
    framed = np.pad(np.where(np.isfinite(z), z, OUTSIDE).astype(np.float64), 1, constant_values=OUTSIDE)
    seed = np.where(framed == OUTSIDE, OUTSIDE, framed.max())
    seed[1:-1, 1:-1] = np.where(framed[1:-1, 1:-1] == OUTSIDE, OUTSIDE, framed.max())
    # A cell beside a drain keeps its height: it is an outlet.
    drain = framed == OUTSIDE
    beside = np.zeros_like(drain)
    for di in (-1, 0, 1):
        for dj in (-1, 0, 1):
            beside |= np.roll(drain, (di, dj), (0, 1))
    seed[beside] = framed[beside]
    filled = reconstruction(seed, framed, method="erosion", footprint=np.ones((3, 3)))[1:-1, 1:-1]
    return np.where(np.isfinite(z), filled, np.nan)


@pytest.fixture(scope="session")
def jacksboro():
    """Return the elevation model that comes with matplotlib (whole metres, a good part level)."""
    with get_sample_data("jacksboro_fault_dem.npz") as data:
        return data["elevation"].astype(np.float32)


def test_equals_the_reconstruction_on_real_ground(jacksboro):
    assert np.array_equal(fill_depressions(jacksboro), reference_fill(jacksboro).astype(np.float32))


def test_equals_the_reconstruction_on_real_ground_with_holes(jacksboro):
    z = jacksboro.copy()
    z[np.random.default_rng(2).random(z.shape) < 0.001] = np.nan
    z[100:140, 200:260] = np.nan
    z[:60, :40] = np.nan
    assert np.array_equal(fill_depressions(z), reference_fill(z).astype(np.float32), equal_nan=True)


grids = hnp.arrays(
    np.float32,
    hnp.array_shapes(min_dims=2, max_dims=2, min_side=1, max_side=12),
    elements=st.one_of(st.integers(0, 4).map(float), st.just(float("nan")), st.integers(0, 4).map(float)),
)


@settings(deadline=None, max_examples=400)
@given(grids)
def test_equals_the_reconstruction_on_any_small_grid(z):
    filled = fill_depressions(z)
    assert filled.dtype == np.float32
    assert np.array_equal(filled, reference_fill(z).astype(np.float32), equal_nan=True)
    known = np.isfinite(z)
    assert (filled[known] >= z[known]).all()
    assert np.array_equal(fill_depressions(filled), filled, equal_nan=True)


def test_a_bowl_fills_to_its_notch():
    z = bowl((41, 41), 10, rim_m=30, spill_m=20)
    filled = fill_depressions(z)
    inside = z < 20
    assert (filled[inside] == 20).all()
    assert depression_depth(z).max() == 20
    assert depression_depth(z, filled)[20, 20] == 20
    assert (filled[z >= 20] == z.astype(np.float32)[z >= 20]).all()


def test_bowls_within_bowls():
    z = np.full((9, 9), 10.0)
    z[1:-1, 1:-1] = 5
    z[2:-2, 2:-2] = 8
    z[3:-3, 3:-3] = 1
    filled = fill_depressions(z)
    assert (filled == 10).all()
    z[0, 4] = 6
    filled = fill_depressions(z)
    assert (filled[1:-1, 1:-1].ravel()[z[1:-1, 1:-1].ravel() == 5] == 6).all()
    assert filled[4, 4] == 8


def test_ground_that_drains_is_left_alone():
    z = plane((20, 30), 10, 5, 200).astype(np.float32)
    assert np.array_equal(fill_depressions(z), z)
    assert (depression_depth(z) == 0).all()


@pytest.mark.parametrize("shape", [(1, 1), (2, 2), (1, 6), (0, 0), (0, 3)])
def test_small_and_empty_grids(shape):
    assert np.array_equal(fill_depressions(np.ones(shape)), np.ones(shape))
    assert np.isnan(fill_depressions(np.full(shape, np.nan))).all()


def test_the_input_is_left_alone():
    z = np.array([[3, 3, 3], [3, 1, 3], [3, 3, np.nan]], dtype=np.float32)
    before = z.copy()
    fill_depressions(z)
    burn_streams(z, np.eye(3, dtype=bool), 5)
    assert np.array_equal(z, before, equal_nan=True)


def test_streams_are_cut_in():
    cut = burn_streams(np.full((3, 3), 100.0), np.eye(3, dtype=bool), 7.0)
    assert (np.diag(cut) == 93).all()
    assert cut[0, 1] == 100


def test_senseless_streams_are_refused():
    with pytest.raises(ValueError, match="shape"):
        burn_streams(np.zeros((3, 3)), np.zeros((2, 2), bool))
    with pytest.raises(ValueError, match="depth"):
        burn_streams(np.zeros((3, 3)), np.zeros((3, 3), bool), -1)
    with pytest.raises(ValueError, match="rows and columns"):
        fill_depressions(np.zeros(3))

"""Turning or mirroring the ground turns what is read of it and changes nothing else: no direction is favoured."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from prospect.terrain import geomorphons, surface, topographic_position_index

CELL_M = 10.0
# Whole numbers of 1/8 m: their sums are exact in any order, so that equal means equal.
_steps = st.integers(0, 800).map(lambda step: step / 8)
_ground = arrays.arrays(
    np.float32, st.tuples(st.integers(1, 14), st.integers(1, 14)), elements=st.one_of(_steps, st.just(np.nan))
)
TURNS = {
    "a quarter": lambda z: np.rot90(z),
    "half": lambda z: np.rot90(z, 2),
    "mirrored": lambda z: z[:, ::-1],
    "upside down and mirrored": lambda z: z.T,
}


@pytest.mark.parametrize("turn", TURNS.values(), ids=TURNS)
@settings(max_examples=60, deadline=None)
@given(z=_ground)
def test_what_has_no_direction_turns_with_the_ground(turn, z):
    straight, turned = surface(z, CELL_M), surface(turn(z), CELL_M)
    for name in ("slope_pct", "profile_curvature", "plan_curvature"):
        expected = turn(getattr(straight, name))
        np.testing.assert_allclose(getattr(turned, name), expected, rtol=1e-5, atol=1e-7, err_msg=name)
    for window in ("square", "disk"):
        for radius in (20.0, 50.0):
            expected = turn(topographic_position_index(z, CELL_M, radius, window=window))
            found = topographic_position_index(turn(z), CELL_M, radius, window=window)
            assert np.array_equal(found, expected, equal_nan=True)
    assert np.array_equal(geomorphons(turn(z), CELL_M, 40.0)[0], turn(geomorphons(z, CELL_M, 40.0)[0]))


@settings(max_examples=60, deadline=None)
@given(z=_ground)
def test_the_way_a_slope_faces_turns_by_a_quarter(z):
    straight, turned = surface(z, CELL_M).aspect_deg, surface(np.rot90(z), CELL_M).aspect_deg
    # Turned against the clock, what faced north faces west.
    apart = np.abs((np.rot90(straight) - 90.0) % 360.0 - turned)
    assert np.array_equal(np.isnan(apart), np.isnan(turned))
    assert (np.minimum(apart, 360.0 - apart)[~np.isnan(apart)] < 1e-3).all()


@settings(max_examples=60, deadline=None)
@given(z=_ground, lift=st.integers(-400, 400))
def test_lifting_the_ground_changes_nothing_but_its_height(z, lift):
    low, high = surface(z, CELL_M), surface(z + np.float32(lift), CELL_M)
    for name in ("slope_pct", "aspect_deg", "profile_curvature", "plan_curvature", "hillshade"):
        assert np.array_equal(getattr(low, name), getattr(high, name), equal_nan=True), name
    low_index = topographic_position_index(z, CELL_M, 30.0)
    high_index = topographic_position_index(z + np.float32(lift), CELL_M, 30.0)
    np.testing.assert_allclose(high_index, low_index, atol=1e-4)


def test_a_line_of_sight_down_a_narrow_grid_is_as_long_as_across_a_wide_one():
    z = np.zeros((8, 3), np.float32)
    z[7] = 5.0
    assert np.array_equal(geomorphons(z.T, CELL_M, 60.0)[0], geomorphons(z, CELL_M, 60.0)[0].T)

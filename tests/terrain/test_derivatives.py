"""Slope, aspect, curvature and shade on surfaces whose answers are known."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prospect.terrain import (
    aspect_deg,
    hillshade,
    plan_curvature,
    profile_curvature,
    slope_deg,
    slope_pct,
    surface,
)
from prospect.testing import cone, plane

ALL = (slope_pct, slope_deg, aspect_deg, profile_curvature, plan_curvature, hillshade)


@settings(deadline=None, max_examples=60)
@given(st.floats(0.5, 300), st.floats(0, 359.9), st.floats(1, 90))
def test_a_plane_has_one_slope_and_one_aspect(slope, aspect, cell):
    z = plane((7, 9), cell, slope, aspect)
    # float32 heights carry seven digits
    slack = 2e-6 * np.abs(z).max() / cell * 100
    assert slope_pct(z, cell)[1:-1, 1:-1] == pytest.approx(slope, abs=slack + 1e-4)
    assert slope_deg(z, cell)[1:-1, 1:-1] == pytest.approx(np.degrees(np.arctan(slope / 100)), abs=slack)
    turned = (aspect_deg(z, cell)[1:-1, 1:-1] - aspect + 180) % 360 - 180
    assert np.abs(turned).max() < np.degrees(2 * slack / slope) + 1e-3


@pytest.mark.parametrize("aspect", [0, 45, 90, 135, 180, 225, 270, 315])
def test_aspect_is_a_compass_bearing(aspect):
    turned = (aspect_deg(plane((5, 5), 10, 20, aspect), 10)[2, 2] - aspect + 180) % 360 - 180
    assert abs(turned) < 0.01


def test_a_cone_bends_across_the_fall_only():
    z = cone((201, 201), 5.0, 30.0)
    s = surface(z, 5.0)
    rows, cols = np.indices(z.shape)
    away = np.hypot(rows - 100, cols - 100) * 5.0
    far = (away > 200) & (away < 450)
    assert s.slope_pct[far] == pytest.approx(30.0, abs=0.05)
    assert s.profile_curvature[far] == pytest.approx(0.0, abs=2e-5)
    assert s.plan_curvature[far] == pytest.approx(0.3 / away[far], rel=0.05, abs=2e-5)
    assert (s.plan_curvature[far] > 0).all()


def test_a_hill_top_is_convex_and_a_hollow_concave():
    rows, cols = np.indices((11, 11)) - 5
    dome = 100 - 0.1 * (rows**2 + cols**2).astype(float)
    place = (5, 8)
    assert profile_curvature(dome, 1.0)[place] > 0
    assert plan_curvature(dome, 1.0)[place] > 0
    assert profile_curvature(-dome, 1.0)[place] < 0
    assert plan_curvature(-dome, 1.0)[place] < 0


def test_level_ground_has_slope_but_no_direction():
    s = surface(np.full((4, 4), 7.0), 10.0)
    assert (s.slope_pct[1:-1, 1:-1] == 0).all()
    assert np.isnan(s.aspect_deg).all()
    assert np.isnan(s.profile_curvature).all()
    assert np.isnan(s.plan_curvature).all()


def test_shade_follows_the_cosine_law():
    # Lambert: a flat field under a lamp 45 degrees high shows cos 45; a slope that faces the lamp squarely
    # shows all of it; one turned away shows none.
    assert hillshade(np.zeros((3, 3)), 1.0)[1, 1] == pytest.approx(255 * np.sqrt(0.5), rel=1e-6)
    assert hillshade(plane((3, 3), 1.0, 100.0, 315), 1.0)[1, 1] == pytest.approx(255, rel=1e-5)
    assert hillshade(plane((3, 3), 1.0, 200.0, 135), 1.0)[1, 1] == 0.0


@pytest.mark.parametrize("function", ALL)
def test_unknown_ground_stays_unknown_and_spreads_by_one_cell(function):
    z = plane((9, 9), 10, 20, 30)
    z[:, 4] += np.arange(9) ** 2 * 0.1
    z[4, 4] = np.nan
    out = function(z, 10)
    assert out.dtype == np.float32
    assert out.shape == z.shape
    assert np.isnan(out[3:6, 3:6]).all()
    assert np.isnan(out[[0, -1]]).all()
    assert np.isnan(out[:, [0, -1]]).all()
    assert np.isfinite(out[1:3, 1:-1]).all()


@pytest.mark.parametrize("function", ALL)
@pytest.mark.parametrize("shape", [(1, 1), (2, 2), (1, 5), (5, 1), (3, 2), (0, 0)])
def test_grids_too_small_for_a_window_are_unknown(function, shape):
    out = function(np.zeros(shape), 10)
    assert out.shape == shape
    assert np.isnan(out).all()


@pytest.mark.parametrize("function", ALL)
def test_all_unknown_stays_all_unknown(function):
    assert np.isnan(function(np.full((6, 6), np.nan), 10)).all()


@pytest.mark.parametrize("function", ALL)
def test_endless_heights_are_unknown_and_the_input_is_left_alone(function):
    z = plane((5, 5), 10, 20, 30)
    z[2, 2] = np.inf
    before = z.copy()
    assert np.isnan(function(z, 10)[1:4, 1:4]).all()
    assert np.array_equal(z, before)


@pytest.mark.parametrize("kind", [np.float64, np.float32, np.int16, np.uint8])
def test_kinds_and_layouts_of_numbers_agree(kind):
    z = (np.arange(48).reshape(6, 8) % 7).astype(kind)
    expected = slope_pct(z.astype(np.float32), 5)
    assert np.array_equal(slope_pct(z, 5), expected, equal_nan=True)
    assert np.array_equal(slope_pct(np.asfortranarray(z), 5), expected, equal_nan=True)


def test_one_pass_and_single_functions_agree():
    z = np.random.default_rng(3).normal(100, 5, (40, 50))
    s = surface(z, 10)
    assert np.array_equal(s.slope_pct, slope_pct(z, 10), equal_nan=True)
    assert np.array_equal(s.aspect_deg, aspect_deg(z, 10), equal_nan=True)
    east = np.gradient(z, axis=1)
    assert np.isfinite(s.aspect_deg[1:-1, 1:-1]).all()
    assert east.shape == z.shape
    assert ((s.aspect_deg[1:-1, 1:-1] >= 0) & (s.aspect_deg[1:-1, 1:-1] <= 360)).all()


@pytest.mark.parametrize("cell", [0, -1, np.nan, np.inf])
def test_a_cell_without_length_is_refused(cell):
    with pytest.raises(ValueError, match="cell size"):
        slope_pct(np.zeros((3, 3)), cell)


def test_a_line_of_heights_is_refused():
    with pytest.raises(ValueError, match="rows and columns"):
        surface(np.zeros(9), 10)

"""Terrain figures against published formulas and tables."""

from __future__ import annotations

import numpy as np
import pytest

from prospect.terrain import (
    SLOPE_POSITION_NAMES,
    aspect_deg,
    form_from_counts,
    plan_curvature,
    profile_curvature,
    slope_deg,
    slope_pct,
    slope_position,
    surface,
    topographic_position_index,
)


def test_horn_slope_of_a_steep_window():
    # Horn (1981). The window is a widely taught worked example (5 m cells); its printed slope is 75.25762
    # degrees; recomputed by hand p = .05, q = -3.8, gradient 3.80033 (computed check).
    window = np.array([[50, 45, 50], [30, 30, 30], [8, 10, 10]], dtype=float)
    assert slope_deg(window, 5.0)[1, 1] == pytest.approx(75.2577, abs=1e-3)
    assert slope_pct(window, 5.0)[1, 1] == pytest.approx(380.033, abs=1e-3)


def test_horn_aspect_of_a_gentle_window():
    # Horn (1981); computed check: p = -8.125, q = -.375 give compass 92.6425 degrees.
    window = np.array([[101, 92, 85], [101, 92, 85], [101, 91, 84]], dtype=float)
    assert aspect_deg(window, 1.0)[1, 1] == pytest.approx(92.6425, abs=1e-3)


def test_curvatures_of_a_quadratic():
    # Zevenbergen & Thorne (1987) on z = .01x² + .02y² + .005xy + .1x - .2y + 100 with 10 m cells, whose
    # derivatives are known exactly: D .01, E .02, F .005, G .1, H -.2. Their profile -.032, their plan .028
    # (positive = concave); ours has the other sign so that both are positive where the ground is convex.
    x, y = np.meshgrid([-10.0, 0.0, 10.0], [10.0, 0.0, -10.0])
    window = 0.01 * x**2 + 0.02 * y**2 + 0.005 * x * y + 0.1 * x - 0.2 * y + 100
    profile, plan = profile_curvature(window, 10.0)[1, 1], plan_curvature(window, 10.0)[1, 1]
    assert profile == pytest.approx(-0.032, abs=1e-6)
    assert -plan == pytest.approx(0.028, abs=1e-6)
    assert profile + plan == pytest.approx(-2 * (0.01 + 0.02), abs=1e-6)
    # Horn's gradient is exact on quadratics.
    assert slope_deg(window, 10.0)[1, 1] == pytest.approx(12.604383, abs=1e-6)
    assert surface(window, 10.0).slope_pct[1, 1] == pytest.approx(100 * np.hypot(0.1, 0.2), abs=1e-5)


def test_position_index_leaves_the_cell_itself_out():
    # Weiss (2001); computed check: eight cells of 5 round a 9 give 4 (3.556 with the cell counted in).
    window = np.full((3, 3), 5.0)
    window[1, 1] = 9.0
    for shape in ("square", "disk"):
        assert topographic_position_index(window, 1.0, 1.5, window=shape)[1, 1] == pytest.approx(4.0)


@pytest.mark.parametrize(
    ("lower", "higher", "form"),
    # Jasiewicz & Stepinski (2013), the table of ten forms by counts.
    [
        (0, 0, "flat"),
        (8, 0, "peak"),
        (0, 8, "pit"),
        (4, 4, "slope"),
        (2, 0, "flat"),
        (3, 0, "shoulder"),
        (0, 3, "footslope"),
        (5, 2, "spur"),
        (2, 4, "hollow"),
        (6, 2, "ridge"),
        (2, 6, "valley"),
    ],
)
def test_geomorphon_of_counts(lower, higher, form):
    assert form_from_counts(lower, higher) == form


@pytest.mark.parametrize(
    ("index", "slope", "name"),
    # Weiss (2001), six slope positions (the poster prints "< 0.5" for lower slope, a misprint for -0.5).
    [
        (1.2, 6.0, "ridge"),
        (0.7, 6.0, "upper"),
        (0.0, 6.0, "middle"),
        (0.0, 3.0, "flat"),
        (-0.7, 6.0, "lower"),
        (-1.2, 6.0, "valley"),
    ],
)
def test_slope_position_of_weiss(index, slope, name):
    code = slope_position(np.array([[index]]), np.array([[slope]]))[0, 0]
    assert SLOPE_POSITION_NAMES[code] == name

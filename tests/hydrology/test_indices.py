"""Wetness, power and the fall along the flow at their limits."""

from __future__ import annotations

import numpy as np
import pytest

from prospect.hydrology import (
    flow_direction,
    reach_gradient,
    regional_curve,
    specific_catchment_m,
    specific_stream_power,
    topographic_wetness_index,
)
from prospect.testing import v_valley


def test_level_ground_has_a_finite_wetness():
    assert topographic_wetness_index(np.array([100.0]), np.array([0.0]))[0] == pytest.approx(np.log(1e5))
    assert np.isnan(topographic_wetness_index(np.array([np.nan, 1]), np.array([0.1, np.nan]))).all()


def test_area_per_contour():
    assert specific_catchment_m(np.array([1.0]), 10.0)[0] == 100_000


def test_power_without_a_width_is_unknown():
    assert np.isnan(specific_stream_power(np.full(3, 5.0), 0.01, np.array([0.0, -1, np.nan]))).all()


@pytest.mark.parametrize(("a", "b"), [(0, 1), (-1, 1), (np.nan, 1), (1, np.inf)])
def test_a_senseless_curve_is_refused(a, b):
    with pytest.raises(ValueError, match="curve"):
        regional_curve(np.ones(2), a, b)


def test_the_fall_along_a_straight_valley():
    z = v_valley((40, 21), 10.0, 20.0, 2.0)
    network = flow_direction(z, 10.0)
    for reach in (0.0, 10.0, 75.0, 200.0):
        fall = reach_gradient(z, network, reach)
        assert fall[:-1, 10] == pytest.approx(0.02, rel=1e-4)
        assert np.isnan(fall[-1, 10])
    assert reach_gradient(z, network)[5, 3] == pytest.approx(0.2, rel=1e-4)


def test_a_reach_that_climbs_has_no_fall():
    network = flow_direction(np.array([[3.0, 2.0, 1.0]]), 10.0)
    assert reach_gradient(np.array([[1.0, 2.0, 1.0]]), network)[0, 0] == 0.0

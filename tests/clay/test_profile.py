"""Depth means and layers of a described profile."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from prospect.clay.profile import best_layer, depth_weighted_mean, shallowest_clayey_layer

TOPS, BOTTOMS, CLAY = [0, 20, 60, 110], [20, 60, 110, 150], [18, 45, 52, 38]


def test_window_outside_the_profile_is_unknown() -> None:
    assert math.isnan(depth_weighted_mean(TOPS, BOTTOMS, CLAY, 150, 200))
    assert math.isnan(depth_weighted_mean([], [], [], 0, 200))


def test_a_horizon_without_a_value_is_neither_zero_nor_counted() -> None:
    assert depth_weighted_mean([0, 50], [50, 100], [math.nan, 40], 0, 100) == 40


def test_thin_rich_layer_borrows_its_neighbour() -> None:
    # 20 cm at 60 % is too thin alone; with the richer neighbour it is (20 * 60 + 30 * 40) / 50.
    layer = best_layer([25, 45, 65], [45, 65, 95], [10, 60, 40])
    assert layer is not None
    assert (layer.top_cm, layer.bottom_cm, layer.clay_pct) == (45, 95, 48)


def test_equal_layers_give_the_thicker_one() -> None:
    layer = best_layer([30, 70, 110], [70, 110, 160], [45, 45, 45])
    assert layer is not None
    assert (layer.top_cm, layer.bottom_cm) == (30, 160)


def test_layers_are_clipped_to_what_can_be_reached() -> None:
    layer = best_layer([0, 190], [190, 400], [30, 80])
    assert layer is not None
    assert (layer.top_cm, layer.bottom_cm) == (25, 200)
    assert layer.clay_pct == pytest.approx((165 * 30 + 10 * 80) / 175)
    assert best_layer([0, 30], [30, 50], [60, 60]) is None  # 25 to 50 cm is too thin


def test_gaps_and_unknown_horizons_end_a_run() -> None:
    assert best_layer([25, 60], [50, 85], [50, 50]) is None
    assert best_layer([25, 45, 60], [45, 60, 85], [50, math.nan, 50]) is None


def test_shallowest_clayey_layer_stops_at_its_depth() -> None:
    layer = shallowest_clayey_layer([0, 30, 100], [30, 100, 200], [20, 36, 50])
    assert layer is not None
    assert (layer.top_cm, layer.thickness_cm) == (30, 120)
    assert layer.clay_pct == pytest.approx((70 * 36 + 50 * 50) / 120)
    assert shallowest_clayey_layer([0, 130], [130, 200], [20, 60]) is None  # only 20 cm above 150 cm
    assert shallowest_clayey_layer([0, 20], [20, 45], [20, 60]) is None  # only 25 cm thick


@given(
    st.lists(st.tuples(st.integers(5, 60), st.integers(0, 100)), min_size=1, max_size=8),
)
def test_best_layer_against_every_run_written_out(horizons: list[tuple[int, int]]) -> None:
    bottoms = np.cumsum([thick for thick, _ in horizons])
    tops = bottoms - [thick for thick, _ in horizons]
    by_centimetre = np.repeat([clay for _, clay in horizons], [thick for thick, _ in horizons])
    means = [
        by_centimetre[max(25, top) : min(200, bottom)].mean()
        for top in tops
        for bottom in bottoms
        if min(200, bottom) - max(25, top) >= 30
    ]
    layer = best_layer(tops, bottoms, [clay for _, clay in horizons])
    if not means:
        assert layer is None
    else:
        assert layer is not None
        assert layer.clay_pct == pytest.approx(max(means))

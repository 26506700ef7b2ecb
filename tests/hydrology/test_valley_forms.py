"""Benches, hollows and left channels on drawn ground; the limits are own judgement, the drawings have known answers."""

from __future__ import annotations

import numpy as np
import pytest

from prospect.hydrology.valley_forms import abandoned_channels, closed_depressions, terraces


def test_a_bench_is_flat_large_and_above_the_floor():
    height, slope = np.full((20, 30), 2.0), np.full((20, 30), 1.0)
    height[2:8, 2:10] = 8.0
    height[10:12, 2:4] = 8.0
    height[10:16, 10:18] = 8.0
    slope[10:16, 10:18] = 6.0
    height[2:8, 20:28] = 30.0
    found = terraces(height, slope, 10.0)
    assert found[2:8, 2:10].all()
    assert found.sum() == 48
    height[3, 3] = np.nan
    assert terraces(height, slope, 10.0).sum() == 47
    assert terraces(height, slope, 10.0, least_area_m2=400.0).sum() == 51


def test_limits_of_a_bench_are_included():
    height = np.array([[5.0, 20.0, 4.99, 20.01]])
    assert terraces(height, np.full((1, 4), 3.0), 100.0).tolist() == [[True, True, False, False]]


def test_hollows_without_specks():
    depth = np.zeros((20, 20))
    depth[2:5, 2:5] = 1.0
    depth[3, 3] = 2.0
    depth[10, 10] = 5.0
    depth[14:18, 2:6] = 0.1
    depth[12:19, 12:19] = 20.0
    depth[0, 0] = np.nan
    found = closed_depressions(depth, 10.0)
    assert found.depth_m.tolist() == [2.0, 20.0]
    assert found.area_m2.tolist() == [900.0, 4900.0]
    assert found.natural_size.tolist() == [True, False]
    assert np.bincount(found.labels.ravel()).tolist() == [400 - 9 - 49, 9, 49]
    assert found.labels.dtype == np.int32


def _floor_with_hollows():
    depth, stream = np.zeros((30, 40)), np.zeros((30, 40), bool)
    stream[:, 35] = True
    depth[3:6, 3:23] = 1.0
    depth[10:18, 3:11] = 1.0
    depth[3:27, 33] = 1.0
    depth[20, 5:20] = depth[20:28, 20] = 1.0
    return depth, np.ones((30, 40), bool), stream


def test_long_hollows_away_from_the_stream_are_left_channels():
    depth, floor, stream = _floor_with_hollows()
    hollows = closed_depressions(depth, 10.0)
    found = abandoned_channels(hollows, floor, stream, 10.0, least_distance_m=30.0)
    assert found[3:6, 3:23].all()
    assert found[20, 5:20].all()
    assert found[20:28, 20].all()
    assert not found[10:18, 3:11].any()
    assert not found[:, 33].any()
    assert not abandoned_channels(hollows, ~floor, stream, 10.0).any()


def test_a_patch_of_few_cells_is_no_hollow_and_a_square_no_channel():
    depth = np.zeros((40, 40))
    depth[2:4, 2:4] = depth[10, 2:5] = depth[20:24, 2:6] = depth[30:33, 2:7] = 1.0
    depth[2, 20:28] = depth[10:12, 20:26] = 1.0
    hollows = closed_depressions(depth, 30.0)
    assert not hollows.labels[10, 2:5].any()
    stream = np.zeros(depth.shape, bool)
    stream[:, 39] = True
    found = abandoned_channels(hollows, np.ones(depth.shape, bool), stream, 30.0)
    assert found[2, 20:28].all()
    assert found[10:12, 20:26].all()
    assert found.sum() == 8 + 12


@pytest.mark.parametrize("shape", [(0, 0), (1, 1), (1, 5)])
def test_nothing_on_small_or_unknown_ground(shape):
    unknown, no = np.full(shape, np.nan), np.zeros(shape, bool)
    assert not terraces(unknown, unknown, 10.0).any()
    hollows = closed_depressions(unknown, 10.0)
    assert hollows.labels.shape == shape
    assert hollows.depth_m.size == 0
    assert not abandoned_channels(hollows, no, no, 10.0).any()


def test_senseless_input_is_refused():
    with pytest.raises(ValueError, match="shapes"):
        terraces(np.zeros((2, 2)), np.zeros((2, 3)), 10.0)
    with pytest.raises(ValueError, match="cell size"):
        closed_depressions(np.zeros((2, 2)), 0.0)

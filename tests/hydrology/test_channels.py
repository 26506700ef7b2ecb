"""Streams, heights above them and their order, on valleys with known answers and against pyflwdir."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.cbook import get_sample_data

from prospect.hydrology import (
    channel_mask,
    direction_codes,
    distance_to_channel,
    drainage,
    fill_depressions,
    flow_accumulation,
    flow_accumulations,
    flow_direction,
    height_above_nearest_drainage,
    strahler_order,
    upstream_area_km2,
    value_at_channel,
)
from prospect.testing import v_valley


@pytest.fixture(scope="module")
def valley():
    z = v_valley((30, 41), 10.0, 20.0, 2.0)
    return z, flow_direction(fill_depressions(z), 10.0)


def test_a_straight_valley_has_known_heights_and_distances(valley):
    z, network = valley
    channels = channel_mask(network, upstream_area_km2(network), 0.0045)
    assert channels[1:, 20].all()
    assert channels.sum() == 29
    away = np.abs(np.arange(41) - 20) * 10.0
    expected = np.broadcast_to(away, z.shape)[1:]
    assert distance_to_channel(network, channels)[1:] == pytest.approx(expected)
    # Heights in float32; the stream cell of the same row is reached.
    assert height_above_nearest_drainage(z, network, channels)[1:] == pytest.approx(expected * 0.2, abs=2e-4)


def test_both_in_one_pass(valley):
    z, network = valley
    channels = flow_accumulation(network) > 45
    height, distance = drainage(z, network, channels)
    assert np.array_equal(height, height_above_nearest_drainage(z, network, channels), equal_nan=True)
    assert np.array_equal(distance, distance_to_channel(network, channels), equal_nan=True)


def test_mapped_streams_run_on_to_the_end(valley):
    _, network = valley
    mapped = np.zeros(network.shape, bool)
    mapped[3, 10] = True
    channels = channel_mask(network, upstream_area_km2(network), 1e6, mapped)
    assert channels[3, 10:21].all()
    assert channels[3:, 20].all()
    assert channels.sum() == 10 + 27


def test_without_a_channel_nothing_is_said(valley):
    z, network = valley
    none = np.zeros(network.shape, bool)
    assert np.isnan(height_above_nearest_drainage(z, network, none)).all()
    assert np.isnan(distance_to_channel(network, none)).all()
    assert (strahler_order(network, none) == 0).all()


def test_a_channel_that_lies_higher_counts_as_nought():
    network = flow_direction(np.array([[3.0, 2.0, 1.0]]), 10.0)
    channels = np.array([[False, False, True]])
    height = height_above_nearest_drainage(np.array([[5.0, 0.0, 1.0]]), network, channels)
    assert height.tolist() == [[4.0, 0.0, 0.0]]


def test_ground_beside_a_stream_takes_the_value_of_its_stream(valley):
    _, network = valley
    area = upstream_area_km2(network)
    channels = channel_mask(network, area, 0.0045)
    found = value_at_channel(area, network, channels)
    assert found.dtype == np.float32
    assert found[1:] == pytest.approx(np.broadcast_to(area[1:, 20:21], found[1:].shape))
    assert np.isnan(value_at_channel(area, network, np.zeros_like(channels))).all()


def test_two_equal_orders_make_the_next():
    # A fork of forks: 1 + 1 = 2, 2 + 2 = 3, a 1 that joins a 3 changes nothing (Strahler 1957).
    z = np.array(
        [
            [9, 99, 9, 99, 9, 99, 9, 99, 99, 99],
            [99, 8, 99, 99, 99, 8, 99, 99, 99, 99],
            [99, 99, 7, 99, 7, 99, 99, 99, 99, 99],
            [99, 99, 99, 6, 99, 99, 99, 99, 99, 99],
            [99, 99, 99, 99, 5, 99, 9, 99, 99, 99],
            [99, 99, 99, 99, 99, 4, 99, 99, 99, 99],
            [99, 99, 99, 99, 99, 99, 3, 99, 99, 99],
        ],
        dtype=np.float32,
    )
    network = flow_direction(z, 1.0)
    order = strahler_order(network, z < 50)
    assert order.dtype == np.int8
    assert order[0, 0] == 1
    assert order[1, 1] == 2
    assert order[2, 2] == 2
    assert order[3, 3] == 3
    assert order[4, 6] == 1
    assert order[6, 6] == 3
    assert order[0, 1] == 0


def test_unknown_ground_is_unknown():
    network = flow_direction(np.array([[3.0, np.nan, 2.0, 1.0]]), 10.0)
    channels = np.array([[True, True, False, True]])
    assert strahler_order(network, channels)[0, 1] == -1
    assert np.isnan(height_above_nearest_drainage(np.ones((1, 4)), network, channels & ~network.mask)[0, 1])


def test_senseless_input_is_refused(valley):
    _, network = valley
    with pytest.raises(ValueError, match="threshold"):
        channel_mask(network, upstream_area_km2(network), 0.0)
    with pytest.raises(ValueError, match="area"):
        channel_mask(network, np.ones((2, 2)), 1.0)
    with pytest.raises(ValueError, match="channels"):
        distance_to_channel(network, np.ones((2, 2), bool))
    with pytest.raises(ValueError, match="elevation"):
        height_above_nearest_drainage(np.ones((2, 2)), network, np.ones(network.shape, bool))


@pytest.mark.slow
def test_agrees_with_pyflwdir_on_the_same_directions():
    # pyflwdir (MIT) on the elevation model that comes with matplotlib, given our directions.
    pyflwdir = pytest.importorskip("pyflwdir")
    with get_sample_data("jacksboro_fault_dem.npz") as data:
        z = data["elevation"].astype(np.float32)
    z[100:120, 150:190] = np.nan
    filled = fill_depressions(z)
    network = flow_direction(filled, 30.0)
    codes = direction_codes(network)
    theirs = pyflwdir.from_array(np.where(codes < 0, 247, codes).astype(np.uint8), ftype="d8")
    cells = flow_accumulation(network)
    known = ~network.mask
    assert np.array_equal(theirs.upstream_area("cell")[known], cells[known])
    # In 1024ths, whose sums are exact in either order of adding.
    weights = np.random.default_rng(4).integers(0, 1025, z.shape) / 1024.0
    theirs_weighted = theirs.accuflux(np.where(known, weights, 0))
    assert np.array_equal(theirs_weighted[known], flow_accumulation(network, weights)[known])
    both = flow_accumulations(network, (weights, 3.0 * weights))
    assert np.array_equal(both[0], flow_accumulation(network, weights), equal_nan=True)
    assert np.array_equal(both[1][known], 3.0 * theirs_weighted[known])
    channels = cells >= 300
    height = height_above_nearest_drainage(filled, network, channels)
    their_height = theirs.hand(channels, np.where(known, filled, -9999.0))
    reached = known & np.isfinite(height)
    assert np.array_equal(their_height[reached], height[reached])
    order = strahler_order(network, channels)
    assert np.array_equal(theirs.stream_order(mask=channels)[channels], order[channels])

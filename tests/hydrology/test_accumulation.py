"""Sums and shares along the flow: exact, mass-keeping, honest about the unknown."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prospect.hydrology import (
    fill_depressions,
    flow_accumulation,
    flow_direction,
    upstream_area_km2,
    upstream_share,
)


@pytest.fixture
def line():
    return flow_direction(np.arange(5, 0, -1, dtype=float)[None, :], 100.0)


def _hills(seed, shape=(30, 40)):
    z = np.random.default_rng(seed).normal(0, 1, shape).cumsum(0).cumsum(1)
    z[5:8, 10:14] = np.nan
    return fill_depressions(z)


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10_000))
def test_all_weight_leaves_by_the_ends(seed):
    network = flow_direction(_hills(seed), 10)
    weights = np.random.default_rng(seed).random(network.shape)
    total = flow_accumulation(network, weights)
    ends = ~network.mask & (network.downstream.reshape(network.shape) < 0)
    assert total[ends].sum() == pytest.approx(weights[~network.mask].sum())
    assert (total[~network.mask] >= weights[~network.mask] - 1e-9).all()
    share = upstream_share(network, weights)
    assert (share[~network.mask] >= weights[~network.mask].min() - 1e-6).all()
    assert (share[~network.mask] <= weights[~network.mask].max() + 1e-6).all()


def test_area_counts_cells(line):
    assert flow_accumulation(line)[0].tolist() == [1, 2, 3, 4, 5]
    assert upstream_area_km2(line)[0] == pytest.approx(np.arange(1, 6) * 0.01)
    assert upstream_area_km2(line).dtype == np.float32


def test_counts_stay_whole_beyond_what_float32_can_count(line):
    assert flow_accumulation(line, np.full((1, 5), 2.0**24 + 1))[0, 1] == 2 * (2.0**24 + 1)


def test_an_unknown_weight_makes_all_below_unknown(line):
    total = flow_accumulation(line, np.array([[1, 1, np.nan, 1, 1]]))
    assert total[0, :2].tolist() == [1, 2]
    assert np.isnan(total[0, 2:]).all()


def test_an_unknown_share_is_left_out(line):
    share = upstream_share(line, np.array([[np.nan, 0.5, np.nan, 0.9, 1.0]]))
    assert np.isnan(share[0, 0])
    assert share[0, 1:] == pytest.approx([0.5, 0.5, 0.7, 0.8])
    strict = upstream_share(line, np.array([[np.nan, 0.5, np.nan, 0.9, 1.0]]), least_known=0.5)
    assert np.isnan(strict[0, [0, 2]]).all()
    assert strict[0, [1, 3, 4]] == pytest.approx([0.5, 0.7, 0.8])


def test_importance_weighs(line):
    share = np.array([[1.0, 0, 0, 0, 0]])
    assert upstream_share(line, share, np.array([[3.0, 1, np.nan, 0, 2]]))[0] == pytest.approx(
        [1, 3 / 4, 3 / 4, 3 / 4, 3 / 6]
    )
    with pytest.raises(ValueError, match="importance"):
        upstream_share(line, share, np.array([[-1.0, 1, 1, 1, 1]]))


def test_far_ground_counts_less(line):
    share = np.array([[1.0, 0, 0, 0, 0]])
    near = np.exp(-np.arange(5) * 100 / 250)
    expected = [near[n] / near[: n + 1].sum() for n in range(5)]
    assert upstream_share(line, share, decay_m=250.0)[0] == pytest.approx(expected, rel=1e-6)
    with pytest.raises(ValueError, match="decay"):
        upstream_share(line, share, decay_m=0.0)


def test_a_slanted_step_is_longer():
    network = flow_direction(np.array([[9.0, 9, 9], [9, 8, 9], [9, 9, 1]]), 100.0)
    share = np.zeros((3, 3))
    share[1, 1] = 1
    counts = np.zeros((3, 3))
    counts[1, 1] = counts[2, 2] = 1
    far = np.exp(-np.sqrt(2) * 100 / 200)
    assert upstream_share(network, share, counts, decay_m=200.0)[2, 2] == pytest.approx(far / (1 + far))


def test_a_catchment_beyond_the_edge_is_unknown_on_request():
    network = flow_direction(_hills(8), 10)
    share = upstream_share(network, np.ones(network.shape), unknown_at_edge=True)
    assert np.array_equal(np.isnan(share), network.touches_edge | network.mask)
    assert 0 < network.touches_edge[~network.mask].mean() < 1


def test_a_cell_without_data_gives_nothing():
    network = flow_direction(np.array([[3.0, np.nan, 2.0, 1.0]]), 10)
    assert flow_accumulation(network, np.ones((1, 4)))[0, 2:].tolist() == [1, 2]
    assert np.isnan(upstream_share(network, np.ones((1, 4)))[0, 1])


def test_another_shape_is_refused(line):
    with pytest.raises(ValueError, match="shape"):
        flow_accumulation(line, np.ones(5))
    with pytest.raises(ValueError, match="shape"):
        upstream_share(line, np.ones((2, 5)))

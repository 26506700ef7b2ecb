"""Trenches through dams: within their limits, never upward, and leading out."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prospect.hydrology import breach_depressions, depression_depth, fill_depressions
from prospect.testing import bowl, v_valley


def _dammed(height):
    z = v_valley((40, 31), 10.0, 20.0, 2.0)
    z[20] += height
    return z


def test_a_dam_is_cut_through():
    z = _dammed(4.0)
    assert depression_depth(z).max() > 3
    cut = breach_depressions(z, 10.0)
    assert depression_depth(cut).max() < 0.5
    changed = cut < z.astype(np.float32)
    assert 0 < changed.sum() < 30
    assert cut[20, 15] == z[19, 15] < z[20, 15]


def test_a_dam_beyond_the_limits_is_left():
    deep = _dammed(9.0).astype(np.float32)
    assert np.array_equal(breach_depressions(deep, 10.0), deep)
    low = _dammed(4.0).astype(np.float32)
    assert np.array_equal(breach_depressions(low, 10.0, max_depth_m=2.0), low)
    assert np.array_equal(breach_depressions(low, 10.0, max_length_m=0.0), low)


def test_a_closed_basin_is_left():
    z = bowl((41, 41), 10, 30, 20).astype(np.float32)
    assert np.array_equal(breach_depressions(z, 10.0), z)


@settings(deadline=None, max_examples=60)
@given(st.integers(0, 10_000), st.floats(0, 20), st.floats(0, 200))
def test_never_higher_and_never_deeper_than_allowed(seed, depth, length):
    z = np.random.default_rng(seed).normal(0, 2, (15, 20)).cumsum(0).astype(np.float32)
    z[3:5, 7] = np.nan
    cut = breach_depressions(z, 10.0, depth, length)
    known = np.isfinite(z)
    assert np.array_equal(np.isfinite(cut), known)
    assert (cut[known] <= z[known]).all()
    assert (z[known] - cut[known] <= depth + 1e-4).all()
    assert (fill_depressions(cut)[known] <= fill_depressions(z)[known]).all()


@pytest.mark.parametrize("shape", [(1, 1), (2, 2), (0, 0)])
def test_small_and_empty_grids(shape):
    assert np.array_equal(breach_depressions(np.ones(shape), 10), np.ones(shape))
    assert np.isnan(breach_depressions(np.full(shape, np.nan), 10)).all()


def test_negative_limits_are_refused():
    with pytest.raises(ValueError, match="limits"):
        breach_depressions(np.zeros((3, 3)), 10, -1)


def _least_dug(z, start, steps):
    """Return the least digging of all ways of so many steps at most, by trying every one of them."""
    level, least = z[start], np.inf
    pending = [(start, 0.0, (start,))]
    while pending:
        (i, j), cost, way = pending.pop()
        if z[i, j] < level or i in (0, z.shape[0] - 1) or j in (0, z.shape[1] - 1):
            least = min(least, cost)
            continue
        if len(way) > steps:
            continue
        for r in (i - 1, i, i + 1):
            for c in (j - 1, j, j + 1):
                if (r, c) not in way:
                    dug = max(0.0, float(z[r, c]) - float(level))
                    pending.append(((r, c), cost + dug, (*way, (r, c))))
    return least


@settings(deadline=None, max_examples=40)
@given(st.integers(0, 10_000), st.integers(3, 4))
def test_no_way_within_the_limits_takes_less_digging(seed, steps):
    z = np.random.default_rng(seed).integers(2, 12, (7, 7)).astype(np.float32)
    z[3, 3] = 1
    # The lowest pit is cut first, and no other is cut down to its height.
    cut = breach_depressions(z, 1.0, 100.0, float(steps))
    dug_to_the_pit = np.where(cut == 1, z - cut, 0).sum()
    assert dug_to_the_pit == pytest.approx(_least_dug(z, (3, 3), steps))


def test_the_way_round_through_a_low_place_is_taken_where_it_takes_less_digging():
    # A dam 6 m high and one cell thick straight ahead, 1 m high three cells aside: 6 m or 1 m of digging.
    z = np.full((9, 9), 20.0, dtype=np.float32)
    z[1:-1, 1:4] = 5
    z[4, 3] = 4
    z[1:-1, 4] = 10
    z[7, 4] = 5.5
    z[1:-1, 5:8] = 5
    z[4, 5:] = 3
    cut = breach_depressions(z, 1.0, 10.0, 20.0)
    assert (cut[1:7, 4] == 10).all()
    assert cut[7, 4] == 4
    short = breach_depressions(z, 1.0, 10.0, 2.0)
    assert (short[3:6, 4] == 4).sum() == 1
    assert short[7, 4] == 5.5


def test_a_level_pit_is_one_pit_and_its_trench_begins_at_its_shore():
    # A pond 300 m long; 20 m of dam between its shore and the stream, 3 m high.
    z = v_valley((60, 31), 10.0, 20.0, 2.0).astype(np.float32)
    level = z[40, 15] - 2
    z[10:40, 5:26] = level
    z[42:, 15] = np.minimum(z[42:, 15], level - 1)
    cut = breach_depressions(z, 10.0, max_length_m=30.0)
    assert (cut[40:42, 14:17] == level).any(axis=1).all()
    assert (cut != z).sum() == 2
    assert np.array_equal(breach_depressions(z, 10.0, max_length_m=20.0), z)
    assert depression_depth(cut).max() == 0


def test_mirrored_ground_is_cut_alike():
    rng = np.random.default_rng(5)
    z = rng.normal(0, 2, (40, 50)).cumsum(1).astype(np.float32)
    z[20, 20] = np.nan
    cut = breach_depressions(z, 10.0)
    assert (cut[np.isfinite(z)] < z[np.isfinite(z)]).any()
    # No two heights are equal, so nothing is a tie.
    assert np.array_equal(breach_depressions(z[::-1].copy(), 10.0)[::-1], cut, equal_nan=True)
    assert np.array_equal(breach_depressions(z.T.copy(), 10.0).T, cut, equal_nan=True)

"""Flow directions against a plain reading of the rule; every path ends, and as soon as it can."""

from __future__ import annotations

from collections import deque

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from prospect.hydrology import direction_codes, fill_depressions, flow_accumulation, flow_direction
from prospect.testing import bowl, plane

STEPS = [(0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1), (-1, 0), (-1, 1)]


def _neighbours(z, i, j):
    for di, dj in STEPS:
        r, c = i + di, j + dj
        if 0 <= r < z.shape[0] and 0 <= c < z.shape[1] and np.isfinite(z[r, c]):
            yield r, c, np.hypot(di, dj)


def _at_edge(z, i, j):
    return sum(1 for _ in _neighbours(z, i, j)) < 8


grids = hnp.arrays(
    np.float32,
    hnp.array_shapes(min_dims=2, max_dims=2, min_side=1, max_side=10),
    elements=st.one_of(st.integers(0, 3).map(float), st.just(float("nan")), st.floats(0, 3, width=16)),
)


@settings(deadline=None, max_examples=300)
@given(grids, st.booleans())
def test_network_of_any_small_grid(z, fill):
    ground = fill_depressions(z) if fill else z
    network = flow_direction(ground, 10.0)
    cells = flow_accumulation(network)
    known = np.isfinite(z)
    assert np.array_equal(network.mask, ~known)
    assert np.array_equal(cells == 0, ~known)
    # nothing is lost, nothing runs in a circle
    ends = known.ravel() & (network.downstream < 0)
    assert cells.ravel()[ends].sum() == known.sum()
    assert sorted(network.order) == np.flatnonzero(known).tolist()
    place = np.empty(z.size, int)
    place[network.order] = np.arange(network.order.size)
    for cell in network.order:
        i, j = divmod(int(cell), z.shape[1])
        below = network.downstream[cell]
        drops = [(ground[i, j] - ground[r, c]) / run for r, c, run in _neighbours(ground, i, j)]
        if below >= 0:
            assert place[below] > place[cell]
            r, c = divmod(int(below), z.shape[1])
            assert known[r, c]
            drop = (ground[i, j] - ground[r, c]) / np.hypot(r - i, c - j)
            assert max(abs(r - i), abs(c - j)) == 1
            assert drop == pytest.approx(max(0.0, *drops), abs=1e-6)
        elif fill:
            assert _at_edge(ground, i, j)
            assert max([0.0, *drops]) == 0.0


@settings(deadline=None, max_examples=150)
@given(grids)
def test_a_catchment_that_touches_the_edge_says_so(z):
    network = flow_direction(fill_depressions(z), 1.0)
    cols = z.shape[1]
    expected = np.zeros(z.shape, bool)
    for cell in network.order:
        i, j = divmod(int(cell), cols)
        if _at_edge(z, i, j):
            at = int(cell)
            while at >= 0:
                expected.ravel()[at] = True
                at = int(network.downstream[at])
    assert np.array_equal(network.touches_edge, expected)


def test_level_ground_takes_the_shortest_way_out():
    # A table with one notch in its rim: the least number of steps from each cell, by a search of our own.
    z = np.full((31, 41), 10.0, dtype=np.float32)
    z[[0, -1]] = 12
    z[:, [0, -1]] = 12
    z[20, 40] = 9
    network = flow_direction(fill_depressions(z), 1.0)
    steps = np.full(z.shape, -1)
    queue = deque([(20, 40)])
    steps[20, 40] = 0
    while queue:
        i, j = queue.popleft()
        for r, c, _ in _neighbours(z, i, j):
            if steps[r, c] < 0 and z[r, c] == 10:
                steps[r, c] = steps[i, j] + 1
                queue.append((r, c))
    for i in range(1, 30):
        for j in range(1, 40):
            cell, count = i * 41 + j, 0
            while cell != 20 * 41 + 40:
                cell, count = int(network.downstream[cell]), count + 1
            assert count == steps[i, j]


def test_level_ground_prefers_a_way_down_inside_to_the_edge():
    z = np.array([[5, 5, 5, 5], [5, 5, 5, 4], [5, 5, 5, 3]], dtype=np.float32)
    network = flow_direction(z, 1.0)
    assert (network.downstream < 0).sum() == 1
    level = flow_direction(np.full((4, 4), 2.0), 1.0)
    assert (level.downstream < 0).sum() == 12


def test_a_filled_bowl_empties_through_its_notch():
    z = bowl((41, 41), 10, rim_m=30, spill_m=20)
    network = flow_direction(fill_depressions(z), 10)
    cells = flow_accumulation(network)
    assert cells[20, 40] > (z < 20).sum()


def test_a_hollow_left_open_ends_the_flow():
    z = bowl((21, 21), 10, rim_m=30, spill_m=20)
    network = flow_direction(z, 10)
    assert network.downstream.reshape(z.shape)[10, 10] == -1
    assert flow_accumulation(network)[10, 10] > 200


def test_a_plane_runs_one_way():
    codes = direction_codes(flow_direction(plane((6, 7), 10, 5, 180), 10))
    assert (codes[:-1] == 4).all()
    assert (codes[-1] == 0).all()
    assert (direction_codes(flow_direction(plane((6, 7), 10, 5, 45), 10))[1:, :-1] == 128).all()


@pytest.mark.parametrize("shape", [(1, 1), (2, 2), (1, 5), (5, 1), (0, 0), (4, 0)])
def test_small_and_empty_grids(shape):
    for z in (np.zeros(shape), np.full(shape, np.nan)):
        network = flow_direction(z, 10)
        assert network.shape == shape
        assert (network.downstream == -1).all()
        assert np.array_equal(network.touches_edge, np.isfinite(z))
        assert direction_codes(network).shape == shape
        assert network.step_m().shape == shape


def test_narrow_grids_keep_their_diagonals():
    z = np.array([[9, 8], [7, 6], [5, 1]], dtype=np.float32)
    network = flow_direction(z, 10.0)
    assert direction_codes(network).tolist() == [[2, 4], [2, 4], [1, 0]]
    assert network.step_m()[1, 0] == pytest.approx(14.142136)
    anti = flow_direction(z[:, ::-1], 10.0)
    assert direction_codes(anti).tolist() == [[4, 8], [4, 8], [0, 16]]
    assert anti.step_m()[1, 1] == pytest.approx(14.142136)


def test_a_cell_without_length_is_refused():
    with pytest.raises(ValueError, match="cell size"):
        flow_direction(np.zeros((3, 3)), 0)

"""Water on many kinds of ground beside independent engines, and what must hold on any ground."""

from __future__ import annotations

import numpy as np
import pytest
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy.ndimage import binary_dilation
from skimage.morphology import reconstruction

from prospect.hydrology import depressions as room
from prospect.hydrology import (
    direction_codes,
    drainage,
    fill_depressions,
    flow_accumulation,
    flow_direction,
    strahler_order,
)

CELL_M = 10.0


def fractal(rows: int, cols: int, seed: int = 3) -> np.ndarray:
    rng = np.random.default_rng(seed)
    frequency = np.hypot(np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(cols)[None, :])
    frequency[0, 0] = np.inf
    noise = np.fft.irfft2(frequency**-1.8 * np.exp(2j * np.pi * rng.random(frequency.shape)), s=(rows, cols))
    return (100.0 + 20.0 * noise / noise.std() + 0.2 * np.arange(rows)[::-1, None]).astype(np.float32)


def riddled(z: np.ndarray, seed: int = 4) -> np.ndarray:
    rng = np.random.default_rng(seed)
    holed = z.copy()
    holed[rng.random(z.shape) < 0.01] = np.nan
    holed[z.shape[0] // 3 : z.shape[0] // 2, z.shape[1] // 4 : z.shape[1] // 3] = np.nan
    return holed


def _bowl() -> np.ndarray:
    row, col = np.mgrid[0:90, 0:80]
    z = (0.02 * ((row - 45.0) ** 2 + (col - 40.0) ** 2)).astype(np.float32)
    z[44:47, 70:] = 12.0
    return z


def _plateau() -> np.ndarray:
    z = np.full((90, 80), 5.0, np.float32)
    z[40, 79] = 1.0
    return z


MODELS = {
    "fractal": fractal(120, 140),
    "riddled": riddled(fractal(120, 140, 5)),
    "whole metres": np.round(fractal(120, 140, 6) / 5.0),
    "whole metres, riddled": riddled(np.round(fractal(120, 140, 7) / 5.0)),
    "plateau": _plateau(),
    "bowl": _bowl(),
}


@pytest.fixture(params=MODELS.values(), ids=MODELS)
def z(request: pytest.FixtureRequest) -> np.ndarray:
    return request.param.astype(np.float32)


def edge_of(known: np.ndarray) -> np.ndarray:
    """Known cells on the outermost ring or beside an unknown one."""
    return known & binary_dilation(~np.pad(known, 1), np.ones((3, 3)))[1:-1, 1:-1]


def test_filling_is_grey_reconstruction(z):
    """scikit-image's reconstruction by erosion, exactly; unknown cells lie below everything there."""
    known = np.isfinite(z)
    floor = np.where(known, z, np.nanmin(z) - 1.0).astype(np.float64)
    seed = np.where(edge_of(known) | ~known, floor, np.nanmax(z) + 1.0)
    expected = reconstruction(seed, floor, method="erosion", footprint=np.ones((3, 3)))
    assert np.array_equal(fill_depressions(z)[known], expected[known].astype(np.float32))


def test_every_sloping_cell_drains_down_the_steepest_way(z):
    """A plain loop over eight neighbours, in double precision."""
    filled = fill_depressions(z)
    network = flow_direction(filled, CELL_M)
    downstream = network.downstream.reshape(z.shape)
    rows, cols = z.shape
    sloping = 0
    for i in range(rows):
        for j in range(cols):
            if np.isnan(filled[i, j]):
                continue
            drops = []
            for di, dj in ((0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1), (-1, 0), (-1, 1)):
                r, c = i + di, j + dj
                if 0 <= r < rows and 0 <= c < cols and np.isfinite(filled[r, c]):
                    run = 2.0**0.5 if di and dj else 1.0
                    drops.append(((float(filled[i, j]) - float(filled[r, c])) / run, r * cols + c))
            steepest = max((drop for drop, _ in drops), default=0.0)
            if steepest > 0:
                sloping += 1
                assert downstream[i, j] in [cell for drop, cell in drops if drop >= steepest * (1 - 1e-12)]
    assert sloping >= 5


@pytest.mark.slow
def test_what_follows_from_the_directions_is_pyflwdirs(z):
    """pyflwdir (MIT), given our directions: counts, sums, heights, ways and orders, on every model."""
    pyflwdir = pytest.importorskip("pyflwdir")
    filled = fill_depressions(z)
    network = flow_direction(filled, CELL_M)
    codes = direction_codes(network)
    known = ~network.mask
    place = Affine(CELL_M, 0.0, 0.0, 0.0, -CELL_M, 0.0)
    theirs = pyflwdir.from_array(
        np.where(codes < 0, 247, codes).astype(np.uint8), ftype="d8", transform=place
    )
    cells = flow_accumulation(network)
    assert np.array_equal(theirs.upstream_area("cell")[known], cells[known])
    weights = np.random.default_rng(1).integers(0, 1025, z.shape) / 1024.0
    summed = theirs.accuflux(np.where(known, weights, 0.0))
    assert np.array_equal(summed[known], flow_accumulation(network, weights)[known])
    channels = cells >= 150
    height, distance = drainage(filled, network, channels)
    reached = known & np.isfinite(height)
    elevation = np.where(known, filled, -9999.0)
    # They add up the falls of every step, each rounded; ours is the difference of the two ends.
    np.testing.assert_allclose(theirs.hand(channels, elevation)[reached], height[reached], atol=1e-4)
    ways = theirs.stream_distance(mask=channels, unit="m")
    np.testing.assert_allclose(ways[reached], distance[reached], atol=1e-3)
    if channels.any():
        order = strahler_order(network, channels)
        assert np.array_equal(theirs.stream_order(mask=channels)[channels], order[channels])


def test_rows_side_by_side_give_what_one_after_the_other_gives(monkeypatch):
    ground = riddled(fractal(400, 330, 9))
    together = fill_depressions(ground), flow_direction(fill_depressions(ground), CELL_M).downstream
    monkeypatch.setattr(room, "MANY_CELLS", 1)
    monkeypatch.setattr(room.os, "cpu_count", lambda: 5)
    apart = fill_depressions(ground), flow_direction(fill_depressions(ground), CELL_M).downstream
    assert np.array_equal(together[0], apart[0], equal_nan=True)
    assert np.array_equal(together[1], apart[1])


@pytest.mark.parametrize(
    "given", [
        lambda z: np.asfortranarray(z), lambda z: z.astype(">f4"), lambda z: np.repeat(z, 2, 1)[:, ::2],
        lambda z: z.astype(np.float64), lambda z: z.astype(np.int16),
    ], ids=["by columns", "big-endian", "every other", "double", "whole numbers"],
)  # fmt: skip
def test_how_an_array_lies_in_memory_does_not_matter(given):
    z = np.round(fractal(40, 50, 8))
    expected = fill_depressions(z)
    found = fill_depressions(given(z))
    assert np.array_equal(found, expected)
    assert np.array_equal(
        flow_direction(given(found), 1.0).downstream, flow_direction(expected, 1.0).downstream
    )


_steps = st.integers(0, 40).map(lambda step: step / 8)
_ground = hnp.arrays(
    np.float32, st.tuples(st.integers(1, 12), st.integers(1, 12)), elements=st.one_of(_steps, st.just(np.nan))
)
TURNS = {
    "a quarter": np.rot90,
    "half": lambda z: np.rot90(z, 2),
    "mirrored": lambda z: z[:, ::-1],
    "upside down and mirrored": lambda z: z.T,
}


@settings(max_examples=150, deadline=None)
@given(z=_ground)
def test_water_never_runs_uphill_and_none_is_lost(z):
    filled = fill_depressions(z)
    network = flow_direction(filled, CELL_M)
    flat, below = filled.ravel(), network.downstream
    moving = below >= 0
    assert (flat[moving] >= flat[below[moving]]).all()
    known = np.isfinite(z)
    ends = known.ravel() & ~moving
    assert flow_accumulation(network).ravel()[ends].sum() == known.sum()
    assert (edge_of(known).ravel()[ends]).all(), "on filled ground water ends at the edge only"
    assert np.array_equal(fill_depressions(filled), filled, equal_nan=True)
    assert np.array_equal(fill_depressions(z + np.float32(7.0)), filled + np.float32(7.0), equal_nan=True)


@pytest.mark.parametrize("turn", TURNS.values(), ids=TURNS)
@settings(max_examples=60, deadline=None)
@given(z=_ground)
def test_filling_turns_with_the_ground(turn, z):
    assert np.array_equal(fill_depressions(turn(z)), turn(fill_depressions(z)), equal_nan=True)


@pytest.mark.parametrize("turn", TURNS.values(), ids=TURNS)
@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_flow_turns_with_the_ground_where_nothing_is_level_or_equal(turn, seed):
    """Rough ground whose hollows were never there: each cell's drop differs, so that no tie is left to an order."""
    rng = np.random.default_rng(seed)
    row, col = np.mgrid[0:13, 0:11]
    z = (row * 3.0 + col * 1.7 + rng.random((13, 11))).astype(np.float32)
    straight, turned = flow_direction(z, CELL_M), flow_direction(turn(z), CELL_M)
    assert np.array_equal(flow_accumulation(turned), turn(flow_accumulation(straight)))
    assert np.array_equal(turned.touches_edge, turn(straight.touches_edge))


@settings(max_examples=100, deadline=None)
@given(z=_ground)
def test_ways_over_level_ground_are_the_shortest(z):
    """A breadth-first search of our own over each level of the filled ground."""
    filled = fill_depressions(z)
    network = flow_direction(filled, CELL_M)
    rows, cols = filled.shape
    below = network.downstream
    for start in np.flatnonzero(below >= 0):
        i, j = divmod(int(start), cols)
        steps, cell = 0, int(start)
        while below[cell] >= 0 and filled.ravel()[below[cell]] == filled[i, j]:
            cell, steps = int(below[cell]), steps + 1
        reached, ring, least = {int(start)}, [int(start)], 0
        way_down = below[cell] >= 0

        def ends(at: int, way_down: bool = way_down) -> bool:
            lower = below[at] >= 0 and filled.ravel()[below[at]] < filled.ravel()[at]
            return bool(lower) if way_down else bool(below[at] < 0)

        while ring and not any(ends(at) for at in ring):
            least += 1
            ring = [
                r * cols + c
                for at in ring
                for r in range(max(at // cols - 1, 0), min(at // cols + 2, rows))
                for c in range(max(at % cols - 1, 0), min(at % cols + 2, cols))
                if filled[r, c] == filled[i, j]
                and r * cols + c not in reached
                and not reached.add(r * cols + c)
            ]
        assert steps == least

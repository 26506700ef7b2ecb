from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import shapely
import shapely.affinity
import shapely.ops
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.special import owens_t
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from prospect.errors import WrongUsage
from prospect.land import averaged_sigma, chance_inside, circular_radius, line_setback, sigma_of_radius
from prospect.land.inside import EdgeTable, areas_of, shares_of

metres = st.floats(-200, 200, allow_nan=False)
sigmas = st.floats(0.01, 100)
corners = st.lists(st.tuples(metres, metres), min_size=3, max_size=9)


@given(corners, metres, metres, sigmas)
@settings(max_examples=150, deadline=None)
def test_a_chance_is_between_nought_and_one(points, x, y, sigma):
    assert 0.0 <= chance_inside(Polygon(points), x, y, sigma) <= 1.0


@given(metres, metres, sigmas, st.floats(0.2, 0.8))
@settings(max_examples=100, deadline=None)
def test_a_hole_takes_out_exactly_what_it_holds(x, y, sigma, size):
    outer, inner = box(-100, -90, 110, 120), box(-100 * size, -90 * size, 110 * size, 120 * size)
    ring = Polygon(outer.exterior, [inner.exterior])
    whole = chance_inside(outer, x, y, sigma)
    assert chance_inside(ring, x, y, sigma) == pytest.approx(
        whole - chance_inside(inner, x, y, sigma), abs=1e-9
    )


@given(metres, metres, sigmas, st.integers(0, 2**32 - 1))
@settings(max_examples=60, deadline=None)
def test_the_parts_of_the_plane_add_up_to_one(x, y, sigma, seed):
    rng = np.random.default_rng(seed)
    far = box(-5000, -5000, 5000, 5000)
    cuts = [
        LineString([(-9000, rng.uniform(-300, 300)), (9000, rng.uniform(-300, 300))]),
        LineString([(rng.uniform(-300, 300), -9000), (rng.uniform(-300, 300), 9000)]),
    ]
    parts = [far]
    for cut in cuts:
        parts = [piece for part in parts for piece in shapely.get_parts(shapely.ops.split(part, cut))]
    total = sum(chance_inside(part, x, y, sigma) for part in parts)
    assert total == pytest.approx(chance_inside(far, x, y, sigma), abs=1e-9)
    assert total == pytest.approx(1.0, abs=1e-9)


@given(corners, metres, metres, sigmas, st.floats(-math.pi, math.pi))
@settings(max_examples=60, deadline=None)
def test_turning_and_mirroring_change_nothing(points, x, y, sigma, angle):
    shape = Polygon(points)
    assume(shape.is_valid and shape.area > 1)
    turned = shapely.affinity.rotate(shape, angle, origin=(x, y), use_radians=True)
    mirrored = shapely.affinity.scale(shape, -1, 1, origin=(x, y))
    chance = chance_inside(shape, x, y, sigma)
    assert chance_inside(turned, x, y, sigma) == pytest.approx(chance, abs=1e-8)
    assert chance_inside(mirrored, x, y, sigma) == pytest.approx(chance, abs=1e-8)


@given(corners, metres, metres, st.floats(1, 60), st.integers(0, 2**32 - 1))
@settings(max_examples=40, deadline=None)
def test_simulated_positions_agree(points, x, y, sigma, seed):
    # Independent method: the share of 40,000 simulated positions inside, within five of its standard errors.
    shape = shapely.make_valid(Polygon(points))
    count = 40_000
    drawn = np.random.default_rng(seed).normal((x, y), sigma, size=(count, 2))
    share = shapely.contains_xy(shape, drawn[:, 0], drawn[:, 1]).mean()
    exact = chance_inside(shape, x, y, sigma)
    assert share == pytest.approx(exact, abs=5 * math.sqrt(max(exact * (1 - exact), 1e-5) / count))


@given(corners, metres, metres, sigmas, st.floats(-1e6, 1e6), st.floats(-1e7, 1e7))
@settings(max_examples=60, deadline=None)
def test_moving_changes_nothing(points, x, y, sigma, east, north):
    shape = Polygon(points)
    assume(shape.is_valid and shape.area > 1)
    moved = shapely.affinity.translate(shape, east, north)
    # At ten million metres a coordinate is kept to 2e-9 m.
    tolerance = 1e-9 + 1e-8 / sigma
    assert chance_inside(moved, x + east, y + north, sigma) == pytest.approx(
        chance_inside(shape, x, y, sigma), abs=tolerance
    )


def test_a_sliver_holds_its_share():
    # Exact: a strip of width w through the position holds erf(w / (2√2 σ)).
    for width in (1e-1, 1e-3, 1e-5):
        strip = box(-1e4, -width / 2, 1e4, width / 2)
        assert chance_inside(strip, 0, 0, 4.0) == pytest.approx(
            math.erf(width / (8 * math.sqrt(2))), abs=1e-12
        )


def test_a_spike_and_a_corner_on_the_position():
    # Exact: a wedge with its corner on the position holds its angle over a full turn.
    for degrees in (1e-3, 10, 45, 90, 180, 270, 359):
        angle = math.radians(degrees)
        around = np.linspace(0, angle, 400)
        wedge = Polygon([(0, 0), *np.column_stack([np.cos(around), np.sin(around)]) * 1e4])
        assert chance_inside(wedge, 0, 0, 3.0) == pytest.approx(degrees / 360, abs=1e-9)


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=30, deadline=None)
def test_long_outlines_are_cut_short_without_a_difference(seed):
    # The closed form summed over every edge, and the distance by shapely, against the runs that are looked at.
    rng = np.random.default_rng(seed)
    turn = np.sort(rng.uniform(0, 2 * np.pi, int(rng.integers(40, 1200))))
    radius = 300 * (1 + 0.4 * np.sin(5 * turn) + 0.05 * rng.normal(size=len(turn)))
    star = shapely.make_valid(Polygon(np.column_stack([radius * np.cos(turn), radius * np.sin(turn)])))
    shape = star.difference(Point(rng.uniform(-200, 200, 2)).buffer(40, quad_segs=30))
    x, y = rng.uniform(-500, 500, (2, 12))
    sigma = rng.choice([0.5, 3.0, 30.0, 300.0], 12)
    found = shares_of(EdgeTable.of(areas_of([shape])), np.zeros(12, int), x, y, sigma)
    lines = shapely.boundary(shape)
    for number in range(12):
        place = x[number], y[number]
        assert found.chance[number] == pytest.approx(every_edge(shape, *place, sigma[number]), abs=1e-13)
        assert abs(found.line_distance_m[number]) == pytest.approx(lines.distance(Point(place)), abs=1e-9)
        assert found.inside[number] == shape.contains(Point(place))


def every_edge(shape, x, y, sigma):
    """The closed form, edge by edge."""
    total = 0.0
    for part in shapely.get_parts(shape):
        ordered = shapely.geometry.polygon.orient(part, 1.0)
        for ring in (ordered.exterior, *ordered.interiors):
            corners = (shapely.get_coordinates(ring) - (x, y)) / sigma
            for a, b in itertools.pairwise(corners):
                edge, length = b - a, math.dist(a, b)
                cross = (a[0] * b[1] - a[1] * b[0]) / length if length else 0.0
                if abs(cross) > 1e-12:
                    x1, x2 = (a @ edge) / length / abs(cross), (b @ edge) / length / abs(cross)
                    turned = (math.atan(x2) - math.atan(x1)) / (2 * math.pi)
                    missed = owens_t(abs(cross), x2) - owens_t(abs(cross), x1)
                    total += math.copysign(1.0, cross) * (turned - missed)
    return total


def test_an_outline_of_many_corners_far_away_costs_nothing():
    circle = Point(0, 0).buffer(5000, quad_segs=2000)
    assert chance_inside(circle, 0, 0, 5.0) == pytest.approx(1.0, abs=1e-12)
    assert chance_inside(circle, 6000, 0, 5.0) == pytest.approx(0.0, abs=1e-12)


def test_far_from_the_origin_nothing_is_lost():
    near = chance_inside(box(0, 0, 10, 10), 3, 4, 2.0)
    far = chance_inside(box(600_000, 4_650_000, 600_010, 4_650_010), 600_003, 4_650_004, 2.0)
    assert far == pytest.approx(near, abs=1e-9)


def test_either_winding_means_the_same():
    ring = [(0, 0), (10, 0), (10, 10), (0, 10)]
    assert chance_inside(Polygon(ring), 4, 4, 3) == chance_inside(Polygon(ring[::-1]), 4, 4, 3)


def test_pieces_add_up():
    pieces = MultiPolygon([box(0, 0, 4, 4), box(6, 0, 9, 9)])
    total = chance_inside(box(0, 0, 4, 4), 5, 3, 2) + chance_inside(box(6, 0, 9, 9), 5, 3, 2)
    assert chance_inside(pieces, 5, 3, 2) == pytest.approx(total, abs=1e-12)


def test_on_an_edge_and_on_a_corner():
    square = box(0, 0, 1000, 1000)
    assert chance_inside(square, 500, 0, 3) == pytest.approx(0.5, abs=1e-9)
    assert chance_inside(square, 0, 0, 3) == pytest.approx(0.25, abs=1e-9)
    # along the extension of an edge, outside the shape
    assert chance_inside(square, -30, 0, 3) == pytest.approx(0.0, abs=1e-9)


def test_a_repeated_corner_is_harmless():
    assert chance_inside(Polygon([(0, 0), (9, 0), (9, 0), (9, 9), (0, 9)]), 2, 2, 2) == pytest.approx(
        chance_inside(box(0, 0, 9, 9), 2, 2, 2), abs=1e-12
    )


def test_a_sure_position():
    square = box(0, 0, 10, 10)
    assert [chance_inside(square, x, 5, 0.0) for x in (5, 10, 11)] == [1.0, 0.5, 0.0]


def test_an_invalid_shape_is_mended():
    bow_tie = Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])
    halves = MultiPolygon([Polygon([(0, 0), (5, 5), (0, 10)]), Polygon([(10, 0), (10, 10), (5, 5)])])
    assert chance_inside(bow_tie, 2, 5, 2) == pytest.approx(chance_inside(halves, 2, 5, 2), abs=1e-12)


@pytest.mark.parametrize("shape", [Point(0, 0), LineString([(0, 0), (1, 1)]), Polygon()])
def test_what_has_no_inside_holds_nothing(shape):
    assert chance_inside(shape, 0, 0, 2) == 0.0


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -1.0])
def test_nonsense_is_refused(bad):
    with pytest.raises(WrongUsage):
        chance_inside(box(0, 0, 1, 1), 0, 0, bad)
    with pytest.raises(WrongUsage):
        sigma_of_radius(bad)


def test_more_nonsense_is_refused():
    with pytest.raises(WrongUsage):
        chance_inside(box(0, 0, 1, 1), float("nan"), 0, 1)
    with pytest.raises(WrongUsage):
        circular_radius(1.0, 1.0)
    with pytest.raises(WrongUsage):
        averaged_sigma(1.0, 0, 0.5)
    with pytest.raises(WrongUsage):
        line_setback(1.0, 1.0, 0.3)
    with pytest.raises(WrongUsage):
        sigma_of_radius(3.0, 0.0)

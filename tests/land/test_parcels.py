"""Whose ground: stacked, cut-up, overlapping and missing parcels, and their own line errors."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import Voronoi
from shapely.geometry import MultiPolygon, Polygon, box

from prospect.land import (
    chance_inside,
    nameless_touching,
    parcels_at,
    parcels_touching,
    read_parcels,
    read_parcels_at,
)

CRS = "EPSG:32709"


def frame(ids, shapes, **columns) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame({"parcel_id": ids, **columns}, geometry=list(shapes), crs=CRS)


def test_every_owner_of_a_stacked_parcel_is_kept(parcels):
    hits = parcels_at(parcels, 50, 50, 5, 3)
    assert [(hit.parcel_id, hit.owner) for hit in hits] == [("007", "Tobit Marl"), ("007", "Wenna Marl")]
    assert all(hit.chance_inside == pytest.approx(1.0) for hit in hits)
    assert all(hit.line_distance_m == pytest.approx(50.0) for hit in hits)


def test_near_a_line_both_sides_are_named(parcels):
    reading = read_parcels_at(parcels, 99, 50, 5, 3)
    chance = {hit.parcel_id: hit.chance_inside for hit in reading.hits}
    assert chance["007"] + chance["008"] == pytest.approx(1.0, abs=1e-9)
    assert chance["007"] > 0.5 > chance["008"] > 0.3
    distance = {hit.parcel_id: hit.line_distance_m for hit in reading.hits}
    assert distance == {"007": pytest.approx(1.0), "008": pytest.approx(-1.0)}
    assert reading.chance_unmapped == pytest.approx(0.0, abs=1e-9)


def test_a_gap_is_said(parcels):
    reading = read_parcels_at(parcels, 250, 50, 5, 3)
    assert reading.hits == ()
    assert reading.chance_unmapped == pytest.approx(1.0)


def test_a_parcel_brings_its_own_line_error(parcels):
    sharp = parcels.assign(line_error_m=[0.3, 0.3, 0.3, None])
    assert parcels_at(sharp, 97, 50, 1, 20)[0].chance_inside > 0.99
    assert parcels_at(parcels, 97, 50, 1, 20)[0].chance_inside < 0.7


def test_pieces_of_one_parcel_are_one_hit():
    (hit,) = parcels_at(frame(["1", "1 "], [box(0, 0, 50, 100), box(50, 0, 100, 100)]), 50, 50, 5, 3)
    assert hit.chance_inside == pytest.approx(1.0, abs=1e-9)
    assert hit.line_distance_m == pytest.approx(50.0)


def test_a_repeated_row_changes_nothing():
    once, twice = frame(["1"], [box(0, 0, 50, 50)]), frame(["1", "1"], [box(0, 0, 50, 50)] * 2)
    assert read_parcels_at(once, 48, 20, 5, 3) == read_parcels_at(twice, 48, 20, 5, 3)


def test_overlapping_parcels_do_not_hide_a_gap():
    # 60..95 belongs to two, 100..110 to nobody, then comes a third: the plain sum of chances is over one.
    lots = frame(["a", "b", "c"], [box(0, -500, 95, 500), box(60, -500, 100, 500), box(110, -500, 900, 500)])
    reading = read_parcels_at(lots, 99, 0, 15, 10)
    covered = shapely.union_all(lots.geometry.to_numpy())
    sigma = np.hypot(15 / 1.5095921854516636, 10)
    assert reading.chance_unmapped == pytest.approx(1 - chance_inside(covered, 99, 0, sigma), abs=1e-9)
    assert sum(hit.chance_inside for hit in reading.hits) > 1.0


def test_many_overlaps_count_each_piece_of_ground_once():
    rng = np.random.default_rng(3)
    shapes = [
        box(x, y, x + w, y + h) for x, y, w, h in rng.uniform((0, 0, 20, 20), (80, 80, 60, 60), (25, 4))
    ]
    lots = frame([str(n) for n in range(25)], shapes)
    x, y = rng.uniform(-20, 120, (2, 60))
    found = read_parcels(lots, x, y, np.full(60, 4.0), 3.0)
    union = shapely.union_all(shapes)
    expected = [1 - chance_inside(union, a, b, 5.0) for a, b in zip(x, y, strict=True)]
    assert found.chance_unmapped == pytest.approx(expected, abs=1e-9)


def test_a_parcel_without_a_shape_or_with_a_line_holds_nothing():
    odd = frame(
        ["none", "empty", "line", "whole"],
        [None, Polygon(), shapely.LineString([(0, 0), (9, 9)]), box(-50, -50, 50, 50)],
    )
    assert [hit.parcel_id for hit in parcels_at(odd, 0, 0, 5, 3)] == ["whole"]


def test_a_shape_that_crosses_itself_is_mended():
    bow = frame(["bow"], [Polygon([(0, 0), (100, 100), (100, 0), (0, 100)])])
    assert parcels_at(bow, 10, 50, 1, 1)[0].chance_inside > 0.99
    assert parcels_at(bow, 50, 10, 1, 1) == ()


def test_a_hole_is_somebody_elses():
    ring = box(0, 0, 100, 100).difference(box(40, 40, 60, 60))
    lots = frame(["ring", "hole"], [ring, box(40, 40, 60, 60)])
    first, second = parcels_at(lots, 50, 50, 5, 3)
    assert (first.parcel_id, second.parcel_id) == ("hole", "ring")
    assert first.chance_inside + second.chance_inside == pytest.approx(1.0, abs=1e-9)
    assert second.line_distance_m == pytest.approx(-10.0)


def test_large_coordinates_cost_no_digits():
    near = read_parcels_at(frame(["a"], [box(0, 0, 40, 40)]), 38, 20, 5, 3)
    far = frame(["a"], [box(833_000, 9_999_000, 833_040, 9_999_040)])
    assert read_parcels_at(far, 833_038, 9_999_020, 5, 3).hits[0].chance_inside == pytest.approx(
        near.hits[0].chance_inside, abs=1e-9
    )


def test_zero_errors_are_a_plain_point_in_polygon():
    lots = frame(["a", "b"], [box(0, 0, 50, 50), box(50, 0, 100, 50)])
    assert [(hit.parcel_id, hit.chance_inside) for hit in parcels_at(lots, 20, 20, 0, 0)] == [("a", 1.0)]
    assert [(hit.parcel_id, hit.chance_inside) for hit in parcels_at(lots, 50, 20, 0, 0)] == [
        ("a", 0.5),
        ("b", 0.5),
    ]


def test_what_lies_beyond_the_reach_is_negligible():
    # The mass of a circular normal error beyond seven standard deviations is exp(-7²/2).
    lots = frame(["near", "far"], [box(-20, -20, 20, 20), box(20, -5000, 5000, 5000)])
    for away in (60.0, 75.0, 90.0):
        reading = read_parcels_at(lots, -away + 20, 0, 0.0, 10.0)
        exact = sum(chance_inside(shape, -away + 20, 0, 10.0) for shape in lots.geometry)
        assert 1 - reading.chance_unmapped == pytest.approx(exact, abs=2.3e-11)


def test_a_parcel_without_identifier_is_noticed_under_a_site(parcels):
    assert nameless_touching(parcels, box(290, 10, 310, 20))
    assert not nameless_touching(parcels, box(90, 10, 110, 20))


def test_parcels_touching_a_site(parcels):
    assert parcels_touching(parcels, box(90, 10, 110, 20)) == ("007", "008")


def test_no_parcels_in_an_empty_layer():
    empty = gpd.GeoDataFrame({"parcel_id": []}, geometry=[], crs=CRS)
    assert read_parcels_at(empty, 0, 0, 5, 3).chance_unmapped == 1.0


@given(st.integers(0, 2**32 - 1), st.floats(0.5, 30))
@settings(max_examples=40, deadline=None)
def test_the_chances_of_a_partition_add_up_to_one(seed, sigma):
    # Source: definition. A plane cut into cells without gap or overlap.
    rng = np.random.default_rng(seed)
    seeds = np.vstack(
        [rng.uniform(-100, 100, (30, 2)), 2000 * np.array([(1, 0), (-1, 0.1), (0.1, 1), (0, -1)])]
    )
    cells = Voronoi(seeds)
    shapes = [
        Polygon(cells.vertices[region]).intersection(box(-1000, -1000, 1000, 1000))
        for region in cells.regions
        if region and -1 not in region
    ]
    outside = box(-1000, -1000, 1000, 1000).difference(shapely.union_all(shapes))
    lots = frame([str(n) for n in range(len(shapes) + 1)], [*shapes, outside])
    x, y = rng.uniform(-100, 100, (2, 20))
    found = read_parcels(lots, x, y, np.full(20, sigma), 0.0)
    total = np.bincount(found.spot, weights=found.chance, minlength=20) + found.chance_unnamed
    assert total == pytest.approx(np.ones(20), abs=1e-9)
    assert found.chance_unmapped == pytest.approx(np.zeros(20), abs=1e-9)


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=8, deadline=None)
def test_many_at_once_is_one_at_a_time(seed):
    rng = np.random.default_rng(seed)
    corners = rng.uniform(-60, 60, (12, 5, 2)) + rng.uniform(-200, 200, (12, 1, 2))
    shapes = [MultiPolygon([Polygon(ring), box(*ring[0], *(ring[0] + 30))]) for ring in corners]
    lots = frame(
        [str(n // 2) for n in range(12)], shapes, owner=["ann", "bo", "ann"] * 4, line_error_m=[1.0, None] * 6
    )
    x, y, sigma = rng.uniform(-200, 200, 15), rng.uniform(-200, 200, 15), rng.uniform(0, 20, 15)
    many = read_parcels(lots, x, y, sigma, 6.0)
    for number in range(15):
        one = read_parcels(
            lots, x[number : number + 1], y[number : number + 1], sigma[number : number + 1], 6.0
        ).at(0)
        both = many.at(number)
        assert [(hit.parcel_id, hit.owner) for hit in one.hits] == [
            (hit.parcel_id, hit.owner) for hit in both.hits
        ]
        for mine, theirs in zip(one.hits, both.hits, strict=True):
            assert mine.chance_inside == pytest.approx(theirs.chance_inside, abs=1e-12)
            assert mine.line_distance_m == pytest.approx(theirs.line_distance_m, abs=1e-9)


def test_a_county_of_parcels_in_pieces_is_read_at_once():
    # Five thousand parcels of two pieces each, the pieces far apart in the file.
    left = [box(40 * n, 0, 40 * n + 20, 50) for n in range(5000)]
    right = [box(40 * n + 20, 0, 40 * n + 40, 50) for n in range(5000)]
    lots = frame([str(n) for n in (*range(5000), *range(5000))], [*left, *right])
    x = np.arange(10.0, 200_000.0, 400.0)
    found = read_parcels(lots, x, np.full(len(x), 25.0), np.full(len(x), 0.0), 0.0)
    assert [found.at(n).hits[0].parcel_id for n in range(len(x))] == [str(int(v // 40)) for v in x]
    assert found.line_distance_m == pytest.approx(np.full(len(found.spot), 10.0))

"""Which mapped things keep people out of a spot, or make them ask."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiLineString, Point, box

from prospect.land import constraints_at, read_constraints, shipped_rules

CRS = "EPSG:32709"


def keepouts(*rows) -> gpd.GeoDataFrame:
    kinds, names, shapes = zip(*rows, strict=True)
    return gpd.GeoDataFrame({"kind": kinds, "name": names}, geometry=list(shapes), crs=CRS)


def test_every_shipped_rule_has_a_reason_and_a_reference():
    rules = shipped_rules()
    assert len({rule.key for rule in rules}) == len(rules) >= 20
    assert all(rule.reason.endswith(".") and rule.reference for rule in rules)
    assert {rule.layer for rule in rules} == {"water", "wetlands", "roads", "keepouts", "unmapped"}


@pytest.mark.parametrize(
    ("kind", "key"),
    [
        ("Cemetery", "burial_ground"),
        ("burial_ground", "burial_ground"),
        ("archaeological site", "heritage_site"),
        ("Gas line", "buried_line"),
        ("septic", "septic_system"),
        ("wells", "well"),
        ("Nature Reserve", "protected_land"),
        ("sinkholes", "unstable_slope"),
        ("AE", "floodway"),
        ("grave_yard", "burial_ground"),
        ("tribal land", "first_nations_land"),
        ("neighbour's bull", "own_keep_out"),
        ("", "own_keep_out"),
    ],
)
def test_words_find_their_rule(kind, key):
    frame = keepouts((kind, None, box(0, 0, 10, 10)))
    assert [hit.rule.key for hit in constraints_at({"keepouts": frame}, 5, 5, 1, "dig")] == [key]


def test_a_flood_map_also_draws_ground_that_does_not_flood():
    # Zone X lies outside the flood hazard areas (44 CFR 64.3).
    frame = keepouts(
        ("X", None, box(0, 0, 10, 10)), ("AREA OF MINIMAL FLOOD HAZARD", None, box(0, 0, 10, 10))
    )
    assert constraints_at({"keepouts": frame}, 5, 5, 1, "dig") == ()


def test_a_name_counts_only_where_the_kind_says_nothing():
    frame = keepouts(("water main", "From Osmer Well to town", box(0, 0, 10, 10)))
    assert [hit.rule.key for hit in constraints_at({"keepouts": frame}, 5, 5, 1, "dig")] == ["buried_line"]
    frame = keepouts(("fenced", "Osmer Well", box(0, 0, 10, 10)))
    assert [hit.rule.key for hit in constraints_at({"keepouts": frame}, 5, 5, 1, "dig")] == ["well"]


@pytest.mark.parametrize("name", ["X", "D", "A", "x"])
@pytest.mark.parametrize("kind", ["", None, "keep out"])
def test_a_place_named_by_a_letter_is_no_flood_zone(kind, name):
    frame = keepouts((kind, name, box(0, 0, 10, 10)))
    assert [hit.rule.key for hit in constraints_at({"keepouts": frame}, 5, 5, 1, "dig")] == ["own_keep_out"]


def test_what_restricts_nothing_lifts_no_rule_that_keeps_people_out():
    frame = keepouts(("gas line, area of minimal flood hazard", None, box(0, 0, 10, 10)))
    assert [hit.rule.key for hit in constraints_at({"keepouts": frame}, 5, 5, 1, "dig")] == ["buried_line"]


def test_a_lake_drawn_in_pieces_counts_as_one():
    whole = gpd.GeoDataFrame({"kind": ["pond"]}, geometry=[box(10, -400, 400, 400)], crs=CRS)
    slices = [box(10, y, 400, y + 2) for y in range(-400, 400, 2)]
    pieces = gpd.GeoDataFrame({"kind": ["pond"] * len(slices)}, geometry=slices, crs=CRS)
    for x in (-8.0, -4.0, 0.0, 4.0):
        (one,) = constraints_at({"water": whole}, x, 0, 8, "auger") or (None,)
        (many,) = constraints_at({"water": pieces}, x, 0, 8, "auger") or (None,)
        assert (one is None) == (many is None)
        assert one is None or one.rule == many.rule


def test_a_lake_keeps_people_out_and_its_shore_asks():
    lake = gpd.GeoDataFrame({"kind": ["lake or pond"]}, geometry=[box(0, 0, 100, 100)], crs=CRS)
    assert [h.rule.key for h in constraints_at({"water": lake}, 50, 50, 3, "auger")] == ["open_water"]
    assert [h.rule.key for h in constraints_at({"water": lake}, 114, 50, 1, "dig")] == ["shore"]


def test_a_word_inside_a_word_is_not_that_word():
    frame = keepouts(("parking of caravans", None, box(0, 0, 10, 10)))
    assert constraints_at({"keepouts": frame}, 5, 5, 1, "dig")[0].rule.key == "own_keep_out"


def test_distance_and_position_error_both_count():
    frame = keepouts(("cemetery", "Old Yard", box(0, 0, 10, 10)))
    assert constraints_at({"keepouts": frame}, 39, 5, 1, "dig")
    assert not constraints_at({"keepouts": frame}, 60, 5, 1, "dig")
    # 20 m beyond the reach: out of it with a good fix, not with a bad one
    assert constraints_at({"keepouts": frame}, 60, 5, 25, "dig")


def test_a_rule_holds_only_for_its_scopes():
    stream = gpd.GeoDataFrame({"kind": ["stream"]}, geometry=[LineString([(0, 0), (100, 0)])], crs=CRS)
    assert constraints_at({"water": stream}, 50, 5, 3, "dig")
    assert not constraints_at({"water": stream}, 50, 5, 3, "walk")


def test_a_layer_without_a_kind_column_is_read():
    wet = gpd.GeoDataFrame(geometry=[box(0, 0, 50, 50)], crs=CRS)
    assert constraints_at({"wetlands": wet}, 20, 20, 3, "auger")[0].rule.key == "wetland"


def test_the_hardest_comes_first():
    frame = keepouts(("floodway", None, box(0, 0, 99, 99)), ("well", None, Point(50, 60)))
    assert [hit.effect for hit in constraints_at({"keepouts": frame}, 50, 50, 3, "dig")] == [
        "stay out",
        "ask first",
    ]


@pytest.mark.parametrize(
    ("kind", "key", "effect"),
    [
        ("stream", "streambank", "ask first"),
        ("marsh", "wetland", "ask first"),
        ("lane", "roadside", "ask first"),
        ("well", "well", "stay out"),
        ("septic tank", "septic_system", "stay out"),
        ("house", "building", "stay out"),
        ("cemetery", "burial_ground", "stay out"),
        ("right-of-way", "right_of_way", "ask first"),
        ("gas line", "buried_line", "stay out"),
        ("nature reserve", "protected_land", "stay out"),
        ("mine shaft", "mine_opening", "stay out"),
        ("gravel pit", "mined_ground", "stay out"),
        ("landslide", "unstable_slope", "stay out"),
        ("sinkhole", "unstable_slope", "stay out"),
        ("archaeological site", "heritage_site", "stay out"),
        ("field drain", "field_drain", "ask first"),
        ("irrigation line", "field_drain", "ask first"),
        ("easement", "easement", "ask first"),
        ("hayfield", "crops", "ask first"),
        ("livestock", "stock", "ask first"),
        ("hunting lease", "hunting", "ask first"),
        ("my own note: leave alone", "own_keep_out", "stay out"),
    ],
)
def test_everything_that_can_forbid_digging_has_a_rule(kind, key, effect):
    layer = {"streambank": "water", "wetland": "wetlands", "roadside": "roads"}.get(key, "keepouts")
    hits = constraints_at({layer: keepouts((kind, None, box(0, 0, 10, 10)))}, 5, 5, 1, "dig")
    assert (key, effect) in [(hit.rule.key, hit.effect) for hit in hits]


def test_an_auger_in_a_stream_bed_asks_first_and_one_well_away_does_not():
    stream = gpd.GeoDataFrame({"kind": ["stream"]}, geometry=[LineString([(0, 0), (100, 0)])], crs=CRS)
    (hit,) = constraints_at({"water": stream}, 50, 2, 3, "auger")
    assert (hit.rule.key, hit.effect) == ("streambed", "ask first")
    assert not constraints_at({"water": stream}, 50, 40, 3, "auger")


@pytest.mark.parametrize(
    ("kind", "scope", "key"),
    [
        ("nest", "walk", "nest_or_roost"),
        ("bat cave", "walk", "nest_or_roost"),
        ("nesting place", "dig", "nest_or_roost"),
        ("well", "auger", "wellhead"),
        ("spring", "auger", "wellhead"),
    ],
)
def test_what_is_harmed_by_less_than_digging_keeps_people_out_earlier(kind, scope, key):
    # Own judgement, no source.
    hits = constraints_at({"keepouts": keepouts((kind, None, Point(5, 9)))}, 5, 5, 3, scope)
    assert [(hit.rule.key, hit.effect) for hit in hits] == [(key, "stay out")]


def test_looking_needs_none_of_the_digging_rules():
    holding = {rule.key for rule in shipped_rules() if "look" in rule.scopes}
    assert holding == {"explosives", "first_nations_land", "own_keep_out"}


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=8, deadline=None)
def test_many_at_once_is_one_at_a_time(seed):
    rng = np.random.default_rng(seed)
    kinds = ["well", "cemetery", "AE", "old orchard", "X", "bull", "mine shaft"]
    shapes = [
        *shapely.buffer(shapely.points(rng.uniform(0, 300, (10, 2))), rng.uniform(1, 40, 10)),
        *shapely.linestrings(rng.uniform(0, 300, (10, 4, 2))),
        *shapely.points(rng.uniform(0, 300, (10, 2))),
    ]
    frame = gpd.GeoDataFrame({"kind": rng.choice(kinds, 30)}, geometry=shapes, crs=CRS)
    layers = {"keepouts": frame, "water": frame.assign(kind="lake"), "roads": frame}
    x, y, sigma = rng.uniform(0, 300, 12), rng.uniform(0, 300, 12), rng.uniform(0.1, 20, 12)
    many = read_constraints(layers, x, y, sigma, "dig")
    for number in range(12):
        one = read_constraints(layers, *(v[number : number + 1] for v in (x, y, sigma)), "dig")
        alone = [one.hit(hit) for hit in range(len(one.spot))]
        together = [many.hit(hit) for hit in np.flatnonzero(many.spot == number)]
        assert [hit.rule.key for hit in alone] == [hit.rule.key for hit in together]
        for mine, theirs in zip(alone, together, strict=True):
            assert mine.chance == pytest.approx(theirs.chance, abs=1e-12)
            assert mine.distance_m == pytest.approx(theirs.distance_m, abs=1e-9)


@given(st.floats(0, 60), st.floats(1, 15))
@settings(max_examples=40, deadline=None)
def test_simulated_positions_agree_with_the_reach(away, sigma):
    # Independent method: the share of simulated joint errors that end within the rule's reach.
    well = keepouts(("well", None, Point(0, 0)))
    (rule,) = [rule for rule in shipped_rules() if rule.key == "well"]
    drawn = np.random.default_rng(1).normal((away, 0), np.hypot(sigma, rule.map_error_m), (40_000, 2))
    share = (np.hypot(*drawn.T) <= rule.distance_m).mean()
    found = read_constraints({"keepouts": well}, np.array([away]), np.zeros(1), np.array([sigma]), "dig")
    if share > 0.07:
        assert found.chance[0] == pytest.approx(share, abs=0.015)
    if share < 0.03:
        assert len(found.spot) == 0


RING = [(0, 0), (200, 0), (200, 200), (0, 200), (0, 0)]


@pytest.mark.parametrize(
    ("kind", "outline", "words"),
    [
        ("cemetery", LineString(RING), "Burial"),
        ("cemetery", MultiLineString([RING[:3], RING[2:]]), "Burial"),
        ("park", LineString(RING), "rotected"),
        ("gas main", LineString(RING), ""),
        ("railway", LineString(RING), ""),
        ("cemetery", LineString(RING[:4]), ""),
    ],
)
def test_a_line_that_closes_is_an_outline_unless_the_thing_runs_along_it(kind, outline, words):
    """Common practice, no source: people draw a graveyard as a line around it, and a pipe around a village."""
    hits = constraints_at({"keepouts": keepouts((kind, "", outline))}, 100.0, 100.0, 3.0, "dig")
    assert [words in hit.rule.title for hit in hits] == ([True] if words else [])
    if words:
        assert hits[0].distance_m == 0.0
        assert hits[0].chance > 0.99
    assert len(constraints_at({"keepouts": keepouts((kind, "", outline))}, 100.0, 1.0, 3.0, "dig")) == 1

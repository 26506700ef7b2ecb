"""What a hole's form says, read without a screen."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from prospect.records import Hole, HoleLayer, Sample
from prospect.ui.hole_reading import (
    as_the_one_above,
    bag_name,
    content_of,
    deeper,
    facing_in_words,
    layer_of,
    next_hole_name,
    read_hole,
    sample_of,
    samples_from,
    spans_in_words,
    with_layer_below,
)

TODAY = "2026-11-26"
PLACED = {"name": "H1", "place": "47.49 S, 128.99 W"}
FULL = Hole(
    "H7",
    -128.99,
    -47.49,
    kind="auger",
    position_error_m=5.0,
    date="2026-05-31",
    depth_cm=120.0,
    stopped_by="water",
    water_cm=115.0,
    facing_deg=225.0,
    elevation_m=61.25,
    layers=(
        HoleLayer(0.0, 20.0, "no", "silt loam", "10YR 3/2", roots="many", fields={"ph": "5.5"}),
        HoleLayer(20.0, 45.5, "unknown", "clay loam", ribbon_cm=4.0, coil="cracks", stones_pct=5.0),
        HoleLayer(
            45.5, 120.0, "yes", "clay", "5Y 6/1", "5Y 7/1", fizz="none", fizz_with="vinegar", note="a\nb"
        ),
    ),
    fields={"team": "two of us"},
)


def read(content, units="metric", onto=None):
    return read_hole(content, units, TODAY, onto)


def test_a_hole_may_be_empty_but_for_name_and_place():
    hole = read(PLACED).hole
    assert hole == Hole("H1", -128.99, -47.49)


def test_a_hole_without_a_place_says_that_it_stays_a_draft():
    reading = read({"name": "H1", "layers": "1", "1 top": "0", "1 texture": "clay"})
    assert reading.hole is None
    assert "stays here as a draft" in reading.missing["place"]


def test_layers_are_read_from_the_top_down_and_an_empty_one_is_none():
    content = {
        **PLACED,
        "layers": "1 3 4",
        "1 top": "20", "1 bottom": "45", "1 coil": "bends",
        "3 top": "0", "3 bottom": "20", "3 roots": "many",
        "4 top": "45",
    }  # fmt: skip
    reading = read(content)
    assert [(layer.top_cm, layer.bottom_cm) for layer in reading.hole.layers] == [(0, 20), (20, 45)]
    assert reading.order == ("3", "1")
    assert reading.hole.layers[1].coil == "bends"
    assert reading.doubts == ()


def test_depths_are_in_the_units_of_the_ground_unless_they_name_their_own():
    content = {**PLACED, "layers": "1", "1 top": "6", "1 bottom": "1 ft", "1 ribbon": "2", "depth": "4 ft"}
    hole = read(content, "us").hole
    # The international inch is 2.54 cm and the foot 30.48 cm by definition (1959).
    assert (hole.layers[0].top_cm, hole.layers[0].bottom_cm) == (15.24, 30.48)
    assert hole.layers[0].ribbon_cm == 5.08
    assert hole.depth_cm == 121.92


@pytest.mark.parametrize(
    ("field", "text", "said"),
    [
        ("1 top", "deep", "is not a length"),
        ("1 bottom", "5", "does not lie below"),
        ("1 stones", "many", "from 0 to 100"),
        ("1 stones", "101", "from 0 to 100"),
        ("1 ribbon", "70", "is not a length"),
        ("facing", "up", "Expected degrees"),
        ("facing", "361", "Expected degrees"),
        ("depth", "20", "The layers go down to 45 cm"),
        ("day", "2999-01-01", "a date until today"),
        ("place", "over there", "Expected latitude and longitude"),
    ],
)
def test_what_cannot_be_is_said_by_field(field, text, said):
    content = {**PLACED, "layers": "1", "1 top": "10", "1 bottom": "45", field: text}
    reading = read(content)
    assert reading.hole is None
    assert list(reading.wrong) == [field]
    assert said in reading.wrong[field]


def test_water_and_no_water_cannot_both_be():
    assert "cannot both be" in read({**PLACED, "water": "80", "dry": "yes"}).wrong["water"]
    assert read({**PLACED, "dry": "yes"}).hole.dry == "yes"


def test_overlaps_and_gaps_are_doubted_and_can_be_saved():
    content = {
        **PLACED, "layers": "1 2 3", "1 top": "0", "1 bottom": "30", "2 top": "25", "2 bottom": "40", "3 top": "50",
        "3 bottom": "60",
    }  # fmt: skip
    reading = read(content)
    assert reading.hole is not None
    assert reading.doubts == (
        "A layer ends at 30 cm and the next begins at 25 cm: they overlap.",
        "From 40 to 50 cm nothing is noted.",
    )


@pytest.mark.parametrize(
    ("text", "degrees"), [("SW", 225), ("225°", 225), ("south-west", 225), ("north", 0), ("NNE", 22.5)]
)
def test_a_face_looks_to_a_point_or_to_degrees(text, degrees):
    assert read({**PLACED, "facing": text}).hole.facing_deg == degrees


def test_a_bearing_is_said_as_the_nearest_of_sixteen_points():
    assert facing_in_words(225.0) == "SW (225°)"
    assert facing_in_words(359.0) == "N (359°)"


@pytest.mark.parametrize("units", ["metric", "us"])
def test_what_is_not_touched_stays_to_the_last_decimal(units):
    odd = replace(
        FULL, lon=-128.123456789, depth_cm=333.333, layers=(HoleLayer(0.1234, 99.8765, fields={"x": "y"}),)
    )
    content = content_of(odd, units)
    assert read(content, units, odd).hole == odd
    changed = read({**content, "1 coil": "breaks"}, units, odd).hole
    assert changed == replace(odd, layers=(replace(odd.layers[0], coil="breaks"),))


def test_every_field_comes_back_from_its_form():
    again = read(content_of(FULL, "metric"), onto=None).hole
    kept = tuple(replace(layer, fields={}) for layer in FULL.layers)
    assert again == replace(FULL, elevation_m=None, fields={}, layers=kept)


def test_the_next_layer_begins_where_the_last_one_ends():
    changes, mark = with_layer_below({})
    assert (changes, mark) == ({"layers": "1", "1 top": "0"}, "1")
    content = {**changes, "1 bottom": "45"}
    changes, mark = with_layer_below(content)
    assert (changes["2 top"], mark) == ("45", "2")
    empty = {**content, **changes}
    assert with_layer_below(empty) == ({}, "2")


def test_a_mark_of_a_layer_that_was_taken_out_is_not_used_again():
    content = {"layers": "1", "1 top": "0", "1 bottom": "20", "was 2 top": "20"}
    assert with_layer_below(content)[1] == "2"
    content["3 bagged"] = "H1-1"
    assert with_layer_below(content)[1] == "4"


def test_as_the_layer_above_fills_only_what_is_empty():
    content = {
        "layers": "1 2", "1 top": "0", "1 bottom": "20", "1 coil": "bends", "1 grit": "none", "1 note": "x",
        "2 top": "20", "2 grit": "much",
    }  # fmt: skip
    assert as_the_one_above(content, "2") == {"2 coil": "bends"}
    assert as_the_one_above(content, "1") == {}


def test_a_tap_takes_the_lower_end_deeper():
    assert deeper({"1 top": "20"}, "1", 10) == {"1 bottom": "30"}
    assert deeper({"1 top": "20", "1 bottom": "30"}, "1", 10) == {"1 bottom": "40"}
    assert deeper({}, "1", 5) == {"1 bottom": "5"}
    assert deeper({"1 bottom": "about 3 ft"}, "1", 5) == {}


@pytest.mark.parametrize(
    ("newest_first", "free"),
    [([], "H1"), (["H3", "H2"], "H4"), (["pit by the ash tree"], "H1"), (["F09"], "F10")],
)
def test_the_name_offered_for_a_hole_is_short_and_free(newest_first, free):
    assert next_hole_name(set(newest_first), newest_first) == free


@pytest.mark.parametrize(
    ("hole", "taken", "free"),
    [
        ("H3", [], "H3-1"),
        ("H3", ["H3-1"], "H3-2"),
        ("by the old ash", ["S1"], "S2"),
        ("", [], "S1"),
        ("é\u202e", [], "é-1"),
    ],
)
def test_the_name_on_a_bag_is_short_and_free(hole, taken, free):
    assert bag_name(hole, set(taken), taken) == free


def test_a_bag_has_the_place_the_depths_and_the_day_of_its_hole():
    bag = sample_of(FULL, FULL.layers[2], "H7-1")
    assert bag == Sample("H7-1", -128.99, -47.49, "H7", 5.0, 45.5, 120.0, "2026-05-31", "yes")
    bags = [bag, replace(bag, sample_id="a", top_cm=None), replace(bag, sample_id="b", hole_id="H8")]
    assert [sample.sample_id for sample in samples_from(bags, "H7")] == ["H7-1", "a"]


def test_a_depth_of_nothing_is_not_a_depth_that_is_not_known():
    assert spans_in_words(0.0, 20.0, "metric") == "0 to 20 cm"
    assert spans_in_words(None, None, "metric") == ""
    assert spans_in_words(0.0, None, "metric") == "from 0 cm on"


@given(
    st.dictionaries(st.sampled_from([*content_of(FULL, "metric"), "1 stones", "dry"]), st.text(max_size=12))
)
def test_no_text_breaks_the_reading(texts):
    content = {**content_of(FULL, "metric"), **texts}
    reading = read_hole({name: text for name, text in content.items() if text}, "metric", TODAY, FULL)
    assert (reading.hole is None) == bool(reading.wrong or reading.missing)
    assert json.dumps(reading.wrong)


def test_layer_fields_are_named_by_their_layer():
    assert layer_of({"12 smell": "earthy", "1 smell": "none"}, "12") == {"smell": "earthy"}

from __future__ import annotations

import geopandas as gpd
import pytest
from shapely.geometry import LineString, Point, box

from prospect.errors import DefinitionError
from prospect.land import (
    CAUTIONS,
    LandLayers,
    Ledger,
    Seen,
    Spot,
    check_spot,
    constraints_at,
    load_rule,
    load_rules,
    parcels_at,
    parcels_touching,
    permission_word,
    read_parcels_at,
    shipped_rules,
    standing,
    unmapped_rules,
)
from prospect.records import Looked, Permission

CRS = "EPSG:32617"


@pytest.fixture
def parcels() -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(
        {"parcel_id": ["007", "007", "008", ""], "owner": ["Wenna Marl", "Tobit Marl", None, ""]},
        geometry=[box(0, 0, 100, 100), box(0, 0, 100, 100), box(100, 0, 200, 100), box(300, 0, 400, 100)],
        crs=CRS,
    )


def keepouts(*rows) -> gpd.GeoDataFrame:
    kinds, names, shapes = zip(*rows, strict=True)
    return gpd.GeoDataFrame({"kind": kinds, "name": names}, geometry=list(shapes), crs=CRS)


def grant(parcel: str = "007", **changes) -> Permission:
    return Permission(
        **{"parcel_id": parcel, "status": "granted", "scope": "dig", "recorded": "2026-01-01", **changes}
    )


# ---- parcels ----


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
    frame = gpd.GeoDataFrame(
        {"parcel_id": ["1", "1"]}, geometry=[box(0, 0, 50, 100), box(50, 0, 100, 100)], crs=CRS
    )
    (hit,) = parcels_at(frame, 50, 50, 5, 3)
    assert hit.chance_inside == pytest.approx(1.0, abs=1e-9)
    assert hit.line_distance_m == pytest.approx(50.0)


def test_a_parcel_without_identifier_still_has_a_say(parcels):
    check = check_spot(Spot(350, 50), LandLayers(parcels), line_error_m=3, ledger=Ledger([grant("")]))
    assert check.verdict == "ask first"
    assert "without identifier" in check.reasons[0]


def test_parcels_touching_a_site(parcels):
    assert parcels_touching(parcels, box(90, 10, 110, 20)) == ("007", "008")


def test_no_parcels_in_an_empty_layer():
    empty = gpd.GeoDataFrame({"parcel_id": []}, geometry=[], crs=CRS)
    assert read_parcels_at(empty, 0, 0, 5, 3).chance_unmapped == 1.0


# ---- permissions ----


def test_the_latest_entry_speaks():
    ledger = [grant(recorded="2026-03-01"), grant(status="withdrawn", recorded="2026-04-01")]
    assert standing(ledger, "007", "dig", "2026-05-01").word == "withdrawn"
    assert standing(ledger[::-1], "007", "dig", "2026-05-01").keep_away


@pytest.mark.parametrize(
    ("changes", "scope", "on", "word"),
    [
        ({}, "dig", "", "granted"),
        ({}, "walk", "", "granted"),
        ({}, "take", "", "not for this"),
        ({"scope": None}, "look", "", "not for this"),
        ({"valid_until": "2026-06-30"}, "dig", "2026-06-30", "granted"),
        ({"valid_until": "2026-06-30"}, "dig", "2026-07-01", "run out"),
        ({"valid_until": "2026-06-30"}, "dig", "", "run out"),
        ({"valid_from": "2026-06-01"}, "dig", "2026-05-31", "run out"),
        ({"status": "asked"}, "dig", "", "asked"),
        ({"status": "refused"}, "look", "", "refused"),
        ({"status": "do-not-ask"}, "look", "", "do not ask"),
    ],
)
def test_what_a_grant_is_worth(changes, scope, on, word):
    assert standing([grant(**changes)], "007", scope, on).word == word


def test_another_parcel_does_not_help():
    assert standing([grant("0070")], "007", "look", "").word == "not asked"


def test_one_word_for_several_parcels():
    ledger = [grant("1"), grant("2", status="asked"), grant("3", status="refused")]
    assert permission_word(ledger, ["1"], "dig", "") == "granted"
    assert permission_word(ledger, ["1", "2"], "dig", "") == "asked"
    assert permission_word(ledger, ["1", "2", "3"], "dig", "") == "refused"
    assert permission_word(ledger, [], "dig", "") == "not asked"


# ---- keep-outs ----


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


def test_faults_in_a_rule_file_are_named(tmp_path):
    path = tmp_path / "odd.toml"
    path.write_text('key = "odd"\ntitle = "Odd"\nlayer = "sky"\neffect = "stay out"\nreach = 3\n', "utf-8")
    with pytest.raises(DefinitionError) as caught:
        load_rule(path)
    places = {issue.place for issue in caught.value.issues}
    assert {"layer", "reach", "reason", "reference", "scopes"} <= places


def test_a_negative_distance_is_refused(tmp_path):
    text = (
        'key = "odd"\ntitle = "Odd"\nlayer = "water"\neffect = "stay out"\nscopes = ["dig"]\n'
        'reason = "Because."\nreference = "own judgement"\ndistance_m = -1\n'
    )
    (tmp_path / "odd.toml").write_text(text, "utf-8")
    with pytest.raises(DefinitionError, match="distance_m"):
        load_rules(tmp_path)


# ---- the verdict ----


def test_no_parcel_layer_is_unknown_and_said():
    check = check_spot(Spot(0, 0), LandLayers())
    assert check.verdict == "unknown"
    assert "no parcel layer" in check.reasons[0]
    assert check.parcels == ()
    assert check.cautions == CAUTIONS


def test_no_grant_on_record_is_ask_first(parcels):
    check = check_spot(Spot(50, 50), LandLayers(parcels), line_error_m=3)
    assert check.verdict == "ask first"
    assert "No permission is on record for parcel 007" in check.reasons[0]
    assert any("More than one owner" in reason for reason in check.reasons)


def test_leave_on_record_is_go(parcels):
    check = check_spot(Spot(50, 50), LandLayers(parcels), line_error_m=3, ledger=Ledger([grant()]))
    assert check.verdict == "go"
    assert check.reasons[0] == "Parcel 007: leave to dig is on record."


def test_a_neighbour_who_may_own_the_spot_has_a_say(parcels):
    layers, ledger = LandLayers(parcels), Ledger([grant()])
    assert check_spot(Spot(98, 50), layers, line_error_m=3, ledger=ledger).verdict == "ask first"
    both = Ledger([grant(), grant("008")])
    assert check_spot(Spot(98, 50), layers, line_error_m=3, ledger=both).verdict == "go"
    refused = Ledger([grant(), grant("008", status="refused")])
    assert check_spot(Spot(98, 50), layers, line_error_m=3, ledger=refused).verdict == "stay out"


def test_a_gap_between_parcels_is_unknown(parcels):
    check = check_spot(Spot(250, 50), LandLayers(parcels), line_error_m=3)
    assert check.verdict == "unknown"
    assert "No parcel is drawn here" in check.reasons[0]


def test_the_edge_of_a_gap_needs_asking(parcels):
    check = check_spot(Spot(198, 50), LandLayers(parcels), line_error_m=3, ledger=Ledger([grant("008")]))
    assert check.verdict == "ask first"
    assert "no parcel covers" in check.reasons[0]


def test_stay_out_beats_leave(parcels):
    layers = LandLayers(parcels, keepouts=keepouts(("cemetery", "Old Yard", box(40, 40, 60, 60))))
    check = check_spot(Spot(50, 50), layers, line_error_m=3, ledger=Ledger([grant()]))
    assert check.verdict == "stay out"
    assert check.reasons[0].startswith("Burial ground (Old Yard) here")


def test_stay_out_beats_not_knowing_the_owner():
    layers = LandLayers(keepouts=keepouts(("uxo", None, box(-9, -9, 9, 9))))
    assert check_spot(Spot(0, 0), layers).verdict == "stay out"


def test_water_asks_first_even_with_leave(parcels):
    water = gpd.GeoDataFrame({"kind": ["creek"]}, geometry=[LineString([(0, 60), (100, 60)])], crs=CRS)
    check = check_spot(
        Spot(50, 50), LandLayers(parcels, water=water), line_error_m=3, ledger=Ledger([grant()])
    )
    assert check.verdict == "ask first"


def test_layers_that_are_not_there_are_named(parcels):
    check = check_spot(Spot(50, 50), LandLayers(parcels), line_error_m=3)
    assert "No map of keep-outs, water, wetlands, roads" in check.reasons[-1]


def test_what_no_map_shows_is_asked_for_and_can_be_recorded(parcels):
    assert {rule.key for rule in unmapped_rules("dig")} >= {
        "utility_lines",
        "well_or_septic",
        "unmarked_grave",
    }
    assert unmapped_rules("walk") == ()
    layers = LandLayers(parcels)
    before = check_spot(Spot(50, 50), layers, line_error_m=3, ledger=Ledger([grant()]))
    assert any("Nobody has yet looked" in reason and "utility lines" in reason for reason in before.reasons)
    seen = Seen(Looked("utility_lines", 0.0, 0.0, clear=True, seen="ticket 4471", until="2026-06-01"), 52, 50)
    after = check_spot(
        Spot(50, 50), layers, line_error_m=3, ledger=Ledger([grant()], [seen]), on="2026-05-20"
    )
    assert any("ticket 4471" in reason for reason in after.reasons)
    late = check_spot(Spot(50, 50), layers, line_error_m=3, ledger=Ledger([grant()], [seen]), on="2026-06-02")
    assert not any("ticket 4471" in reason for reason in late.reasons)


def test_what_was_found_on_the_spot_keeps_people_out(parcels):
    seen = Seen(
        Looked("unmarked_grave", 0.0, 0.0, clear=False, seen="fieldstones in a row", until="2020-01-01"),
        50,
        50,
    )
    check = check_spot(
        Spot(50, 50), LandLayers(parcels), line_error_m=3, ledger=Ledger([grant()], [seen]), on="2026-05-20"
    )
    assert check.verdict == "stay out"
    assert "fieldstones in a row" in check.reasons[0]


def test_the_usual_cautions_are_always_there(parcels):
    text = " ".join(check_spot(Spot(50, 50), LandLayers(parcels), ledger=Ledger([grant()])).cautions)
    for word in ("utility-location", "well", "septic", "bone", "trench", "silica", "local law", "surveyor"):
        assert word in text.lower()

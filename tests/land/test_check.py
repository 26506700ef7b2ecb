"""The verdict and its words: what decides, what is said first, and for many spots as for one."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import LineString, box

from prospect.errors import WrongUsage
from prospect.land import (
    CAUTIONS,
    Intent,
    LandLayers,
    Ledger,
    Spot,
    Terms,
    check_spot,
    check_spots,
    unmapped_rules,
)
from prospect.records import LandCheck

ON = "2026-05-20"
SHARP = Terms(line_error_m=3.0)
HERE = Spot(150, 50)


def check(layers, *, spot=HERE, scope="dig", terms=SHARP, on=ON, permissions=(), looked=()) -> LandCheck:
    return check_spot(spot, layers, scope=scope, ledger=Ledger(permissions, looked), on=on, terms=terms)


def test_everything_in_order_is_go(parcels, mapped, make):
    answer = check(mapped(parcels), permissions=[make.grant()], looked=make.all_seen())
    assert answer.verdict == "go"
    assert answer.reasons[0] == "Leave to dig on parcel 008 is on record, hand tools only."
    assert answer.headline == "Go: leave to dig on parcel 008 is on record, hand tools only."
    assert answer.cautions == CAUTIONS


def test_leave_that_ends_says_when_in_the_first_line(parcels, mapped, make):
    both = [make.grant(), make.grant("007", valid_until="2026-06-30", speaks_as="all owners")]
    both[0] = make.grant(valid_until="2026-12-31")
    spot = Spot(101, 50)
    answer = check(mapped(parcels), spot=spot, permissions=both, looked=make.all_seen(101))
    assert answer.verdict == "go"
    assert answer.headline.startswith("Go: leave to dig on parcel 007 is on record until 2026-06-30")


def test_no_parcel_layer_is_unknown_and_said(mapped, make):
    answer = check(mapped(None), permissions=[make.grant()], looked=make.all_seen())
    assert answer.verdict == "unknown"
    assert "no parcel layer" in answer.reasons[0]
    assert answer.headline.startswith("Not known: whose ground this is")
    assert answer.parcels == ()
    assert answer.setbacks == ()


def test_no_grant_on_record_is_ask_first(parcels, mapped, make):
    answer = check(mapped(parcels), spot=Spot(50, 50), looked=make.all_seen(50))
    assert answer.verdict == "ask first"
    assert answer.headline == "Ask first: no permission is on record for parcel 007: ask the owner first."
    assert any(reason.startswith("Several owners share") for reason in answer.reasons)


def test_shared_ground_names_how_many_and_not_who(parcels, mapped, make):
    one = [make.grant("007", person="Wenna Marl")]
    answer = check(mapped(parcels), spot=Spot(50, 50), permissions=one, looked=make.all_seen(50))
    assert answer.verdict == "ask first"
    assert answer.reasons[0] == "1 of 2 owners of parcel 007 gave leave on record: ask the others too."
    assert not any("Tobit" in reason for reason in answer.reasons)


def test_a_neighbour_who_may_own_the_spot_has_a_say(parcels, mapped, make):
    layers, spot, seen = mapped(parcels), Spot(102, 50), make.all_seen(102)
    mine, theirs = make.grant(), make.grant("007", speaks_as="all owners")
    assert check(layers, spot=spot, permissions=[mine], looked=seen).verdict == "ask first"
    assert check(layers, spot=spot, permissions=[mine, theirs], looked=seen).verdict == "go"
    refused = make.grant("007", status="refused")
    answer = check(layers, spot=spot, permissions=[mine, refused], looked=seen)
    assert answer.verdict == "stay out"
    assert answer.headline == "Stay out: permission for parcel 007 was refused: stay off it."


def test_many_small_doubts_add_up(mapped, make):
    # A spot where twelve slivers without leave hold a little each, and together more than is allowed.
    lots = [box(-300, -300, 8, 300)] + [box(8 + 3 * k, -300, 11 + 3 * k, 300) for k in range(12)]
    frame = gpd.GeoDataFrame({"parcel_id": [f"p{k}" for k in range(13)]}, geometry=lots, crs=make.crs)
    answer = check(
        mapped(frame), spot=Spot(0, 0), permissions=[make.grant("p0")], looked=make.all_seen(0, 0),
        terms=Terms(line_error_m=4.0),
    )  # fmt: skip
    assert max(hit.chance_inside for hit in answer.parcels if hit.parcel_id != "p0") < 0.05
    assert answer.verdict == "ask first"
    assert "all the neighbours' together" in answer.reasons[0]


def test_how_sure_to_be_is_a_setting(parcels, mapped, make):
    spot, seen = Spot(110, 50), make.all_seen(110)
    for sure, verdict in ((0.95, "go"), (0.98, "go"), (0.99, "ask first")):
        terms = Terms(line_error_m=3.0, sure_inside=sure)
        assert (
            check(mapped(parcels), spot=spot, terms=terms, permissions=[make.grant()], looked=seen).verdict
            == verdict
        )


def test_a_go_that_a_low_sureness_allows_tells_the_doubt(parcels, mapped, make):
    spot, seen, leave = Spot(104, 50), make.all_seen(104), [make.grant()]
    low = check(mapped(parcels), spot=spot, terms=Terms(3.0, sure_inside=0.5), permissions=leave, looked=seen)
    assert low.verdict == "go"
    (told,) = (reason for reason in low.reasons if "without leave on record" in reason)
    assert f"{sum(hit.chance_inside for hit in low.parcels if hit.owner == 'Wenna Marl'):.0%}" in told
    sure = check(mapped(parcels), permissions=leave, looked=make.all_seen())
    assert not any("without leave" in reason for reason in sure.reasons)


def test_a_low_sureness_does_not_overrule_a_refusal(parcels, mapped, make):
    terms = Terms(line_error_m=3.0, sure_inside=0.5)
    entries = [make.grant(), make.grant("007", status="refused")]
    answer = check(
        mapped(parcels), spot=Spot(103, 50), terms=terms, permissions=entries, looked=make.all_seen(103)
    )
    assert answer.verdict == "stay out"


@pytest.mark.parametrize("sureness", [0.5, 0.8, 0.95])
def test_refusals_of_several_neighbours_add_up(mapped, make, sureness):
    # Either neighbour alone holds the spot with less than 5 %, both together with more.
    three = gpd.GeoDataFrame(
        {"parcel_id": ["008", "n", "s"], "owner": ["Ilsa Quern", "Nay Marl", "Nay Marl"]},
        geometry=[box(100, 0, 200, 100), box(200, 50, 300, 100), box(200, 0, 300, 50)],
        crs=make.crs,
    )
    spot, terms = Spot(195.0, 50.0, 5.0), Terms(line_error_m=0.0, sure_inside=sureness)
    refused = [make.grant(parcel, status="refused", scope=None) for parcel in ("n", "s")]
    leave, looked = [make.grant(), *refused], make.all_seen(195.0)
    told = check(mapped(three), spot=spot, terms=terms, permissions=leave, looked=looked)
    assert max(hit.chance_inside for hit in told.parcels[1:]) < 0.05
    assert (told.verdict, "was refused" in told.headline) == ("stay out", True)


@pytest.mark.parametrize(("apart_m", "told"), [(900, False), (1200, True)])
def test_one_number_in_two_places_far_apart_is_said(mapped, make, apart_m, told):
    pieces = [box(100, 0, 200, 100), box(200 + apart_m, 0, 300 + apart_m, 100)]
    frame = gpd.GeoDataFrame({"parcel_id": ["008", "008"]}, geometry=pieces, crs=make.crs)
    answer = check(mapped(frame), permissions=[make.grant()], looked=make.all_seen())
    assert answer.verdict == "go"
    assert any("make sure that the leave is for this place" in reason for reason in answer.reasons) == told


def test_own_setback_counts(parcels, mapped, make):
    layers, seen = mapped(parcels), make.all_seen(150)
    wide = Terms(line_error_m=3.0, own_setback_m=45.0)
    answer = check(layers, terms=wide, permissions=[make.grant()], looked=seen)
    assert answer.verdict == "ask first"
    assert answer.reasons[0].startswith("A parcel line is 50 m away: with your own set-back of 45 m")
    assert [one.own_m for one in answer.setbacks] == [45.0] * 3
    slim = Terms(line_error_m=3.0, own_setback_m=40.0)
    assert check(layers, terms=slim, permissions=[make.grant()], looked=seen).verdict == "go"


def test_a_gap_between_parcels_is_unknown(parcels, mapped, make):
    for x in (250, 225, 215):
        answer = check(mapped(parcels), spot=Spot(x, 50), permissions=[make.grant()], looked=make.all_seen(x))
        assert answer.verdict == "unknown"
        assert "No parcel is drawn here" in answer.reasons[0]


def test_the_edge_of_a_gap_needs_asking(parcels, mapped, make):
    answer = check(mapped(parcels), spot=Spot(198, 50), permissions=[make.grant()], looked=make.all_seen(198))
    assert answer.verdict == "ask first"
    assert "no parcel covers" in answer.reasons[0]


def test_a_parcel_without_identifier_still_has_a_say(parcels, mapped, make):
    answer = check(
        mapped(parcels), spot=Spot(350, 50), permissions=[make.grant("")], looked=make.all_seen(350)
    )
    assert answer.verdict == "ask first"
    assert "without identifier" in answer.reasons[0]


def test_stay_out_beats_leave(parcels, mapped, make):
    layers = mapped(parcels, keepouts=make.keepouts(("cemetery", "Old Yard", box(140, 40, 160, 60))))
    answer = check(layers, permissions=[make.grant()], looked=make.all_seen())
    assert answer.verdict == "stay out"
    assert answer.headline.startswith("Stay out: burial ground (Old Yard) here")


def test_stay_out_beats_not_knowing_the_owner(make):
    layers = LandLayers(keepouts=make.keepouts(("uxo", None, box(-9, -9, 9, 9))))
    assert check(layers, spot=Spot(0, 0)).verdict == "stay out"


def test_what_a_map_asks_about_is_settled_by_a_record_and_what_it_forbids_is_not(parcels, mapped, make):
    creek = gpd.GeoDataFrame({"kind": ["creek"]}, geometry=[LineString([(100, 60), (200, 60)])], crs=make.crs)
    layers = mapped(parcels, water=creek)
    seen = make.all_seen()
    assert check(layers, permissions=[make.grant()], looked=seen).verdict == "ask first"
    permit = make.seen("streambank", seen="county permit 12")
    settled = check(layers, permissions=[make.grant()], looked=[*seen, permit])
    assert settled.verdict == "go"
    assert any("Looked at and settled: county permit 12" in reason for reason in settled.reasons)
    grave = mapped(parcels, keepouts=make.keepouts(("cemetery", None, box(140, 40, 160, 60))))
    cleared = [*seen, make.seen("burial_ground"), make.seen("keepouts")]
    assert check(grave, permissions=[make.grant()], looked=cleared).verdict == "stay out"


def test_maps_that_are_not_there_are_named_and_cleared_only_by_a_record(parcels, make):
    answer = check(LandLayers(parcels), permissions=[make.grant()], looked=make.all_seen())
    assert answer.verdict == "ask first"
    assert answer.reasons[0].startswith("No map of keep-outs, water, wetlands, roads, and nobody has noted")
    seen = [*make.all_seen(), *(make.seen(layer) for layer in ("keepouts", "water", "wetlands", "roads"))]
    assert check(LandLayers(parcels), permissions=[make.grant()], looked=seen).verdict == "go"
    found = [*seen, make.seen("water", clear=False, seen="a spring", seen_on="2026-05-19")]
    answer = check(LandLayers(parcels), permissions=[make.grant()], looked=found)
    assert answer.headline.startswith("Stay out: water: seen here (a spring")


def test_an_empty_map_is_no_map(parcels, mapped, make):
    nothing = gpd.GeoDataFrame({"kind": []}, geometry=[], crs=make.crs)
    answer = check(mapped(parcels, keepouts=nothing), permissions=[make.grant()], looked=make.all_seen())
    assert answer.verdict == "ask first"
    assert "No map of keep-outs" in answer.reasons[0]


def test_what_no_map_shows_is_asked_for(parcels, mapped, make):
    assert {rule.key for rule in unmapped_rules("dig")} == {
        "utility_lines",
        "well_or_septic",
        "unmarked_grave",
        "unstable_bank",
        "field_drains",
        "crops_and_season",
    }
    assert unmapped_rules("walk") == unmapped_rules("look") == ()
    for scope in ("auger", "dig", "take"):
        answer = check(mapped(parcels), scope=scope, permissions=[make.grant(scope="take")])
        assert answer.verdict == "ask first"
        assert "Nobody has yet looked on the spot for: utility lines; well, septic" in answer.reasons[0]
    for scope in ("look", "walk"):
        assert check(mapped(parcels), scope=scope, permissions=[make.grant()]).verdict == "go"


@pytest.mark.parametrize(
    ("changes", "on", "why"),
    [
        ({"until": "2026-05-19"}, ON, "it ended on 2026-05-19"),
        ({"seen_on": "2026-05-01"}, ON, "it ended on 2026-05-15"),
        ({"ticket": " "}, ON, "it has no ticket"),
        ({"ticket": "none"}, ON, "it has no ticket"),
        ({"seen_on": "", "recorded": ""}, ON, "it is not dated"),
        ({"seen_on": "2026-05-21"}, ON, "it was made later"),
        ({"until": "next week"}, ON, "its end cannot be read"),
        ({}, "", "no date of the visit"),
    ],
)
def test_a_ticket_counts_only_when_it_is_dated_in_time_and_there(parcels, mapped, make, changes, on, why):
    others = [seen for seen in make.all_seen() if seen.record.keepout != "utility_lines"]
    assert (
        check(
            mapped(parcels), permissions=[make.grant()], looked=[*others, make.seen("utility_lines")]
        ).verdict
        == "go"
    )
    answer = check(
        mapped(parcels),
        permissions=[make.grant()],
        looked=[*others, make.seen("utility_lines", **changes)],
        on=on,
    )
    assert answer.verdict == "ask first"
    assert why in answer.reasons[0]


def test_a_record_holds_only_where_somebody_stood(parcels, mapped, make):
    layers, leave = mapped(parcels), [make.grant()]
    assert check(layers, permissions=leave, looked=make.all_seen(150, 64)).verdict == "go"
    assert check(layers, permissions=leave, looked=make.all_seen(150, 66)).verdict == "ask first"
    assert (
        check(layers, permissions=leave, looked=make.all_seen(5000, 50, radius_m=1e9)).verdict == "ask first"
    )


def test_a_record_holds_only_for_a_fix_as_fine_as_its_radius(make):
    wide = gpd.GeoDataFrame({"parcel_id": ["008"]}, geometry=[box(-9000, -9000, 9000, 9000)], crs=make.crs)
    maps = [make.seen(name, 0, 0, radius_m=90) for name in ("water", "wetlands", "roads", "keepouts")]
    for error, radius, verdict in ((14, 15, "go"), (16, 15, "ask first"), (16, 30, "go")):
        looked = [*make.all_seen(0, 0, radius_m=radius), *maps]
        layers = LandLayers(wide)
        answer = check(layers, spot=Spot(0, 0, error), permissions=[make.grant()], looked=looked)
        assert answer.verdict == verdict
    coarse = check(
        LandLayers(wide), spot=Spot(0, 0, 20), permissions=[make.grant()], looked=make.all_seen(0, 0)
    )
    assert any("your position is too uncertain for it" in reason for reason in coarse.reasons)
    grave = [
        *maps,
        *make.all_seen(0, 0),
        make.seen("unmarked_grave", 22, 0, clear=False, seen="stones in a row"),
    ]
    for error, verdict in ((5, "go"), (8, "stay out")):
        answer = check(LandLayers(wide), spot=Spot(0, 0, error), permissions=[make.grant()], looked=grave)
        assert answer.verdict == verdict


@pytest.mark.parametrize("radius_m", [0.0, 1.0, float("nan")])
def test_what_was_found_keeps_people_off_at_least_fifteen_metres(parcels, mapped, make, radius_m):
    # Own judgement, no source.
    for away, verdict in ((14.0, "stay out"), (25.0, "go")):
        grave = make.seen("unmarked_grave", 150 + away, clear=False, seen_on="2026-05-19", radius_m=radius_m)
        answer = check(mapped(parcels), permissions=[make.grant()], looked=[*make.all_seen(), grave])
        assert answer.verdict == verdict


def test_what_was_found_stays_found_until_somebody_sees_otherwise(parcels, mapped, make):
    found = make.seen("unmarked_grave", clear=False, seen="fieldstones in a row", until="2020-01-01")
    answer = check(mapped(parcels), permissions=[make.grant()], looked=[*make.all_seen(), found])
    assert answer.verdict == "stay out"
    assert answer.headline.startswith("Stay out: graves and old places: seen here (fieldstones in a row")
    later = make.seen("unmarked_grave", seen="only a collapsed wall", seen_on="2026-05-19")
    looked = [*make.all_seen(), found, later]
    assert check(mapped(parcels), permissions=[make.grant()], looked=looked).verdict == "go"


def test_something_mapped_by_nobody_can_be_noted_too(parcels, mapped, make):
    well = make.seen("well", clear=False, seen="a capped well")
    answer = check(mapped(parcels), permissions=[make.grant()], looked=[*make.all_seen(), well])
    assert answer.headline.startswith("Stay out: well or spring: seen here (a capped well")


def test_what_is_to_be_done_is_held_against_the_leave(parcels, mapped, make):
    leave = [make.grant(depth_m=1.0)]
    for intent, verdict in (
        (Intent("dig", depth_m=1.0), "go"),
        (Intent("dig", depth_m=1.5), "ask first"),
        (Intent("dig", machine=True), "ask first"),
        (Intent("take"), "ask first"),
    ):
        answer = check(mapped(parcels), scope=intent, permissions=leave, looked=make.all_seen())
        assert answer.verdict == verdict


def test_from_a_road_one_may_look(parcels, mapped, make):
    ways = [LineString([(0, 200), (900, 200)]), LineString([(0, 300), (900, 300)])]
    lane = gpd.GeoDataFrame({"kind": ["lane", "private drive"]}, geometry=ways, crs=make.crs)
    layers = mapped(parcels, roads=lane)
    on_it = check(layers, spot=Spot(50, 202), scope="look")
    assert on_it.verdict == "unknown"
    assert any("public way" in reason for reason in on_it.reasons)
    assert not any(
        "public way" in reason for reason in check(layers, spot=Spot(50, 302), scope="look").reasons
    )
    assert not any("public way" in reason for reason in check(layers, spot=Spot(50, 202)).reasons)


def test_tenants_and_public_land_get_their_caution(parcels, mapped, make):
    tenant = [make.grant(speaks_as="tenant")]
    answer = check(mapped(parcels), permissions=tenant, looked=make.all_seen())
    assert answer.verdict == "ask first"
    assert any("A tenant cannot give leave alone" in reason for reason in answer.reasons)
    public = parcels.assign(owner=["", "", "Tesk County", ""])
    assert any("looks like public land" in reason for reason in check(mapped(public)).reasons)


def test_the_usual_cautions_are_always_there():
    text = " ".join(CAUTIONS).lower()
    for word in (
        "utility-location", "well", "septic", "bone", "trench", "silica", "local law", "surveyor", "topsoil", "sod",
        "certifies",
    ):  # fmt: skip
        assert word in text


def test_beyond_the_cut_of_a_map_nothing_is_clear(parcels, mapped, make):
    layers = replace(mapped(parcels), covers={"keepouts": box(-900, -900, 440, 900)})
    assert check(layers, permissions=[make.grant()], looked=make.all_seen()).verdict == "go"
    closer = replace(layers, covers={"keepouts": box(-900, -900, 350, 900)})
    answer = check(closer, permissions=[make.grant()], looked=make.all_seen())
    assert answer.verdict == "ask first"
    assert answer.reasons[0].startswith("No map of keep-outs, and")
    cut = replace(layers, covers={"parcels": box(-900, -900, 350, 900)})
    answer = check(cut, permissions=[make.grant()], looked=make.all_seen())
    assert answer.verdict == "unknown"
    assert "cut to a smaller area" in answer.reasons[0]


def test_what_must_stay_unpublished_can_be_taken_out(parcels, mapped, make):
    layers = mapped(parcels, keepouts=make.keepouts(("old kiln", "Quill Kiln", box(140, 40, 160, 60))))
    answer = check(layers, permissions=[make.grant()], looked=make.all_seen())
    assert answer.not_for_others == (answer.reasons[0],)
    told = answer.for_others()
    assert told.verdict == "stay out"
    assert told.headline == "Stay out: something here is to be left alone; whoever made this map knows what."
    assert "Kiln" not in str(told)
    assert told.reasons[1:] == answer.reasons[1:]


def test_many_spots_answer_as_one_does(parcels, mapped, make):
    rng = np.random.default_rng(2)
    x, y, errors = rng.uniform(-20, 420, 60), rng.uniform(-20, 120, 60), rng.uniform(1, 20, 60)
    creek = gpd.GeoDataFrame({"kind": ["creek"]}, geometry=[LineString([(0, 60), (400, 40)])], crs=make.crs)
    layers = mapped(
        parcels, water=creek, keepouts=make.keepouts(("cemetery", "Old Yard", box(20, 20, 40, 40)))
    )
    ledger = Ledger([make.grant(), make.grant("007", status="refused")], make.all_seen(150, 50, radius_m=60))
    many = check_spots(x, y, layers, gps_error_m=errors, ledger=ledger, on=ON, terms=SHARP)
    assert len(many) == 60
    assert len(set(many.verdicts())) >= 3
    frame = many.frame()
    for number in range(60):
        one = check_spot(
            Spot(x[number], y[number], errors[number]), layers, ledger=ledger, on=ON, terms=SHARP
        )
        both = many[number]
        assert (one.verdict, one.reasons) == (both.verdict, both.reasons)
        assert frame["verdict"][number] == one.verdict
        assert frame["parcel_id"][number] == (one.parcels[0].parcel_id if one.parcels else "")


def test_no_spots_are_no_answers(parcels, mapped):
    assert check_spots([], [], mapped(parcels)).verdicts() == []


@pytest.mark.parametrize(
    "wrong",
    [
        {"eastings": [float("nan")]},
        {"northings": [1.0, 2.0]},
        {"gps_error_m": -1.0},
        {"gps_error_m": float("inf")},
        {"scope": "fly"},
    ],
)
def test_nonsense_is_refused(parcels, wrong):
    given = {"eastings": [1.0], "northings": [1.0], "layers": LandLayers(parcels), **wrong}
    with pytest.raises(WrongUsage):
        check_spots(**given)


@pytest.mark.parametrize(
    "wrong", [{"sure_inside": 1.0}, {"own_setback_m": -1.0}, {"line_error_m": float("nan")}]
)
def test_terms_that_make_no_sense_are_refused(wrong):
    with pytest.raises(WrongUsage):
        Terms(**wrong)

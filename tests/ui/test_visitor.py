"""What another device is shown of a reading: everything but names."""

from dataclasses import replace

import pytest

from prospect.records import LandCheck, ParcelHit
from prospect.ui.reading import spot_page
from prospect.ui.visitor import Visitor, fit_for, unnamed
from prospect.ui.workspace import Workspace


@pytest.fixture(scope="module")
def report(small_ground):
    space = Workspace(small_ground)
    scored = space.scored("any")
    lon, lat = scored.grid.to_lonlat(*scored.grid.xy(scored.grid.rows / 4, scored.grid.cols / 4))
    found = space.report(scored, lon, lat, today="2026-11-26")
    space.let_go()
    land = LandCheck(
        "ask first",
        ("Mirel Ashdown said yes by her son Tov Ashdown.", "Gates stay shut."),
        (ParcelHit("001", "Mirel Ashdown", 0.9, -20.0), ParcelHit("002", "", 0.1, 20.0)),
        ("Ring Mirel Ashdown first.",),
    )
    return replace(found, land=land, cautions=(*found.cautions, "Ring Mirel Ashdown first."))


def test_the_machine_itself_and_allowed_devices_see_all(report):
    assert fit_for(Visitor(), report) is report
    assert fit_for(Visitor(here=False, sees_owners=True), report) is report


def test_a_name_inside_another_word_is_left_alone():
    assert (
        unnamed("Al said the Alder ditch; ask Al.", ["Al", " "])
        == "the owner said the Alder ditch; ask the owner."
    )
    assert unnamed("Ask .* (x) first", [".* (x)"]) == "Ask the owner first"


def test_another_device_sees_everything_but_names(report):
    shown = fit_for(Visitor(here=False, sees_owners=False), report, ("Tov Ashdown", "Tov", ""))
    assert shown.land.reasons == ("the owner said yes by her son the owner.", "Gates stay shut.")
    assert [hit.parcel_id for hit in shown.land.parcels] == ["001", "002"]
    assert {hit.owner for hit in shown.land.parcels} == {""}
    assert shown.land.verdict == report.land.verdict
    assert (shown.models, shown.facts, shown.lon, shown.lat) == (
        report.models,
        report.facts,
        report.lon,
        report.lat,
    )
    page = spot_page(shown)
    assert "Ashdown" not in page
    assert "Ashdown" in spot_page(report)

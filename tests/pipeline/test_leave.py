"""A ground's own land check: parcels across its edge, maps that were cut, its ledger, and what others may be told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import pytest
from pyproj import Transformer
from shapely.geometry import Point, box

from prospect.cli import run
from prospect.layerfile import read_source
from prospect.pipeline import build_landscape, choose, find_sites, land_check, land_checks, score
from prospect.pipeline.overview import share_content
from prospect.records import Looked, Permission
from prospect.share import Audience
from prospect.share.audience import for_audience
from prospect.store import Ground

CRS, WEST, NORTH = "EPSG:32709", 500_000.0, 4_737_000.0
"""The corner of the small ground, as in the other tests: open ocean, 2.4 × 3 km."""
TODAY = "2026-05-20"
_to_lonlat = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)


def lonlat(east: float, south: float) -> tuple[float, float]:
    """Return longitude and latitude of a place so far east and south of the corner."""
    return _to_lonlat.transform(WEST + east, NORTH - south)


def area(west: float, south: float, east: float, north: float) -> str:
    """Return --bbox for a box so far east and south of the corner."""
    (w, s), (e, n) = lonlat(west, south), lonlat(east, north)
    return f"{w:.7f},{s:.7f},{e:.7f},{n:.7f}"


def test_a_parcel_cut_by_the_edge_of_the_area_still_counts_whole(small_files, tmp_path: Path) -> None:
    folder = tmp_path / "g"
    assert run(["new", str(folder), "--bbox", area(300, 900, 700, 500)]) == 0
    assert run(["add", str(folder), "parcels", str(small_files["parcels"])]) == 0
    ground = Ground.open(folder)
    check = land_check(ground, *lonlat(305, 700), gps_error_m=20)
    assert [hit.parcel_id for hit in check.parcels] == ["001"]
    assert check.parcels[0].chance_inside == pytest.approx(1.0, abs=1e-9)
    # The parcel's nearest line lies 305 m west, outside the area.
    assert check.parcels[0].line_distance_m == pytest.approx(305, abs=1)


def test_a_neighbour_outside_the_area_still_has_a_say(small_files, tmp_path: Path) -> None:
    folder = tmp_path / "g"
    assert run(["new", str(folder), "--bbox", area(600, 1400, 1195, 800)]) == 0
    assert run(["add", str(folder), "parcels", str(small_files["parcels"])]) == 0
    check = land_check(Ground.open(folder), *lonlat(1190, 1100))
    assert {hit.parcel_id for hit in check.parcels} == {"001", "002"}
    assert sum(hit.chance_inside for hit in check.parcels) == pytest.approx(1.0, abs=1e-9)


@pytest.fixture
def widened(small_files, tmp_path: Path) -> tuple[Path, Path]:
    """A ground whose area grew after its keep-outs and parcels had been cut to the smaller one."""
    folder = tmp_path / "g"
    rocks = gpd.GeoDataFrame(
        {"unit": ["Kg"], "name": ["granite"], "rocks": ["granite"]},
        geometry=[box(WEST, NORTH - 900, WEST + 400, NORTH - 500)],
        crs=CRS,
    )
    rocks.to_file(tmp_path / "rocks.gpkg", driver="GPKG")
    graves = gpd.GeoDataFrame(
        {"kind": ["cemetery", "cemetery"], "name": ["Near Yard", "Far Yard"]},
        geometry=[Point(WEST + 200, NORTH - 700).buffer(20), Point(WEST + 300, NORTH - 2950).buffer(20)],
        crs=CRS,
    )
    graves.to_file(tmp_path / "graves.gpkg", driver="GPKG")
    assert run(["new", str(folder)]) == 0
    for kind, path in (
        ("geology", tmp_path / "rocks.gpkg"),
        ("keepouts", tmp_path / "graves.gpkg"),
        ("parcels", small_files["parcels"]),
        ("elevation", small_files["elevation"]),
    ):
        assert run(["add", str(folder), kind, str(path)]) == 0
    return folder, tmp_path / "graves.gpkg"


def test_a_map_that_was_cut_before_the_ground_grew_is_not_clear_beyond_its_cut(widened) -> None:
    folder, graves = widened
    ground = Ground.open(folder)
    assert read_source(ground.layers_folder, "keepouts").covers is not None
    near, far = land_checks(ground, [lonlat(600, 1000), lonlat(300, 2930)], scope="walk", on=TODAY)
    assert not any("No map of keep-outs" in reason for reason in near.reasons)
    assert any("No map of keep-outs" in reason for reason in far.reasons)
    assert far.verdict == "unknown"
    assert any("parcel map was cut" in reason for reason in far.reasons)
    assert run(["add", str(folder), "keepouts", str(graves), "--replace"]) == 0
    again = land_check(Ground.open(folder), *lonlat(300, 2930), scope="walk", on=TODAY)
    assert again.verdict == "stay out"
    assert "Far Yard" in again.reasons[0]


def test_joining_a_map_keeps_the_smaller_cut(widened) -> None:
    folder, graves = widened
    assert run(["add", str(folder), "keepouts", str(graves)]) == 0
    far = land_check(Ground.open(folder), *lonlat(300, 2800), scope="walk", on=TODAY)
    assert any("No map of keep-outs" in reason for reason in far.reasons)


@pytest.fixture
def asked(small_ground: Path, tmp_path: Path) -> Ground:
    """The small ground with a heritage site and a ledger."""
    import shutil

    folder = tmp_path / "asked"
    shutil.copytree(small_ground, folder)
    ground = Ground.open(folder)
    for parcel in ("001", "002", "003", "004"):
        ground.permit(Permission(parcel, "granted", "auger", valid_until="2026-12-31"))
    return ground


def test_sites_say_what_the_ledger_says(asked: Ground) -> None:
    scored = score(asked, choose(asked))
    sites, _ = find_sites(asked, scored, top=5, on=TODAY)
    assert {site.permission for site in sites} == {"granted"}
    assert {site.permission for site in find_sites(asked, scored, top=5)[0]} == {"run out"}
    assert {site.permission for site in find_sites(asked, scored, top=5, on="2027-01-01")[0]} == {"run out"}
    asked.permit(Permission("001", "refused", person="Mirel Ashdown"))
    words = {
        site.permission for site in find_sites(asked, scored, top=20, on=TODAY)[0] if "001" in site.parcels
    }
    assert words <= {"refused"}


def test_on_site_records_and_settings_reach_the_check(asked: Ground) -> None:
    place = lonlat(600, 750)
    asked.note_looked(Looked("unmarked_grave", *place, clear=False, seen="fieldstones", seen_on=TODAY))
    check = land_check(asked, *place, scope="auger", on=TODAY)
    assert check.headline.startswith("Stay out: graves and old places: seen here (fieldstones")
    asked.change_settings(own_setback_m=900.0)
    wide = land_check(asked, *place, scope="auger", on=TODAY)
    assert any("your own set-back of 900 m" in reason for reason in wide.reasons)
    assert wide.setbacks[0].own_m == 900.0


def test_where_heritage_lies_is_told_to_nobody_else(asked: Ground, tmp_path: Path) -> None:
    scored = score(asked, choose(asked))
    sites, outlines = find_sites(asked, scored, top=3, on=TODAY)
    kilns = gpd.GeoDataFrame(
        {"kind": ["old kiln"] * len(sites), "name": ["Quillback Kiln"] * len(sites)},
        geometry=[Point(site.easting, site.northing).buffer(15) for site in sites],
        crs=build_landscape(asked).factors.grid.crs,
    )
    kilns.to_file(tmp_path / "kilns.gpkg", driver="GPKG")
    assert run(["add", str(asked.folder), "keepouts", str(tmp_path / "kilns.gpkg")]) == 0
    asked.note_looked(
        Looked(
            "unmarked_grave", sites[0].lon, sites[0].lat, clear=False, seen="burnt quillwork", seen_on=TODAY
        )
    )
    content = share_content(asked, scored, sites, outlines, today=TODAY)
    own, _ = for_audience(content, Audience("self"))
    assert "Quillback Kiln" in str(own.readings)
    assert "burnt quillwork" in str(own.readings)
    helper, left_out = for_audience(content, Audience("helper"))
    assert any("heritage" in sentence for sentence in left_out)
    for audience in (Audience("helper"), Audience("owner", "001"), Audience("public")):
        shared, _ = for_audience(replace(content), audience)
        for word in ("Quillback", "Heritage", "quillwork", "Graves and old places"):
            assert word not in str(shared.readings)
    assert {report.land.verdict for report in helper.readings.values()} == {"stay out"}

from __future__ import annotations

import csv
import io
import json
import zipfile
from xml.etree import ElementTree as ET

import pyogrio
import pytest
import rasterio
from shapely.geometry import shape

from prospect.errors import GroundError, WrongUsage
from prospect.share import Audience, write_exchange
from prospect.text import read_csv_cell

SUFFIXES = ("csv", "geojson", "gpx", "kml", "kmz", "gpkg", "tif")
GPX = "{http://www.topografix.com/GPX/1/1}"
KML = "{http://www.opengis.net/kml/2.2}"
COLUMNS = (
    "site,deposit,deposit_title,favourability,completeness,area_ha,lon,lat,rock,slope_pct,height_above_drainage_m,"
    "parcels,permission,land,cautions"
)


def readable(path) -> bytes:
    if path.suffix == ".kmz":
        return zipfile.ZipFile(path).read("doc.kml")
    return path.read_bytes()


@pytest.mark.parametrize("suffix", SUFFIXES)
@pytest.mark.parametrize("audience", ["public", "owner:A-01"])
def test_no_owner_and_no_sample_in_the_bytes(tmp_path, ground, owner_names, suffix, audience):
    path = tmp_path / f"out.{suffix}"
    write_exchange(path, ground, Audience.named(audience))
    content = readable(path)
    for secret in (*owner_names, "S-77", "ash tree", "15.0041", "45.1482", "B-02"):
        assert secret.encode() not in content, secret
    if audience == "public":
        assert b"A-01" not in content


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_the_public_file_has_no_exact_site(tmp_path, ground, suffix):
    path = tmp_path / f"out.{suffix}"
    write_exchange(path, ground, Audience())
    content = readable(path)
    for site in ground.sites:
        assert f"{site.lon:.5f}".encode() not in content
        assert f"{site.lat:.5f}".encode() not in content


def test_csv_has_the_words_of_the_sites_command(tmp_path, ground):
    path = tmp_path / "sites.csv"
    assert write_exchange(path, ground, Audience("self")) == ()
    rows = list(csv.DictReader(io.StringIO(path.read_text("utf-8"))))
    assert ",".join(rows[0]) == COLUMNS
    assert [row["site"] for row in rows] == ["1", "2", "3"]
    assert rows[1]["parcels"] == "A-01; B-02"
    assert float(rows[0]["lon"]) == pytest.approx(ground.sites[0].lon, abs=1e-7)


@pytest.mark.parametrize("hostile", ["=HYPERLINK(1)", "+1+1|cmd", "-2+3", "@SUM(A1)", "\t=1"])
def test_csv_cells_are_no_formulas(tmp_path, make_ground, hostile):
    # The signs that begin a formula: OWASP, "CSV Injection".
    path = tmp_path / "sites.csv"
    write_exchange(path, make_ground(hostile), Audience("self"))
    rows = list(csv.DictReader(io.StringIO(path.read_text("utf-8"))))
    assert rows[0]["rock"][0] not in "=+-@\t\r"
    assert read_csv_cell(rows[0]["rock"]) == hostile.strip()


def test_geojson_is_what_the_standard_asks_for(tmp_path, ground):
    # RFC 7946: longitude first, exterior rings counter-clockwise, no crs member.
    path = tmp_path / "sites.geojson"
    write_exchange(path, ground, Audience("self"))
    data = json.loads(path.read_text("utf-8"))
    assert "crs" not in data
    kinds = [feature["properties"]["kind"] for feature in data["features"]]
    assert kinds == ["site", "site", "site", "sample"]
    polygon = shape(data["features"][0]["geometry"])
    assert polygon.exterior.is_ccw
    assert 14.9 < polygon.centroid.x < 15.1
    assert pyogrio.read_dataframe(path).shape[0] == 4


def test_gpx_waypoints(tmp_path, ground):
    # GPX 1.1 schema: wpt children in the order name, desc, type; lat and lon as attributes.
    path = tmp_path / "sites.gpx"
    write_exchange(path, ground, Audience("self"))
    points = ET.parse(path).getroot().findall(f"{GPX}wpt")
    assert [point.find(f"{GPX}name").text for point in points] == [
        "Site 1 (ask first)",
        "Site 2 (ask first)",
        "Site 3 (ask first)",
        "S-77",
    ]
    assert [child.tag.removeprefix(GPX) for child in points[0]] == ["name", "desc", "type"]
    assert "land: ask first" in points[0].find(f"{GPX}desc").text
    assert float(points[3].get("lat")) == pytest.approx(45.14823456, abs=1e-7)


def test_kml_and_kmz_say_the_same(tmp_path, ground):
    write_exchange(tmp_path / "a.kml", ground, Audience("self"))
    write_exchange(tmp_path / "a.kmz", ground, Audience("self"))
    assert readable(tmp_path / "a.kml") == readable(tmp_path / "a.kmz")
    root = ET.fromstring(readable(tmp_path / "a.kml"))
    assert len(root.findall(f".//{KML}Placemark")) == 4
    ring = root.find(f".//{KML}LinearRing/{KML}coordinates").text.split()
    assert ring[0] == ring[-1]


def test_geopackage_layers(tmp_path, ground):
    path = tmp_path / "sites.gpkg"
    write_exchange(path, ground, Audience("self"))
    assert {name for name, _ in pyogrio.list_layers(path)} == {"sites", "samples", "parcels"}
    sites = pyogrio.read_dataframe(path, layer="sites")
    assert sites["site"].tolist() == [1, 2, 3]
    area = sites.to_crs(ground.grid.crs).area / 1e4
    assert area.tolist() == pytest.approx([site.area_ha for site in ground.sites], rel=1e-4)
    assert pyogrio.read_dataframe(path, layer="parcels")["owner"].notna().all()
    write_exchange(path, ground, Audience())
    assert [name for name, _ in pyogrio.list_layers(path)] == ["sites"]


def test_tif_is_the_favourability(tmp_path, ground):
    write_exchange(tmp_path / "a.tif", ground, Audience("self"))
    write_exchange(tmp_path / "b.tif", ground, Audience())
    with rasterio.open(tmp_path / "a.tif") as own, rasterio.open(tmp_path / "b.tif") as public:
        assert own.res == (25.0, 25.0)
        assert public.res == (250.0, 250.0)


@pytest.mark.parametrize(("audience", "told"), [("self", True), ("public", False), ("owner:A-01", False)])
def test_a_tif_says_where_it_comes_from_only_to_those_who_may_see_names(
    tmp_path, make_ground, audience, told
):
    from dataclasses import replace

    ground = make_ground()
    named = replace(ground, best=replace(ground.best, source="scan lent by Odile"))
    write_exchange(tmp_path / "a.tif", named, Audience.named(audience))
    assert (b"Odile" in (tmp_path / "a.tif").read_bytes()) is told


def test_long_words_are_given_whole_to_other_programs(tmp_path, make_ground):
    note = "blue-grey under the ash tree, " * 60
    path = tmp_path / "a.gpkg"
    write_exchange(path, make_ground(note), Audience("self"))
    for layer, column in (("samples", "note"), ("sites", "rock"), ("parcels", "owner")):
        assert pyogrio.read_dataframe(path, layer=layer)[column][0] == note.strip()


@pytest.mark.parametrize("suffix", ["gpx", "kml"])
def test_hostile_text_stays_text_in_xml(tmp_path, make_ground, suffix):
    hostile = '<a href="x">]]>&amp;</name><script>1</script>\x00\x0b\ufffe'
    path = tmp_path / f"a.{suffix}"
    write_exchange(path, make_ground(hostile), Audience("self"))
    root = ET.parse(path).getroot()
    assert not [node for node in root.iter() if node.tag.endswith(("script", "}a"))]
    assert '<a href="x">]]>&amp;</name><script>1</script>' in "".join(root.itertext())


def test_an_ending_that_nobody_knows(tmp_path, ground):
    with pytest.raises(WrongUsage, match="csv, geojson"):
        write_exchange(tmp_path / "a.docx", ground, Audience())


def test_a_folder_that_is_not_there(tmp_path, ground):
    with pytest.raises(GroundError):
        write_exchange(tmp_path / "no" / "a.csv", ground, Audience())


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_an_older_file_is_replaced_in_one_step(tmp_path, ground, suffix):
    path = tmp_path / f"a.{suffix}"
    path.write_bytes(b"old")
    write_exchange(path, ground, Audience("self"))
    assert path.stat().st_size > 100
    assert [entry.name for entry in tmp_path.iterdir()] == [path.name]


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_a_ground_without_sites(tmp_path, ground, suffix):
    from dataclasses import replace

    bare = replace(ground, sites=(), outlines=ground.outlines.iloc[:0], readings={}, samples=())
    write_exchange(tmp_path / f"a.{suffix}", bare, Audience())
    assert (tmp_path / f"a.{suffix}").stat().st_size > 0

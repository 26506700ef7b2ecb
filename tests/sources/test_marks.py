"""Water, structures, keep-outs, roads, wetlands, leads, faces and parcels."""

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import LineString, Point, box

from prospect.errors import InputRefused
from prospect.sources.keepouts import read_keepouts
from prospect.sources.parcels import read_parcels
from prospect.sources.structures import read_structures
from prospect.sources.water import read_water


def line(*points):
    return {"type": "LineString", "coordinates": [list(p) for p in points]}


LINE = line((-83, 35.5), (-82.9, 35.5))


def test_hydrography_codes(write_geojson, square_at):
    # National Hydrography Dataset feature codes (USGS): 46006 perennial stream, 39004 perennial lake or pond
    path = write_geojson(
        "NHDFlowline.geojson",
        [
            (LINE, {"FCode": 46006, "FType": 460, "GNIS_Name": "Reed Creek"}),
            (LINE, {"FCode": 46003, "FType": 460, "GNIS_Name": "null"}),
            (square_at(-83, 35.5), {"FCode": 39004, "FType": 390, "GNIS_Name": None}),
            (LINE, {"FCode": 55800, "FType": 558}),
            (LINE, {"FCode": None, "FType": None}),
        ],
    )
    water, log, _ = read_water(path)
    assert water["kind"].tolist() == [
        "stream",
        "intermittent stream",
        "lake or pond",
        "path through water",
        "water",
    ]
    assert water["name"].tolist() == ["Reed Creek", "", "", "", ""]
    assert set(water.columns) == {"kind", "name", "source", "geometry"}
    assert (log.read, log.kept) == (5, 5)
    assert any("1 item(s)" in issue.place for issue in log.issues)


def test_tags_and_plain_words(write_geojson):
    path = write_geojson(
        "rivers.geojson", [(LINE, {"waterway": "stream", "name": "Brook"}), (LINE, {"waterway": "drain"})]
    )
    assert read_water(path)[0]["kind"].tolist() == ["stream", "drain"]


def test_structures(write_geojson):
    path = write_geojson(
        "lines.geojson",
        [
            (LINE, {"type": "exposed", "feature": "Fault or shear zone, major", "fname": "Hill Fault"}),
            (LINE, {"type": "Diabase dike, approximate"}),
            (LINE, {"type": "contact, certain"}),
            (LINE, {"type": "Coal seam"}),
            ({"type": "Point", "coordinates": [-83, 35.5]}, {"type": "quarry"}),
        ],
    )
    frame, _, _ = read_structures(path)
    assert frame["kind"].tolist() == ["fault", "dyke", "contact", "coal bed", "quarry"]
    assert frame["name"].tolist() == ["Hill Fault", "", "", "", ""]


def test_file_name_speaks_when_columns_do_not(tmp_path):
    gpd.GeoDataFrame({"a": [1]}, geometry=[Point(-83, 35.5)], crs="EPSG:4326").to_file(
        tmp_path / "Wells_2026.shp"
    )
    frame, log, _ = read_keepouts(tmp_path / "Wells_2026.shp")
    assert frame["kind"].tolist() == ["wells"]
    assert "'wells'" in log.issues[0].action


def test_keepouts_from_tags(write_geojson, square_at):
    path = write_geojson(
        "osm.geojson",
        [
            (square_at(-83, 35.5), {"landuse": "cemetery", "name": "Hill Yard"}),
            (LINE, {"man_made": "pipeline"}),
            (square_at(-83, 35.5), {"building": "yes"}),
            (square_at(-83, 35.5), {"leisure": "nature_reserve", "Pub_Access": "XA"}),
        ],
    )
    frame, _, _ = read_keepouts(path)
    assert frame["kind"].tolist() == ["cemetery", "pipeline", "building", "nature reserve"]
    assert frame["name"][0] == "Hill Yard"


def test_wetlands_with_dotted_names(write_geojson, square_at):
    # National Wetlands Inventory service: table-qualified names
    path = write_geojson(
        "w.geojson",
        [(square_at(-83, 35.5), {"Wetlands.WETLAND_TYPE": "Freshwater Pond", "Wetlands.ATTRIBUTE": "PUBHh"})],
    )
    assert read_keepouts(path, kind="wetlands")[0]["kind"].tolist() == ["freshwater pond"]


def test_leads_from_a_table_and_a_receiver(tmp_path):
    (tmp_path / "leads.csv").write_text(
        "what;lon;lat;date;note;who\nroad cut;-83,05;35,45;2026-04-01;grey clay 1 m;H. Reed\nold kiln;;;;;\n",
        encoding="utf-8",
    )
    frame, log, source = read_keepouts(tmp_path / "leads.csv", kind="leads")
    assert frame.iloc[0].drop("geometry").to_dict() == {
        "kind": "road cut", "name": "", "source": "H. Reed", "seen_on": "2026-04-01", "note": "grey clay 1 m",
    }  # fmt: skip
    assert frame.crs.to_epsg() == 4326
    assert (log.read, log.kept, log.refused) == (2, 1, 1)
    assert (source.kind, source.counts["refused"]) == ("leads", 1)
    (tmp_path / "walk.gpx").write_text(
        '<gpx><wpt lat="35.4" lon="-83"><name>bank</name><sym>creek bank</sym></wpt></gpx>', encoding="utf-8"
    )
    frame, _, _ = read_keepouts(tmp_path / "walk.gpx", kind="faces")
    assert frame[["kind", "name"]].iloc[0].tolist() == ["creek bank", "bank"]
    with pytest.raises(InputRefused, match="Export lines or polygons"):
        read_keepouts(tmp_path / "leads.csv", kind="outline")


def test_outline_takes_polygons_only(write_geojson, square_at):
    path = write_geojson("farm.geojson", [(square_at(-83, 35.5), {}), (LINE, {})])
    frame, log, _ = read_keepouts(path, kind="outline")
    assert frame["kind"].tolist() == ["outline"]
    assert log.refused == 1


# Parcels ------------------------------------------------------------------------------------------------------


def test_parcels(tmp_path):
    frame = gpd.GeoDataFrame(
        {
            "PIN_NUM": ["0012-7", "0012-7", "0013", None, "44"],
            "OWNER1": ["A. Reed", "B. Reed", "C. Hill", "D. Hill", None],
            "OWNER2": ["M. Reed", None, None, None, None],
            "accuracy_m": ["3", "3", "10 ft", "3", "far"],
        },
        geometry=[
            box(0, 0, 10, 10),
            box(0, 0, 10, 10),
            box(20, 0, 30, 10),
            box(40, 0, 50, 10),
            box(60, 0, 70, 10),
        ],
        crs="EPSG:2264",
    )
    frame.geometry = frame.translate(2_000_000, 600_000)
    frame.to_file(tmp_path / "parcels.gpkg", driver="GPKG")
    parcels, log, _ = read_parcels(tmp_path / "parcels.gpkg")
    assert list(parcels.columns) == ["parcel_id", "owner", "source", "line_error_m", "geometry"]
    assert parcels["parcel_id"].tolist() == ["0012-7", "0012-7", "0013", "44"]
    assert parcels["owner"].tolist() == ["A. Reed and M. Reed", "B. Reed", "C. Hill", ""]
    assert parcels["line_error_m"].tolist()[:2] == [3.0, 3.0]
    assert parcels["line_error_m"][2] == pytest.approx(3.048)  # 10 ft
    assert np.isnan(parcels["line_error_m"][3])
    assert (log.read, log.kept, log.repaired, log.refused) == (5, 3, 1, 1)
    assert any("several owners" in issue.action for issue in log.issues)
    assert any("identifier" in issue.action for issue in log.issues)


def test_numeric_identifiers_stay_whole(write_geojson, square_at):
    path = write_geojson(
        "p.geojson",
        [
            (square_at(-83, 35.5), {"PIN": 123456789012}),
            (square_at(-83, 35.6), {"PIN": None}),
            (square_at(-83, 35.7), {"PIN": 7}),
        ],
    )
    assert read_parcels(path)[0]["parcel_id"].tolist() == ["123456789012", "7"]


def test_spreadsheet_damage_is_said(write_geojson, square_at):
    path = write_geojson("p.geojson", [(square_at(-83, 35.5), {"PIN": "1.23E+11"})])
    assert any("spreadsheet" in issue.action for issue in read_parcels(path)[1].issues)


def test_parcels_without_identifier_column(write_geojson, square_at):
    path = write_geojson("p.geojson", [(square_at(-83, 35.5), {"acres": 3, "owner": "A. Reed"})])
    with pytest.raises(InputRefused, match=r"acres, owner.*parcel_id=COLUMN"):
        read_parcels(path)


def test_state_plane_feet_without_prj(tmp_path):
    gpd.GeoDataFrame({"PIN": ["1"]}, geometry=[box(2e6, 6e5, 2.001e6, 6.01e5)], crs="EPSG:2264").to_file(
        tmp_path / "p.shp"
    )
    (tmp_path / "p.prj").unlink()
    with pytest.raises(InputRefused, match="--crs EPSG:n"):
        read_parcels(tmp_path / "p.shp")
    assert read_parcels(tmp_path / "p.shp", crs="EPSG:2264")[0].crs.to_epsg() == 2264


def test_only_features_that_touch_the_ground_of_a_large_file(tmp_path):
    from prospect.sources.vector import FILTER_ABOVE
    from prospect.types import Bounds

    side = 150
    lines = [
        LineString([(-83 + i * 1e-3, 35 + j * 1e-3), (-83 + i * 1e-3 + 5e-4, 35 + j * 1e-3)])
        for i in range(side)
        for j in range(side)
    ]
    assert len(lines) > FILTER_ABOVE
    gpd.GeoDataFrame({"kind": ["stream"] * len(lines)}, geometry=lines, crs="EPSG:4326").to_file(
        tmp_path / "w.gpkg", driver="GPKG"
    )
    near, log, source = read_water(tmp_path / "w.gpkg", bounds=Bounds(-83, 35, -82.99, 35.01))
    # 2 km beside the ground count, too: 0.018° of latitude, 0.022° of longitude here; streams lie 0.001° apart
    assert len(near) == log.read == 32 * 28
    assert any("of 22,500" in note for note in source.notes)
    with pytest.raises(InputRefused, match="somewhere else"):
        read_water(tmp_path / "w.gpkg", bounds=Bounds(10, 50, 11, 51))


# Real open data -----------------------------------------------------------------------------------------------


def test_hamersley_faults(real_data):
    frame, log, _ = read_structures(real_data("hamersley-map2loop/faults.geojson"))
    assert (log.read, log.kept) == (35, 35)
    assert set(frame["kind"]) == {"fault"}
    assert frame.crs.to_epsg() == 28350


def test_parts_of_a_collection_that_are_left_out_are_counted(write_geojson):
    well = {"type": "Point", "coordinates": [-83, 35.5]}
    both = {"type": "GeometryCollection", "geometries": [well, well, LINE]}
    frame, log, _ = read_keepouts(write_geojson("wells.geojson", [(both, {"kind": "well"})]))
    assert frame.geometry.geom_type.tolist() == ["LineString"]
    assert "Kept its 1 line(s), left out 2 other part(s)" in log.issues[0].action

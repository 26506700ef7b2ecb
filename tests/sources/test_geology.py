"""Geological maps: column names of published layouts, legends, mended shapes, and real open maps."""

import sqlite3

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest
from shapely.geometry import LineString, Point, Polygon, box

from prospect.errors import InputRefused
from prospect.sources.geology import COLUMNS, read_geologic_units
from prospect.types import Bounds

GROUND = Bounds(-83.1, 35.4, -82.9, 35.6)


def codes(frame):
    return frame.set_index("unit")["rocks"].to_dict()


def test_state_compilation_shapefile_with_names_cut_to_ten(tmp_path):
    # Field names of USGS Data Series 1052 (SGMC_Geology), cut to ten characters as a shapefile forces
    frame = gpd.GeoDataFrame(
        {
            "UNIT_LINK": ["ZZOgn;6", "ZZQal;1"],
            "UNIT_NAME": ["Fallow Gneiss", "Alluvium of Reed Creek"],
            "AGE_MIN": ["Middle Proterozoic", "Holocene"],
            "AGE_MAX": ["Middle Proterozoic", "Pleistocene"],
            "MAJOR1": ["biotite gneiss", "alluvium"],
            "MAJOR2": ["granite", None],
            "MINOR1": ["amphibolite", None],
            "GENERALIZED_LITH": ["Metamorphic, gneiss", "Unconsolidated, undifferentiated"],
        },
        geometry=[box(1000000, 1500000, 1001000, 1501000), box(1001000, 1500000, 1002000, 1501000)],
        crs="ESRI:102039",
    )
    frame.to_file(tmp_path / "SGMC_Geology.shp")
    assert "GENERALIZE" in gpd.read_file(tmp_path / "SGMC_Geology.shp").columns
    units, log, source = read_geologic_units(tmp_path / "SGMC_Geology.shp")
    assert list(units.columns) == [*COLUMNS, "geometry"]
    assert codes(units) == {"ZZOgn;6": "biotite gneiss, granite; minor amphibolite", "ZZQal;1": "alluvium"}
    assert units["age"].tolist() == ["Middle Proterozoic", "Holocene to Pleistocene"]
    assert (log.read, log.kept, log.verdict) == (2, 2, "accepted")
    assert source.imported == ""


def gems(path, with_table=True):
    """A GeMS-like GeoPackage (USGS GeMS: MapUnitPolys, DescriptionOfMapUnits with a heading row)."""
    polys = gpd.GeoDataFrame(
        {"MapUnit": ["Qal", "Kgr", "Zx"], "IdentityConfidence": ["certain", "questionable", "certain"]},
        geometry=[box(0, 0, 100, 100), box(100, 0, 200, 100), box(200, 0, 300, 100)],
        crs="EPSG:26917",
    ).set_geometry("geometry")
    polys.geometry = polys.translate(300_000, 3_900_000)
    lines = gpd.GeoDataFrame(
        {"Type": ["contact"]}, geometry=[LineString(polys.geometry[0].exterior.coords)], crs=polys.crs
    )
    pyogrio.write_dataframe(polys, path, layer="MapUnitPolys", driver="GPKG")
    pyogrio.write_dataframe(lines, path, layer="ContactsAndFaults", driver="GPKG", append=True)
    overlay = polys.iloc[:1]
    pyogrio.write_dataframe(overlay, path, layer="MapUnitOverlayPolys", driver="GPKG", append=True)
    if with_table:
        table = pd.DataFrame(
            {
                "MapUnit": [None, "Qal", "Kgr"],
                "FullName": ["SURFICIAL DEPOSITS", "Alluvium", "Granite of Potter Hill"],
                "Age": ["#null", "Holocene", "Cretaceous"],
                "Description": [None, "Clay, silt and sand along creeks", "Coarse biotite granite"],
                "GeoMaterial": [None, "Alluvial sediment, mostly fine-grained", "#null"],
                "GeoMaterialConfidence": [None, "Low", "High"],
            }
        )
        pyogrio.write_dataframe(table, path, layer="DescriptionOfMapUnits", driver="GPKG", append=True)
    return path


def test_description_table_is_joined_by_itself(tmp_path):
    units, log, source = read_geologic_units(gems(tmp_path / "gems.gpkg"))
    rows = units.set_index("unit")
    assert rows.loc["Qal", "rocks"] == "Alluvial sediment, mostly fine-grained"
    assert rows.loc["Kgr", "name"] == "Granite of Potter Hill"
    assert rows.loc["Kgr", "rocks"] == ""  # "#null" is nothing
    assert rows.loc["Zx", "name"] == ""
    assert any("1 unit(s) are not in the legend" in issue.action for issue in log.issues)
    assert any("DescriptionOfMapUnits" in note for note in source.notes)


def test_codes_without_words_are_said(tmp_path):
    units, log, _ = read_geologic_units(gems(tmp_path / "gems.gpkg", with_table=False))
    assert sorted(units["unit"]) == ["Kgr", "Qal", "Zx"]
    assert any("--legend" in issue.action and "3 unit(s)" in issue.action for issue in log.issues)


def test_legend_csv(tmp_path):
    (tmp_path / "legend.csv").write_text(
        "Code;Description\nQal;river clay\nKgr;granite\nQal;again\n", encoding="utf-8"
    )
    units, log, source = read_geologic_units(
        gems(tmp_path / "gems.gpkg", with_table=False), legend=tmp_path / "legend.csv"
    )
    assert units.set_index("unit")["description"].to_dict() == {
        "Qal": "river clay",
        "Kgr": "granite",
        "Zx": "",
    }
    assert any("legend.csv" in note for note in source.notes)
    assert any(issue.value == "Qal" for issue in log.issues)


def test_vocabulary_addresses_become_words(write_geojson, square_at):
    # Term addresses of the CGI Simple Lithology vocabulary; OGC nil reason for "missing"
    path = write_geojson(
        "lite.geojson",
        [
            (
                square_at(-83, 35.5),
                {
                    "name": "a",
                    "representativeLithology_uri": "http://resource.geosciml.org/classifier/cgi/lithology/organic_bearing_mudstone",
                },
            ),
            (
                square_at(-83, 35.51),
                {
                    "name": "b",
                    "representativeLithology_uri": "urn:cgi:classifier:CGI:SimpleLithology:201001:granite",
                },
            ),
            (
                square_at(-83, 35.52),
                {"name": "c", "representativeLithology_uri": "http://www.opengis.net/def/nil/OGC/0/missing"},
            ),
            (square_at(-83, 35.53), {"name": "d", "representativeLithology_uri": None}),
        ],
    )
    units, _, _ = read_geologic_units(path)
    assert codes(units) == {"a": "organic bearing mudstone", "b": "granite", "c": "", "d": ""}


def test_collapsed_names_are_told_apart_by_their_content(tmp_path):
    # GeoSciML-Lite as a shapefile: representativeLithology_uri, …Age_uri, … become representa, represen_1, …
    base = "http://resource.geosciml.org/classifier/"
    frame = gpd.GeoDataFrame(
        {
            "name": ["a"],
            "representa": [base + "ics/ischart/Cambrian"],
            "represen_1": [base + "cgi/lithology/shale"],
        },
        geometry=[box(0, 0, 1, 1)],
        crs="EPSG:4326",
    )
    frame.to_file(tmp_path / "lite.shp")
    assert codes(read_geologic_units(tmp_path / "lite.shp")[0]) == {"a": "shale"}


def test_mapping(write_geojson, square_at):
    path = write_geojson(
        "map.geojson", [(square_at(-83, 35.5), {"KLASSE": "x1", "Gestein": "granite", "Anteil": "clay"})]
    )
    with pytest.raises(InputRefused, match="KLASSE, Gestein, Anteil"):
        read_geologic_units(path)
    units, _, _ = read_geologic_units(path, mapping={"unit": "klasse", "rocks": "Gestein+Anteil"})
    assert codes(units) == {"x1": "granite, clay"}
    with pytest.raises(InputRefused, match="one of the columns KLASSE, Gestein, Anteil"):
        read_geologic_units(path, mapping={"rocks": "Rock"})
    with pytest.raises(InputRefused, match="one of the fields unit, name"):
        read_geologic_units(path, mapping={"stone": "Gestein"})


BOWTIE = {
    "type": "Polygon",
    "coordinates": [[[-83, 35.5], [-82.98, 35.52], [-82.98, 35.5], [-83, 35.53], [-83, 35.5]]],
}
OPEN = {"type": "Polygon", "coordinates": [[[-83, 35.5], [-82.99, 35.5], [-82.99, 35.51]]]}


def test_shapes_are_mended_or_refused_one_by_one(write_geojson, square_at):
    path = write_geojson(
        "map.geojson",
        [
            (square_at(-83, 35.5), {"unit": "a"}),
            (BOWTIE, {"unit": "b"}),
            (OPEN, {"unit": "c"}),
            (None, {"unit": "d"}),
            ({"type": "Polygon", "coordinates": []}, {"unit": "e"}),
            ({"type": "Point", "coordinates": [-83, 35.5]}, {"unit": "f"}),
            (
                {
                    "type": "GeometryCollection",
                    "geometries": [square_at(-83, 35.55), {"type": "Point", "coordinates": [-83, 35.5]}],
                },
                {"unit": "g"},
            ),
            (
                {"type": "Polygon", "coordinates": [[[-83, 35.5], [-82.9, 35.5], [-83, 35.5], [-83, 35.5]]]},
                {"unit": "h"},
            ),
        ],
    )
    units, log, _ = read_geologic_units(path)
    assert units["unit"].tolist() == ["a", "b", "c", "g"]
    assert (log.read, log.kept, log.repaired, log.refused) == (8, 1, 3, 4)
    assert units.geometry.is_valid.all()
    assert set(units.geom_type) <= {"Polygon", "MultiPolygon"}
    bowtie = next(issue for issue in log.issues if issue.place == "feature 2")
    assert "area went from" in bowtie.action
    # area of the two triangles of the crossing polygon, by hand: they meet at x = -83 + 0.02·0.6, y = 35.512
    assert units.geometry[1].area == pytest.approx(0.5 * 0.03 * 0.012 + 0.5 * 0.02 * 0.008, rel=1e-6)


def test_crs_is_asked_for_and_taken(tmp_path):
    frame = gpd.GeoDataFrame(
        {"unit": ["a"]}, geometry=[box(300000, 3930000, 301000, 3931000)], crs="EPSG:26917"
    )
    frame.to_file(tmp_path / "map.shp")
    (tmp_path / "map.prj").unlink()
    with pytest.raises(InputRefused, match=r"x 300000 to 301000.*--crs EPSG:n"):
        read_geologic_units(tmp_path / "map.shp")
    units, _, source = read_geologic_units(
        tmp_path / "map.shp", crs="EPSG:26917", bounds=Bounds(-84, 35, -83, 36)
    )
    assert units.crs.to_epsg() == 26917
    assert source.crs == "EPSG:26917"
    with pytest.raises(InputRefused, match="a CRS such as"):
        read_geologic_units(tmp_path / "map.shp", crs="EPSG:notanumber")


def test_metric_numbers_labelled_as_degrees_are_refused(write_geojson):
    metres = {
        "type": "Polygon",
        "coordinates": [[[3e5, 3.9e6], [3.1e5, 3.9e6], [3.1e5, 3.91e6], [3e5, 3.9e6]]],
    }
    with pytest.raises(InputRefused, match="not degrees"):
        read_geologic_units(write_geojson("map.geojson", [(metres, {"unit": "a"})]))


def test_degrees_labelled_as_metric(tmp_path):
    frame = gpd.GeoDataFrame({"unit": ["a"]}, geometry=[box(-83, 35.5, -82.99, 35.51)], crs="EPSG:26917")
    frame.to_file(tmp_path / "map.gpkg", driver="GPKG")
    with pytest.raises(InputRefused, match="look like degrees"):
        read_geologic_units(tmp_path / "map.gpkg")
    units, log, source = read_geologic_units(tmp_path / "map.gpkg", bounds=GROUND)
    assert source.crs == "EPSG:4326"
    assert log.verdict == "accepted with notes"
    assert units.total_bounds == pytest.approx([-83, 35.5, -82.99, 35.51])


def test_exchanged_axes_on_evidence_only(write_geojson, square_at):
    turned = {"type": "Polygon", "coordinates": [[p[::-1] for p in square_at(-83, 35.5)["coordinates"][0]]]}
    path = write_geojson("map.geojson", [(turned, {"unit": "a"})])
    units, log, _ = read_geologic_units(path, bounds=GROUND)
    assert log.repaired == 1
    assert units.total_bounds == pytest.approx([-83, 35.5, -82.99, 35.51])
    _, log, _ = read_geologic_units(path)
    assert log.repaired == 0  # 35° E, 83° S is a place, too


def test_elsewhere_names_both_boxes(write_geojson, square_at):
    path = write_geojson("map.geojson", [(square_at(12, 47), {"unit": "a"})])
    with pytest.raises(
        InputRefused, match=r"12\.0000 to 12\.0100° E, 47\.0000 to 47\.0100° N.*within 82\.8.* to 83\.1.*° W"
    ):
        read_geologic_units(path, bounds=GROUND)


def test_one_far_off_shape_does_not_spoil_the_file(write_geojson, square_at):
    far = {"type": "Polygon", "coordinates": [[[5e5, 1], [5e5, 2], [6e5, 2], [5e5, 1]]]}
    path = write_geojson(
        "map.geojson",
        [*[(square_at(-83, 35.5 + i / 100), {"unit": "a"}) for i in range(4)], (far, {"unit": "b"})],
    )
    units, log, _ = read_geologic_units(path)
    assert (len(units), log.refused) == (4, 1)


def test_several_layers_are_not_guessed(tmp_path):
    for layer in ("one", "two"):
        frame = gpd.GeoDataFrame({"unit": [layer]}, geometry=[box(0, 0, 1, 1)], crs="EPSG:4326")
        pyogrio.write_dataframe(frame, tmp_path / "a.gpkg", layer=layer, driver="GPKG", append=layer == "two")
    with pytest.raises(InputRefused, match="one, two"):
        read_geologic_units(tmp_path / "a.gpkg")
    units, _, _ = read_geologic_units(tmp_path / "a.gpkg", mapping={"layer": "two"})
    assert units["unit"].tolist() == ["two"]


def test_file_geodatabase_and_zip(tmp_path):
    import shutil

    frame = gpd.GeoDataFrame({"MapUnit": ["Qal"]}, geometry=[box(0, 0, 1, 1)], crs="EPSG:4326")
    pyogrio.write_dataframe(frame, tmp_path / "map.gdb", layer="MapUnitPolys", driver="OpenFileGDB")
    units, _, _ = read_geologic_units(tmp_path / "map.gdb")
    assert units["unit"].tolist() == ["Qal"]
    shutil.make_archive(str(tmp_path / "packed"), "zip", tmp_path, "map.gdb")
    units, _, source = read_geologic_units(tmp_path / "packed.zip")
    assert units["unit"].tolist() == ["Qal"]
    assert source.origin == "packed.zip"


def test_zip_of_shapefiles_picks_the_named_one(tmp_path):
    import zipfile

    for name, unit in (("SGMC_Geology", "a"), ("SGMC_Other", "b")):
        gpd.GeoDataFrame({"unit": [unit]}, geometry=[box(0, 0, 1, 1)], crs="EPSG:4326").to_file(
            tmp_path / f"{name}.shp"
        )
    with zipfile.ZipFile(tmp_path / "x_[2026-01-01].zip", "w") as archive:
        for part in tmp_path.glob("SGMC_*.*"):
            archive.write(part, f"folder/{part.name}")
    units, _, _ = read_geologic_units(tmp_path / "x_[2026-01-01].zip")
    assert units["unit"].tolist() == ["a"]


def test_accents_in_an_old_shapefile(tmp_path):
    frame = gpd.GeoDataFrame({"unit": ["Tönschiefer"]}, geometry=[box(0, 0, 1, 1)], crs="EPSG:4326")
    frame.to_file(tmp_path / "a.shp", encoding="cp1252")
    (tmp_path / "a.cpg").unlink(missing_ok=True)
    units, _, _ = read_geologic_units(tmp_path / "a.shp")
    assert units["unit"].tolist() == ["Tönschiefer"]


def test_unfinished_write_beside_a_geopackage_is_read(tmp_path):
    # A GeoPackage left in write-ahead mode: its last row is only in the -wal file (SQLite documentation, WAL)
    path = tmp_path / "a.gpkg"
    frame = gpd.GeoDataFrame(
        {"unit": ["a", "b"]}, geometry=[box(0, 0, 1, 1), box(1, 0, 2, 1)], crs="EPSG:4326"
    )
    frame.to_file(path, driver="GPKG", SPATIAL_INDEX="NO")
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA wal_autocheckpoint=0")
    connection.execute("UPDATE a SET unit = 'late' WHERE fid = 2")
    assert path.with_name("a.gpkg-wal").stat().st_size > 0
    units, _, _ = read_geologic_units(path)
    connection.close()
    assert units["unit"].tolist() == ["a", "late"]


def test_points_only_are_refused(tmp_path):
    gpd.GeoDataFrame({"unit": ["a"]}, geometry=[Point(0, 0)], crs="EPSG:4326").to_file(
        tmp_path / "a.gpkg", driver="GPKG"
    )
    with pytest.raises(InputRefused, match="nothing that can be used") as refused:
        read_geologic_units(tmp_path / "a.gpkg")
    assert refused.value.log.refused == 1


def test_three_dimensions_are_flattened(tmp_path):
    shape = Polygon([(0, 0, 5), (1, 0, 5), (1, 1, 5)])
    gpd.GeoDataFrame({"unit": ["a"]}, geometry=[shape], crs="EPSG:4326").to_file(
        tmp_path / "a.gpkg", driver="GPKG"
    )
    units, log, _ = read_geologic_units(tmp_path / "a.gpkg")
    assert not units.has_z.any()
    assert log.kept == 1


# Real open maps -----------------------------------------------------------------------------------------------


def test_hamersley_needs_no_mapping(real_data):
    # Geological Survey of Western Australia 1:500k, 61 polygons (packaged with map2loop)
    units, log, _ = read_geologic_units(real_data("hamersley-map2loop/geology.geojson"))
    assert (log.read, log.kept) == (61, 61)
    rows = units.set_index("unit")
    assert rows.loc["A-HAd-kd", "rocks"].iloc[0] == "dolostone/dolomite"
    assert rows.loc["A-HAm-cib", "name"].iloc[0] == "Marra Mamba Iron Formation"
    assert (units[["rocks", "description"]] != "").any(axis=1).all()


def test_antikythera_with_its_column(real_data):
    # Antikythera Survey Project, 76 polygons, 33 of them alluvium (attribute table of the file)
    path = real_data("geology-saa2017/geology.shp")
    with pytest.raises(InputRefused, match="Area, Type, Age"):
        read_geologic_units(path)
    units, log, _ = read_geologic_units(path, mapping={"rocks": "Type"})
    assert (log.read, log.kept) == (76, 76)
    assert (units["unit"] == "Alluvium").sum() == 33
    assert (units["age"] == "").sum() == 41


def test_arizona_description_table_as_legend(real_data, tmp_path):
    # Arizona Geological Survey, NCGMP09 layout: 50 units in DescriptionOfMapUnits
    legend = real_data("arizona-ncgmp09-tables/DescriptionOfMapUnits.csv")
    frame = gpd.GeoDataFrame(
        {"MapUnit": ["Q", "QTv"]},
        geometry=[box(-112, 33, -111, 34), box(-111, 33, -110, 34)],
        crs="EPSG:4326",
    )
    frame.to_file(tmp_path / "a.gpkg", driver="GPKG", layer="MapUnitPolys")
    units, _, _ = read_geologic_units(tmp_path / "a.gpkg", legend=legend)
    assert units["name"][0].startswith("Quaternary Surficial deposits")
    assert units["description"][1].startswith("Rhyolite to andesite")

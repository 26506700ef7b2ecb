"""The invented ground as a whole: its files open anywhere, tell one story, and come out the same again."""

import contextlib
import hashlib
import importlib
import importlib.util
import io
import json
import sys
import zipfile

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import rasterio
import shapely

from prospect.cli import run
from prospect.definitions import demo_folder

pytestmark = pytest.mark.slow

UTM = "EPSG:32710"


@pytest.fixture(scope="module")
def maker():
    home = demo_folder()
    if "claywalk_demo" not in sys.modules:
        spec = importlib.util.spec_from_file_location(
            "claywalk_demo", home / "__init__.py", submodule_search_locations=[str(home)]
        )
        package = importlib.util.module_from_spec(spec)
        sys.modules["claywalk_demo"] = package
        spec.loader.exec_module(package)
    return importlib.import_module("claywalk_demo.make_ground")


@pytest.fixture(scope="module")
def files(maker, tmp_path_factory):
    return maker.make_ground(tmp_path_factory.mktemp("ground"))


@pytest.fixture(scope="module")
def elevation(files):
    with rasterio.open(files["elevation"][0]) as file:
        return file.read(1, masked=True), file.transform, file.crs, file.nodata


@pytest.fixture(scope="module")
def rocks(files):
    return gpd.read_file(files["geology"][0], layer="MapUnitPolys")


def heights_at(elevation, points):
    values, transform, _, _ = elevation
    col, row = ~transform * (np.array([p.x for p in points]), np.array([p.y for p in points]))
    rows, cols = values.shape
    inside = (row >= 0) & (row < rows) & (col >= 0) & (col < cols)
    found = values[row[inside].astype(int), col[inside].astype(int)]
    return found.filled(np.nan)


def spots_in(shape, count=300):
    rng = np.random.default_rng(0)
    west, south, east, north = shape.bounds
    tried = shapely.points(rng.uniform(west, east, 40 * count), rng.uniform(south, north, 40 * count))
    return tried[shapely.contains(shape, tried)][:count]


def test_the_same_number_gives_the_same_bytes(files, maker, tmp_path):
    again = maker.make_ground(tmp_path, maker.DEFAULT_SEED)
    for kind, paths in files.items():
        for old, new in zip(paths, again[kind], strict=True):
            assert _digest(old) == _digest(new), kind


def test_another_number_gives_another_ground(elevation, maker, tmp_path):
    other = maker.make_ground(tmp_path, 11)
    with rasterio.open(other["elevation"][0]) as file:
        assert (np.abs(file.read(1) - elevation[0].filled(0)) > 1).mean() > 0.5


def test_the_elevation_is_a_geotiff_in_degrees_of_about_ten_metres_with_a_gap(elevation):
    values, transform, crs, nodata = elevation
    assert crs == "EPSG:4326"
    assert nodata == -999999
    assert values.dtype == np.float32
    assert values.shape == (976, 1152)
    assert transform.a * 75_344 == pytest.approx(10, rel=0.06)
    assert -transform.e * 111_173 == pytest.approx(10, rel=0.06)
    assert 0.003 < values.mask.mean() < 0.05
    assert values.min() > 20
    assert values.max() < 500


def test_every_map_unit_on_the_rock_map_is_described(files, rocks):
    legend = pyogrio.read_dataframe(
        files["geology"][0], layer="DescriptionOfMapUnits", read_geometry=False
    ).set_index("MapUnit")
    assert set(rocks["MapUnit"]) == set(legend.index.dropna())
    assert (
        legend.loc[sorted(set(rocks["MapUnit"])), ["Description", "GeoMaterial", "Age"]]
        .notna()
        .all(axis=None)
    )


def test_rock_and_soil_polygons_are_valid_and_neither_overlap_nor_leave_slivers(files, rocks):
    soil = _soil_polygons(files)
    for table, least_ha in ((rocks, 1.0), (soil, 1.0)):
        metric = table.to_crs(UTM)
        assert table.crs == "EPSG:4326"
        assert table.is_valid.all()
        assert shapely.union_all(metric.geometry.values).area == pytest.approx(metric.area.sum(), rel=1e-6)
        assert metric.area.min() > least_ha * 1e4
        assert metric.area.sum() == pytest.approx(12.05e3 * 10.04e3, rel=0.02)


def test_the_soil_survey_is_laid_out_as_the_official_export(files):
    with zipfile.ZipFile(files["soil"][0]) as archive:
        names = archive.namelist()
        tabular = {
            name.rsplit("/", 1)[1]: archive.read(name).decode() for name in names if "/tabular/" in name
        }
    assert "ZZ001/spatial/soilmu_a_zz001.shp" in names
    assert {"legend.txt", "mapunit.txt", "comp.txt", "chorizon.txt", "cpmat.txt", "crstrcts.txt"} <= set(
        tabular
    )
    # Column counts of the published tables (SSURGO metadata: component 109, chorizon 171).
    assert all(line.count("|") == 108 for line in tabular["comp.txt"].split("\r\n")[:-1])
    assert all(line.count("|") == 170 for line in tabular["chorizon.txt"].split("\r\n")[:-1])
    units = {line.split("|")[-1].strip('"') for line in tabular["mapunit.txt"].split("\r\n")[:-1]}
    assert set(_soil_polygons(files)["MUKEY"]) == units


def test_the_parcels_have_the_flaws_of_real_ones(files):
    parcels = gpd.read_file(files["parcels"][0])
    assert parcels.crs == UTM
    assert (~parcels.is_valid).sum() == 1
    twice = parcels[parcels["PARCEL_ID"].duplicated(keep=False)]
    assert len(twice) == 2
    assert twice["OWNER"].nunique() == 2
    assert twice.geometry.iloc[0].equals(twice.geometry.iloc[1])
    assert parcels["PARCEL_ID"].str.startswith("0").all()
    whole = shapely.union_all(parcels.make_valid().values)
    assert len(whole.geoms if whole.geom_type == "MultiPolygon" else [whole]) > 1
    middle = whole.convex_hull.buffer(-400)
    assert middle.difference(whole.buffer(25)).area > 1e4


def test_the_river_falls_all_the_way_and_its_banks_stand_above_the_backswamp(files, elevation, rocks):
    water = gpd.read_file(files["water"][0])
    river = shapely.line_merge(water[water["kind"] == "river"].geometry.iloc[0])
    bed = heights_at(elevation, [river.interpolate(f, normalized=True) for f in np.linspace(0.01, 0.99, 40)])
    assert bed[0] - bed[-1] > 4
    assert np.diff(bed).max() < 1.0
    units = rocks.dissolve("MapUnit").geometry
    levee = np.nanmedian(heights_at(elevation, spots_in(units["Qas"])))
    terrace = np.nanmedian(heights_at(elevation, spots_in(units["Qt"])))
    soil = _soil_polygons(files).dissolve("MUSYM").geometry
    backswamp = np.nanmedian(heights_at(elevation, spots_in(soil["SaA"])))
    assert backswamp < levee < terrace


def test_the_lake_bed_is_flat_and_the_granite_upland_high_and_gentle(elevation, rocks):
    units = rocks.dissolve("MapUnit").geometry
    lake = heights_at(elevation, spots_in(units["Ql"]))
    assert np.nanquantile(lake, 0.9) - np.nanquantile(lake, 0.1) < 4
    granite = heights_at(elevation, spots_in(units["Do"]))
    shale = heights_at(elevation, spots_in(units["Ks"]))
    assert np.nanmedian(granite) > np.nanmedian(shale) + 60


def test_some_holes_found_clay_and_some_did_not(files):
    holes = pd.read_csv(files["samples"][0])
    counts = holes["usable"].value_counts()
    assert counts["yes"] >= 15
    assert counts["no"] >= 8
    assert holes["sample_id"].is_unique
    assert holes["quality"].between(0, 1).all()


@pytest.mark.parametrize(
    ("kind", "verdict"),
    [
        ("elevation", "accepted"),
        ("geology", "accepted"),
        ("soil", "accepted with notes"),
        ("structures", "accepted"),
        ("water", "accepted"),
        ("wetlands", "accepted"),
        ("roads", "accepted"),
        ("parcels", "accepted with notes"),
        ("keepouts", "accepted"),
        ("leads", "accepted"),
        ("faces", "accepted"),
    ],
)
def test_the_programs_own_readers_take_every_file(files, kind, verdict):
    assert _checked(kind, files[kind][0])["verdict"] == verdict


def test_the_readers_leave_out_exactly_the_two_careless_rows(files):
    holes, waypoints, careless = (_checked("samples", path) for path in files["samples"])
    assert (holes["kept"], holes["refused"]) == (46, 0)
    assert (waypoints["kept"], waypoints["refused"]) == (8, 0)
    assert (careless["kept"], careless["refused"]) == (6, 2)
    assert {problem["place"] for problem in careless["problems"]} == {"row 3", "row 6"}


def _checked(kind, path):
    spoken = io.StringIO()
    with contextlib.redirect_stdout(spoken):
        assert run(["check", kind, str(path), "--json"]) == 0
    return json.loads(spoken.getvalue())


def _soil_polygons(files):
    return gpd.read_file(f"/vsizip/{files['soil'][0]}/ZZ001/spatial/soilmu_a_zz001.shp")


def _digest(path):
    """Digest of a file; a shapefile's parts count as one."""
    parts = sorted(path.parent.glob(f"{path.stem}.*")) if path.suffix == ".shp" else [path]
    return [hashlib.sha256(part.read_bytes()).hexdigest() for part in parts]

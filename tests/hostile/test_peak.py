"""Bombs: files that claim or unpack to far more than they are cost a message, little memory and little time."""

from __future__ import annotations

import sqlite3
import struct
import sys
import zipfile
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import rasterio
from rasterio.transform import from_origin
from rasterio.windows import Window
from shapely.geometry import box

from prospect.guard.worker import Limits
from prospect.sources.reading import Wording

sys.path.insert(0, str(Path(__file__).parent))
import hungry
from corpus import CASES
from peak import MOST_MB, MOST_S_OF_A_BOMB, read_apart

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no process is copied there")

NEST = 1_000_000


def raster(path, side, *, filled=True, **given):
    profile = {
        "driver": "GTiff",
        "height": side,
        "width": side,
        "count": 1,
        "dtype": "float32",
        "crs": "EPSG:32709",
        "transform": from_origin(500_000, 4_737_000, 1, 1),
        "compress": "deflate",
        "zlevel": 1,
        **given,
    }
    with rasterio.open(path, "w", **profile) as target:
        rows = given.get("blockysize", 512)
        for row in range(0, side if filled else 0, rows):
            high = min(rows, side - row)
            target.write(np.full((high, side), 500, profile["dtype"]), 1, window=Window(0, row, side, high))
    return path


def shapes():
    words = {"unit": ["a", "b"], "rocks": ["granite", "clay"]}
    places = [box(-129, -47.6, -128.9, -47.5), box(-129, -47.4, -128.9, -47.3)]
    return gpd.GeoDataFrame(words, geometry=places, crs="EPSG:4326")


def deflate_bomb(folder):
    # 13,700 × 13,700 × 4 bytes = 751 MB, of which the file is a thousandth.
    return "elevation", raster(folder / "bomb.tif", 13_700, tiled=True, blockxsize=512, blockysize=512)


def under_the_most_cells(folder):
    return "elevation", raster(folder / "bomb.tif", 12_000, tiled=True, blockxsize=512, blockysize=512)


def one_block(folder):
    return "elevation", raster(folder / "block.tif", 7_000, blockysize=7_000)


def sparse(folder):
    # 10^10 cells.
    return "elevation", raster(folder / "sparse.tif", 100_000, filled=False, sparse_ok=True, tiled=True)


def sparse_under_the_most_cells(folder):
    return "elevation", raster(folder / "sparse.tif", 12_000, filled=False, sparse_ok=True, tiled=True)


def zip_bomb(folder):
    path = folder / "bomb.zip"
    with (
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
        archive.open("map.geojson", "w", force_zip64=True) as member,
    ):
        for _ in range(900):
            member.write(b"0" * 1_000_000)
    return "geology", path


def deep_lists(folder):
    path = folder / "deep.geojson"
    path.write_text(
        '{"type": "FeatureCollection", "features": ' + "[" * NEST + "]" * NEST + "}", encoding="utf-8"
    )
    return "geology", path


def deep_coordinates(folder):
    path = folder / "deep.geojson"
    nest = "[" * NEST + "]" * NEST
    path.write_text(
        '{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {"unit": "a"}, '
        '"geometry": {"type": "Polygon", "coordinates": ' + nest + "}}]}",
        encoding="utf-8",
    )
    return "geology", path


def one_large_feature(folder):
    path = folder / "large.geojson"
    ring = ",".join(f"[{n / 1e5:f},{n % 7}]" for n in range(4_000_000)) + ",[0,0]"
    path.write_text(
        '{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {"unit": "a"}, '
        '"geometry": {"type": "Polygon", "coordinates": [[' + ring + "]]}}]}",
        encoding="utf-8",
    )
    return "geology", path


def one_line(folder):
    path = folder / "line.csv"
    path.write_text("sample_id,lon,lat,note\na,1,2," + "x" * 90_000_000 + "\n", encoding="utf-8")
    return "samples", path


def many_columns(folder):
    path = folder / "columns.csv"
    names = ",".join(f"c{n}" for n in range(3_000_000))
    path.write_text(f"sample_id,lon,lat,{names}\na,1,2\n", encoding="utf-8")
    return "samples", path


def many_rows(folder):
    path = folder / "rows.csv"
    path.write_text("sample_id,lon,lat\n" + "a,1,2\n" * 10_000_000, encoding="utf-8")
    return "samples", path


def many_waypoints(folder):
    path = folder / "many.gpx"
    points = '<wpt lat="1" lon="2"><name>a</name></wpt>' * 400_000
    path.write_text(f'<gpx version="1.1" creator="a">{points}</gpx>', encoding="utf-8")
    return "samples", path


def claims_a_billion_points_in_a_geopackage(folder):
    path = folder / "claims.gpkg"
    pyogrio.write_dataframe(shapes(), path, layer="geology", driver="GPKG")
    head = b"GP\0\1" + struct.pack("<i", 4326)
    claim = struct.pack("<BIII", 1, 3, 1, 1 << 30)
    with sqlite3.connect(path) as file:
        triggers = file.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for (name,) in triggers:
            file.execute(f'DROP TRIGGER "{name}"')
        file.execute("UPDATE geology SET geom = ? WHERE fid = 1", (head + claim + bytes(64),))
    file.close()
    return "geology", path


def claims_a_billion_points_in_a_shapefile(folder):
    path = folder / "claims.shp"
    pyogrio.write_dataframe(shapes(), path, driver="ESRI Shapefile")
    content = bytearray(path.read_bytes())
    # Header 100 bytes, record header 8, shape type 4, box 32, number of parts 4, then the number of points
    # (Shapefile Technical Description, ESRI 1998, table 8).
    assert struct.unpack_from("<ii", content, 144) == (1, 5)
    struct.pack_into("<i", content, 148, 1 << 30)
    path.write_bytes(content)
    return "geology", path


BOMBS = (
    deflate_bomb,
    under_the_most_cells,
    one_block,
    sparse,
    sparse_under_the_most_cells,
    zip_bomb,
    deep_lists,
    deep_coordinates,
    one_large_feature,
    one_line,
    many_columns,
    many_rows,
    many_waypoints,
    claims_a_billion_points_in_a_geopackage,
    claims_a_billion_points_in_a_shapefile,
)


@pytest.mark.slow
@pytest.mark.parametrize("bomb", BOMBS, ids=lambda bomb: bomb.__name__)
def test_a_bomb_costs_little(bomb, tmp_path, figures):
    kind, path = bomb(tmp_path)
    taken = read_apart(kind, path)
    assert taken.how in ("refusal", "result"), taken
    assert taken.log is not None
    assert taken.log.refused or taken.log.verdict == "refused", taken
    assert path.name in taken.message or taken.how == "result"
    assert taken.peak_mb <= MOST_MB
    # By the processor's clock, since the machine may be busy with other tests.
    assert taken.cpu_s <= MOST_S_OF_A_BOMB
    worst = _WORST
    worst["mb"], worst["s"] = max(worst["mb"], taken.peak_mb), max(worst["s"], taken.cpu_s)
    figures["bombs"] = (
        f"at most {worst['mb']:.0f} MB resident, libraries included, and {worst['s']:.1f} s of processor time each"
    )


@pytest.mark.slow
def test_hostile_inputs_are_met_alike_in_the_process_that_reads_files(tmp_path, figures):
    # Every fifth, for the time it takes; the corpus itself says what must come of each.
    met, worst_mb = [], 0.0
    for number, case in enumerate(CASES[::5]):
        if case.kind == "deposit":
            continue
        folder = tmp_path / str(number)
        folder.mkdir()
        path = case.build(folder)
        legend = case.legend(folder) if case.legend else None
        taken = read_apart(case.kind, path, Wording(crs=case.crs, mapping=case.mapping, legend=legend))
        worst_mb = max(worst_mb, taken.peak_mb)
        if taken.faults or taken.peak_mb > MOST_MB or taken.cpu_s > MOST_S_OF_A_BOMB:
            met.append((str(case), taken.faults, taken.peak_mb, taken.cpu_s))
    assert not met
    figures["hostile files, each in a process of its own"] = (
        f"at most {worst_mb:.0f} MB resident of every fifth"
    )


_WORST = {"mb": 0.0, "s": 0.0}


def test_the_measure_sees_what_is_taken(tmp_path):
    # Checked against what is known to be taken: 300 MB held at once.
    path = tmp_path / "any.csv"
    path.write_text("x", encoding="utf-8")
    little = read_apart("samples", path, read=hungry.takes_nothing)
    much = read_apart("samples", path, read=hungry.takes_300_mb)
    assert 295 < much.peak_mb - little.peak_mb < 330
    (fault,) = read_apart("samples", path, read=hungry.fails).faults
    assert fault.startswith("fault: KeyError\nTraceback")
    assert read_apart("samples", path, read=hungry.takes_300_mb, limits=Limits(memory_mb=700)).how == "memory"


@pytest.mark.parametrize(
    "layout", [{"tiled": True, "blockxsize": 256, "blockysize": 256}, {"compress": None}]
)
def test_large_honest_elevation_is_read_within_the_limit(layout, tmp_path, figures):
    # 16 million cells with the relief of a hill country: whole strips uncompressed, tiles otherwise.
    side = 4_000
    rows, cols = np.mgrid[0:side, 0:side].astype("float32")
    heights = (
        300 + 80 * np.sin(rows / 90) * np.cos(cols / 130) + np.random.default_rng(2).random((side, side))
    )
    path = tmp_path / "hills.tif"
    profile = {"driver": "GTiff", "height": side, "width": side, "count": 1, "dtype": "float32"}
    profile |= {
        "crs": "EPSG:32709",
        "transform": from_origin(500_000, 4_737_000, 10, 10),
        "compress": "deflate",
    }
    with rasterio.open(path, "w", **{**profile, **layout}) as target:
        target.write(heights.astype("float32"), 1)
    taken = read_apart("elevation", path)
    assert taken.how == "result", taken
    assert taken.peak_mb <= MOST_MB
    figures["reading 16 million cells"] = (
        f"{taken.peak_mb:.0f} MB resident, {taken.cpu_s:.1f} s of processor time"
    )


REAL = {
    "soil": "ssurgo-ar017-chicot",
    "elevation": "dem-bigtujunga/srtm_bigtujunga30m_utm11.tif",
    "geology": "hamersley-map2loop/geology.geojson",
    "structures": "hamersley-map2loop/structures.geojson",
}


@pytest.mark.parametrize("kind", REAL)
def test_open_data_is_read_within_the_limit(kind, real_data):
    taken = read_apart(kind, real_data(REAL[kind]))
    assert taken.how == "result", taken
    assert taken.peak_mb <= MOST_MB


def test_a_soil_survey_in_an_archive_is_read_within_the_limit(real_data, tmp_path):
    import shutil

    folder = real_data(REAL["soil"])
    archive = shutil.make_archive(str(tmp_path / "export"), "zip", folder)
    taken = read_apart("soil", Path(archive))
    assert taken.how == "result", taken
    assert taken.peak_mb <= MOST_MB


def test_another_open_map_is_read_within_the_limit(real_data):
    path = real_data("geology-saa2017/geology.shp")
    taken = read_apart("geology", path, Wording(mapping={"unit": "Type"}))
    assert taken.how == "result", taken
    assert taken.peak_mb <= MOST_MB

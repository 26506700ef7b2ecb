"""A corpus of hostile and unlucky files: each is met as it should be, and none gets anything done but being read."""

import io
import json
import pickle
import shutil
import struct
import time
import zipfile

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import rasterio
from affine import Affine
from shapely.geometry import Point, box

KINDS = ("geology", "parcels", "water", "keepouts", "structures")

# Files that only point elsewhere: GDAL virtual formats (gdal.org, "Security considerations")
POINTERS = {
    "raster vrt": b'<VRTDataset rasterXSize="9" rasterYSize="9"><VRTRasterBand dataType="Byte" band="1" subClass="VRTRawRasterBand"><SourceFilename>/etc/passwd</SourceFilename></VRTRasterBand></VRTDataset>',  # noqa: E501
    "vector vrt": b'<OGRVRTDataSource><OGRVRTLayer name="x"><SrcDataSource>/etc/passwd</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>',  # noqa: E501
    "map service": b"<GDAL_WMS><Service name='TMS'><ServerUrl>http://127.0.0.1:9/</ServerUrl></Service></GDAL_WMS>",
    "wfs": b"<OGRWFSDataSource><URL>http://127.0.0.1:9/</URL></OGRWFSDataSource>",
    "tile index": b"<GDALTileIndexDataset><IndexDataset>/etc/passwd</IndexDataset></GDALTileIndexDataset>",
    "wcs": b"<WCS_GDAL><ServiceURL>http://127.0.0.1:9/</ServiceURL></WCS_GDAL>",
    "late vrt": b"<?xml version='1.0'?>\n<!-- "
    + b"x" * 2000
    + b" -->\n<VRTDataset rasterXSize='1' rasterYSize='1'/>",
}
OTHER_CONTENT = {
    "empty": b"",
    "one byte": b"\x00",
    "zeros": b"\0" * 4096,
    "text": b"hello there\n",
    "web page": b"<!DOCTYPE html><html><body>Please log in</body></html>",
    "error json": b'{"error":{"code":400,"message":"Invalid"}}',
    "json list": b"[1,2,3]",
    "pickle": pickle.dumps({"a": [1, 2]}),
    "program": b"\x7fELF" + b"\0" * 200,
    "zip": b"PK\x03\x04" + b"\0" * 60,
    "png": b"\x89PNG\r\n\x1a\n" + b"\0" * 60,
    "pdf": b"%PDF-1.7\n",
    "postscript": b"%!PS\n(/etc/passwd) run",
    "gzip": b"\x1f\x8b\x08" + b"\0" * 60,
    "not downloaded": b"version https://git-lfs.github.com/spec/v1\noid sha256:00\nsize 1\n",
    "tiff head": b"II*\x00\x08\x00\x00\x00",
    "big tiff head": b"II+\x00\x08\x00\x00\x00",
    "sqlite head": b"SQLite format 3\x00" + b"\0" * 84,
    "shape head": struct.pack(">i", 9994) + b"\0" * 96,
    "doctype": b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/passwd">]><a>&b;</a>',
}
SUFFIXES = {
    "elevation": (".tif", ".hgt"),
    "geology": (".geojson", ".gpkg", ".shp", ".zip"),
    "samples": (".csv", ".gpx", ".kml"),
}
WRONG = [
    (kind, suffix, name, content)
    for kind, suffixes in SUFFIXES.items()
    for suffix in suffixes
    for name, content in (POINTERS | OTHER_CONTENT).items()
]


@pytest.mark.parametrize(
    ("kind", "suffix", "name", "content"), WRONG, ids=lambda v: v if isinstance(v, str) else ""
)
def test_wrong_content_under_a_right_name(tmp_path, outcome, kind, suffix, name, content):
    path = tmp_path / f"N35W084{suffix}"
    path.write_bytes(content)
    if suffix == ".shp":
        (tmp_path / "N35W084.shx").write_bytes(content)
        (tmp_path / "N35W084.dbf").write_bytes(content)
    began = time.perf_counter()
    assert outcome(kind, path)[0] == "refused"
    assert time.perf_counter() - began < 5


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("form", ["gpkg", "shp", "geojson", "zip"])
def test_good_files_of_every_form(outcome, control, kind, form):
    expected = "refused" if kind in ("parcels", "structures") else "accepted"
    verdict, _ = outcome(kind, control(form))
    assert (verdict == "refused") == (expected == "refused")  # no parcel number, no lines: rightly refused


# Shapefiles ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("missing", [".shx", ".dbf", ".prj"])
def test_shapefile_without_one_of_its_files(outcome, control, missing):
    path = control("shp")
    path.with_suffix(missing).unlink()
    verdict, log = outcome("geology", path)
    assert verdict == "refused"
    assert missing in log.issues[0].value or "--crs" in log.issues[0].action


@pytest.mark.parametrize("part", [".shp", ".shx", ".dbf"])
@pytest.mark.parametrize("keep", [0.3, 0.7, 0.97])
def test_truncated_shapefile(outcome, control, part, keep):
    path = control("shp")
    whole = path.with_suffix(part)
    data = whole.read_bytes()
    whole.write_bytes(data[: int(len(data) * keep)])
    outcome("geology", path)


def test_shapefile_claiming_a_billion_points(outcome, control):
    # ESRI shapefile description: number of points at byte 48 of a polygon record (after the 100-byte header)
    path = control("shp")
    data = bytearray(path.read_bytes())
    data[148:152] = struct.pack("<i", 2**30)
    path.write_bytes(data)
    _, log = outcome("geology", path)
    assert log.refused >= 1 or log.verdict == "refused"


@pytest.mark.parametrize(
    "wkt", ["", "nonsense", 'LOCAL_CS["x"]', "PROJCS[" * 500, 'GEOGCS["a",DATUM["b",SPHEROID["c",0,0]]]']
)
def test_broken_projection_file(outcome, control, wkt):
    path = control("shp")
    path.with_suffix(".prj").write_text(wkt)
    outcome("geology", path)


# GeoPackages --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("keep", [0.1, 0.5, 0.9])
def test_truncated_geopackage(outcome, control, keep):
    path = control("gpkg")
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * keep)])
    assert outcome("geology", path)[0] == "refused"


def test_random_page_in_a_geopackage(outcome, control):
    # reads as good rows without a check: https://www.sqlite.org/howtocorrupt.html
    path = control("gpkg")
    data = bytearray(path.read_bytes())
    page = 4096 * (len(data) // 4096 // 2)
    data[page : page + 4096] = np.random.default_rng(3).bytes(4096)
    path.write_bytes(data)
    outcome("geology", path)


@pytest.mark.parametrize(
    "sql",
    [
        "CREATE VIEW v AS WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM c) SELECT x FROM c",
        "DROP TABLE gpkg_contents",
        "DELETE FROM gpkg_contents",
        "DELETE FROM gpkg_geometry_columns",
        "UPDATE gpkg_geometry_columns SET srs_id = 99999",
        "UPDATE gpkg_contents SET table_name = '; DROP TABLE x; --'",
        "UPDATE gpkg_spatial_ref_sys SET definition = 'nonsense'",
        "DROP TABLE gpkg_spatial_ref_sys",
    ],
)
def test_geopackage_with_a_spoilt_schema(outcome, control, sql):
    import sqlite3

    path = control("gpkg")
    connection = sqlite3.connect(path)
    try:
        connection.execute(sql)
        connection.commit()
    finally:
        connection.close()
    began = time.perf_counter()
    outcome("geology", path)
    assert time.perf_counter() - began < 10


@pytest.mark.parametrize("blob", [b"", b"GP", b"GP\x00\x01" + b"\0" * 4, b"x" * 100, None, "text", 7])
def test_geopackage_with_spoilt_shapes(outcome, control, blob):
    import sqlite3

    path = control("gpkg")
    connection = sqlite3.connect(path)
    for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        connection.execute(f'DROP TRIGGER "{name}"')
    connection.execute("UPDATE control SET geom = ? WHERE fid = 3", (blob,))
    connection.commit()
    connection.close()
    _, log = outcome("geology", path)
    assert log.read in (0, 20)
    if log.read:
        assert log.refused == 1


# GeoJSON ------------------------------------------------------------------------------------------------------


def collection(*features):
    return json.dumps({"type": "FeatureCollection", "features": list(features)})


def feature(geometry, **properties):
    return {"type": "Feature", "properties": {"unit": "a", **properties}, "geometry": geometry}


SQUARE = {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, 1], [0, 0]]]}
GEOJSON = {
    "no features": collection(),
    "features null": '{"type":"FeatureCollection","features":null}',
    "depth bomb": '{"type":"FeatureCollection","features":' + "[" * 20_000,
    "object bomb": '{"type":"FeatureCollection","features":[{"a":' * 3000,
    "coordinates bomb": collection(feature({"type": "Polygon", "coordinates": "x"})).replace(
        '"x"', "[" * 900 + "]" * 900
    ),
    "text coordinates": collection(feature({"type": "Polygon", "coordinates": [[["a", "b"], ["c", "d"]]]})),
    "nan": collection(
        feature({"type": "Polygon", "coordinates": [[[float("nan"), 0], [1, 0], [1, 1], [0, 0]]]})
    ),
    "infinity": collection(
        feature({"type": "Polygon", "coordinates": [[[float("inf"), 0], [1, 0], [1, 1], [0, 0]]]})
    ),
    "1e400": collection(
        feature({"type": "Polygon", "coordinates": [[[7777, 0], [1, 0], [1, 1], [0, 0]]]})
    ).replace("7777", "1e400"),
    "huge numbers": collection(
        feature({"type": "Polygon", "coordinates": [[[1e300, 0], [1, 0], [1, 1], [1e300, 0]]]})
    ),
    "unknown type": collection(feature({"type": "Spiral", "coordinates": [0, 0]})),
    "curve": collection(feature({"type": "CircularString", "coordinates": [[0, 0], [1, 1], [2, 0]]})),
    "topology": '{"type":"Topology","objects":{},"arcs":[]}',
    "esri": '{"geometryType":"esriGeometryPolygon","spatialReference":{"wkid":4326},"features":[{"attributes":{"unit":"a"},"geometry":{"rings":[[[0,0],[1,0],[1,1],[0,0]]]}}]}',  # noqa: E501
    "sequence": "\x1e" + json.dumps(feature(SQUARE)) + "\n\x1e" + json.dumps(feature(SQUARE)),
    "cut": collection(feature(SQUARE), feature(SQUARE))[:-30],
    "latin-1": collection(feature(SQUARE, name="grün")).encode().decode().replace("gr\\u00fcn", "gr\xfcn"),
    "same key twice": collection(feature(SQUARE)).replace('"unit": "a"', '"unit": "a", "unit": "b"'),
    "properties a list": collection({"type": "Feature", "properties": [1, 2], "geometry": SQUARE}),
    "nested properties": collection(feature(SQUARE, deep={"a": {"b": [1, {"c": "<script>"}]}})),
    "a thousand columns": collection(feature(SQUARE, **{f"c{i}": i for i in range(1500)})),
    "crs nonsense": collection(feature(SQUARE))[:-1]
    + ',"crs":{"type":"name","properties":{"name":"urn:nonsense"}}}',
    "crs link": collection(feature(SQUARE))[:-1]
    + ',"crs":{"type":"link","properties":{"href":"http://127.0.0.1:9/","type":"proj4"}}}',
    "crs vertical": collection(feature(SQUARE))[:-1]
    + ',"crs":{"type":"name","properties":{"name":"EPSG:5703"}}}',
    "date line": collection(
        feature({"type": "Polygon", "coordinates": [[[179, 0], [-179, 0], [-179, 1], [179, 0]]]})
    ),
    "spike": collection(
        feature({"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [0, 0], [1, 0], [0, 0]]]})
    ),
    "hole outside": collection(
        feature(
            {"type": "Polygon", "coordinates": [SQUARE["coordinates"][0], [[5, 5], [6, 5], [6, 6], [5, 5]]]}
        )
    ),
    "two points": collection(feature({"type": "Polygon", "coordinates": [[[0, 0], [1, 1]]]})),
    "nested collection": collection(
        feature(
            {
                "type": "GeometryCollection",
                "geometries": [{"type": "GeometryCollection", "geometries": [SQUARE]}],
            }
        )
    ),
    "payload": collection(
        feature(SQUARE, name="${alert(1)}</script><img src=x onerror=alert(1)>{{7*7}}", rocks="=1+1")
    ),
}
GEOJSON_REFUSED = {
    "no features",
    "features null",
    "depth bomb",
    "object bomb",
    "topology",
    "cut",
    "unknown type",
    "two points",
    "spike",
    "nan",
    "text coordinates",
    "crs vertical",
}


@pytest.mark.parametrize("name", GEOJSON)
def test_geojson(tmp_path, outcome, name):
    content = GEOJSON[name]
    path = tmp_path / "map.geojson"
    path.write_bytes(content.encode("latin-1" if name == "latin-1" else "utf-8"))
    began = time.perf_counter()
    verdict, log = outcome("geology", path)
    assert time.perf_counter() - began < 5
    if name in GEOJSON_REFUSED:
        assert verdict == "refused", log
    if name in ("payload", "nested properties", "a thousand columns", "same key twice", "nested collection"):
        assert verdict != "refused", log.issues


def test_payloads_come_through_verbatim(tmp_path):
    from prospect.sources.geology import read_geologic_units
    from prospect.text import escape_html, escape_script

    payload = "${alert(1)}`</script><img src=x onerror=alert(1)>{{7*7}}{%x%}_a1 \u202e=1+1"
    path = tmp_path / "map.geojson"
    path.write_text(collection(feature(SQUARE, rocks=payload)))
    units, _, _ = read_geologic_units(path)
    words = units["rocks"][0]
    assert words == payload
    assert json.loads(escape_script(words)) == payload
    assert not set("<>{}`$%") & set(escape_html(words))


# Elevation ----------------------------------------------------------------------------------------------------


def tiff(path, values, **more):
    profile = {
        "driver": "GTiff",
        "height": values.shape[0],
        "width": values.shape[1],
        "count": 1,
        "dtype": values.dtype,
    }
    given = {"crs": "EPSG:26917", "transform": Affine(10, 0, 3e5, 0, -10, 3.93e6)} | more
    with rasterio.open(path, "w", **profile, **given) as target:
        target.write(values, 1)
    return path


@pytest.mark.parametrize("keep", [0.02, 0.2, 0.5, 0.8, 0.99])
def test_truncated_elevation(outcome, control, keep):
    path = control("tif")
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * keep)])
    assert outcome("elevation", path)[0] == "refused"


@pytest.mark.parametrize(
    "transform",
    [
        Affine(0, 0, 3e5, 0, -10, 3.93e6),
        Affine(10, 0, 1e300, 0, -10, 3.93e6),
        Affine(1e-12, 0, 3e5, 0, -1e-12, 3.93e6),
        Affine(1e9, 0, 3e5, 0, -1e9, 3.93e6),
        Affine(10, 10, 3e5, 10, 10, 3.93e6),
    ],
)
def test_nonsense_positions(tmp_path, outcome, transform):
    outcome("elevation", tiff(tmp_path / "dem.tif", np.ones((9, 9), "float32"), transform=transform))


@pytest.mark.parametrize(
    "dtype", ["uint8", "int8", "uint16", "int32", "uint32", "float64", "complex64", "complex128"]
)
def test_number_types(tmp_path, outcome, dtype):
    values = np.arange(81).reshape(9, 9).astype(dtype)
    verdict, _ = outcome("elevation", tiff(tmp_path / "dem.tif", values))
    assert (verdict == "refused") == dtype.startswith("complex")


def test_deflated_bomb_is_bounded(tmp_path, outcome):
    path = tiff(tmp_path / "dem.tif", np.zeros((4000, 4000), "uint8"), compress="deflate", zlevel=9)
    assert path.stat().st_size < 100_000
    began = time.perf_counter()
    outcome("elevation", path)
    assert time.perf_counter() - began < 5


def test_side_files_are_not_followed(tmp_path, outcome):
    path = tiff(tmp_path / "dem.tif", np.arange(81, dtype="float32").reshape(9, 9))
    (tmp_path / "dem.tif.aux.xml").write_bytes(POINTERS["raster vrt"])
    (tmp_path / "dem.tif.ovr").write_bytes(b"II*\x00")
    (tmp_path / "dem.tfw").write_text("nonsense")
    assert outcome("elevation", path)[0] == "accepted"


def test_a_geopackage_of_pictures_is_no_elevation(outcome, control):
    assert outcome("elevation", control("gpkg"))[0] == "refused"


# Tables, waypoints and archives --------------------------------------------------------------------------------

TABLES = {
    "only quotes": '"' * 1000,
    "open quote": 'id,lon,lat\n"a,-83,35\n' + "b,-83,35\n" * 50,
    "quote bomb": 'id,lon,lat\n"' + "x" * 200_000 + '",-83,35\n',
    "wide": ",".join(f"c{i}" for i in range(5000)) + "\n" + "1," * 5000,
    "no numbers": "id,lon,lat\na,west,north\n",
    "numbers as headings": "1,2,3\n4,5,6\n",
    "giant number": "id,lon,lat\na,1e999999,35\nb,-83,35\n",
    "many digits": "id,lon,lat\na,-83." + "0" * 20_000 + ",35\n",
    "arabic digits": "id,lon,lat\na,٨٣,٣٥\nb,-83,35\n",
    "bell and escape": "id,lon,lat,note\na\x07\x1b[31m,-83,35,\x1b]0;x\x07\n",
    "direction marks": "id,lon,lat\na\u202eb,-83,35\n",
    "blank names": ",,\na,-83,35\n",
    "separator line": "sep=;\nid;lon;lat\na;-83;35\n",
    "carriage returns": "id,lon,lat\ra,-83,35\rb,-83,35.1\r",
    "same row 500 times": "id,lon,lat\n" + "a,-83,35\n" * 500,
    "same name 500 times": "id,lon,lat\n" + "".join(f"a,-83,{35 + i / 1000}\n" for i in range(500)),
    "formulas": "id,lon,lat\n=1+1,=2+2,@SUM(A1)\nb,-83,35\n",
}


@pytest.mark.parametrize("name", TABLES)
def test_tables(tmp_path, outcome, name):
    path = tmp_path / "holes.csv"
    path.write_bytes(TABLES[name].encode())
    began = time.perf_counter()
    verdict, log = outcome("samples", path)
    assert time.perf_counter() - began < 5
    if name in (
        "separator line",
        "carriage returns",
        "bell and escape",
        "direction marks",
        "same row 500 times",
        "formulas",
    ):
        assert verdict != "refused", log.issues
    if name == "same row 500 times":
        assert (log.kept, log.refused) == (1, 499)


LAUGHS = "".join(f'<!ENTITY l{i + 1} "{f"&l{i};" * 10}">' for i in range(9))
LONG = '<wpt lat="1" lon="1"><name>&a;</name></wpt>'
XML = {
    "billion laughs": f'<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY l0 "ha">{LAUGHS}]><gpx><wpt lat="1" lon="1"><name>&l9;</name></wpt></gpx>',  # noqa: E501
    "quadratic": f'<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "{"x" * 50_000}">]><gpx>{LONG * 50}</gpx>',
    "outside entity": '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a SYSTEM "file:///etc/passwd">]><gpx><wpt lat="1" lon="1"><name>&a;</name></wpt></gpx>',  # noqa: E501
    "outside address": '<?xml version="1.0"?><!DOCTYPE gpx SYSTEM "http://127.0.0.1:9/x.dtd"><gpx><wpt lat="1" lon="1"/></gpx>',  # noqa: E501
    "late doctype": "<?xml version='1.0'?><!-- "
    + "x" * 70_000
    + ' --><!DOCTYPE gpx [<!ENTITY a "b">]><gpx><wpt lat="1" lon="1"><name>&a;</name></wpt></gpx>',
    "utf-16 entities": '<?xml version="1.0" encoding="utf-16"?><!DOCTYPE gpx [<!ENTITY a "b">]><gpx><wpt lat="1" lon="1"><name>&a;</name></wpt></gpx>',  # noqa: E501
    "deep": "<gpx>" + "<a>" * 5000 + "</a>" * 5000 + "</gpx>",
    "unclosed": '<gpx><wpt lat="1" lon="1">',
    "other root": "<kml><wpt lat='1' lon='1'/></kml>",
    "no points": "<gpx/>",
    "undeclared entity": '<gpx><wpt lat="1" lon="1"><name>&nbsp;</name></wpt></gpx>',
    "unknown encoding": '<?xml version="1.0" encoding="x-none"?><gpx><wpt lat="1" lon="1"/></gpx>',
    "include": '<gpx xmlns:xi="http://www.w3.org/2001/XInclude"><xi:include href="file:///etc/passwd"/></gpx>',
    "text latitude": '<gpx><wpt lat="x" lon="1"/></gpx>',
}


@pytest.mark.parametrize("name", XML)
def test_xml(tmp_path, outcome, name):
    path = tmp_path / "walk.gpx"
    path.write_bytes(XML[name].encode("utf-16" if name.startswith("utf-16") else "utf-8"))
    began = time.perf_counter()
    assert outcome("samples", path)[0] == "refused"
    assert time.perf_counter() - began < 5


def packed(path, members):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return path


@pytest.mark.parametrize(
    "name", ["../../evil.geojson", "/tmp/evil.geojson", "a/../../evil.geojson", "..\\evil.geojson"]
)
def test_archives_leading_outside(tmp_path, outcome, name):
    path = packed(tmp_path / "map.zip", {name: collection(feature(SQUARE))})
    assert outcome("geology", path)[0] == "refused"
    assert not list(tmp_path.rglob("evil*"))


def test_archives(tmp_path, outcome, control):
    good = collection(feature(SQUARE)).encode()
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w") as archive:
        archive.writestr("map.geojson", good)
    cases = {
        "bomb": ({"map.geojson": good + b" " * 80_000_000}, "refused"),
        "nested": ({"inner.zip": inner.getvalue()}, "refused"),
        "pointer": ({"map.geojson": POINTERS["vector vrt"]}, "refused"),
        "nothing useful": ({"readme.txt": b"x"}, "refused"),
        "half a shapefile": ({"a.shp": control("shp").read_bytes()}, "refused"),
        "resource forks": (
            {"map.geojson": good, "__MACOSX/._map.geojson": b"\0\5\x16\7"},
            "accepted with notes",
        ),
    }
    for name, (members, verdict) in cases.items():
        began = time.perf_counter()
        assert outcome("geology", packed(tmp_path / f"{name}.zip", members))[0] == verdict, name
        assert time.perf_counter() - began < 5


def test_folder_in_place_of_a_file(tmp_path, outcome):
    for name in ("a.tif", "a.geojson", "a.gdb", "a.csv"):
        (tmp_path / name).mkdir()
        kind = {"a.tif": "elevation", "a.csv": "samples"}.get(name, "geology")
        assert outcome(kind, tmp_path / name)[0] == "refused"
    shutil.rmtree(tmp_path / "a.gdb")


@pytest.mark.parametrize(
    "stem", ["a b", "[2026]", "grün", "--help", "$(touch x)", "a;b", "x'y", "a!b.zip!c", "q?x=1", "a#b", "&"]
)
def test_odd_names_are_only_names(tmp_path, outcome, control, stem):
    folder = tmp_path / f"in {stem}"
    folder.mkdir()
    for form, kind in (("gpkg", "geology"), ("geojson", "geology"), ("tif", "elevation"), ("csv", "samples")):
        path = control(form).rename(folder / f"{stem}.{form}")
        assert outcome(kind, path)[0] != "refused"
    control("shp")
    for suffix in (".shp", ".shx", ".dbf", ".prj"):
        (tmp_path / f"control{suffix}").rename(folder / f"{stem}{suffix}")
    assert outcome("geology", folder / f"{stem}.shp")[0] != "refused"
    assert not (tmp_path / "x").exists()


def test_columns_named_to_hurt(tmp_path, outcome):
    frame = gpd.GeoDataFrame(
        {"unit": ["a"], '"; DROP TABLE x; --': [1], "geometry ": ["x"], "<b>": ["y"]},
        geometry=[box(0, 0, 1, 1)],
        crs="EPSG:4326",
    )
    pyogrio.write_dataframe(frame, tmp_path / "a.gpkg", layer="geology")
    assert outcome("geology", tmp_path / "a.gpkg")[0] != "refused"


def test_points_where_polygons_belong(tmp_path, outcome):
    gpd.GeoDataFrame({"unit": ["a"]}, geometry=[Point(0, 0)], crs="EPSG:4326").to_file(
        tmp_path / "a.gpkg", driver="GPKG"
    )
    assert outcome("geology", tmp_path / "a.gpkg")[0] == "refused"

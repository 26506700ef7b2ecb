"""GeoJSON, saved answers of map services, shapefiles and parcels: broken, mislabelled, or not what was asked for."""

from __future__ import annotations

import json
import shutil
import struct
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
from controls import make_control
from shapely.geometry import LineString, Point, box

from corpus.case import SQUARE, Build, Case, Verdict, collection, data, feature, packed, text


def _square(west: float, east: float) -> dict[str, object]:
    ring = [[west, -47], [east, -47], [east, -46.9], [west, -46.9], [west, -47]]
    return {"type": "Polygon", "coordinates": [ring]}


RING = SQUARE["coordinates"][0]
LOGIN = (
    "<!DOCTYPE html><html><head><title>Sign in</title></head><body><form>Please log in</form></body></html>"
)
EXCEPTION = (
    '<?xml version="1.0"?><ows:ExceptionReport xmlns:ows="http://www.opengis.net/ows/1.1" version="2.0.0">'
    '<ows:Exception exceptionCode="InvalidParameterValue" locator="typeName"/></ows:ExceptionReport>'
)
GML = (
    '<?xml version="1.0"?><wfs:FeatureCollection xmlns:wfs="http://www.opengis.net/wfs/2.0" '
    'xmlns:gml="http://www.opengis.net/gml/3.2"><wfs:member/></wfs:FeatureCollection>'
)
ESRI = {
    "geometryType": "esriGeometryPolygon",
    "spatialReference": {"wkid": 4326},
    "features": [{"attributes": {"unit": "a", "rocks": "granite"}, "geometry": {"rings": [RING]}}],
}


def poly(*ring: object) -> dict[str, object]:
    return {"type": "Polygon", "coordinates": [list(ring)]}


def _json(name: str, content: str | bytes, verdict: Verdict, kind: str = "geology", **more: object) -> Case:
    build = data("map.geojson", content) if isinstance(content, bytes) else text("map.geojson", content)
    return Case(kind, f"geojson, {name}", build, verdict, **more)  # type: ignore[arg-type]


def with_crs(name: object) -> str:
    return collection(feature(), crs={"type": "name", "properties": {"name": name}})


def beside(one: object, **more: object) -> str:
    """Return three good features and, second, a strange one."""
    return collection(feature(), feature(one, **more), feature(), feature())


def _many(folder: Path) -> Path:
    path = folder / "map.geojson"
    with path.open("w") as handle:
        handle.write('{"type":"FeatureCollection","features":[')
        handle.write(",".join(json.dumps(feature()) for _ in range(3000)))
        handle.write("]}")
    return path


def _tangle(points: int) -> dict[str, object]:
    """Return an outline through places drawn at random: it crosses itself about points² / 6 times."""
    places = np.random.default_rng(9).random((points, 2)) / 10 + (-9, -47)
    ring = [[float(x), float(y)] for x, y in places]
    return poly(*ring, ring[0])


def _long_ring(folder: Path) -> Path:
    ring = [[-9 + (i % 1000) / 1e5, -47 + i / 1e7] for i in range(100_000)]
    path = folder / "map.geojson"
    path.write_text(collection(feature(poly(*ring, ring[0]))))
    return path


GEOJSON = [
    _json("good", collection(feature(), feature()), "accepted"),
    _json("no features", collection(), "refused", whole=True),
    _json("features null", '{"type":"FeatureCollection","features":null}', "refused", whole=True),
    _json("features a number", '{"type":"FeatureCollection","features":7}', "refused", whole=True),
    _json("features of numbers", '{"type":"FeatureCollection","features":[1,2]}', "refused", whole=True),
    _json(
        "20,000 lists deep",
        '{"type":"FeatureCollection","features":' + "[" * 20_000,
        "refused",
        place="line 1",
    ),
    _json(
        "100,000 lists deep",
        '{"type":"FeatureCollection","features":' + "[" * 100_000 + "]" * 100_000 + "}",
        "refused",
        place="line 1",
    ),
    _json(
        "100,000 lists deep in a property",
        beside(SQUARE, deep=7).replace('"deep": 7', '"deep": ' + "[" * 100_000 + "]" * 100_000),
        "refused",
        place="line 1",
    ),
    _json(
        "objects without end",
        '{"type":"FeatureCollection","features":[{"a":' * 3000,
        "refused",
        place="line 1",
    ),
    _json(
        "coordinates 900 lists deep",
        beside({"type": "Polygon", "coordinates": "x"}).replace('"x"', "[" * 900 + "]" * 900),
        "refused",
        place="line 1",
    ),
    _json("coordinates text", beside(poly(["a", "b"], ["c", "d"])), "repaired", place="feature 2"),
    _json(
        "coordinates null", beside({"type": "Polygon", "coordinates": None}), "repaired", place="feature 2"
    ),
    _json("geometry null", beside(None), "repaired", place="feature 2"),
    _json("geometry a list", beside([1, 2]), "repaired", place="feature 2"),
    _json("geometry empty", beside({"type": "Polygon", "coordinates": []}), "repaired", place="feature 2"),
    _json("NaN", beside(poly([float("nan"), 0], *RING)), "repaired", place="feature 2"),
    _json("Infinity", beside(poly([float("inf"), 0], *RING)), "repaired", place="feature 2"),
    _json("1e400", beside(poly([7777, 0], *RING)).replace("7777", "1e400"), "refused", place="line 1"),
    _json("1e300", beside(poly([1e300, 0], *RING)), "repaired", place="feature 2"),
    _json(
        "number of 5,000 figures",
        beside(poly([7777, 0], *RING)).replace("7777", "9" * 5000),
        "refused",
        place="line 1",
    ),
    _json(
        "a sort of shape that there is not",
        beside({"type": "Spiral", "coordinates": [0, 0]}),
        "repaired",
        place="feature 2",
    ),
    _json(
        "points where polygons belong",
        beside({"type": "Point", "coordinates": [-9, -47]}),
        "repaired",
        place="feature 2",
    ),
    _json("two points as a polygon", beside(poly([0, 0], [1, 1])), "repaired", place="feature 2"),
    _json("a ring that does not close", beside(poly(*RING[:-1])), "repaired", place="feature 2"),
    _json(
        "a bow tie",
        beside(poly([-9, -47], [-8, -46], [-8, -47], [-9, -46], [-9, -47])),
        "repaired",
        place="feature 2",
    ),
    _json(
        "a spike",
        beside(poly([-9, -47], [-8, -47], [-9, -47], [-8, -47], [-9, -47])),
        "repaired",
        place="feature 2",
    ),
    _json(
        "a hole outside",
        beside({"type": "Polygon", "coordinates": [RING, [[5, 5], [6, 5], [6, 6], [5, 5]]]}),
        "repaired",
        place="feature 2",
    ),
    _json(
        "collection in a collection",
        beside(
            {
                "type": "GeometryCollection",
                "geometries": [{"type": "GeometryCollection", "geometries": [SQUARE]}],
            }
        ),
        "repaired",
        place="feature 2",
    ),
    _json(
        "over the date line",
        beside(poly([179, 0], [-179, 0], [-179, 1], [179, 0])),
        "repaired",
        place="feature 2",
    ),
    _json(
        "latitude first",
        collection(feature(poly([-47, -109], [-46, -109], [-46, -108], [-47, -109]))),
        "repaired",
        place="position",
    ),
    _json(
        "metres as degrees",
        collection(feature(poly([5e5, 5e6], [5.1e5, 5e6], [5.1e5, 5.1e6], [5e5, 5e6]))),
        "refused",
        place="crs",
    ),
    _json("says metres", with_crs("urn:ogc:def:crs:EPSG::32729"), "refused", place="crs"),
    _json(
        "says metres and is",
        collection(
            feature(poly([5e5, 4.7e6], [5.1e5, 4.7e6], [5.1e5, 4.8e6], [5e5, 4.7e6])),
            crs={"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32729"}},
        ),
        "accepted",
    ),
    *(
        _json(f"crs {str(word)[:30]!r}", with_crs(word), verdict, place=place)
        for word, verdict, place in (
            ("urn:nonsense", "accepted", ""),
            ("EPSG:5703", "refused", "crs"),
            ("EPSG:999999", "accepted", ""),
            ("/etc/passwd", "accepted", ""),
            ("http://127.0.0.1:9/crs", "accepted", ""),
            ("+proj=utm +zone=29 +nadgrids=/etc/passwd", "refused", "crs"),
            (7, "accepted", ""),
            (None, "accepted", ""),
            ({"a": 1}, "accepted", ""),
            ("PROJCS[" * 5000, "accepted", ""),
        )
    ),
    _json(
        "crs that is a link",
        collection(
            feature(), crs={"type": "link", "properties": {"href": "http://127.0.0.1:9/", "type": "proj4"}}
        ),
        "refused",
        place="crs",
    ),
    _json(
        "crs of a shape that is a link",
        beside(
            SQUARE | {"crs": {"type": "link", "properties": {"href": "http://127.0.0.1:9/", "type": "proj4"}}}
        ),
        "accepted",
    ),
    _json("crs null", collection(feature(), crs=None), "accepted"),
    _json("cut in the middle", collection(feature(), feature())[:-60], "refused", place="line 1"),
    _json("cut after a comma", collection(feature(), feature())[:-180], "refused", place="line 1"),
    _json("rubbish after its end", collection(feature()) + "]]]", "refused", place="line 1"),
    _json("a comma too many", collection(feature()).replace("]}", ",]}", 1), "refused", place="line 1"),
    _json("single quotes", collection(feature()).replace('"', "'"), "refused", place="line 1"),
    _json("comments", "{ // a comment\n" + collection(feature())[1:], "refused", place="line 1"),
    _json("with a BOM", b"\xef\xbb\xbf" + collection(feature()).encode(), "accepted"),
    _json("UTF-16", collection(feature()).encode("utf-16"), "refused", whole=True),
    _json("UTF-32", collection(feature()).encode("utf-32"), "refused", whole=True),
    _json(
        "Latin-1",
        collection(feature(name="gr\xfcn")).encode().replace(b"\\u00fc", b"\xfc"),
        "repaired",
        place="encoding",
    ),
    _json("NUL", collection(feature(name="a\x00b")), "accepted"),
    _json(
        "raw NUL", collection(feature(name="aXb")).encode().replace(b"aXb", b"a\0b"), "refused", place="byte"
    ),
    _json("lone surrogate", collection(feature(name="a\ud800b")), "accepted"),
    _json(
        "same key twice",
        beside(SQUARE).replace('"unit": "a"', '"unit": "a", "unit": "b"'),
        "repaired",
        place="unit",
    ),
    _json("features twice", collection(feature())[:-1] + ',"features":[]}', "refused", place="features"),
    _json(
        "properties a list",
        beside(SQUARE).replace('"properties": {"unit": "a", "rocks": "granite"}', '"properties": [1, 2]', 1),
        "repaired",
        place="unit",
    ),
    _json(
        "properties null",
        collection({"type": "Feature", "properties": None, "geometry": SQUARE}),
        "refused",
        whole=True,
    ),
    _json(
        "properties inside each other", beside(SQUARE, deep={"a": {"b": [1, {"c": "<script>"}]}}), "accepted"
    ),
    _json("1,500 columns", collection(feature(**{f"c{i}": i for i in range(1500)})), "accepted"),
    _json("a key of 100,000 letters", collection(feature(**{"x" * 100_000: 1})), "accepted"),
    _json("a text of 1 MB", collection(feature(name="x" * 1_000_000)), "accepted"),
    _json(
        "columns named to hurt",
        collection(feature(**{'"; DROP TABLE x; --': 1, "fid": "y", "g": 1})).replace('"g"', '"geometry"', 1),
        "accepted",
    ),
    _json(
        "script in a name",
        collection(feature(name="${alert(1)}</script><img src=x onerror=alert(1)>{{7*7}}")),
        "accepted",
    ),
    _json(
        "mixed types in a column",
        collection(feature(rocks=1), feature(rocks="a"), feature(rocks=[1])),
        "accepted",
    ),
    _json(
        "ids that repeat",
        json.dumps(
            {
                "type": "FeatureCollection",
                "features": [feature() | {"id": 1}, feature() | {"id": 1}, feature() | {"id": "x"}],
            }
        ),
        "accepted",
    ),
    _json("one feature", json.dumps(feature()), "accepted"),
    _json("one geometry", json.dumps(SQUARE), "refused", whole=True),
    _json("topology", '{"type":"Topology","objects":{},"arcs":[]}', "refused", whole=True),
    _json(
        "text sequence",
        "\x1e" + json.dumps(feature()) + "\n\x1e" + json.dumps(feature()),
        "refused",
        whole=True,
    ),
    _json(
        "lines of features", json.dumps(feature()) + "\n" + json.dumps(feature()), "refused", place="line 2"
    ),
    _json("a package of settings", '{"name":"x","version":"1.0.0","dependencies":{}}', "refused", whole=True),
    _json("a notebook", '{"cells":[],"metadata":{},"nbformat":4}', "refused", whole=True),
    *(
        _json(
            f"an outline of {count:,} places at random",
            beside(_tangle(count)),
            "repaired",
            place="feature 2",
            counts=(4, 3, 0, 1),
        )
        for count in (200, 2_000, 50_000)
    ),
    _json(
        "an outline that crosses itself 100 times",
        beside(_tangle(25)),
        "repaired",
        place="feature 2",
        counts=(4, 3, 1, 0),
    ),
    Case("geology", "geojson, 3,000 at one place", _many, "accepted"),
    Case("geology", "geojson, a ring of 100,000 points", _long_ring, "refused", place="feature 1"),
    Case("geology", "geojson, called .json", text("map.json", collection(feature())), "accepted"),
    _json(
        "lines where parcels belong",
        collection(feature({"type": "LineString", "coordinates": RING}, parcel_id="1")),
        "refused",
        "parcels",
        place="feature 1",
    ),
    _json("parcels without numbers", collection(feature()), "refused", "parcels", whole=True),
    _json(
        "parcel without its number",
        collection(feature(parcel_id="1"), feature(parcel_id=None)),
        "repaired",
        "parcels",
        place="feature 2",
    ),
    _json(
        "parcel numbers spoilt by a spreadsheet",
        collection(feature(parcel_id="1.2E+15")),
        "repaired",
        "parcels",
        place="parcel_id",
    ),
    _json(
        "parcels stacked",
        collection(feature(parcel_id="1"), feature(parcel_id="2")),
        "repaired",
        "parcels",
        place="geometry",
    ),
    _json(
        "owner to hurt",
        collection(feature(parcel_id="1", owner="$\\frac{</script>${alert(1)}{{7*7}}")),
        "accepted",
        "parcels",
    ),
    _json(
        "line error absurd",
        collection(
            feature(parcel_id="1", line_error_m="-5"),
            feature(
                SQUARE | {"coordinates": [[[-8, -47], [-7.9, -47], [-7.9, -46.9], [-8, -47]]]},
                parcel_id="2",
                line_error_m="3",
            ),
        ),
        "repaired",
        "parcels",
        place="feature 1",
    ),
    _json(
        "samples",
        collection(
            feature({"type": "Point", "coordinates": [-9, -47]}, sample_id="A"),
            feature({"type": "Point", "coordinates": [-9, 0]}, sample_id="B", usable="purple"),
        ),
        "repaired",
        "samples",
        place="feature 2",
    ),
    _json(
        "points at the pole and beyond",
        collection(
            feature({"type": "Point", "coordinates": [-9, -47]}),
            feature({"type": "Point", "coordinates": [-9, -91]}),
            feature({"type": "Point", "coordinates": [-9, -90]}),
        ),
        "repaired",
        "samples",
        place="feature 2",
    ),
    _json(
        "null island",
        collection(
            feature({"type": "Point", "coordinates": [-9, -47]}),
            feature({"type": "Point", "coordinates": [0, 0]}),
        ),
        "repaired",
        "samples",
        place="feature 2",
    ),
    _json(
        "a point with one number",
        collection(
            feature({"type": "Point", "coordinates": [-9, -47]}),
            feature({"type": "Point", "coordinates": [-9]}),
        ),
        "repaired",
        "samples",
        place="feature 2",
    ),
]

ANSWERS = [
    Case(kind, f"answer, {name}", text(f"answer{suffix}", content), "refused", whole=True)
    for kind, suffix in (
        ("geology", ".geojson"),
        ("samples", ".json"),
        ("parcels", ".geojson"),
        ("samples", ".csv"),
    )
    for name, content in (
        ("error with status 200", '{"error":{"code":400,"message":"Invalid query","details":[]}}'),
        ("error as text", "Error: 500 Internal Server Error"),
        ("too many requests", '{"message":"Rate limit exceeded","status":429}'),
        ("log-in page", LOGIN),
        ("log-in page in capitals", LOGIN.upper()),
        ("page after blanks", "\n\n  " + LOGIN),
        ("exception report", EXCEPTION),
        (
            "service exception",
            '<?xml version="1.0"?><ServiceExceptionReport><ServiceException/></ServiceExceptionReport>',
        ),
        ("GML", GML),
        ("token", '{"token":"abc","expires":1}'),
        ("nothing found", '{"type":"FeatureCollection","numberMatched":0,"numberReturned":0,"features":[]}'),
        ("empty list", "[]"),
        ("null", "null"),
        ("one word", "OK"),
    )
] + [
    _json(
        "answer, more to come",
        collection(feature(), exceededTransferLimit=True),
        "repaired",
        place="features",
    ),
    _json(
        "answer, more to come in its properties",
        collection(feature(), properties={"exceededTransferLimit": True}),
        "repaired",
        place="features",
    ),
    _json(
        "answer, 1 of 400",
        collection(feature(), numberMatched=400, numberReturned=1),
        "repaired",
        place="features",
    ),
    _json(
        "answer, next page",
        collection(feature(), links=[{"rel": "next", "href": "http://127.0.0.1:9/"}]),
        "repaired",
        place="features",
    ),
    _json(
        "answer, whole",
        collection(feature(), numberMatched=1, numberReturned=1, exceededTransferLimit=False),
        "accepted",
    ),
    _json(
        "answer, cut by the line",
        collection(feature(), feature(), numberMatched=2)[:-95],
        "refused",
        place="line 1",
    ),
    _json("answer, in the service's own form", json.dumps(ESRI), "repaired", place="features"),
    _json(
        "answer, own form, more to come",
        json.dumps(ESRI | {"exceededTransferLimit": True}),
        "repaired",
        place="features",
    ),
    _json(
        "answer, own form, metres",
        json.dumps(ESRI | {"spatialReference": {"wkid": 102100, "latestWkid": 3857}}),
        "refused",
        place="crs",
    ),
    *(
        _json(
            f"answer, own form, geometry {name}",
            json.dumps(
                ESRI
                | {
                    "features": [
                        *ESRI["features"],
                        {"attributes": {"unit": "b", "rocks": "clay"}, "geometry": one},
                    ]
                }
            ),
            "repaired",
            place="feature 2",
            counts=(2, 1, 0, 1),
        )
        for name, one in (
            ("null", None),
            ("a number", 7),
            ("of curves", {"curveRings": []}),
            ("rings text", {"rings": "x"}),
            ("rings of text", {"rings": [["a", "b"]]}),
            ("rings empty", {"rings": []}),
            ("rings null", {"rings": [None]}),
            ("a point", {"x": -9, "y": -47}),
            ("point NaN", {"x": "NaN", "y": "NaN"}),
            ("yes and no", {"rings": [[[True, False]] * 4]}),
        )
    ),
    _json(
        "answer, own form, features of numbers",
        json.dumps(ESRI | {"features": [1, 2]}),
        "refused",
        whole=True,
    ),
    _json("answer, callback around it", f"callback({collection(feature())})", "refused", whole=True),
    _json(
        "answer, headers before it", "HTTP/1.1 200 OK\r\n\r\n" + collection(feature()), "refused", whole=True
    ),
    _json("answer, gzip", b"\x1f\x8b\x08" + b"\0" * 60, "refused", whole=True),
    Case(
        "elevation", "answer, error as .tif", text("dem.tif", '{"error":{"code":400}}'), "refused", whole=True
    ),
    Case("elevation", "answer, exception report as .tif", text("dem.tif", EXCEPTION), "refused", whole=True),
    Case("elevation", "answer, log-in page as .tif", text("dem.tif", LOGIN), "refused", whole=True),
    Case("soil", "answer, log-in page as .zip", text("soil.zip", LOGIN), "refused", whole=True),
    Case("samples", "answer, log-in page as .gpx", text("walk.gpx", LOGIN), "refused", whole=True),
    Case("samples", "answer, exception report as .kml", text("walk.kml", EXCEPTION), "refused", whole=True),
    Case("geology", "answer, GML", text("map.gml", GML), "refused", whole=True),
]


def shape(change: Callable[[Path], None] | None = None, kind: str = "geology") -> Build:
    def build(folder: Path) -> Path:
        path = make_control("shp", folder)
        if change is not None:
            change(path)
        return path

    return build


def without(suffix: str) -> Build:
    return shape(lambda path: path.with_suffix(suffix).unlink())


def cut(suffix: str, keep: float) -> Build:
    def change(path: Path) -> None:
        part = path.with_suffix(suffix)
        content = part.read_bytes()
        part.write_bytes(content[: int(len(content) * keep)])

    return shape(change)


def patched(suffix: str, at: int, content: bytes) -> Build:
    def change(path: Path) -> None:
        part = path.with_suffix(suffix)
        whole = bytearray(part.read_bytes())
        whole[at : at + len(content)] = content
        part.write_bytes(whole)

    return shape(change)


def projection(wkt: str) -> Build:
    return shape(
        lambda path: path.with_suffix(".prj").write_bytes(wkt.encode("utf-8", "surrogateescape")) and None
    )


def _other_dbf(path: Path) -> None:
    frame = gpd.GeoDataFrame({"unit": ["a"]}, geometry=[Point(0, 0)], crs="EPSG:4326")
    pyogrio.write_dataframe(frame, path.with_name("other.shp"))
    shutil.move(path.with_name("other.dbf"), path.with_suffix(".dbf"))


def _lines(folder: Path) -> Path:
    frame = gpd.GeoDataFrame({"unit": ["a"]}, geometry=[LineString([(-9, -47), (-8, -47)])], crs="EPSG:4326")
    pyogrio.write_dataframe(frame, folder / "lines.shp")
    return folder / "lines.shp"


def _beyond(folder: Path) -> Path:
    frame = gpd.GeoDataFrame(
        {"unit": ["a", "b", "c"]},
        geometry=[box(-9, -47, -8, -46), box(9e9, 9e9, 9.1e9, 9.1e9), box(-8, -47, -7, -46)],
    )
    frame = frame.set_crs("EPSG:4326")
    pyogrio.write_dataframe(frame, folder / "far.shp")
    return folder / "far.shp"


NADGRIDS = (
    'PROJCS["x",GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],'
    'PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]],PROJECTION["Mercator_1SP"],UNIT["metre",1],'
    'EXTENSION["PROJ4","+proj=merc +nadgrids=/etc/passwd +units=m +no_defs"]]'
)
# ESRI shapefile description (1998): record content starts at byte 108; parts at +36, points at +40 of a polygon.
SHAPEFILES = [
    *(Case("geology", f"shp, no {s}", without(s), "refused", whole=True) for s in (".shx", ".dbf")),
    Case("geology", "shp, no .prj", without(".prj"), "refused", place="crs"),
    Case("geology", "shp, no .cpg", without(".cpg"), "accepted"),
    *(
        Case(
            "geology",
            f"shp, {suffix} cut at {keep}",
            cut(suffix, keep),
            verdict,
            place=place,
            whole=not place,
        )
        for suffix, keep, verdict, place in (
            (".shp", 0.02, "refused", ""),
            (".shp", 0.5, "repaired", "feature"),
            (".shp", 0.97, "repaired", "feature"),
            (".shx", 0.3, "refused", "features"),
            (".shx", 0.97, "refused", "features"),
            (".dbf", 0.01, "refused", ""),
            (".dbf", 0.5, "refused", ""),
            (".dbf", 0.97, "refused", ""),
        )
    ),
    Case(
        "geology",
        "shp, a billion points",
        patched(".shp", 148, struct.pack("<i", 2**30)),
        "repaired",
        place="feature 1",
    ),
    Case(
        "geology",
        "shp, a billion rings",
        patched(".shp", 144, struct.pack("<i", 2**30)),
        "repaired",
        place="feature 1",
    ),
    Case(
        "geology",
        "shp, fewer points than none",
        patched(".shp", 148, struct.pack("<i", -5)),
        "repaired",
        place="feature 1",
    ),
    Case(
        "geology",
        "shp, ring that starts beyond its end",
        patched(".shp", 152, struct.pack("<i", 10**6)),
        "repaired",
        place="feature 1",
    ),
    Case(
        "geology",
        "shp, NaN in a point",
        patched(".shp", 156, struct.pack("<d", float("nan"))),
        "repaired",
        place="feature 1",
    ),
    Case("geology", "shp, another sort in the head", patched(".shp", 32, struct.pack("<i", 1)), "accepted"),
    Case("geology", "shp, sort that there is not", patched(".shp", 32, struct.pack("<i", 999)), "accepted"),
    Case(
        "geology",
        "shp, index elsewhere",
        patched(".shx", 100, struct.pack(">i", 2**30)),
        "repaired",
        place="feature 1",
    ),
    Case(
        "geology",
        "shp, table claims two billion rows",
        patched(".dbf", 4, struct.pack("<i", 2**31 - 1)),
        "repaired",
        place="features",
    ),
    Case(
        "geology",
        "shp, table with rows of no length",
        patched(".dbf", 10, struct.pack("<h", 0)),
        "refused",
        whole=True,
    ),
    Case("geology", "shp, table of another", shape(_other_dbf), "repaired", place="features"),
    *(
        Case(
            "geology",
            f"shp, projection {name}",
            projection(wkt),
            verdict,
            place="crs" if verdict != "accepted" else "",
        )
        for name, wkt, verdict in (
            ("empty", "", "refused"),
            ("no text", "PROJCS[\udce7", "refused"),
            ("nonsense", "nonsense", "refused"),
            ("local", 'LOCAL_CS["x"]', "refused"),
            ("without end", "PROJCS[" * 500, "refused"),
            ("of no size", 'GEOGCS["a",DATUM["b",SPHEROID["c",0,0]]]', "refused"),
            ("naming a file", NADGRIDS, "refused"),
            (
                "of another planet",
                'GEOGCS["Moon",DATUM["Moon",SPHEROID["Moon",1737400,0]],PRIMEM["R",0],'
                'UNIT["degree",0.0174532925199433]]',
                "refused",
            ),
            ("in metres", "PROJCS" + NADGRIDS[6:].split(",EXTENSION")[0] + "]", "refused"),
            ("a web page", LOGIN, "refused"),
        )
    ),
    Case("geology", "shp, lines where polygons belong", _lines, "refused", place="feature 1"),
    Case("geology", "shp, one far off", _beyond, "repaired", place="feature 2"),
    Case(
        "geology",
        "shp, without its fellows in a zip",
        packed("a.zip", {"a.shp": b"\x00\x00\x27\x0a" + b"\0" * 96}),
        "refused",
        whole=True,
    ),
    Case("parcels", "shp, parcels in a zip", lambda folder: make_control("parcels.zip", folder), "accepted"),
    Case("structures", "shp, no lines", shape(), "refused", place="feature 1"),
    Case("water", "shp, polygons as water", shape(), "repaired", place="kind"),
]


def geodatabase(change: Callable[[Path], object]) -> Build:
    """Return what writes a file geodatabase and changes a part of it; parts are numbered as they are listed."""

    def build(folder: Path) -> Path:
        make_control("gdb.zip", folder)
        change(folder / "inner.gdb")
        return folder / "inner.gdb"

    return build


def _all(suffix: str, content: Callable[[bytes], bytes]) -> Callable[[Path], object]:
    def change(folder: Path) -> None:
        for part in sorted(folder.glob(f"*{suffix}")):
            part.write_bytes(content(part.read_bytes()))

    return change


def _empty_tables(folder: Path) -> Path:
    (folder / "a.gdb").mkdir()
    (folder / "a.gdb" / "a00000001.gdbtable").write_bytes(b"\0" * 400)
    return folder / "a.gdb"


GEODATABASES = [
    Case("geology", "gdb, good", geodatabase(lambda _: None), "accepted"),
    Case("geology", "gdb, good in a zip", lambda folder: make_control("gdb.zip", folder), "accepted"),
    Case("geology", "gdb, tables of zeros", _empty_tables, "refused", whole=True),
    *(
        Case("geology", f"gdb, {suffix} {name}", geodatabase(_all(suffix, content)), "refused", whole=True)
        for suffix in (".gdbtable", ".gdbtablx")
        for name, content in (
            ("empty", lambda _: b""),
            ("cut", lambda b: b[: len(b) // 3]),
            ("of noise", lambda b: bytes((i * 7919) % 251 for i in range(len(b)))),
            ("of ones", lambda b: b"\xff" * len(b)),
        )
    ),
    Case(
        "geology",
        "gdb, a folder of links",
        geodatabase(
            lambda f: [
                (part.unlink(), part.symlink_to("/etc/passwd")) for part in sorted(f.glob("*.gdbtable"))
            ]
        ),
        "refused",
        whole=True,
    ),
    Case("samples", "gdb, as samples", geodatabase(lambda _: None), "refused", whole=True),
]
POINTS = [
    Case(
        "samples",
        "a sample in two places",
        text(
            "holes.geojson",
            collection(
                feature({"type": "MultiPoint", "coordinates": [[-9, -47], [-9.2, -47.2]]}, id="A"),
                feature({"type": "Point", "coordinates": [-9, -47]}, id="B"),
            ),
        ),
        "repaired",
        place="feature 1",
        counts=(2, 1, 0, 1),
    ),
    Case(
        "parcels",
        "identifiers that are objects and lists",
        text(
            "parcels.geojson",
            collection(
                feature(parcel_id={"book": 1}), feature(parcel_id={"book": 2}), feature(parcel_id=[1, "a"])
            ),
        ),
        "repaired",
        whole=True,
        counts=(3, 3, 0, 0),
    ),
    Case(
        "parcels",
        "a shape that steps across 180°",
        text(
            "parcels.geojson",
            collection(
                feature(parcel_id="1", geometry=_square(179.9, -179.9)),
                feature(parcel_id="2", geometry=_square(179.8, 179.9)),
            ),
        ),
        "repaired",
        place="feature 1",
        counts=(2, 1, 0, 1),
    ),
    Case(
        "parcels",
        "a map of the world's edge",
        text("parcels.geojson", collection(feature(parcel_id="1", geometry=_square(-180, 180)))),
        "accepted",
    ),
]
CASES = [*POINTS, *GEOJSON, *ANSWERS, *SHAPEFILES, *GEODATABASES]

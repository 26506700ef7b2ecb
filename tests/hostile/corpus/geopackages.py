"""GeoPackages: schemas that lie, shapes that are none, queries that never end, text and names of every sort."""

from __future__ import annotations

import sqlite3
import struct
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import shapely
from controls import make_control
from shapely.geometry import Point, box

from corpus.case import Build, Case, Verdict

Change = Callable[[sqlite3.Connection], object]
ENDLESS = "WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM c) SELECT x FROM c"


def changed(*sql: str | Change, form: str = "gpkg") -> Build:
    """Return a GeoPackage that was good and had statements run on it, its triggers taken out first."""

    def build(folder: Path) -> Path:
        path = make_control(form, folder)
        with closing(sqlite3.connect(path, isolation_level=None)) as connection:
            triggers = connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
            for (name,) in triggers:
                connection.execute(f'DROP TRIGGER "{name}"')
            connection.execute("PRAGMA writable_schema=ON")
            for one in sql:
                if callable(one):
                    one(connection)
                else:
                    connection.execute(one)
        return path

    return build


def patched(change: Callable[[bytearray], object], form: str = "gpkg") -> Build:
    def build(folder: Path) -> Path:
        path = make_control(form, folder)
        whole = bytearray(path.read_bytes())
        change(whole)
        path.write_bytes(whole)
        return path

    return build


def shape(blob: object) -> Build:
    return changed(lambda c: c.execute("UPDATE control SET geom = ? WHERE fid = 3", (blob,)))


def blob(wkb: bytes, flags: int = 1, srs: int = 4326, magic: bytes = b"GP") -> bytes:
    """Return a shape as stored (OGC 12-128, clause 2.1.3)."""
    return magic + struct.pack("<BBi", 0, flags, srs) + wkb


def _companion(suffix: str, content: bytes) -> Build:
    def build(folder: Path) -> Path:
        path = make_control("gpkg", folder)
        path.with_name(path.name + suffix).write_bytes(content)
        return path

    return build


def _hot_wal(folder: Path) -> Path:
    """A file whose last row is only in the companion that goes with it."""
    path = make_control("gpkg", folder)
    other = folder / "work.gpkg"
    path.rename(other)
    with closing(sqlite3.connect(other, isolation_level=None)) as connection:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f'DROP TRIGGER "{name}"')
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA wal_autocheckpoint=0")
        connection.execute("DELETE FROM control WHERE fid > 5")
        path.write_bytes(other.read_bytes())
        path.with_name(path.name + "-wal").write_bytes(other.with_name(other.name + "-wal").read_bytes())
    other.unlink()
    return path


def _two_layers(folder: Path) -> Path:
    frame = gpd.GeoDataFrame({"unit": ["a"]}, geometry=[box(-9, -47, -8, -46)], crs="EPSG:4326")
    for name in ("one", "two"):
        pyogrio.write_dataframe(frame, folder / "a.gpkg", layer=name)
    return folder / "a.gpkg"


def _named(name: str) -> Build:
    def build(folder: Path) -> Path:
        frame = gpd.GeoDataFrame({"unit": ["a"]}, geometry=[box(-9, -47, -8, -46)], crs="EPSG:4326")
        pyogrio.write_dataframe(frame, folder / "a.gpkg", layer=name)
        return folder / "a.gpkg"

    return build


def _column(name: str) -> Build:
    def build(folder: Path) -> Path:
        frame = gpd.GeoDataFrame(
            {"unit": ["a"], name: ["b"]}, geometry=[box(-9, -47, -8, -46)], crs="EPSG:4326"
        )
        pyogrio.write_dataframe(frame, folder / "a.gpkg", layer="geology")
        return folder / "a.gpkg"

    return build


def _many_layers(folder: Path) -> Path:
    path = make_control("gpkg", folder)
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("BEGIN")
        for i in range(2000):
            connection.execute(f"CREATE TABLE t{i} (fid INTEGER PRIMARY KEY, geom BLOB)")
            connection.execute(
                "INSERT INTO gpkg_contents (table_name, data_type, srs_id) VALUES (?, 'features', 4326)",
                (f"t{i}",),
            )
            connection.execute(
                "INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', 'POLYGON', 4326, 0, 0)", (f"t{i}",)
            )
        connection.execute("COMMIT")
    return path


def _wrong_place(folder: Path) -> Path:
    frame = gpd.GeoDataFrame({"unit": ["a"]}, geometry=[box(5e5, 4.7e6, 5.1e5, 4.8e6)], crs="EPSG:32729")
    pyogrio.write_dataframe(frame, folder / "a.gpkg", layer="geology")
    with closing(sqlite3.connect(folder / "a.gpkg", isolation_level=None)) as connection:
        connection.execute("UPDATE gpkg_geometry_columns SET srs_id = 4326")
        connection.execute("UPDATE gpkg_contents SET srs_id = 4326")
    return folder / "a.gpkg"


FIRST = {"sample_id": "A", "usable": "yes", "date": "2026-05-31"}


def _point_cells(**cells: object) -> Build:
    def build(folder: Path) -> Path:
        frame = gpd.GeoDataFrame(
            {name: [FIRST[name], value] for name, value in cells.items()},
            geometry=[Point(-9, -47), Point(-9, -46)],
            crs="EPSG:4326",
        )
        pyogrio.write_dataframe(frame, folder / "points.gpkg", layer="samples")
        return folder / "points.gpkg"

    return build


def _no_memory(whole: bytearray) -> None:
    whole[28:32] = struct.pack(">I", 2**31 - 1)


def _page(whole: bytearray) -> None:
    place = 4096 * (len(whole) // 4096 // 2)
    whole[place : place + 4096] = np.random.default_rng(3).bytes(4096)


def _case(name: str, build: Build, verdict: Verdict, kind: str = "geology", **more: object) -> Case:
    return Case(kind, f"gpkg, {name}", build, verdict, **more)  # type: ignore[arg-type]


GOOD = shapely.to_wkb(box(-9, -47, -8.9, -46.9))
CASES = [
    _case("good", lambda folder: make_control("gpkg", folder), "accepted"),
    _case("good points", lambda folder: make_control("points.gpkg", folder), "accepted", "samples"),
    *(
        _case(
            f"cut at {keep}",
            patched(lambda w, k=keep: w.__delitem__(slice(int(len(w) * k), None))),
            "refused",
            whole=True,
        )
        for keep in (0.001, 0.1, 0.5, 0.9)
    ),
    _case("a page of noise", patched(_page), "refused", whole=True),
    _case(
        "head of zeros", patched(lambda w: w.__setitem__(slice(16, 100), b"\0" * 84)), "refused", whole=True
    ),
    _case(
        "pages of no size", patched(lambda w: w.__setitem__(slice(16, 18), b"\0\3")), "refused", whole=True
    ),
    _case("two thousand million pages", patched(_no_memory), "refused", whole=True),
    _case("another program's number", patched(lambda w: w.__setitem__(slice(68, 72), b"MPBX")), "accepted"),
    _case(
        "a version of the future",
        patched(lambda w: w.__setitem__(slice(60, 64), b"\x7f\xff\xff\xff")),
        "accepted",
    ),
    _case("something after its end", patched(lambda w: w.extend(b"PK\3\4" * 3000)), "accepted"),
    # Schemas.
    *(
        _case(name, changed(*sql), verdict, **more)
        for name, sql, verdict, more in (
            ("view that never ends", (f"CREATE VIEW v AS {ENDLESS}",), "refused", {"place": "view v"}),
            (
                "view in place of the table",
                ("ALTER TABLE control RENAME TO other", "CREATE VIEW control AS SELECT * FROM other"),
                "refused",
                {"place": "view control"},
            ),
            (
                "trigger that never ends",
                (
                    f"CREATE TRIGGER t AFTER INSERT ON control BEGIN INSERT INTO control (unit) {ENDLESS}; END",
                ),
                "accepted",
                {},
            ),
            (
                "trigger that attaches",
                ("CREATE TRIGGER t AFTER UPDATE ON control BEGIN SELECT load_extension('/tmp/x.so'); END",),
                "accepted",
                {},
            ),
            (
                "column made by a program",
                ("ALTER TABLE control ADD COLUMN g GENERATED ALWAYS AS (abs(-1))",),
                "accepted",
                {},
            ),
            ("index on an expression", ("CREATE INDEX i ON control (lower(unit))",), "accepted", {}),
            (
                "table by a module that is not there",
                (
                    "INSERT INTO sqlite_master VALUES ('table','m','m',0,'CREATE VIRTUAL TABLE m USING evil(x)')",
                ),
                "accepted",
                {},
            ),
            (
                "table by a module that reads files",
                (
                    "INSERT INTO sqlite_master VALUES ('table','m','m',0,'CREATE VIRTUAL TABLE m USING VirtualText(\"/etc/passwd\")')",  # noqa: E501
                    "INSERT INTO gpkg_contents (table_name, data_type) VALUES ('m', 'attributes')",
                ),
                "accepted",
                {},
            ),
            (
                "table called by SQL",
                ('ALTER TABLE control RENAME TO "x\'; DROP TABLE y; --"',),
                "refused",
                {"whole": True},
            ),
            (
                "schema that does not parse",
                ("UPDATE sqlite_master SET sql = 'CREATE TABLE control (((' WHERE name = 'control'",),
                "refused",
                {"whole": True},
            ),
            (
                "schema of 5 MB",
                (
                    "UPDATE sqlite_master SET sql = sql || ' -- ' || hex(zeroblob(2500000)) WHERE name = 'control'",
                ),
                "accepted",
                {},
            ),
            ("no list of content", ("DROP TABLE gpkg_contents",), "refused", {"whole": True}),
            ("list of content empty", ("DELETE FROM gpkg_contents",), "refused", {"whole": True}),
            (
                "list of content elsewhere",
                ("UPDATE gpkg_contents SET table_name = 'other'",),
                "refused",
                {"whole": True},
            ),
            (
                "list of content as numbers",
                ("UPDATE gpkg_contents SET table_name = 7",),
                "refused",
                {"whole": True},
            ),
            (
                "list of content as bytes",
                ("UPDATE gpkg_contents SET table_name = x'fffe00'",),
                "refused",
                {"whole": True},
            ),
            (
                "list of content in the master",
                ("UPDATE gpkg_contents SET table_name = 'sqlite_master'",),
                "refused",
                {"whole": True},
            ),
            (
                "content of no known sort",
                ("UPDATE gpkg_contents SET data_type = 'x'",),
                "refused",
                {"whole": True},
            ),
            ("box of NaN", ("UPDATE gpkg_contents SET min_x = 'NaN', max_x = 9e999",), "accepted", {}),
            ("no column of shapes", ("DELETE FROM gpkg_geometry_columns",), "refused", {"whole": True}),
            (
                "column of shapes elsewhere",
                ("UPDATE gpkg_geometry_columns SET column_name = 'unit'",),
                "refused",
                {"whole": True},
            ),
            (
                "column of shapes not there",
                ("UPDATE gpkg_geometry_columns SET column_name = 'x'",),
                "refused",
                {"whole": True},
            ),
            (
                "another sort of shapes",
                ("UPDATE gpkg_geometry_columns SET geometry_type_name = 'POINT'",),
                "accepted",
                {},
            ),
            (
                "sort of shapes that there is not",
                ("UPDATE gpkg_geometry_columns SET geometry_type_name = 'BLOB'",),
                "accepted",
                {},
            ),
            (
                "system that is not listed",
                ("UPDATE gpkg_geometry_columns SET srs_id = 99999",),
                "refused",
                {"place": "crs"},
            ),
            ("no systems", ("DROP TABLE gpkg_spatial_ref_sys",), "refused", {"whole": True}),
            (
                "systems undefined",
                ("UPDATE gpkg_geometry_columns SET srs_id = -1",),
                "refused",
                {"place": "crs"},
            ),
            (
                "system of nonsense",
                (
                    "UPDATE gpkg_spatial_ref_sys SET definition = 'nonsense', organization = 'x', "
                    "organization_coordsys_id = 9",
                ),
                "refused",
                {"place": "crs"},
            ),
            (
                "system that names a file",
                (
                    'UPDATE gpkg_spatial_ref_sys SET definition = \'PROJCS["x",GEOGCS["WGS 84",DATUM["WGS_1984",'
                    'SPHEROID["WGS 84",6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["degree",'
                    '0.0174532925199433]],PROJECTION["Mercator_1SP"],UNIT["metre",1],EXTENSION["PROJ4","+proj=merc '
                    "+nadgrids=/etc/passwd +units=m\"]]', organization = 'x' WHERE srs_id = 4326",
                ),
                "refused",
                {"place": "crs"},
            ),
            ("index of places gone", ("DROP TABLE rtree_control_geom",), "accepted", {}),
            (
                "extension that there is not",
                (
                    "INSERT INTO gpkg_extensions VALUES (NULL, NULL, 'evil_run', 'http://127.0.0.1:9/', 'read-write')",
                ),
                "accepted",
                {},
            ),
            ("no rows", ("DELETE FROM control",), "refused", {"whole": True}),
            (
                "numbers beyond the largest",
                ("UPDATE control SET fid = 9223372036854775807 WHERE fid = 3",),
                "accepted",
                {},
            ),
            ("numbers below zero", ("UPDATE control SET fid = -5 WHERE fid = 3",), "accepted", {}),
            (
                "text that is no UTF-8",
                ("UPDATE control SET unit = CAST(x'ff41fe' AS TEXT) WHERE fid = 3",),
                "repaired",
                {"place": "encoding"},
            ),
            (
                "text with a NUL",
                ("UPDATE control SET unit = 'a' || char(0) || 'b' WHERE fid = 3",),
                "accepted",
                {},
            ),
            (
                "text with a BOM",
                ("UPDATE control SET unit = char(65279) || 'a' WHERE fid = 3",),
                "accepted",
                {},
            ),
            (
                "text of 5 MB",
                ("UPDATE control SET unit = hex(zeroblob(2500000)) WHERE fid = 3",),
                "accepted",
                {},
            ),
            (
                "bytes where text belongs",
                ("UPDATE control SET unit = x'00ff' WHERE fid = 3",),
                "accepted",
                {},
            ),
            ("number where text belongs", ("UPDATE control SET unit = 1e999 WHERE fid = 3",), "accepted", {}),
            (
                "script in text",
                ("UPDATE control SET unit = '</script>${alert(1)}{{7*7}}' WHERE fid = 3",),
                "accepted",
                {},
            ),
        )
    ),
    # Shapes.
    *(
        _case(f"shape {name}", shape(one), "repaired", place="feature 3", counts=(20, 19, 0, 1))
        for name, one in (
            ("of no bytes", b""),
            ("of two bytes", b"GP"),
            ("of zeros", b"GP\0\1" + b"\0" * 4),
            ("of rubbish", b"x" * 100),
            ("not there", None),
            ("of text", "text"),
            ("of a number", 7),
            ("with another mark", blob(GOOD, magic=b"XX")),
            ("cut", blob(GOOD)[:-20]),
            (
                "of a thousand million points",
                blob(b"\1\3\0\0\0\1\0\0\0" + struct.pack("<I", 2**30) + b"\0" * 64),
            ),
            ("of a thousand million rings", blob(b"\1\3\0\0\0" + struct.pack("<I", 2**30) + b"\0" * 64)),
            ("of a sort that there is not", blob(b"\1\x63\0\0\0" + b"\0" * 64)),
            ("in itself 10,000 times", blob(b"\1\7\0\0\0\1\0\0\0" * 10_000)),
            ("a point", blob(shapely.to_wkb(Point(-9, -47)))),
            ("NaN", blob(GOOD.replace(struct.pack("<d", -47.0), struct.pack("<d", float("nan"))))),
        )
    ),
    _case("shape said to be empty", shape(blob(GOOD, flags=0x11)), "accepted"),
    _case("shape said to be elsewhere", shape(blob(GOOD, srs=32729)), "accepted"),
    _case(
        "shape with a box that lies",
        shape(b"GP\0\3" + struct.pack("<i4d", 4326, 1e9, 2e9, 1e9, 2e9) + GOOD),
        "accepted",
    ),
    _case("metres said to be degrees", _wrong_place, "refused", place="crs"),
    # Companions, layers and names.
    _case("companion with unfinished rows", _hot_wal, "accepted", counts=(5, 5, 0, 0)),
    _case("companion of rubbish, wal", _companion("-wal", b"x" * 5000), "accepted"),
    _case("companion of rubbish, journal", _companion("-journal", b"x" * 5000), "accepted"),
    _case(
        "companion of another file",
        _companion("-journal", b"\xd9\xd5\x05\xf9\x20\xa1\x63\xd7" + b"\0" * 600),
        "accepted",
    ),
    _case("two layers", _two_layers, "refused", place="layer"),
    Case(
        "geology",
        "gpkg, layer that there is not",
        _two_layers,
        "refused",
        place="layer",
        mapping={"layer": "x'y"},
    ),
    _case("2,000 layers", _many_layers, "refused", place="layer"),
    *(
        _case(f"layer called {name[:20]!r}", _named(name), "repaired", place="description")
        for name in ("select", "a b", "grün", "x" * 300)
    ),
    *(
        _case(f"column called {name[:20]!r}", _column(name), "repaired", place="description")
        for name in ('"', "'; DROP TABLE x; --", "select", "geometry ", "<b>", "rowid", "x" * 300)
    ),
    _case(
        "points, usable purple",
        _point_cells(sample_id="B", usable="purple"),
        "repaired",
        "samples",
        place="feature 2",
    ),
    _case(
        "points, date of another age",
        _point_cells(sample_id="B", date="9999-99-99"),
        "repaired",
        "samples",
        place="feature 2",
    ),
    _case(
        "points where polygons belong",
        lambda folder: make_control("points.gpkg", folder),
        "refused",
        whole=True,
    ),
    _case(
        "parcels without numbers",
        lambda folder: make_control("gpkg", folder),
        "refused",
        "parcels",
        whole=True,
    ),
]

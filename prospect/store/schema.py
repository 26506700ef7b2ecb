"""The tables of the records' GeoPackage (OGC 12-128r18) as SQL: version 1 and the steps from there."""

from __future__ import annotations

import sqlite3
import uuid
from collections.abc import Callable
from dataclasses import dataclass

from prospect.records import SCOPES, STATUSES
from prospect.store.chain import link

APPLICATION_ID = 0x47504B47
USER_VERSION = 10300

_WGS84 = (
    'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],PRIMEM["Greenwich",0],'
    'UNIT["degree",0.0174532925199433],AUTHORITY["EPSG","4326"]]'
)

_VERSION_1 = f"""
PRAGMA application_id = {APPLICATION_ID};
PRAGMA user_version = {USER_VERSION};

CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
INSERT INTO gpkg_spatial_ref_sys VALUES
  ('Undefined Cartesian', -1, 'NONE', -1, 'undefined', 'undefined Cartesian coordinate reference system'),
  ('Undefined geographic', 0, 'NONE', 0, 'undefined', 'undefined geographic coordinate reference system'),
  ('WGS 84 geodetic', 4326, 'EPSG', 4326, '{_WGS84}', 'longitude and latitude in degrees');

CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE,
  description TEXT DEFAULT '', last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE,
  srs_id INTEGER REFERENCES gpkg_spatial_ref_sys(srs_id));

CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL UNIQUE REFERENCES gpkg_contents(table_name), column_name TEXT NOT NULL,
  geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL REFERENCES gpkg_spatial_ref_sys(srs_id),
  z TINYINT NOT NULL, m TINYINT NOT NULL, PRIMARY KEY (table_name, column_name));

CREATE TABLE settings (fid INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE, value TEXT NOT NULL);

CREATE TABLE samples (
  fid INTEGER PRIMARY KEY, geom BLOB NOT NULL, sample_id TEXT NOT NULL UNIQUE, hole_id TEXT NOT NULL,
  lon REAL NOT NULL, lat REAL NOT NULL, position_error_m REAL, top_cm REAL, bottom_cm REAL, date TEXT NOT NULL,
  usable TEXT NOT NULL CHECK (usable IN ('yes', 'no', 'unknown')),
  quality REAL CHECK (quality IS NULL OR quality BETWEEN 0 AND 1), note TEXT NOT NULL, fields TEXT NOT NULL);

CREATE TABLE rock_corrections (fid INTEGER PRIMARY KEY, unit TEXT NOT NULL UNIQUE, rocks TEXT NOT NULL);

CREATE TABLE audit (
  fid INTEGER PRIMARY KEY, revision INTEGER NOT NULL, at TEXT NOT NULL, action TEXT NOT NULL, detail TEXT NOT NULL);
CREATE TRIGGER audit_is_not_edited BEFORE UPDATE ON audit
  BEGIN SELECT RAISE(ABORT, 'the audit is append-only'); END;
CREATE TRIGGER audit_is_not_deleted BEFORE DELETE ON audit
  BEGIN SELECT RAISE(ABORT, 'the audit is append-only'); END;

INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES
  ('settings', 'attributes', 'settings', NULL),
  ('samples', 'features', 'samples', 4326),
  ('rock_corrections', 'attributes', 'rock_corrections', NULL),
  ('audit', 'attributes', 'audit', NULL);
INSERT INTO gpkg_geometry_columns VALUES ('samples', 'geom', 'POINT', 4326, 0, 0);
INSERT INTO settings (key, value) VALUES ('schema_version', '1');
"""


EXTENT_OF_SAMPLES = """
UPDATE gpkg_contents SET last_change = strftime('%Y-%m-%dT%H:%M:%fZ','now'),
  (min_x, min_y, max_x, max_y) = (SELECT min(lon), min(lat), max(lon), max(lat) FROM samples)
WHERE table_name = 'samples'"""
"""What goes with every change of the samples: their extent and its time, as GeoPackage wants them."""

EXTENT_OF_LOOKED = EXTENT_OF_SAMPLES.replace("samples", "looked")
EXTENT_OF_HOLES = EXTENT_OF_SAMPLES.replace("samples", "holes")

LOG_NAMES = {
    "hole": ("holes", "hole_id"),
    "bar": ("bars", "bar_id"),
    "test": ("bench_tests", "test_id"),
    "batch": ("batches", "batch_id"),
}
"""Table and column of the short names of each kind of record in the log."""
LOG_TABLES = ("holes", "hole_layers", "bars", "bench_tests", "batches")
KEPT_TABLES = ("settings", "samples", "rock_corrections", "permissions", "looked", *LOG_TABLES)
"""The tables that hold what people saved; `drafts` holds what they have not saved yet."""


def _words(words: tuple[str, ...]) -> str:
    return ", ".join(f"'{word}'" for word in words)


_PERMISSIONS = f"""
CREATE TABLE permissions (
  fid INTEGER PRIMARY KEY, parcel_id TEXT NOT NULL, status TEXT NOT NULL CHECK (status IN ({_words(STATUSES)})),
  scope TEXT CHECK (scope IN ({_words(SCOPES)})), person TEXT NOT NULL, speaks_as TEXT NOT NULL, how TEXT NOT NULL,
  machine BOOLEAN NOT NULL, depth_m DOUBLE, volume_m3 DOUBLE, amount_kg DOUBLE, may_sell BOOLEAN NOT NULL,
  valid_from TEXT NOT NULL, valid_until TEXT NOT NULL, conditions TEXT NOT NULL, document TEXT NOT NULL,
  note TEXT NOT NULL, recorded TEXT NOT NULL, revision INTEGER NOT NULL UNIQUE, taken_back INTEGER)""".strip()

_LOOKED = """
CREATE TABLE looked (
  fid INTEGER PRIMARY KEY, geom BLOB NOT NULL, keepout TEXT NOT NULL, lon REAL NOT NULL, lat REAL NOT NULL,
  clear BOOLEAN NOT NULL, seen TEXT NOT NULL, ticket TEXT NOT NULL, seen_on TEXT NOT NULL, until TEXT NOT NULL,
  radius_m DOUBLE NOT NULL, person TEXT NOT NULL, recorded TEXT NOT NULL, revision INTEGER NOT NULL UNIQUE,
  taken_back INTEGER)""".strip()

_HOLES = """
CREATE TABLE holes (
  fid INTEGER PRIMARY KEY, geom BLOB NOT NULL, hole_id TEXT NOT NULL UNIQUE, lon DOUBLE NOT NULL, lat DOUBLE NOT NULL,
  kind TEXT NOT NULL, position_error_m DOUBLE, date TEXT NOT NULL, depth_cm DOUBLE, stopped_by TEXT NOT NULL,
  water_cm DOUBLE, dry TEXT NOT NULL CHECK (dry IN ('yes', 'no', 'unknown')), facing_deg DOUBLE, elevation_m DOUBLE,
  note TEXT NOT NULL, fields TEXT NOT NULL, revision INTEGER NOT NULL)""".strip()

_HOLE_LAYERS = """
CREATE TABLE hole_layers (
  fid INTEGER PRIMARY KEY, hole_id TEXT NOT NULL, place INTEGER NOT NULL, top_cm DOUBLE, bottom_cm DOUBLE,
  usable TEXT NOT NULL CHECK (usable IN ('yes', 'no', 'unknown')), texture TEXT NOT NULL, moist_colour TEXT NOT NULL,
  dry_colour TEXT NOT NULL, ribbon_cm DOUBLE, coil TEXT NOT NULL, stickiness TEXT NOT NULL, grit TEXT NOT NULL,
  fizz TEXT NOT NULL, fizz_with TEXT NOT NULL, roots TEXT NOT NULL, stones_pct DOUBLE, mottles TEXT NOT NULL,
  smell TEXT NOT NULL, note TEXT NOT NULL, fields TEXT NOT NULL, UNIQUE (hole_id, place))""".strip()

_BARS = """
CREATE TABLE bars (
  fid INTEGER PRIMARY KEY, bar_id TEXT NOT NULL UNIQUE, specimen TEXT NOT NULL, preparation TEXT NOT NULL,
  date TEXT NOT NULL, plastic_mm DOUBLE, dry_mm DOUBLE, fired_mm DOUBLE, plastic_g DOUBLE, dry_g DOUBLE,
  fired_g DOUBLE, saturated_g DOUBLE, suspended_g DOUBLE, cone TEXT NOT NULL, fired_c DOUBLE, atmosphere TEXT NOT NULL,
  colour TEXT NOT NULL, faults TEXT NOT NULL, looked_for_faults BOOLEAN NOT NULL, waited_days DOUBLE,
  photo TEXT NOT NULL, note TEXT NOT NULL, fields TEXT NOT NULL, revision INTEGER NOT NULL)""".strip()

_BENCH_TESTS = """
CREATE TABLE bench_tests (
  fid INTEGER PRIMARY KEY, test_id TEXT NOT NULL UNIQUE, specimen TEXT NOT NULL, kind TEXT NOT NULL,
  preparation TEXT NOT NULL, date TEXT NOT NULL, measured TEXT NOT NULL, described TEXT NOT NULL, note TEXT NOT NULL,
  revision INTEGER NOT NULL)""".strip()

_BATCHES = """
CREATE TABLE batches (
  fid INTEGER PRIMARY KEY, batch_id TEXT NOT NULL UNIQUE, hole_id TEXT NOT NULL, date TEXT NOT NULL, buckets DOUBLE,
  wet_kg DOUBLE, dry_kg DOUBLE, mesh DOUBLE, sieved_kg DOUBLE, body TEXT NOT NULL, body_kg DOUBLE, pots DOUBLE,
  note TEXT NOT NULL, fields TEXT NOT NULL, revision INTEGER NOT NULL)""".strip()

_PERMISSION_COLUMNS = (
    "fid, parcel_id, status, scope, person, speaks_as, how, machine, depth_m, volume_m3, amount_kg, may_sell, "
    "valid_from, valid_until, conditions, document, note, recorded, revision"
)
_LOOKED_COLUMNS = (
    "fid, geom, keepout, lon, lat, clear, seen, ticket, seen_on, until, radius_m, person, recorded, revision"
)


def _only_added(table: str, columns: str) -> tuple[str, ...]:
    """Return the triggers that hold a ledger to its word: entries are added, and may be marked as taken back once."""
    stop = f"BEGIN SELECT RAISE(ABORT, 'an entry of {table} is never changed'); END"
    return (
        f"CREATE TRIGGER {table}_not_edited BEFORE UPDATE OF {columns} ON {table} {stop}",
        f"CREATE TRIGGER {table}_taken_back_once BEFORE UPDATE OF taken_back ON {table} "
        f"WHEN OLD.taken_back IS NOT NULL {stop}",
        f"CREATE TRIGGER {table}_not_deleted BEFORE DELETE ON {table} {stop}",
        f"CREATE TRIGGER {table}_not_replaced BEFORE INSERT ON {table} "
        f"WHEN EXISTS (SELECT 1 FROM {table} WHERE fid = NEW.fid OR revision = NEW.revision) {stop}",
    )


def name_ground(connection: sqlite3.Connection) -> None:
    """Give a ground the name that programs know it by, wherever its folder goes."""
    connection.execute(
        "INSERT INTO settings (key, value) VALUES ('ground_id', ?)", (f'"{uuid.uuid4().hex}"',)
    )


def _chain_audit(connection: sqlite3.Connection) -> None:
    chain = ""
    rows = connection.execute("SELECT fid, revision, at, action, detail FROM audit ORDER BY fid").fetchall()
    for fid, revision, at, action, detail in rows:
        chain = link(chain, revision, at, action, detail, "")
        connection.execute("UPDATE audit SET chain = ? WHERE fid = ?", (chain, fid))


@dataclass(frozen=True, slots=True)
class Migration:
    """A step to a version of the records: what it is for, and its statements one by one.

    A step that is no statement is done by a function, and only where there are rows to do it to.
    """

    version: int
    what: str
    statements: tuple[str | Callable[[sqlite3.Connection], None], ...]


MIGRATIONS: tuple[Migration, ...] = (
    Migration(
        2,
        "a revision is there once, and a row of the audit cannot be replaced by another",
        (
            "CREATE UNIQUE INDEX audit_revision ON audit (revision)",
            "CREATE TRIGGER audit_is_not_replaced BEFORE INSERT ON audit "
            "WHEN EXISTS (SELECT 1 FROM audit WHERE fid = NEW.fid OR revision = NEW.revision) "
            "BEGIN SELECT RAISE(ABORT, 'the audit is append-only'); END",
        ),
    ),
    Migration(
        3,
        "permissions, on-site records and drafts; samples and audit know the change that wrote them",
        (
            _PERMISSIONS,
            *_only_added("permissions", _PERMISSION_COLUMNS),
            _LOOKED,
            *_only_added("looked", _LOOKED_COLUMNS),
            "CREATE TABLE drafts (fid INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE, content TEXT NOT NULL, "
            "at TEXT NOT NULL)",
            "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES "
            "('permissions', 'attributes', 'permissions', NULL), ('looked', 'features', 'looked', 4326), "
            "('drafts', 'attributes', 'drafts', NULL)",
            "INSERT INTO gpkg_geometry_columns VALUES ('looked', 'geom', 'POINT', 4326, 0, 0)",
            "ALTER TABLE samples ADD COLUMN revision INTEGER NOT NULL DEFAULT 0",
            "ALTER TABLE audit ADD COLUMN state TEXT NOT NULL DEFAULT ''",
            "ALTER TABLE audit ADD COLUMN chain TEXT NOT NULL DEFAULT ''",
            "DROP TRIGGER audit_is_not_edited",
            _chain_audit,
            "CREATE TRIGGER audit_is_not_edited BEFORE UPDATE ON audit "
            "BEGIN SELECT RAISE(ABORT, 'the audit is append-only'); END",
            name_ground,
        ),
    ),
    Migration(
        4,
        "holes with their layers, test bars, bench tests and batches",
        (
            _HOLES,
            _HOLE_LAYERS,
            _BARS,
            _BENCH_TESTS,
            _BATCHES,
            "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES "
            "('holes', 'features', 'holes', 4326), ('hole_layers', 'attributes', 'hole_layers', NULL), "
            "('bars', 'attributes', 'bars', NULL), ('bench_tests', 'attributes', 'bench_tests', NULL), "
            "('batches', 'attributes', 'batches', NULL)",
            "INSERT INTO gpkg_geometry_columns VALUES ('holes', 'geom', 'POINT', 4326, 0, 0)",
        ),
    ),
)
"""Every version after the first. A version that was ever released is not changed any more."""

SCHEMA_VERSION = MIGRATIONS[-1].version


def set_version(version: int) -> str:
    """Return the statement that says which version the records have."""
    return f"UPDATE settings SET value = '{int(version)}' WHERE key = 'schema_version'"


def tables(version: int = SCHEMA_VERSION) -> str:
    """Return the script that makes empty records of a version: version 1 and every statement up to it."""
    steps = [step for step in MIGRATIONS if step.version <= version]
    statements = [item for step in steps for item in step.statements if isinstance(item, str)]
    return _VERSION_1 + "".join(f"{statement};\n" for statement in (*statements, set_version(version)))

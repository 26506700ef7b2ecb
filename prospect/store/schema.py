"""The tables of the records' GeoPackage (OGC 12-128r18) as SQL: version 1 and the steps from there."""

from __future__ import annotations

from dataclasses import dataclass

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


@dataclass(frozen=True, slots=True)
class Migration:
    """A step to a version of the records: what it is for, and its statements one by one."""

    version: int
    what: str
    statements: tuple[str, ...]


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
)
"""Every version after the first. A version that was ever released is not changed any more."""

SCHEMA_VERSION = MIGRATIONS[-1].version


def set_version(version: int) -> str:
    """Return the statement that says which version the records have."""
    return f"UPDATE settings SET value = '{int(version)}' WHERE key = 'schema_version'"


def tables(version: int = SCHEMA_VERSION) -> str:
    """Return the script that makes empty records of a version: version 1 and every step up to it."""
    steps = [step for step in MIGRATIONS if step.version <= version]
    statements = [statement for step in steps for statement in step.statements]
    return _VERSION_1 + "".join(f"{statement};\n" for statement in (*statements, set_version(version)))

PRAGMA application_id = 1196444487;
PRAGMA user_version = 10300;

CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
INSERT INTO gpkg_spatial_ref_sys VALUES
  ('Undefined Cartesian', -1, 'NONE', -1, 'undefined', 'undefined Cartesian coordinate reference system'),
  ('Undefined geographic', 0, 'NONE', 0, 'undefined', 'undefined geographic coordinate reference system'),
  ('WGS 84 geodetic', 4326, 'EPSG', 4326, 'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433],AUTHORITY["EPSG","4326"]]', 'longitude and latitude in degrees');

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
CREATE UNIQUE INDEX audit_revision ON audit (revision);
CREATE TRIGGER audit_is_not_replaced BEFORE INSERT ON audit WHEN EXISTS (SELECT 1 FROM audit WHERE fid = NEW.fid OR revision = NEW.revision) BEGIN SELECT RAISE(ABORT, 'the audit is append-only'); END;
CREATE TABLE permissions (
  fid INTEGER PRIMARY KEY, parcel_id TEXT NOT NULL, status TEXT NOT NULL CHECK (status IN ('asked', 'granted', 'refused', 'withdrawn', 'do-not-ask')),
  scope TEXT CHECK (scope IN ('look', 'walk', 'auger', 'dig', 'take')), person TEXT NOT NULL, speaks_as TEXT NOT NULL, how TEXT NOT NULL,
  machine BOOLEAN NOT NULL, depth_m DOUBLE, volume_m3 DOUBLE, amount_kg DOUBLE, may_sell BOOLEAN NOT NULL,
  valid_from TEXT NOT NULL, valid_until TEXT NOT NULL, conditions TEXT NOT NULL, document TEXT NOT NULL,
  note TEXT NOT NULL, recorded TEXT NOT NULL, revision INTEGER NOT NULL UNIQUE, taken_back INTEGER);
CREATE TRIGGER permissions_not_edited BEFORE UPDATE OF fid, parcel_id, status, scope, person, speaks_as, how, machine, depth_m, volume_m3, amount_kg, may_sell, valid_from, valid_until, conditions, document, note, recorded, revision ON permissions BEGIN SELECT RAISE(ABORT, 'an entry of permissions is never changed'); END;
CREATE TRIGGER permissions_taken_back_once BEFORE UPDATE OF taken_back ON permissions WHEN OLD.taken_back IS NOT NULL BEGIN SELECT RAISE(ABORT, 'an entry of permissions is never changed'); END;
CREATE TRIGGER permissions_not_deleted BEFORE DELETE ON permissions BEGIN SELECT RAISE(ABORT, 'an entry of permissions is never changed'); END;
CREATE TRIGGER permissions_not_replaced BEFORE INSERT ON permissions WHEN EXISTS (SELECT 1 FROM permissions WHERE fid = NEW.fid OR revision = NEW.revision) BEGIN SELECT RAISE(ABORT, 'an entry of permissions is never changed'); END;
CREATE TABLE looked (
  fid INTEGER PRIMARY KEY, geom BLOB NOT NULL, keepout TEXT NOT NULL, lon REAL NOT NULL, lat REAL NOT NULL,
  clear BOOLEAN NOT NULL, seen TEXT NOT NULL, ticket TEXT NOT NULL, seen_on TEXT NOT NULL, until TEXT NOT NULL,
  radius_m DOUBLE NOT NULL, person TEXT NOT NULL, recorded TEXT NOT NULL, revision INTEGER NOT NULL UNIQUE,
  taken_back INTEGER);
CREATE TRIGGER looked_not_edited BEFORE UPDATE OF fid, geom, keepout, lon, lat, clear, seen, ticket, seen_on, until, radius_m, person, recorded, revision ON looked BEGIN SELECT RAISE(ABORT, 'an entry of looked is never changed'); END;
CREATE TRIGGER looked_taken_back_once BEFORE UPDATE OF taken_back ON looked WHEN OLD.taken_back IS NOT NULL BEGIN SELECT RAISE(ABORT, 'an entry of looked is never changed'); END;
CREATE TRIGGER looked_not_deleted BEFORE DELETE ON looked BEGIN SELECT RAISE(ABORT, 'an entry of looked is never changed'); END;
CREATE TRIGGER looked_not_replaced BEFORE INSERT ON looked WHEN EXISTS (SELECT 1 FROM looked WHERE fid = NEW.fid OR revision = NEW.revision) BEGIN SELECT RAISE(ABORT, 'an entry of looked is never changed'); END;
CREATE TABLE drafts (fid INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE, content TEXT NOT NULL, at TEXT NOT NULL);
INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES ('permissions', 'attributes', 'permissions', NULL), ('looked', 'features', 'looked', 4326), ('drafts', 'attributes', 'drafts', NULL);
INSERT INTO gpkg_geometry_columns VALUES ('looked', 'geom', 'POINT', 4326, 0, 0);
ALTER TABLE samples ADD COLUMN revision INTEGER NOT NULL DEFAULT 0;
ALTER TABLE audit ADD COLUMN state TEXT NOT NULL DEFAULT '';
ALTER TABLE audit ADD COLUMN chain TEXT NOT NULL DEFAULT '';
DROP TRIGGER audit_is_not_edited;
CREATE TRIGGER audit_is_not_edited BEFORE UPDATE ON audit BEGIN SELECT RAISE(ABORT, 'the audit is append-only'); END;
UPDATE settings SET value = '3' WHERE key = 'schema_version';

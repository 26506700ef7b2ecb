"""Records of an older version open with everything in them, and a step that fails changes nothing."""

from __future__ import annotations

import contextlib
import sqlite3
import threading
from pathlib import Path

import pytest

from prospect.errors import GroundError
from prospect.records import GroundSettings, Sample
from prospect.store import SCHEMA_VERSION, Ground
from prospect.store.migrating import upgrade
from prospect.store.records_file import transaction
from prospect.store.schema import MIGRATIONS, Migration

OLD_VERSIONS = tuple(range(1, SCHEMA_VERSION))


def tables_of(version: int) -> str:
    """Return the tables as an older version made them, kept as they were."""
    path = Path(__file__).with_name(f"records_version_{version}.sql")
    return path.read_text(encoding="utf-8")


POINT = bytes.fromhex(
    "4750000100000000000000000101000000"
)  # header of a GeoPackage geometry, then WKB of a point


@pytest.fixture(params=OLD_VERSIONS)
def version(request: pytest.FixtureRequest) -> int:
    return int(request.param)


@pytest.fixture
def old(tmp_path: Path, version: int) -> Path:
    path = tmp_path / "old" / "records.gpkg"
    path.parent.mkdir()
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.executescript(tables_of(version))
        connection.execute("INSERT INTO settings (key, value) VALUES ('name', '\"old ground\"')")
        connection.execute(
            "INSERT INTO samples (geom, sample_id, hole_id, lon, lat, date, usable, note, fields) "
            "VALUES (?, 'A1', '', -126.0, -47.5, '2030-06-01', 'yes', 'sticky', '{}')",
            (POINT,),
        )
        connection.executemany(
            "INSERT INTO audit (revision, at, action, detail) VALUES (?, '2030-06-01', ?, '')",
            [(1, "new"), (2, "add samples")],
        )
        connection.commit()
    return path


def version_of(path: Path) -> str:
    with contextlib.closing(sqlite3.connect(path)) as connection:
        row = connection.execute("SELECT value FROM settings WHERE key = 'schema_version'").fetchone()
        return str(row[0])


def objects_of(path: Path) -> set[tuple[str, ...]]:
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return set(connection.execute("SELECT type, name, sql FROM sqlite_master"))


def test_the_versions_follow_one_another() -> None:
    assert [step.version for step in MIGRATIONS] == list(range(2, SCHEMA_VERSION + 1))


def test_an_older_version_opens_with_everything_in_it_after_a_backup(old: Path, version: int) -> None:
    before = old.read_bytes()
    ground = Ground.open(old.parent)
    assert version_of(old) == str(SCHEMA_VERSION)
    assert ground.settings.name == "old ground"
    assert [(item.sample_id, item.usable, item.note) for item in ground.samples()] == [
        ("A1", "yes", "sticky")
    ]
    assert [change.action for change in ground.audit()] == ["new", "add samples", "upgrade"]
    (backup,) = ground.backups()
    assert backup.reason == "upgrade"
    assert version_of(backup.path) == str(version)
    assert len(before) == len(backup.path.read_bytes())
    ground.add_samples((Sample(sample_id="A2", lon=-126.0, lat=-47.5),))
    assert [change.action for change in Ground.open(old.parent).audit()][-2:] == ["upgrade", "add samples"]


def test_upgraded_records_are_made_like_new_ones(old: Path, tmp_path: Path) -> None:
    Ground.open(old.parent)
    new = Ground.create(tmp_path / "new", GroundSettings())
    assert objects_of(old) == objects_of(new.records_path)


def test_an_old_backup_is_brought_back_and_up_to_date(old: Path) -> None:
    (backup,) = Ground.open(old.parent).backups()
    again = Ground.restore(old.parent, backup.path)
    assert [change.action for change in again.audit()] == ["new", "add samples", "restore", "upgrade"]
    assert version_of(again.records_path) == str(SCHEMA_VERSION)


def test_two_that_open_old_records_at_once_upgrade_once(old: Path) -> None:
    threads = [threading.Thread(target=upgrade, args=(old,)) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [change.action for change in Ground.open(old.parent).audit()].count("upgrade") == 1


@pytest.mark.parametrize("failing", range(3))
def test_a_step_that_fails_leaves_the_old_version_and_a_backup(old: Path, version: int, failing: int) -> None:
    statements = ["CREATE TABLE one (name TEXT)", "DELETE FROM samples", "UPDATE settings SET value = 'x'"]
    statements[failing] = "SELECT no_such_function()"
    steps = (*MIGRATIONS, Migration(SCHEMA_VERSION + 1, "a step that fails", tuple(statements)))
    before = objects_of(old)
    with pytest.raises(GroundError, match="nothing was changed"):
        upgrade(old, steps)
    assert objects_of(old) == before
    assert version_of(old) == str(version)
    with contextlib.closing(sqlite3.connect(old)) as connection:
        assert connection.execute("SELECT count(*) FROM samples").fetchone() == (1,)
    assert [backup.reason for backup in Ground(old.parent).backups()] == ["upgrade"]


def test_without_a_backup_there_is_no_upgrade(old: Path, version: int) -> None:
    (old.parent / "backups").write_text("a file where the folder belongs")
    with pytest.raises(GroundError, match="must be brought up"):
        Ground.open(old.parent)
    assert version_of(old) == str(version)


@pytest.mark.parametrize(
    "statement",
    [
        "INSERT OR REPLACE INTO audit (fid, revision, at, action, detail) VALUES (1, 9, '', 'x', '')",
        "INSERT OR REPLACE INTO audit (revision, at, action, detail) VALUES (1, '', 'x', '')",
        "REPLACE INTO audit SELECT fid, revision, at, 'x', detail, state, chain FROM audit",
    ],
)
def test_a_row_of_the_audit_cannot_be_replaced(old: Path, statement: str) -> None:
    ground = Ground.open(old.parent)
    before = ground.audit()
    with (
        pytest.raises(GroundError, match="append-only"),
        transaction(ground.records_path, "tamper", "") as connection,
    ):
        connection.execute(statement)
    assert ground.audit() == before

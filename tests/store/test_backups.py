"""Copies of the records are whole, verified, rolled, and come back without costing what they replace."""

from __future__ import annotations

import json
import shutil
import sqlite3
import threading
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import geopandas as gpd
import pytest

from prospect.cli import run
from prospect.errors import GroundError
from prospect.records import GroundSettings, Sample
from prospect.store import Backup, Ground, RecordsDamaged, backups

START = datetime(2031, 3, 1, 9, tzinfo=UTC)


@pytest.fixture
def ground(tmp_path: Path) -> Ground:
    return Ground.create(tmp_path / "ground", GroundSettings())


def sample(name: str) -> Sample:
    return Sample(sample_id=name, lon=-126.0, lat=-47.5)


def damage(path: Path) -> None:
    content = bytearray(path.read_bytes())
    for start in range(4096, len(content), 4096):
        content[start + 8 : start + 60] = b"\xa5" * 52
    path.write_bytes(content)


def test_a_snapshot_is_what_other_libraries_read(ground: Ground, tmp_path: Path) -> None:
    """GeoPackage (OGC 12-128) as GDAL reads it, an independent implementation."""
    ground.add_samples((sample("A1"), sample("A2")))
    copy = ground.snapshot(tmp_path / "elsewhere" / "copy.gpkg")
    assert gpd.read_file(copy, layer="samples")["sample_id"].tolist() == ["A1", "A2"]
    assert [path.name for path in copy.parent.iterdir()] == ["copy.gpkg"]
    with pytest.raises(GroundError, match="never written over"):
        ground.snapshot(copy)
    with pytest.raises(GroundError, match="never written over"):
        ground.snapshot(ground.records_path)


def test_snapshots_taken_beside_saves_are_whole(ground: Ground, tmp_path: Path) -> None:
    def save() -> None:
        for number in range(40):
            ground.add_samples((sample(f"A{number}"),))

    writer = threading.Thread(target=save)
    writer.start()
    counts = []
    for number in range(15):
        with closing(sqlite3.connect(ground.snapshot(tmp_path / f"{number}.gpkg"))) as connection:
            samples = connection.execute("SELECT count(*) FROM samples").fetchone()[0]
            audited = connection.execute("SELECT count(*) FROM audit").fetchone()[0]
        assert audited == samples + 1
        counts.append(samples)
    writer.join()
    assert counts == sorted(counts)
    assert len(ground.samples()) == 40


def test_the_first_save_of_a_day_makes_a_backup_of_what_was_before(
    ground: Ground, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert ground.backups() == ()
    for day in range(3):
        monkeypatch.setattr(backups, "_now", lambda day=day: START + timedelta(days=day))
        for save in range(3):
            ground.add_samples((sample(f"d{day}s{save}"),))
    assert [(backup.at, backup.reason) for backup in ground.backups()] == [
        (START + timedelta(days=day), "day") for day in (2, 1, 0)
    ]
    with closing(sqlite3.connect(ground.backups()[0].path)) as connection:
        assert connection.execute("SELECT count(*) FROM samples").fetchone() == (6,)


def test_the_last_ten_and_one_a_day_for_thirty_days_are_kept() -> None:
    """Common practice, no source."""
    made = [
        Backup(Path(f"{day}.{hour}"), START - timedelta(days=day, hours=hour), "day")
        for day in range(60)
        for hour in range(5)
    ]
    kept = backups.to_keep(made, START)
    assert set(made[:10]) <= kept
    assert {backup.at.date() for backup in kept} == {
        (START - timedelta(days=day)).date() for day in range(30)
    }
    assert len(kept) == 10 + 28
    assert backups.to_keep(made[:7], START) == set(made[:7])
    old = [Backup(Path(str(year)), START - timedelta(days=400 * year), "day") for year in range(1, 15)]
    assert backups.to_keep(old, START) == set(old[:10])


def test_backups_that_are_no_longer_kept_are_removed_and_nothing_else(
    ground: Ground, monkeypatch: pytest.MonkeyPatch
) -> None:
    ground.back_up()
    own = backups.backups_folder(ground.records_path) / "my copy.gpkg"
    own.write_bytes(b"mine")
    for hour in range(14):
        monkeypatch.setattr(backups, "_now", lambda hour=hour: START + timedelta(hours=hour))
        ground.back_up()
    assert len(ground.backups()) == 10
    assert own.read_bytes() == b"mine"


def test_damaged_records_are_refused_with_the_newest_good_backup(ground: Ground) -> None:
    ground.add_samples((sample("A1"),))
    good = ground.back_up()
    bad = ground.back_up()
    damage(bad.path)
    damage(ground.records_path)
    with pytest.raises(RecordsDamaged, match=good.path.name):
        Ground.open(ground.folder)
    with pytest.raises(GroundError, match="nothing was changed"):
        Ground.restore(ground.folder, bad.path)
    broken = ground.records_path.read_bytes()
    again = Ground.restore(ground.folder, good.path)
    assert [item.sample_id for item in again.samples()] == ["A1"]
    last = again.audit()[-1]
    assert last.action == "restore"
    kept = ground.folder / json.loads(last.detail)["kept"]
    assert kept.read_bytes() == broken
    assert json.loads(last.detail)["backup"] == good.path.name


def test_damage_met_in_the_backup_of_the_day_keeps_the_save_back(ground: Ground) -> None:
    ground.add_samples(sample(f"A{number}") for number in range(200))
    shutil.rmtree(backups.backups_folder(ground.records_path))
    damage(ground.records_path)
    broken = ground.records_path.read_bytes()
    with pytest.raises(GroundError):
        ground.note_action("note", "")
    assert ground.records_path.read_bytes() == broken
    assert ground.backups() == ()


def test_the_way_back_that_the_refusal_tells_works(ground: Ground) -> None:
    ground.add_samples((sample("A1"),))
    ground.back_up()
    damage(ground.records_path)
    with pytest.raises(RecordsDamaged, match="To bring it back") as refusal:
        Ground.open(ground.folder)
    assert f"claywalk doctor {ground.folder} --mend" in str(refusal.value)
    assert run(["doctor", str(ground.folder), "--mend"]) == 0
    assert [item.sample_id for item in Ground.open(ground.folder).samples()] == ["A1"]


def test_a_restore_keeps_what_it_replaces(ground: Ground) -> None:
    backup = ground.back_up()
    ground.add_samples((sample("later"),))
    Ground.restore(ground.folder, backup.path)
    assert ground.samples() == ()
    (kept,) = ground.folder.glob("records-before-*.gpkg")
    with closing(sqlite3.connect(kept)) as connection:
        assert connection.execute("SELECT sample_id FROM samples").fetchall() == [("later",)]
    kept.rename(ground.folder / "later.gpkg")
    Ground.restore(ground.folder, ground.folder / "later.gpkg")
    assert [item.sample_id for item in ground.samples()] == ["later"]


def test_records_that_are_gone_come_back_and_a_stray_journal_does_no_harm(ground: Ground) -> None:
    backup = ground.back_up()
    ground.records_path.rename(ground.folder / "away.gpkg")
    journal = ground.folder / "records.gpkg-journal"
    journal.write_bytes(b"\xd9\xd5\x05\xf9\x20\xa1\x63\xd7" + b"\x01" * 2000)
    with pytest.raises(GroundError, match=backup.path.name):
        Ground.open(ground.folder)
    assert Ground.restore(ground.folder, backup.path).samples() == ()
    assert not journal.exists()


def test_records_in_use_are_not_replaced(ground: Ground, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("prospect.store.records_file._WAIT_S", 0.1)
    backup = ground.back_up()
    before = ground.records_path.read_bytes()
    with closing(sqlite3.connect(ground.records_path, isolation_level=None)) as connection:
        connection.execute("BEGIN IMMEDIATE")
        with pytest.raises(GroundError, match="Another program is using it"):
            Ground.restore(ground.folder, backup.path)
    assert ground.records_path.read_bytes() == before
    assert not list(ground.folder.glob("records-before-*"))
    assert not list(ground.folder.glob(".records*"))


@pytest.mark.parametrize("content", [b"", b"no database", b"SQLite format 3\x00" + b"\x07" * 5000])
def test_a_file_that_is_no_backup_is_not_brought_back(ground: Ground, tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "other.gpkg"
    path.write_bytes(content)
    with pytest.raises(GroundError, match="not a sound backup"):
        Ground.restore(ground.folder, path)
    assert Ground.open(ground.folder).audit()[-1].action == "new"


def test_a_sound_database_of_another_kind_is_not_brought_back(ground: Ground, tmp_path: Path) -> None:
    path = tmp_path / "other.gpkg"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE things (name TEXT)")
    with pytest.raises(GroundError, match=r"other\.gpkg cannot be brought back, nothing was changed"):
        Ground.restore(ground.folder, path)
    assert Ground.open(ground.folder).audit()[-1].action == "new"


def test_a_ground_that_was_moved_away_leaves_no_folder_at_its_old_place(tmp_path: Path) -> None:
    ground = Ground.create(tmp_path / "here", GroundSettings())
    (tmp_path / "here").rename(tmp_path / "there")
    with pytest.raises(GroundError, match="The file is gone"):
        ground.change_settings(purpose="brick")
    assert not (tmp_path / "here").exists()
    assert len(Ground.open(tmp_path / "there").audit()) == 1


def test_a_backup_of_a_day_still_to_come_is_the_last_to_be_brought_back(ground: Ground) -> None:
    old = ground.back_up().path
    old.rename(old.with_name("records-2199-01-01T000000.000Z-asked.gpkg"))
    ground.add_samples((sample("saved later"),))
    newest = ground.back_up().path
    assert backups.newest_good(ground.records_path).path == newest
    before = ground.samples()
    ground.records_path.unlink()
    Ground.mend(ground.folder)
    assert Ground.open(ground.folder).samples() == before

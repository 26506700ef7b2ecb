"""What the doctor says of a ground's records: sound or not, backed up or not, what killed runs left."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from prospect.cli import run
from prospect.errors import NothingToWorkWith
from prospect.records import GroundSettings, Sample
from prospect.store import Finding, Ground, backups


@pytest.fixture
def ground(tmp_path: Path) -> Ground:
    ground = Ground.create(tmp_path / "ground", GroundSettings())
    ground.add_samples(Sample(sample_id=name, lon=-126.0, lat=-47.5) for name in ("A1", "A2"))
    ground.change_settings(cell_m=10.0)
    ground.correct_rock("Qal", "clay:1")
    ground.correct_rock("Kg", "granite:1")
    ground.correct_rock("Kg", "")
    return ground


def finding(ground: Ground, name: str) -> Finding:
    return next(item for item in ground.check_up() if item.name == name)


def tamper(ground: Ground, statement: str) -> None:
    with closing(sqlite3.connect(ground.records_path, isolation_level=None)) as connection:
        connection.execute(statement)


def test_a_ground_that_is_well(ground: Ground) -> None:
    assert all(item.well for item in ground.check_up())
    assert finding(ground, "records").found == "sound, 6 changes on record, 2 samples"
    assert finding(ground, "backups").found.startswith("1, the newest 0 minutes old")
    assert finding(ground, "left by killed runs").found == "nothing"


def test_a_new_ground_is_well_without_a_backup(tmp_path: Path) -> None:
    ground = Ground.create(tmp_path / "new", GroundSettings())
    assert all(item.well for item in ground.check_up())
    assert finding(ground, "backups").found == "none yet"


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("DELETE FROM samples WHERE sample_id = 'A1'", "removed by another program: A1"),
        ("UPDATE samples SET sample_id = 'B1' WHERE sample_id = 'A1'", "added by another program: B1"),
        ("UPDATE rock_corrections SET rocks = 'sand:1'", "map units were changed by another program: Qal"),
        (
            "UPDATE settings SET value = '30.0' WHERE key = 'cell_m'",
            "settings were changed by another program: cell_m",
        ),
    ],
)
def test_what_another_program_changed_is_named(ground: Ground, statement: str, said: str) -> None:
    tamper(ground, statement)
    told = finding(ground, "audit")
    assert not told.well
    assert said in told.found


def test_old_and_bad_backups_are_told(ground: Ground, monkeypatch: pytest.MonkeyPatch) -> None:
    (backup,) = ground.backups()
    long_ago = datetime.now(UTC) - timedelta(days=9, hours=1)
    monkeypatch.setattr(backups, "_now", lambda: long_ago)
    old = ground.back_up()
    backup.path.write_bytes(b"")
    told = finding(ground, "backups")
    assert not told.well
    assert f"9 days old: {old.path.name}" in told.found
    assert "older than the last save" in told.found
    assert f"not sound, delete: {backup.path.name}" in told.found


def test_what_killed_runs_left_is_named(ground: Ground) -> None:
    (ground.folder / "layers").mkdir()
    for name in (".records.gpkg.12.part", "backups/.records-x.gpkg.12-3.part", "layers/.soil.part.gpkg"):
        (ground.folder / name).write_bytes(b"")
    (ground.folder / "records.lock").write_text(
        json.dumps({"host": "x", "user": "Tov", "pid": 3, "since": ""})
    )
    told = finding(ground, "left by killed runs")
    assert ".records.gpkg.12.part, backups/.records-x.gpkg.12-3.part, layers/.soil.part.gpkg" in told.found
    assert "Tov on x" in finding(ground, "open in").found


def test_the_doctor_says_it(ground: Ground, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["doctor", str(ground.folder)]) == 0
    told = capsys.readouterr().out
    assert "ground: records: sound, 6 changes" in told
    assert "ground: backups: 1, the newest" in told
    tamper(ground, "DELETE FROM samples")
    assert run(["doctor", str(ground.folder)]) == 4
    told = capsys.readouterr().out
    assert "ILL   ground: changed outside: noticed 20" in told
    assert "samples were removed by another program: A1, A2; bring a backup back" in told
    ground.change_settings(cell_m=5.0)
    assert run(["doctor", str(ground.folder)]) == 0
    assert "well  ground: changed outside: noticed 20" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("UPDATE samples SET note = 'other'", "what is inside rows was changed"),
        (
            "DROP TRIGGER audit_is_not_edited; UPDATE audit SET detail = '{}' WHERE revision = 3; "
            "CREATE TRIGGER audit_is_not_edited BEFORE UPDATE ON audit "
            "BEGIN SELECT RAISE(ABORT, 'the audit is append-only'); END",
            "from change 3 on the audit is not as it was written",
        ),
    ],
)
def test_a_change_that_no_name_betrays_is_noticed(ground: Ground, statement: str, said: str) -> None:
    with closing(sqlite3.connect(ground.records_path)) as connection:
        connection.executescript(statement)
    told = finding(ground, "audit")
    assert not told.well
    assert said in told.found


def test_what_another_program_changed_becomes_one_entry_of_the_audit(ground: Ground) -> None:
    tamper(ground, "UPDATE samples SET note = 'other' WHERE sample_id = 'A2'")
    opened = Ground.open(ground.folder)
    assert [change.action for change in opened.audit()][-2:] == ["correct rock", "changed outside"]
    assert len(Ground.open(ground.folder).audit()) == len(opened.audit())
    assert finding(opened, "audit").well
    tamper(ground, "DELETE FROM samples WHERE sample_id = 'A1'")
    opened.correct_rock("Ls", "limestone:1")  # noticed by the next save as well, and told apart from it
    assert [change.action for change in opened.audit()][-2:] == ["changed outside", "correct rock"]
    assert all(item.well for item in opened.check_up())
    assert opened.undo().action == "correct rock"
    with pytest.raises(NothingToWorkWith, match="changed outside"):
        opened.undo()

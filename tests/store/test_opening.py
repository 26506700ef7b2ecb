"""What is looked at before records are used: companions, marks, foreign parts, damage, read-only and full disks."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from prospect.errors import GroundError
from prospect.records import GroundSettings, Sample
from prospect.store import Ground, RecordsDamaged
from prospect.store.records_file import open_records

READER = """
import sqlite3, sys, time
connection = sqlite3.connect(sys.argv[1], isolation_level=None)
connection.execute("BEGIN")
connection.execute("SELECT * FROM samples").fetchall()
print("reading", flush=True)
time.sleep(float(sys.argv[2]))
connection.execute("COMMIT")
"""
resource = pytest.importorskip("resource", reason="limits of POSIX")


@pytest.fixture
def ground(tmp_path: Path) -> Ground:
    ground = Ground.create(tmp_path / "ground", GroundSettings())
    ground.add_samples((sample("A1"),))
    ground.back_up()
    return ground


def sample(name: str) -> Sample:
    return Sample(sample_id=name, lon=-126.0, lat=-47.5, note="x" * 500)


@contextlib.contextmanager
def connected(path: Path) -> Iterator[sqlite3.Connection]:
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as connection:
        yield connection


def test_a_hot_journal_is_rolled_back(ground: Ground, tmp_path: Path) -> None:
    """As a killed program leaves it: pages already written, the journal that undoes them beside the file."""
    crashed = tmp_path / "crashed"
    crashed.mkdir()
    with connected(ground.records_path) as connection:
        connection.execute("PRAGMA cache_size = 1")
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("UPDATE samples SET note = 'half done'")
        connection.executemany(
            "INSERT INTO rock_corrections (unit, rocks) VALUES (?, ?)",
            [(f"u{number}", "x" * 900) for number in range(500)],
        )
        for name in ("records.gpkg", "records.gpkg-journal"):
            shutil.copy(ground.folder / name, crashed)
        connection.execute("ROLLBACK")
    assert (crashed / "records.gpkg").stat().st_size > ground.records_path.stat().st_size
    opened = Ground.open(crashed)
    assert opened.samples() == ground.samples()
    assert opened.rock_corrections() == {}
    assert not (crashed / "records.gpkg-journal").exists()


def test_a_file_left_in_write_ahead_mode_becomes_one_file_again(ground: Ground, tmp_path: Path) -> None:
    """Another program's mode stays set in the file (the SQLite documentation, "Write-Ahead Logging")."""
    left = tmp_path / "left"
    left.mkdir()
    with connected(ground.records_path) as connection:
        assert connection.execute("PRAGMA journal_mode = WAL").fetchone() == ("wal",)
        connection.execute("INSERT INTO rock_corrections (unit, rocks) VALUES ('Qal', 'clay:1')")
        for name in ("records.gpkg", "records.gpkg-wal"):
            shutil.copy(ground.folder / name, left)
    opened = Ground.open(left)
    assert opened.rock_corrections() == {"Qal": "clay:1"}
    assert sorted(path.name for path in left.iterdir()) == ["records.gpkg"]
    assert opened.records_path.read_bytes()[18:20] == b"\x01\x01"


def test_a_file_in_write_ahead_mode_that_is_in_use_is_said_to_be(
    ground: Ground, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("prospect.store.records_file._WAIT_S", 0.1)
    with connected(ground.records_path) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("BEGIN")
        connection.execute("SELECT * FROM samples").fetchall()
        with pytest.raises(GroundError, match="close it there") as refusal:
            Ground.open(ground.folder)
    assert "backup" not in str(refusal.value)  # nothing is wrong with the records


@pytest.mark.parametrize(("reads_for_s", "saved"), [(0.3, True), (3.0, False)])
def test_a_save_waits_for_a_reader_more_than_once(
    ground: Ground, monkeypatch: pytest.MonkeyPatch, reads_for_s: float, saved: bool
) -> None:
    # "COMMIT might also result in an SQLITE_BUSY ... the transaction remains active and the COMMIT can be retried"
    # (SQLite, "Transaction").
    monkeypatch.setattr("prospect.store.records_file._WAIT_S", 0.15)
    reader = subprocess.Popen(
        [sys.executable, "-c", READER, str(ground.records_path), str(reads_for_s)], stdout=subprocess.PIPE
    )
    assert reader.stdout is not None
    assert reader.stdout.readline() == b"reading\n"
    try:
        if saved:
            ground.add_samples((sample("A2"),))
        else:
            with pytest.raises(GroundError, match=r"nothing was changed.*Another program is using it"):
                ground.add_samples((sample("A2"),))
    finally:
        reader.communicate()
    assert (ground.recorded("A2") is not None) == saved


@pytest.mark.parametrize(
    ("statement", "named"),
    [
        ("CREATE TRIGGER eager AFTER INSERT ON samples BEGIN DELETE FROM samples; END", "trigger eager"),
        ("CREATE VIEW everything AS SELECT * FROM samples", "view everything"),
        ("DROP TRIGGER audit_is_not_edited", "lacks trigger audit_is_not_edited"),
        ("DROP TABLE rock_corrections", "lacks table rock_corrections"),
    ],
)
def test_parts_of_another_program_are_refused_by_name(ground: Ground, statement: str, named: str) -> None:
    with connected(ground.records_path) as connection:
        connection.execute(statement)
    before = ground.records_path.read_bytes()
    with pytest.raises(GroundError, match=named) as refusal:
        Ground.open(ground.folder)
    assert str(ground.backups()[0].path) in str(refusal.value)
    assert ground.records_path.read_bytes() == before


def test_our_trigger_with_other_content_is_foreign(ground: Ground) -> None:
    with connected(ground.records_path) as connection:
        connection.execute("DROP TRIGGER audit_is_not_edited")
        connection.execute(
            "CREATE TRIGGER audit_is_not_edited BEFORE UPDATE ON audit BEGIN DELETE FROM samples; END"
        )
    with pytest.raises(GroundError, match="trigger audit_is_not_edited"):
        Ground.open(ground.folder)


def test_a_table_and_an_index_of_another_program_are_left_alone(ground: Ground) -> None:
    with connected(ground.records_path) as connection:
        connection.execute("CREATE TABLE layer_styles (name TEXT)")
        connection.execute("CREATE INDEX by_date ON samples (date)")
    assert len(Ground.open(ground.folder).samples()) == 1


@pytest.mark.parametrize("mark", [0, 0x47503130])
def test_a_database_with_another_mark_is_left_as_it_was(ground: Ground, mark: int) -> None:
    with connected(ground.records_path) as connection:
        connection.execute(f"PRAGMA application_id = {mark}")
    with pytest.raises(GroundError, match="not the records of a ground"):
        Ground.open(ground.folder)


def test_damage_inside_a_page_is_found(ground: Ground) -> None:
    content = bytearray(ground.records_path.read_bytes())
    page = int.from_bytes(content[16:18], "big")
    for start in range(page, len(content), page):
        content[start + 8 : start + 60] = b"\xa5" * 52
    ground.records_path.write_bytes(content)
    with pytest.raises(RecordsDamaged):
        Ground.open(ground.folder)
    with pytest.raises(GroundError):
        ground.samples()
    assert ground.records_path.read_bytes() == bytes(content)


def test_records_without_a_version_are_not_ours(ground: Ground) -> None:
    with connected(ground.records_path) as connection:
        connection.execute("DELETE FROM settings")
    with pytest.raises(GroundError, match="not the records of a ground"):
        Ground.open(ground.folder)


def test_opening_again_beside_an_open_save_keeps_its_lock(ground: Ground) -> None:
    """A read and close of the same file would drop the lock ("How To Corrupt An SQLite Database File", 2.2)."""
    other = (
        "import sqlite3, sys; c = sqlite3.connect(sys.argv[1], timeout=0, isolation_level=None); "
        "c.execute('BEGIN IMMEDIATE')"
    )
    with open_records(ground.records_path) as connection:
        connection.execute("BEGIN IMMEDIATE")
        Ground.open(ground.folder)
        tried = subprocess.run([sys.executable, "-c", other, str(ground.records_path)], capture_output=True)
        connection.execute("ROLLBACK")
    assert b"database is locked" in tried.stderr


@contextlib.contextmanager
def nobody() -> Iterator[None]:
    """Work as a user for whom permissions hold (root passes them all)."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.mark.skipif(os.name == "nt", reason="permissions of POSIX")
@pytest.mark.parametrize("what", ["file", "folder", "both"])
def test_read_only_records_are_read_and_a_save_is_refused_in_words(what: str) -> None:
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        ground = Ground.create(Path(name) / "ground", GroundSettings())
        ground.add_samples((sample("A1"),))
        ground.folder.chmod(0o555 if what in ("folder", "both") else 0o777)
        ground.records_path.chmod(0o444 if what in ("file", "both") else 0o666)
        with nobody():
            opened = Ground.open(ground.folder)
            with pytest.raises(GroundError, match=r"Not saved.*read-only"):
                opened.add_samples((sample("A2"),))
            assert [item.sample_id for item in opened.samples()] == ["A1"]
            with pytest.raises(GroundError, match="cannot be"):
                Ground.create(
                    ground.folder / "inner" if what != "file" else Path("/proc/x"), GroundSettings()
                )
        ground.folder.chmod(0o755)
        assert len(Ground.open(ground.folder).audit()) == 2


@contextlib.contextmanager
def no_file_larger_than(size: int) -> Iterator[None]:
    old = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, old[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, old)
        signal.signal(signal.SIGXFSZ, handler)


def test_a_disk_that_is_full_at_any_point_loses_nothing(ground: Ground) -> None:
    """Every limit from nothing to enough: the save is whole or is not there, and says so."""
    many = [sample(f"B{number}") for number in range(60)]
    refused = 0
    for size in range(0, 400_000, 4096 + 512):
        with no_file_larger_than(size):
            try:
                ground.add_samples(many)
            except GroundError as error:
                refused += 1
                message = str(error)
        if len(Ground.open(ground.folder).samples()) > 1:
            break
        assert "disk" in message
        assert "nothing was changed" in message
        assert len(ground.audit()) == 2
    assert refused > 5
    assert len(ground.samples()) == 61


def test_a_ground_that_does_not_fit_is_not_begun(tmp_path: Path) -> None:
    for size in range(0, 200_000, 8192):
        folder = tmp_path / f"of {size}"
        with no_file_larger_than(size):
            try:
                ground = Ground.create(folder, GroundSettings())
            except GroundError:
                assert not any(folder.iterdir())
                continue
        assert len(ground.audit()) == 1
        return
    raise AssertionError("never fits")


FULL_DISK = """
import json, sys
from pathlib import Path
from prospect.errors import GroundError
from prospect.records import GroundSettings, Sample
from prospect.store import Ground
ground = Ground.create(Path(sys.argv[1]) / "ground", GroundSettings())
saved, messages = [], []
for number in range(400):
    name = f"s{number}"
    try:
        ground.add_samples((Sample(sample_id=name, lon=-126.0, lat=-47.5, note="x" * 3000),))
        saved.append(name)
    except GroundError as error:
        messages.append(str(error))
        if len(messages) > 5:
            break
again = Ground.open(ground.folder)
found = [item.sample_id for item in again.samples()]
well = [item.name for item in again.check_up() if not item.well]
backups = len(again.backups())
for backup in again.backups():
    backup.path.unlink()
again.add_samples((Sample(sample_id="room again", lon=-126.0, lat=-47.5),))
print(json.dumps([saved, found, messages, well, backups, len(again.samples())]))
"""


@pytest.mark.parametrize("kilobytes", [345, 390, 431, 490])
def test_a_disk_that_is_really_full_loses_nothing(tmp_path: Path, kilobytes: int) -> None:
    """On a small disk in memory, where the system lets us mount one for this process alone.

    Empty records are 140 KB, and there must be room for them, their first backup and some saves.
    """
    mount = f'mount -t tmpfs -o size={kilobytes}k none "$1" && exec "$2" -c "$3" "$1"'
    user = [] if os.geteuid() == 0 else ["--map-root-user"]
    command = ["unshare", "--mount", *user, "sh", "-c", mount, "sh", str(tmp_path), sys.executable, FULL_DISK]
    if shutil.which("unshare") is None or subprocess.run([*command[:-2], "true", ""]).returncode:
        pytest.skip("this system does not let us mount a small disk")
    done = subprocess.run(command, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    saved, found, messages, ill, backups, after = json.loads(done.stdout)
    assert saved
    assert found == saved
    assert after == len(saved) + 1
    assert len(messages) == 6
    assert all("disk is full" in message and "nothing was changed" in message for message in messages)
    assert ill == []
    assert backups == 1

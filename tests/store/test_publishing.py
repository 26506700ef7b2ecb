"""Records in a folder that others copy: worked on elsewhere, put into the folder whole, never merged silently."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from prospect.errors import GroundError
from prospect.records import GroundSettings, Sample
from prospect.store import Ground, entering
from prospect.store import ground as ground_module
from prospect.store.place import Place

Sit = Callable[[str], Path]
VERSION_2 = Path(__file__).with_name("records_version_2.sql")


def sample(name: str) -> Sample:
    return Sample(sample_id=name, lon=-126.0, lat=-47.5)


@pytest.fixture
def sit_at(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Sit:
    """Return a function that sits down at one of several machines; it gives that machine's copy of the folder."""
    for module in (entering, ground_module):
        monkeypatch.setattr(module, "place_of", lambda folder: Place("copied", "for this test"))

    def sit(machine: str) -> Path:
        monkeypatch.setattr(entering, "data_home", lambda: tmp_path / machine / "data")
        return tmp_path / machine / "shared" / "ground"

    return sit


def carry(source: Path, target: Path) -> None:
    """Do what a program does that copies folders from machine to machine."""
    target.mkdir(parents=True, exist_ok=True)
    shutil.copy(source / "records.gpkg", target / "records.gpkg")


def names(ground: Ground) -> list[str]:
    return [item.sample_id for item in ground.samples()]


def names_in(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as connection:
        return [name for (name,) in connection.execute("SELECT sample_id FROM samples ORDER BY fid")]


def test_the_folder_gets_whole_files_and_the_work_is_elsewhere(sit_at: Sit) -> None:
    folder = sit_at("hut")
    ground = Ground.create(folder, GroundSettings(name="far field"))
    assert ground.records is not None
    assert not ground.records.is_relative_to(folder)
    inode = (folder / "records.gpkg").stat().st_ino
    ground.add_samples((sample("A1"),))
    assert names_in(folder / "records.gpkg") == ["A1"]
    assert (folder / "records.gpkg").stat().st_ino != inode, "the file in the folder is replaced, not written"
    assert sorted(path.name for path in folder.iterdir()) == ["records.gpkg"]
    assert names(Ground.open(folder)) == ["A1"]
    assert all(item.well for item in ground.check_up())


def test_two_machines_take_turns(sit_at: Sit) -> None:
    hut, shed = sit_at("hut"), sit_at("shed")
    sit_at("hut")
    Ground.create(hut, GroundSettings()).add_samples((sample("A1"),))
    carry(hut, shed)
    sit_at("shed")
    Ground.open(shed).add_samples((sample("B1"),))
    carry(shed, hut)
    sit_at("hut")
    ground = Ground.open(hut)
    assert names(ground) == ["A1", "B1"]
    assert any(backup.reason == "replaced" for backup in ground.backups())
    ground.add_samples((sample("A2"),))
    assert names_in(hut / "records.gpkg") == ["A1", "B1", "A2"]


@pytest.mark.parametrize("which", ["here", "there"])
def test_two_that_went_different_ways_are_not_merged(sit_at: Sit, which: str) -> None:
    hut, shed = sit_at("hut"), sit_at("shed")
    sit_at("hut")
    Ground.create(hut, GroundSettings()).add_samples((sample("A1"),))
    carry(hut, shed)
    sit_at("shed")
    Ground.open(shed).add_samples((sample("B1"),))
    sit_at("hut")
    Ground.open(hut).add_samples((sample("A2"), sample("A3")))
    carry(shed, hut)
    with pytest.raises(GroundError, match="went two ways after change 2: this machine saved 1 more"):
        Ground.open(hut)
    assert names_in(hut / "records.gpkg") == ["A1", "B1"]
    ground = Ground.keep(hut, which)  # type: ignore[arg-type]
    kept, other = (
        (["A1", "A2", "A3"], ["A1", "B1"]) if which == "here" else (["A1", "B1"], ["A1", "A2", "A3"])
    )
    assert names(ground) == kept
    assert names_in(hut / "records.gpkg") == kept
    backups = [backup for backup in ground.backups() if backup.reason in ("other", "replaced")]
    assert [names_in(backup.path) for backup in backups] == [other]
    with pytest.raises(GroundError, match="nothing to choose"):
        Ground.keep(hut, "here")


def test_what_another_machine_saved_while_the_ground_was_open_here_is_not_written_over(sit_at: Sit) -> None:
    hut, shed = sit_at("hut"), sit_at("shed")
    sit_at("hut")
    ground = Ground.create(hut, GroundSettings())
    carry(hut, shed)
    sit_at("shed")
    Ground.open(shed).add_samples((sample("B1"),))
    carry(shed, hut)
    sit_at("hut")
    ground.add_samples((sample("A1"),))
    assert names(ground) == ["A1"]
    assert names_in(hut / "records.gpkg") == ["B1"], "left for the user to choose"
    with pytest.raises(GroundError, match="went two ways after change 1"):
        Ground.open(hut)
    assert names(Ground.keep(hut, "here")) == names_in(hut / "records.gpkg") == ["A1"]


def test_what_could_not_be_put_into_the_folder_is_put_there_later(
    sit_at: Sit, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = sit_at("hut")
    ground = Ground.create(folder, GroundSettings())

    def refused(*_: object) -> None:
        raise GroundError("the network is down")

    with monkeypatch.context() as broken:
        broken.setattr(ground_module, "publish_onward", refused)
        ground.add_samples((sample("A1"),))
    assert names(ground) == ["A1"]
    assert names_in(folder / "records.gpkg") == []
    assert names(Ground.open(folder)) == ["A1"]
    assert names_in(folder / "records.gpkg") == ["A1"]


def test_a_folder_that_was_moved_finds_its_work_again_and_a_copy_gets_its_own(sit_at: Sit) -> None:
    folder = sit_at("hut")
    first = Ground.create(folder, GroundSettings())
    first.add_samples((sample("A1"),))
    twin = folder.with_name("twin")
    shutil.copytree(folder, twin)
    assert Ground.open(twin).records != first.records
    Ground.open(twin).add_samples((sample("T1"),))
    assert names(Ground.open(folder)) == ["A1"]
    moved = folder.with_name("moved")
    folder.rename(moved)
    assert Ground.open(moved).records == first.records
    assert names(Ground.open(moved)) == ["A1"]


def test_an_unfinished_save_of_another_machine_is_waited_for(sit_at: Sit) -> None:
    folder = sit_at("hut")
    Ground.create(folder, GroundSettings())
    (folder / "records.gpkg-journal").write_bytes(b"half a save")
    with pytest.raises(GroundError, match="in the middle of a save"):
        Ground.open(folder)


def test_a_file_that_is_only_half_copied_is_refused_and_the_work_is_safe(sit_at: Sit) -> None:
    folder = sit_at("hut")
    ground = Ground.create(folder, GroundSettings())
    ground.add_samples(sample(f"A{number}") for number in range(300))
    whole = (folder / "records.gpkg").read_bytes()
    (folder / "records.gpkg").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(GroundError):
        Ground.open(folder)
    assert len(names(ground)) == 300


def test_records_of_an_older_program_are_brought_up_to_date_here(sit_at: Sit) -> None:
    folder = sit_at("hut")
    folder.mkdir(parents=True)
    with closing(sqlite3.connect(folder / "records.gpkg")) as connection:
        connection.executescript(VERSION_2.read_text(encoding="utf-8"))
        connection.execute(
            "INSERT INTO audit (revision, at, action, detail) VALUES (1, '2030-01-01', 'new', '{}')"
        )
        connection.commit()
    ground = Ground.open(folder)
    ground.add_samples((sample("A1"),))
    assert names_in(folder / "records.gpkg") == ["A1"]


def test_the_doctor_puts_whole_records_over_half_copied_ones(sit_at: Sit) -> None:
    folder = sit_at("hut")
    Ground.create(folder, GroundSettings()).add_samples((sample("A1"),))
    (folder / "records.gpkg").write_bytes(b"SQLite format 3\0 and then nothing")
    Ground.mend(folder)
    assert names(Ground.open(folder)) == ["A1"]
    assert names_in(folder / "records.gpkg") == ["A1"]


def test_a_backup_that_is_brought_back_goes_into_the_folder(sit_at: Sit) -> None:
    folder = sit_at("hut")
    ground = Ground.create(folder, GroundSettings())
    ground.add_samples((sample("A1"),))
    backup = ground.back_up()
    ground.add_samples((sample("A2"),))
    assert names(Ground.restore(folder, backup.path)) == ["A1"]
    assert names_in(folder / "records.gpkg") == ["A1"]
    assert names(Ground.open(folder)) == ["A1"]


def test_a_backup_that_was_brought_back_here_only_is_no_other_way(sit_at: Sit) -> None:
    """As after a power cut between the two steps."""
    folder = sit_at("hut")
    ground = Ground.create(folder, GroundSettings())
    backup = ground.back_up()
    ground.add_samples((sample("A1"),))
    before = (folder / "records.gpkg").read_bytes()
    Ground.restore(folder, backup.path)
    (folder / "records.gpkg").write_bytes(before)
    assert names(Ground.open(folder)) == []
    assert names_in(folder / "records.gpkg") == []

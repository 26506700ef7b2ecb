"""The doctor mends: what is ill becomes well, nothing that was saved is lost, and a second visit finds nothing."""

from __future__ import annotations

import json
import platform
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import geopandas as gpd
import pytest
from shapely.geometry import Point

from prospect.cli import run
from prospect.errors import GroundError
from prospect.records import GroundSettings, Permission, Sample
from prospect.store import Ground


@pytest.fixture
def ground(tmp_path: Path) -> Ground:
    ground = Ground.create(tmp_path / "ground", GroundSettings())
    ground.add_samples(
        Sample(sample_id=f"A{number}", lon=-126.0, lat=-47.5, note="sticky " * 60) for number in range(300)
    )
    ground.permit(Permission("014", "granted", scope="dig"))
    ground.back_up()
    return ground


def execute(ground: Ground, statement: str) -> None:
    with closing(sqlite3.connect(ground.records_path, isolation_level=None)) as connection:
        connection.execute(statement)


def garble(ground: Ground) -> None:
    content = bytearray(ground.records_path.read_bytes())
    content[-8192:] = b"\x5a" * 8192
    ground.records_path.write_bytes(content)


def lose(ground: Ground) -> None:
    ground.records_path.unlink()


def intrude(ground: Ground) -> None:
    execute(ground, "CREATE TRIGGER eager AFTER INSERT ON samples BEGIN DELETE FROM samples; END")


def stale_lock(ground: Ground) -> None:
    told = {"host": platform.node(), "user": "Tov", "pid": 2**22 + 5, "since": "2031-01-01"}
    (ground.folder / "records.lock").write_text(json.dumps(told))


def leave_parts(ground: Ground) -> None:
    (ground.folder / ".records.gpkg.12.part").write_bytes(b"x")


def bad_backup(ground: Ground) -> None:
    (ground.folder / "backups" / "records-2030-01-01T000000.000Z-day.gpkg").write_bytes(b"x")


def wrong_extent(ground: Ground) -> None:
    execute(ground, "UPDATE gpkg_contents SET min_x = 7 WHERE table_name = 'samples'")


def no_backups(ground: Ground) -> None:
    shutil.rmtree(ground.folder / "backups")


def layer_without_file(ground: Ground) -> None:
    ground.layers_folder.mkdir()
    told = {"kind": "geology", "origin": "x", "imported": "2030-01-01"}
    (ground.layers_folder / "geology.source.json").write_text(json.dumps(told))


@pytest.mark.parametrize(
    ("harm", "said"),
    [
        (garble, "was brought back; what was there is kept as records-before-"),
        (lose, "was brought back"),
        (intrude, "trigger eager"),
        (stale_lock, "which has ended, was taken away"),
        (leave_parts, ".records.gpkg.12.part, left by a killed run, was deleted"),
        (bad_backup, "was not sound and was deleted"),
        (wrong_extent, "The extent of samples was put right"),
        (no_backups, "A backup was made"),
        (layer_without_file, "The layer geology, whose file is gone, was taken out"),
    ],
)
def test_what_is_ill_is_mended_and_stays_well(
    ground: Ground, capsys: pytest.CaptureFixture[str], harm: Callable[[Ground], None], said: str
) -> None:
    before = ground.samples()
    harm(ground)
    assert run(["doctor", str(ground.folder), "--mend"]) == 0
    assert said in capsys.readouterr().out
    again = Ground.open(ground.folder)
    assert again.samples() == before
    assert len(again.permissions()) == 1
    assert run(["doctor", str(ground.folder), "--mend"]) == 0
    assert "done " not in capsys.readouterr().out


def test_a_layer_that_another_program_puts_into_the_records_costs_nothing_that_was_saved(
    ground: Ground,
) -> None:
    ground.add_samples((Sample(sample_id="after the backup", lon=-126.0, lat=-47.5),))
    before, audit = ground.samples(), ground.audit()
    # GDAL gives every layer that it writes a spatial index with triggers (GeoPackage, annex F.3).
    mine = gpd.GeoDataFrame({"what": ["gate"]}, geometry=[Point(-126, -47.5)], crs="EPSG:4326")
    mine.to_file(ground.records_path, layer="mine", mode="a", driver="GPKG")
    changed = ground.records_path.read_bytes()
    with pytest.raises(GroundError, match="rtree_mine_geom_insert"):
        Ground.open(ground.folder)
    (told, *_) = Ground.mend(ground.folder)
    assert "all that was saved is there" in told
    again = Ground.open(ground.folder)
    assert (again.samples(), again.audit()) == (before, audit)
    assert all(item.well for item in again.check_up())
    again.add_samples((Sample(sample_id="later", lon=-126.0, lat=-47.5),))
    (kept,) = ground.folder.glob("records-before-*.gpkg")
    assert kept.read_bytes() == changed
    assert list(gpd.read_file(again.records_path, layer="mine")["what"]) == ["gate"]


def test_what_was_saved_after_the_backup_can_be_had_from_the_damaged_file(
    ground: Ground, capsys: pytest.CaptureFixture[str]
) -> None:
    ground.permit(Permission("015", "granted", scope="walk"))
    garble(ground)
    assert run(["doctor", str(ground.folder), "--mend"]) == 0
    assert "holds what this backup does not (1 of permissions)" in capsys.readouterr().out
    assert len(Ground.open(ground.folder).permissions()) == 1
    (readable,) = ground.folder.glob("records-readable-*.gpkg")
    assert run(["doctor", str(ground.folder), "--back-to", str(readable)]) == 0
    again = Ground.open(ground.folder)
    assert [entry.parcel_id for entry in again.permissions()] == ["014", "015"]
    assert all(item.well for item in again.check_up() if item.name in ("records", "audit"))


def test_a_trigger_in_the_place_of_ours_is_no_reason_to_trust_the_rest(ground: Ground) -> None:
    execute(ground, "DROP TRIGGER audit_is_not_edited")
    execute(ground, "CREATE TRIGGER audit_is_not_edited BEFORE UPDATE ON audit BEGIN SELECT 1; END")
    (told, *_) = Ground.mend(ground.folder)
    assert "was brought back" in told


def test_without_a_backup_what_can_be_read_is_saved_and_the_damaged_file_kept(ground: Ground) -> None:
    no_backups(ground)
    garble(ground)
    damaged = ground.records_path.read_bytes()
    (told, *_) = Ground.mend(ground.folder)
    assert "There was no backup" in told
    again = Ground.open(ground.folder)
    assert len(again.samples()) > 200
    assert len(again.permissions()) == 1
    (kept,) = ground.folder.glob("records-before-*.gpkg")
    assert kept.read_bytes() == damaged


def test_nothing_is_mended_under_the_hands_of_another_program(ground: Ground) -> None:
    told = {"host": "the other laptop", "user": "Tov", "pid": 3, "since": "2031-01-01"}
    (ground.folder / "records.lock").write_text(json.dumps(told))
    leave_parts(ground)
    with pytest.raises(GroundError, match="Tov on the other laptop"):
        Ground.mend(ground.folder)
    assert (ground.folder / ".records.gpkg.12.part").exists()


def test_a_backup_is_brought_back_by_its_name(ground: Ground, capsys: pytest.CaptureFixture[str]) -> None:
    backup = ground.backups()[0].path
    ground.add_samples((Sample(sample_id="B1", lon=-126.0, lat=-47.5),))
    assert run(["doctor", str(ground.folder), "--back-to", str(backup)]) == 0
    assert "was brought back" in capsys.readouterr().out
    assert len(Ground.open(ground.folder).samples()) == 300
    assert run(["doctor", str(ground.folder), "--back-to", str(backup), "--mend"]) == 2
    assert run(["doctor", "--mend"]) == 2
    assert run(["doctor", str(ground.folder), "--keep", "here"]) == 4

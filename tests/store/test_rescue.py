"""Damaged records: what can still be read is taken out, and the damaged file is never touched."""

from __future__ import annotations

import random
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from prospect.errors import GroundError
from prospect.records import GroundSettings, Looked, Permission, Sample
from prospect.store import Ground, RecordsDamaged
from prospect.store.rescue import rescue


def sample(number: int) -> Sample:
    return Sample(
        sample_id=f"A{number}", lon=-126.0, lat=-47.5, note=f"note {number} " * 30, fields={"n": "1"}
    )


@pytest.fixture
def ground(tmp_path: Path) -> Ground:
    ground = Ground.create(tmp_path / "ground", GroundSettings(name="far field"))
    ground.add_samples(sample(number) for number in range(400))
    ground.permit(Permission("014", "granted", scope="dig", person="Orsa Quill"))
    ground.note_looked(Looked("well", -126.0, -47.5, clear=True, seen="dry ground"))
    ground.correct_rock("Qal", "clay:1")
    return ground


def damage(path: Path, share: float, seed: int) -> None:
    """Overwrite a share of the pages that hold rows with what a failing disk gives back."""
    chance = random.Random(seed)
    content = bytearray(path.read_bytes())
    with closing(sqlite3.connect(path)) as connection:
        roots = connection.execute(
            "SELECT rootpage - 1 FROM sqlite_master WHERE name IN ('settings', 'looked', 'permissions', 'audit')"
        ).fetchall()
        last = connection.execute("SELECT max(rootpage) FROM sqlite_master").fetchone()[0]
    # After the last root come, but for the odd page, only the samples.
    pages = [*(page for (page,) in roots), *range(last, len(content) // 4096)]
    for page in chance.sample(pages, max(1, round(share * len(pages)))):
        content[page * 4096 : (page + 1) * 4096] = chance.randbytes(4096)
    path.write_bytes(content)


@pytest.mark.parametrize("seed", range(12))
def test_what_can_be_read_is_taken_out_and_it_is_true(ground: Ground, seed: int) -> None:
    whole = ground.samples()
    damage(ground.records_path, 0.1, seed)
    before = ground.records_path.read_bytes()
    shutil.rmtree(ground.folder / "backups")
    try:
        Ground.open(ground.folder)
        damaged = False
    except RecordsDamaged:
        damaged = True
    assert damaged or ground.check_up()
    target = ground.folder / "rescued" / "records.gpkg"
    target.parent.mkdir()
    told = rescue(ground.records_path, target)
    assert ground.records_path.read_bytes() == before
    again = Ground.open(target.parent)
    assert all(item in whole for item in again.samples())
    assert len(again.samples()) == told.rows.get("samples", 0)
    assert len(again.samples()) == len(whole) or told.lost
    assert all(item.well for item in again.check_up())
    again.permit(Permission("014", "withdrawn"))
    again.add_samples((sample(1000),))
    assert all(item.well for item in again.check_up())


def test_whole_records_come_over_whole(ground: Ground) -> None:
    target = ground.folder / "rescued" / "records.gpkg"
    target.parent.mkdir()
    told = rescue(ground.records_path, target)
    again = Ground.open(target.parent)
    assert told.lost == 0
    assert again.samples() == ground.samples()
    assert again.permissions() == ground.permissions()
    assert again.looked() == ground.looked()
    assert again.rock_corrections() == ground.rock_corrections()
    assert again.settings == ground.settings


def test_a_damaged_ground_can_be_looked_at(ground: Ground) -> None:
    ground.back_up()
    damage(ground.records_path, 0.4, 1)
    looking = Ground.rescue(ground.folder)
    assert len(looking.samples()) == 400
    assert "this is the backup of" in looking.read_only
    with pytest.raises(GroundError, match="Nothing can be saved here: the records are damaged"):
        looking.change_settings(cell_m=5.0)
    shutil.rmtree(ground.folder / "backups")
    looking = Ground.rescue(ground.folder)
    assert "there is no backup; what can still be read is in" in looking.read_only


def test_where_nothing_can_be_read_nothing_is_made(ground: Ground) -> None:
    ground.records_path.write_bytes(b"\0" * 90_000)
    target = ground.folder / "rescued" / "records.gpkg"
    target.parent.mkdir()
    with pytest.raises(GroundError, match=r"Nothing in records\.gpkg can be read"):
        rescue(ground.records_path, target)
    assert list(target.parent.iterdir()) == []

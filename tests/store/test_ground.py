"""Records are transactions: what was saved is there, what failed left nothing behind."""

from __future__ import annotations

import multiprocessing
import sqlite3
from pathlib import Path

import geopandas as gpd
import pytest

from prospect.errors import GroundError, WrongUsage
from prospect.records import GroundSettings, Sample
from prospect.store import Ground
from prospect.store.records_file import transaction


@pytest.fixture
def ground(tmp_path: Path) -> Ground:
    return Ground.create(tmp_path / "ground", GroundSettings(name="Test ground"))


def sample(name: str, **changes: object) -> Sample:
    return Sample(**{"sample_id": name, "lon": -126.0, "lat": -47.5, "fields": {"feel": "sticky"}, **changes})


def test_settings_come_back_as_saved(ground: Ground) -> None:
    ground.change_settings(crs="EPSG:32709", cell_m=10.0, glaciated="no", mean_annual_rain_mm=900.0)
    again = Ground.open(ground.folder).settings
    assert (again.name, again.crs, again.cell_m) == ("Test ground", "EPSG:32709", 10.0)
    assert (again.glaciated, again.mean_annual_rain_mm, again.west) == ("no", 900.0, None)


def test_unknown_setting_names_the_known_ones(ground: Ground) -> None:
    with pytest.raises(WrongUsage, match="mean_annual_rain_mm"):
        ground.change_settings(rain=900)


def test_the_same_samples_twice_change_nothing_and_a_different_one_is_named(ground: Ground) -> None:
    first = (sample("A1", top_cm=30.0, usable="yes"), sample("A2"))
    assert ground.add_samples(first) == ()
    assert ground.add_samples(first) == ()
    clash = sample("A1", usable="no")
    assert ground.add_samples((clash, sample("A3"))) == (clash,)
    assert [item.sample_id for item in ground.samples()] == ["A1", "A2", "A3"]
    assert ground.samples()[0] == first[0]


def test_a_failed_action_leaves_nothing_behind(ground: Ground) -> None:
    before = ground.audit()
    with pytest.raises(GroundError, match="Not saved"):
        ground.add_samples((sample("B1"), sample("B2", usable="perhaps")))
    assert ground.samples() == ()
    assert ground.audit() == before


def test_the_audit_cannot_be_edited(ground: Ground) -> None:
    for statement in ("UPDATE audit SET action = 'x'", "DELETE FROM audit"):
        with (
            pytest.raises(GroundError, match="append-only"),
            transaction(ground.records_path, "tamper", "") as connection,
        ):
            connection.execute(statement)
    assert [change.action for change in ground.audit()] == ["new"]


def test_other_readers_of_the_standard_read_a_copy(ground: Ground, tmp_path: Path) -> None:
    """GeoPackage 1.3 (OGC 12-128r18) as GDAL reads it, an independent implementation."""
    ground.add_samples((sample("A1"), sample("A2", lon=-125.9)))
    copy = ground.snapshot(tmp_path / "copy.gpkg")
    frame = gpd.read_file(copy, layer="samples")
    assert frame.crs.to_epsg() == 4326
    assert frame["sample_id"].tolist() == ["A1", "A2"]
    assert frame.geometry.x.tolist() == [-126.0, -125.9]
    assert tuple(frame.total_bounds) == (-126.0, -47.5, -125.9, -47.5)


def test_rock_corrections_are_kept_and_taken_back(ground: Ground) -> None:
    ground.correct_rock("Qal", "clay:0.6,sand:0.4")
    assert ground.rock_corrections() == {"Qal": "clay:0.6,sand:0.4"}
    ground.correct_rock("Qal", "")
    assert ground.rock_corrections() == {}


def test_a_folder_with_something_in_it_is_not_taken(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(GroundError, match="not empty"):
        Ground.create(tmp_path, GroundSettings())
    assert (tmp_path / "notes.txt").read_text() == "mine"


@pytest.mark.parametrize("content", [b"", b"hello", b"SQLite format 3\x00" + b"\x07" * 5000])
def test_a_foreign_or_damaged_file_is_refused_and_left_as_it_was(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "records.gpkg"
    path.write_bytes(content)
    with pytest.raises(GroundError):
        Ground.open(tmp_path)
    assert path.read_bytes() == content


def test_records_of_a_newer_program_are_not_touched(ground: Ground) -> None:
    with sqlite3.connect(ground.records_path) as connection:
        connection.execute("UPDATE settings SET value = '99' WHERE key = 'schema_version'")
    ground.back_up()
    with pytest.raises(GroundError, match=r"Update the program\.$"):
        Ground.open(ground.folder)


def _write_many(folder: Path, prefix: str, count: int) -> None:
    ground = Ground.open(folder)
    for number in range(count):
        ground.add_samples((sample(f"{prefix}{number}"),))


@pytest.mark.slow
def test_two_programs_writing_at_once_lose_nothing(ground: Ground) -> None:
    context = multiprocessing.get_context("spawn")
    writers = [
        context.Process(target=_write_many, args=(ground.folder, prefix, 25)) for prefix in ("left", "right")
    ]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join(60)
    assert [writer.exitcode for writer in writers] == [0, 0]
    assert len(ground.samples()) == 50
    revisions = [change.revision for change in ground.audit()]
    assert revisions == list(range(1, len(revisions) + 1))

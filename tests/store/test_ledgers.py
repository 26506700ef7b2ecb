"""Permissions and on-site records: entries are added, marked as taken back, and never changed or removed."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import pytest

from prospect.errors import GroundError, NothingToWorkWith, WrongUsage
from prospect.land import standing
from prospect.records import GroundSettings, Looked, Permission
from prospect.store import Ground
from prospect.store.records_file import transaction

GRANT = Permission(
    parcel_id="014",
    status="granted",
    scope="dig",
    person="Orsa Quill",
    speaks_as="owner",
    how="on the spot",
    machine=True,
    depth_m=1.2,
    volume_m3=0.5,
    amount_kg=300.0,
    may_sell=True,
    valid_from="2030-03-01",
    valid_until="2030-10-31",
    conditions="shut the gate; $\\frac{",
    note="prefers a call the evening before",
)
CLEAR = Looked("utility_lines", -126.0, -47.5, clear=True, seen="no marks", ticket="4471", until="2030-06-01")


@pytest.fixture
def ground(tmp_path: Path) -> Ground:
    return Ground.create(tmp_path / "ground", GroundSettings())


def test_an_entry_comes_back_as_it_was_given(ground: Ground) -> None:
    saved = ground.permit(GRANT)
    seen = ground.note_looked(CLEAR)
    assert replace(saved, recorded="") == GRANT
    assert replace(seen, recorded="") == CLEAR
    again = Ground.open(ground.folder)
    assert again.permissions() == (saved,)
    assert again.looked() == (seen,)
    assert [change.action for change in again.audit()] == ["new", "permit", "looked"]
    assert all(item.well for item in again.check_up())


def test_a_clock_that_was_put_back_lets_no_earlier_answer_speak(
    ground: Ground, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("prospect.store.ground._now", lambda: "2031-01-01T00:00:00.000+00:00")
    ground.permit(GRANT)
    monkeypatch.undo()
    ground.permit(replace(GRANT, status="refused"))
    assert standing(ground.permissions(), "014", "dig", "2030-05-01").word == "refused"
    ground.permit(GRANT)
    assert standing(ground.permissions(), "014", "dig", "2030-05-01").word == "granted"


def test_a_paper_is_kept_under_the_name_of_its_content(ground: Ground, tmp_path: Path) -> None:
    paper = tmp_path / "letter from Orsa Quill.PDF"
    paper.write_bytes(b"%PDF-1.7 the letter")
    one, other = ground.permit(GRANT, paper), ground.permit(GRANT, paper)
    assert one.document == other.document
    assert "Orsa" not in one.document
    assert one.document.endswith(".pdf")
    (kept,) = ground.documents_folder.iterdir()
    assert kept.read_bytes() == paper.read_bytes()


@pytest.mark.parametrize(
    ("name", "error"), [("gone.pdf", NothingToWorkWith), ("empty.pdf", WrongUsage), ("folder", WrongUsage)]
)
def test_no_entry_without_the_paper_that_was_to_go_with_it(
    ground: Ground, tmp_path: Path, name: str, error: type[Exception]
) -> None:
    (tmp_path / "empty.pdf").touch()
    (tmp_path / "folder").mkdir()
    with pytest.raises(error, match=name.partition(".")[0]):
        ground.permit(GRANT, tmp_path / name)
    assert ground.permissions() == ()


def test_taking_back_keeps_the_entry_and_marks_it(ground: Ground) -> None:
    ground.permit(GRANT)
    ground.note_looked(CLEAR)
    assert ground.undo().action == "looked"
    assert ground.undo().action == "permit"
    assert ground.permissions() == ()
    assert ground.looked() == ()
    with closing(sqlite3.connect(ground.records_path)) as connection:
        assert connection.execute("SELECT person, taken_back FROM permissions").fetchall() == [
            ("Orsa Quill", 5)
        ]
    assert all(item.well for item in ground.check_up())
    ground.permit(GRANT)
    assert len(ground.permissions()) == 1


@pytest.mark.parametrize("table", ["permissions", "looked"])
@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM {}",
        "UPDATE {} SET person = 'somebody else'",
        "UPDATE {} SET revision = 99",
        "UPDATE {} SET taken_back = NULL",
        "REPLACE INTO {0} SELECT * FROM {0}",
    ],
)
def test_no_program_of_ours_can_change_an_entry(ground: Ground, table: str, statement: str) -> None:
    ground.permit(GRANT)
    ground.note_looked(CLEAR)
    ground.undo()
    ground.undo()
    before = ground.audit()
    with (
        pytest.raises(GroundError, match="never changed"),
        transaction(ground.records_path, "tamper", "") as connection,
    ):
        connection.execute(statement.format(table))
    assert ground.audit() == before


def test_other_readers_of_the_standard_read_both(ground: Ground, tmp_path: Path) -> None:
    """Independent reader: pyogrio with its own copy of GDAL and SQLite (GeoPackage, OGC 12-128r18)."""
    ground.permit(GRANT)
    ground.note_looked(CLEAR)
    copy = ground.snapshot(tmp_path / "copy.gpkg")
    looked = gpd.read_file(copy, layer="looked")
    assert looked.geometry.iloc[0].coords[0] == (-126.0, -47.5)
    assert bool(looked["clear"].iloc[0]) is True
    permissions = gpd.read_file(copy, layer="permissions")
    assert permissions["person"].tolist() == ["Orsa Quill"]
    assert permissions["may_sell"].tolist() == [True]

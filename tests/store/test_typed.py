"""A value that another program left in a wrong type is named in words, wherever it is read."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from prospect.cli import run
from prospect.errors import GroundError
from prospect.records import GroundSettings, Looked, Permission, Sample
from prospect.store import Ground


@pytest.fixture
def ground(tmp_path: Path) -> Ground:
    ground = Ground.create(tmp_path / "ground", GroundSettings())
    ground.add_samples((Sample("A1", -126.0, -47.5),))
    ground.permit(Permission("014", "granted", scope="dig"))
    ground.note_looked(Looked("well", -126.0, -47.5, clear=True))
    return ground


@pytest.mark.parametrize(
    ("statement", "read", "said"),
    [
        (
            "UPDATE settings SET value = 'banana' WHERE key = 'reach_m'",
            lambda g: g.settings,
            "reach_m = 'banana'",
        ),
        (
            "UPDATE settings SET value = '\"x\"' WHERE key = 'sure_inside'",
            lambda g: g.settings,
            "sure_inside = 'x'",
        ),
        ("UPDATE settings SET value = '7' WHERE key = 'purpose'", lambda g: g.settings, "purpose = '7'"),
        ("UPDATE samples SET top_cm = 'deep'", lambda g: g.samples(), "sample A1 with top_cm = 'deep'"),
        ("UPDATE samples SET fields = '[1]'", lambda g: g.samples(), "fields = "),
        (
            "DROP TRIGGER looked_not_edited; UPDATE looked SET radius_m = 'big'",
            lambda g: g.looked(),
            "the on-site records with radius_m = 'big'",
        ),
        (
            "DROP TRIGGER permissions_not_edited; UPDATE permissions SET depth_m = 'knee'",
            lambda g: g.permissions(),
            "the permission ledger with depth_m = 'knee'",
        ),
    ],
)
def test_it_is_said_which_value_is_wrong(
    ground: Ground, statement: str, read: Callable[[Ground], object], said: str
) -> None:
    with closing(sqlite3.connect(ground.records_path, isolation_level=None)) as connection:
        connection.executescript(statement)
    with pytest.raises(GroundError, match="Another program left") as told:
        read(ground)
    assert said in str(told.value)


def test_a_command_says_it_in_words(ground: Ground, capsys: pytest.CaptureFixture[str]) -> None:
    with closing(sqlite3.connect(ground.records_path, isolation_level=None)) as connection:
        connection.execute("UPDATE settings SET value = 'banana' WHERE key = 'reach_m'")
    assert run(["set", str(ground.folder)]) == 4
    assert "reach_m = 'banana'" in capsys.readouterr().err

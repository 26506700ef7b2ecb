"""An error at any step of a save: the action is there whole or not at all, and the fault is said in words."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from prospect.errors import GroundError
from prospect.records import GroundSettings, Sample
from prospect.store import Ground

ACTIONS: dict[str, Callable[[Ground], object]] = {
    "settings": lambda ground: ground.change_settings(cell_m=10.0, name="other"),
    "samples": lambda ground: ground.add_samples(
        Sample(sample_id=name, lon=-126.0, lat=-47.5) for name in ("A1", "A2", "A3")
    ),
    "correction": lambda ground: ground.correct_rock("Qal", "clay:1"),
    "correction taken back": lambda ground: ground.correct_rock("Kg", ""),
    "note": lambda ground: ground.note_action("add layer", "geology"),
}


class Fault:
    """Fails the n-th thing that is asked of it."""

    def __init__(self, at: int) -> None:
        self.at = at
        self.seen = 0

    def strike(self) -> bool:
        self.seen += 1
        return self.seen == self.at


def failing_connect(fault: Fault) -> Callable[..., sqlite3.Connection]:
    class Failing(sqlite3.Connection):
        def execute(self, *given: Any) -> sqlite3.Cursor:  # type: ignore[override]
            if fault.strike():
                raise sqlite3.OperationalError("disk I/O error")
            return super().execute(*given)

        def executemany(self, *given: Any) -> sqlite3.Cursor:  # type: ignore[override]
            if fault.strike():
                raise sqlite3.OperationalError("disk I/O error")
            return super().executemany(*given)

        def executescript(self, *given: Any) -> sqlite3.Cursor:  # type: ignore[override]
            if fault.strike():
                raise sqlite3.OperationalError("disk I/O error")
            return super().executescript(*given)

    connect = sqlite3.connect

    def open_failing(*given: Any, **named: Any) -> sqlite3.Connection:
        if fault.strike():
            raise sqlite3.OperationalError("unable to open database file")
        return connect(*given, **named, factory=Failing)

    return open_failing


def refusing_connect(fault: Fault) -> Callable[..., sqlite3.Connection]:
    """Return a way to connect in which SQLite itself refuses the n-th operation of its compiler."""
    connect = sqlite3.connect

    def authorised(*_: Any) -> int:
        return sqlite3.SQLITE_DENY if fault.strike() else sqlite3.SQLITE_OK

    def open_refusing(*given: Any, **named: Any) -> sqlite3.Connection:
        connection = connect(*given, **named)
        connection.set_authorizer(authorised)
        return connection

    return open_refusing


def content(ground: Ground) -> tuple[object, ...]:
    return ground.settings, ground.samples(), dict(ground.rock_corrections()), len(ground.audit())


@pytest.fixture
def ground(tmp_path: Path) -> Ground:
    ground = Ground.create(tmp_path / "ground", GroundSettings())
    ground.correct_rock("Kg", "granite:1")
    return ground


def fault_said(action: Callable[[], object], word: str) -> str:
    """Run an action and return the message when it fails, which holds the word."""
    message = ""
    try:
        action()
    except GroundError as error:
        message = str(error)
    assert not message or word in message
    return message


def steps_until_it_works(
    ground: Ground, action: Callable[[Ground], object], connect: Callable[[Fault], Any]
) -> int:
    before = content(ground)
    for step in range(1, 2000):
        fault = Fault(step)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(sqlite3, "connect", connect(fault))
            fault_said(partial(action, ground), "records.gpkg")
        after = content(Ground.open(ground.folder))
        if fault.seen < step:
            assert after[3] == before[3] + 1  # type: ignore[operator]
            return step - 1
        assert after == before, f"step {step} left something behind"
    raise AssertionError("the action never worked")


@pytest.mark.parametrize("name", ACTIONS)
def test_an_error_at_every_statement_leaves_no_half_done_action(ground: Ground, name: str) -> None:
    assert steps_until_it_works(ground, ACTIONS[name], failing_connect) >= 9


@pytest.mark.parametrize("name", ACTIONS)
def test_a_refusal_at_every_operation_of_sqlite_leaves_no_half_done_action(ground: Ground, name: str) -> None:
    assert steps_until_it_works(ground, ACTIONS[name], refusing_connect) >= 9


@pytest.mark.parametrize("call", ["fsync", "replace", "unlink", "connect", "execute"])
def test_a_ground_that_could_not_be_begun_leaves_no_records(tmp_path: Path, call: str) -> None:
    for step in range(1, 60):
        fault = Fault(step)
        folder = tmp_path / f"{call} {step}"
        with pytest.MonkeyPatch.context() as patch:
            _break(patch, call, fault)
            begun = not fault_said(partial(Ground.create, folder, GroundSettings(name="begun")), str(folder))
        if not begun:
            Ground.create(folder, GroundSettings(name="begun"))
        assert Ground.open(folder).settings.name == "begun"
        assert len(Ground.open(folder).audit()) == 1
        if fault.seen < step:
            break
    else:
        raise AssertionError("never worked")
    assert step > 1


def _break(patch: pytest.MonkeyPatch, call: str, fault: Fault) -> None:
    if call in ("connect", "execute"):
        patch.setattr(sqlite3, "connect", failing_connect(fault))
        return
    owner, name = (os, "fsync") if call == "fsync" else (Path, call)
    real = getattr(owner, name)

    def failing(*given: Any, **named: Any) -> Any:
        if fault.strike():
            raise OSError(28, "No space left on device")
        return real(*given, **named)

    patch.setattr(owner, name, failing)

"""An error at any step of a save: the action is there whole or not at all, and the fault is said in words."""

from __future__ import annotations

import contextlib
import os
import shutil
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
    "undo": lambda ground: ground.undo(),
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
    shutil.rmtree(ground.folder / "backups")  # so that the day's backup is part of the next save
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
    ground: Ground, action: Callable[[Ground], object], break_at: Callable[[pytest.MonkeyPatch, Fault], None]
) -> int:
    """Run an action on copies of a ground with a fault at step 1, 2, 3, ... until no fault is met; return how many."""
    before = content(ground)
    for step in range(1, 2000):
        copy = Ground(ground.folder.with_name(f"copy {step}"))
        shutil.copytree(ground.folder, copy.folder)
        fault = Fault(step)
        with pytest.MonkeyPatch.context() as patch:
            break_at(patch, fault)
            message = fault_said(partial(action, copy), "records.gpkg")
        after = content(Ground.open(copy.folder))
        if message:
            assert after == before, f"step {step} left something behind"
        else:
            assert after[3] == before[3] + 1  # type: ignore[operator]
        for backup in copy.backups():
            with contextlib.closing(sqlite3.connect(backup.path)) as connection:
                assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        if fault.seen < step:
            return step - 1
    raise AssertionError("the action never worked")


@pytest.mark.parametrize("name", ACTIONS)
def test_an_error_at_every_statement_leaves_no_half_done_action(ground: Ground, name: str) -> None:
    assert steps_until_it_works(ground, ACTIONS[name], partial(_break, call="execute")) >= 9


@pytest.mark.parametrize("name", ACTIONS)
def test_a_refusal_at_every_operation_of_sqlite_leaves_no_half_done_action(ground: Ground, name: str) -> None:
    assert steps_until_it_works(ground, ACTIONS[name], partial(_break, call="authorise")) >= 9


@pytest.mark.parametrize("call", ["fsync", "replace", "unlink", "mkdir"])
def test_a_backup_of_the_day_that_cannot_be_written_does_not_keep_a_save_back(
    ground: Ground, call: str
) -> None:
    assert steps_until_it_works(ground, ACTIONS["samples"], partial(_break, call=call)) >= 1


@pytest.mark.parametrize("call", ["fsync", "replace", "unlink", "execute"])
def test_a_ground_that_could_not_be_begun_leaves_no_records(tmp_path: Path, call: str) -> None:
    for step in range(1, 60):
        fault = Fault(step)
        folder = tmp_path / f"{call} {step}"
        with pytest.MonkeyPatch.context() as patch:
            _break(patch, fault, call)
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


@pytest.mark.parametrize("call", ["fsync", "replace", "rename", "link", "unlink", "execute", "authorise"])
def test_a_restore_that_fails_anywhere_leaves_records_that_open(ground: Ground, call: str) -> None:
    backup = ground.back_up()
    ground.correct_rock("Qal", "clay:1")
    now = content(ground)
    for step in range(1, 2000):
        copy = Ground(ground.folder.with_name(f"copy {step}"))
        shutil.copytree(ground.folder, copy.folder)
        fault = Fault(step)
        with pytest.MonkeyPatch.context() as patch:
            _break(patch, fault, call)
            message = fault_said(partial(Ground.restore, copy.folder, backup.path), ".gpkg")
        after = content(Ground.open(copy.folder))
        last = copy.audit()[-1].action
        # The ground is opened, and the folder flushed, when the backup has its place already.
        assert last == "restore" or message
        assert (after == now) if last == "correct rock" else after[2] == {"Kg": "granite:1"}
        assert last == "correct rock" or "nothing was changed" not in message
        assert last == "correct rock" or "not brought back" not in message
        if fault.seen < step:
            assert not message
            return
    raise AssertionError("never worked")


def _break(patch: pytest.MonkeyPatch, fault: Fault, call: str) -> None:
    if call in ("execute", "authorise"):
        connect = refusing_connect if call == "authorise" else failing_connect
        patch.setattr(sqlite3, "connect", connect(fault))
        return
    owner, name = (os, call) if call in ("fsync", "link") else (Path, call)
    real = getattr(owner, name)

    def failing(*given: Any, **named: Any) -> Any:
        if fault.strike():
            raise OSError(28, "No space left on device")
        return real(*given, **named)

    patch.setattr(owner, name, failing)

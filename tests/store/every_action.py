"""Every action that can be taken on a ground, what goes before it and what it leaves: to break at every step."""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from mixed_writer import act, content, made

from prospect.records import GroundSettings
from prospect.store import Ground, RecordsDamaged

State = dict[str, Any]
_CLAIM = re.compile("nothing was changed|not brought back|[Nn]ot saved")
_OLDER = Path(__file__).with_name("records_version_1.sql")


@dataclass(frozen=True)
class Action:
    """An action on the ground in a folder.

    Attributes
    ----------
    prepare
        Makes the folder as it is before.
    do
        Does it.
    state
        Gives what is on record, without the times at which it was saved.
    may_be_done
        Whether it may be done although something failed: what comes after it is not what was asked for.
    takes_less
        Whether it goes on without what it cannot read, and says so.
    """

    prepare: Callable[[Path], object]
    do: Callable[[Path], object]
    state: Callable[[Path], State]
    may_be_done: bool = False
    takes_less: bool = False


DAMAGED: State = {"damaged": True}
PAPERS = ("you may dig", "you may look")
"""What the papers say that the actions lay beside permissions."""
PICTURE = "a bank of grey clay"
"""What is in the picture that an action keeps of a hole."""


def state(folder: Path) -> State:
    """Return what is on record, without times; empty when there is no ground."""
    if not Ground.is_ground(folder):
        return {}
    found = content(Ground.open(folder))
    for entry in (*found["permissions"], *found["looked"]):
        entry.pop("recorded")
    for hole in found["log"]["holes"]:
        photo = hole["fields"].get("photos", "")
        assert not photo or (folder / "photos" / photo).is_file(), "a record names a photo that is not there"
    return found


def season(folder: Path) -> Ground:
    """Make a ground with some of everything, whose backup of the day is made."""
    ground = Ground.create(folder, GroundSettings())
    for action in (
        {"kind": "rock", "unit": "Kg", "rocks": "granite:1"},
        {"kind": "samples", "names": ["A1", "A2", "A3"]},
        {"kind": "log", "name": "H1"},
        {"kind": "permit", "parcel": "001", "note": "by letter", "paper": PAPERS[0]},
        {"kind": "look", "seen": "no marks"},
        {"kind": "draft", "form": "sample", "content": {"note": "half a sen"}},
    ):
        act(ground, action, folder.parent / "papers")
    return ground


def _prepared(before: tuple[dict[str, Any], ...], folder: Path) -> None:
    ground = season(folder)
    for action in before:
        act(ground, action, folder.parent / "papers")


def _act(action: dict[str, Any], folder: Path) -> None:
    act(Ground(folder), action, folder.parent / "papers")


def _saved(kind: str, *before: dict[str, Any], **what: Any) -> Action:
    return Action(partial(_prepared, before), partial(_act, {"kind": kind, **what}), state)


def _without_backups(folder: Path) -> None:
    shutil.rmtree(season(folder).folder / "backups")


def _nothing(folder: Path) -> None:
    folder.parent.mkdir(parents=True)


def _backups(folder: Path) -> State:
    return {**state(folder), "backups": len(Ground(folder).backups())}


def _with_a_backup(folder: Path) -> None:
    ground = season(folder)
    ground.back_up()
    ground.correct_rock("Qal", "clay:1")


def _bring_back(folder: Path) -> None:
    Ground.restore(folder, Ground(folder).backups()[0].path)


def _older(folder: Path) -> None:
    folder.mkdir(parents=True)
    with closing(sqlite3.connect(folder / "records.gpkg")) as connection:
        connection.executescript(_OLDER.read_text(encoding="utf-8"))
        connection.executemany(
            "INSERT INTO audit (revision, at, action, detail) VALUES (?, '2020-06-01', ?, ?)",
            [(1, "new", "{}"), (2, "correct rock", '{"unit": "Kg", "rocks": "granite:1"}')],
        )
        connection.execute("INSERT INTO rock_corrections (unit, rocks) VALUES ('Kg', 'granite:1')")
        connection.commit()


def _raw_state(folder: Path) -> State:
    with closing(sqlite3.connect(folder / "records.gpkg")) as connection:
        version = connection.execute("SELECT value FROM settings WHERE key = 'schema_version'").fetchone()
        actions = [action for (action,) in connection.execute("SELECT action FROM audit ORDER BY fid")]
        tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
        rocks = connection.execute("SELECT unit, rocks FROM rock_corrections").fetchall()
    return json.loads(
        json.dumps({"version": version, "audit": actions, "tables": sorted(tables), "rocks": rocks})
    )


def _damaged(folder: Path) -> None:
    ground = season(folder)
    ground.add_samples(made(f"C{number}") for number in range(25))
    ground.back_up()
    content = bytearray(ground.records_path.read_bytes())
    content[-4096 + 8 : -4096 + 200] = b"\xa5" * 192
    ground.records_path.write_bytes(content)


def _damaged_without_backup(folder: Path) -> None:
    _damaged(folder)
    shutil.rmtree(folder / "backups")


def _state_or_damaged(folder: Path) -> State:
    try:
        return state(folder)
    except RecordsDamaged:
        return DAMAGED


def _hold(folder: Path) -> None:
    with Ground(folder).held():
        pass


ACTIONS: dict[str, Action] = {
    "settings": _saved("set", rain=900.0, name="other"),
    "samples": _saved("samples", names=["B1", "B2", "B3"]),
    "sixty samples": _saved("samples", names=[f"B{number}" for number in range(60)]),
    "edit": _saved("edit", name="A2", note="stickier"),
    "drop": _saved("drop", name="A2"),
    "log": _saved("log", name="H2"),
    "log that completes": _saved("complete log", name="H1"),
    "edit of a hole": _saved("edit log", name="H1", note="deeper"),
    "photo of a hole": _saved("photo", name="H1", text=PICTURE),
    "drop of a bar": _saved("drop log", name="H1"),
    "undo of a log": _saved("undo", {"kind": "log", "name": "H2"}),
    "undo of a log that completes": _saved("undo", {"kind": "complete log", "name": "H1"}),
    "undo of an edit of a hole": _saved("undo", {"kind": "edit log", "name": "H1", "note": "x"}),
    "undo of a drop of a bar": _saved("undo", {"kind": "drop log", "name": "H1"}),
    "correction": _saved("rock", unit="Qal", rocks="clay:1"),
    "correction taken back": _saved("rock", unit="Kg", rocks=""),
    "permission": _saved("permit", parcel="002", note="", paper=""),
    "permission with a paper": _saved("permit", parcel="002", note="", paper=PAPERS[1]),
    "permission with a paper that is there": _saved("permit", parcel="002", note="", paper=PAPERS[0]),
    "on-site record": _saved("look", seen="a well"),
    "draft": _saved("draft", form="sample", content={"note": "half a sentence"}),
    "first draft": _saved("draft", form="permission", content={"person": "Mir"}),
    "draft dropped": _saved("drop draft", form="sample"),
    "undo of samples": _saved("undo", {"kind": "samples", "names": ["B1", "B2"]}),
    "undo of an edit": _saved("undo", {"kind": "edit", "name": "A1", "note": "x"}),
    "undo of a drop": _saved("undo", {"kind": "drop", "name": "A1"}),
    "undo of a setting": _saved("undo", {"kind": "set", "rain": 1.0, "name": "x"}),
    "undo of a permission": _saved("undo", {"kind": "permit", "parcel": "3", "note": "", "paper": PAPERS[1]}),
    "undo of an on-site record": _saved("undo"),
    "note": _saved("note", text="add layer"),
    "first save of the day": Action(
        _without_backups, partial(_act, {"kind": "samples", "names": ["B1"]}), state
    ),
    "new": Action(_nothing, lambda folder: Ground.create(folder, GroundSettings(name="begun")), state),
    "backup": Action(season, lambda folder: Ground(folder).back_up(), _backups),
    "bring back": Action(_with_a_backup, _bring_back, state, may_be_done=True),
    "upgrade": Action(_older, Ground.open, _raw_state, may_be_done=True),
    "mend from a backup": Action(_damaged, Ground.mend, _state_or_damaged, may_be_done=True),
    "mend from what can be read": Action(
        _damaged_without_backup, Ground.mend, _state_or_damaged, may_be_done=True, takes_less=True
    ),
    "hold": Action(season, _hold, state),
}


class Copies:
    """Copies of the folder that an action begins with, and what must be on record when it was done or was not."""

    def __init__(self, action: Action, place: Path) -> None:
        self.action = action
        self.first = place / "first"
        self.made = 0
        action.prepare(self.first / "ground")
        whole, done = self.copy(), self.copy()
        self.before = action.state(whole)
        action.do(done)
        self.after = action.state(done)
        if (done.parent / "papers").is_dir():
            # Laying a paper ready is no part of the action.
            shutil.copytree(done.parent / "papers", self.first / "papers", dirs_exist_ok=True)
        for folder in (whole, done):
            shutil.rmtree(folder.parent)

    def copy(self) -> Path:
        """Return another copy of the ground as it is before the action."""
        self.made += 1
        folder = self.first.with_name(str(self.made)) / "ground"
        shutil.copytree(self.first, folder.parent)
        return folder

    def faults(
        self, folder: Path, message: str | None, *, cut_short: bool = False, try_again: bool = True
    ) -> Iterator[str]:
        """Yield what is wrong in a copy after the action ended; the copy is gone afterwards.

        Parameters
        ----------
        folder
            The copy.
        message
            What was said of its failure; None when it was said to be done.
        cut_short
            Whether the program was stopped rather than told of an error: the action may be done then.
        try_again
            Whether to do the action once more, which must work.
        """
        found = self.action.state(folder)
        done = found == self.after or (self.action.takes_less and found not in (self.before, {}))
        if message is None and not done:
            yield "said to be done, and is not"
        if message is not None and done and self.before != self.after:
            if not cut_short and (not self.action.may_be_done or _CLAIM.search(message)):
                yield f"done, and said not to be: {message}"
        elif not done and found != self.before:
            yield f"half done: {message}"
        if found != DAMAGED:
            yield from _unsound(folder)
        if try_again and (not done or self.before == self.after):
            self.action.do(folder)
            if self.action.state(folder) != self.after:
                yield f"the next try went wrong after: {message}"
        if Ground.is_ground(folder) and _state_or_damaged(folder) != DAMAGED:
            yield from _ill(folder)
        shutil.rmtree(folder.parent)


def _ill(folder: Path) -> Iterator[str]:
    # A save goes on without its backup of the day.
    told = [item for item in Ground.open(folder).check_up() if item.name != "backups"]
    yield from (f"{item.name}: {item.found}" for item in told if not item.well)


def _unsound(folder: Path) -> Iterator[str]:
    if not Ground.is_ground(folder):
        return
    ground = Ground(folder)
    for path in (ground.records_path, *(backup.path for backup in ground.backups())):
        with closing(sqlite3.connect(path)) as connection:
            if connection.execute("PRAGMA integrity_check").fetchall() != [("ok",)]:
                yield f"{path.name} is damaged"

"""A program that does every action while SQLite's way to the disk fails at step 1, 2, 3, … and says how it went."""

from __future__ import annotations

import json
import sqlite3
import sys
from pathlib import Path
from typing import Any

from every_action import ACTIONS, Copies
from watched_sqlite import CannotRecord, Listener, Watch

from prospect.errors import GroundError

ERRORS = {
    "open": sqlite3.SQLITE_CANTOPEN,
    "write": sqlite3.SQLITE_FULL,
    "truncate": sqlite3.SQLITE_IOERR_TRUNCATE,
    "sync": sqlite3.SQLITE_IOERR_FSYNC,
    "delete": sqlite3.SQLITE_IOERR_DELETE,
    "sync names": sqlite3.SQLITE_IOERR_DIR_FSYNC,
}
"""What SQLite is told when a step of its fails ("Result and Error Codes", sqlite.org/rescode.html)."""


BROKEN_FOR_GOOD = ("samples", "permission with a paper", "new", "bring back")
"""The actions that are also tried on a disk that stays broken."""


class FailingDisk(Listener):
    """Fails the n-th step, and every one after it when it stays broken."""

    def __init__(self) -> None:
        super().__init__()
        self.at = self.seen = 0
        self.for_good = False
        self.step = ""

    def arm(self, at: int, *, for_good: bool) -> None:
        self.at, self.seen, self.for_good, self.step = at, 0, for_good, ""

    def refuse(self, step: str) -> int:
        if not self.at:
            return 0
        self.seen += 1
        if self.seen == self.at or (self.for_good and self.seen > self.at):
            self.step = self.step or step
            return ERRORS[step]
        return 0

    def opened(self, path: str, was_there: bool) -> int | None:
        return 0


def broken_at_every_step(name: str, place: Path, disk: FailingDisk, *, for_good: bool) -> dict[str, Any]:
    """Return how many steps an action has, how often it was refused, and what went wrong."""
    copies = Copies(ACTIONS[name], place)
    faults: list[str] = []
    messages: list[str] = []
    for step in range(1, 2000):
        folder = copies.copy()
        message = None
        disk.arm(step, for_good=for_good)
        try:
            copies.action.do(folder)
        except GroundError as error:
            message = str(error)
            messages.append(message)
        except Exception as error:
            message = repr(error)
            faults.append(f"{name}, step {step} ({disk.step}): not said in words")
        met, broken = disk.seen >= step, disk.step
        disk.arm(0, for_good=False)
        found = list(copies.faults(folder, message))
        faults += [f"{name}, step {step} ({broken}): {fault}" for fault in found]
        if not met:
            return {"name": name, "steps": step - 1, "messages": messages, "faults": faults + disk.faults}
    raise AssertionError(f"{name} never worked")


def main() -> None:
    """Break actions in a folder, a line of what came of each."""
    disk = FailingDisk()
    watch = Watch(disk)
    for name in ACTIONS:
        if ACTIONS[name].takes_less:
            continue
        for for_good in (False, True) if name in BROKEN_FOR_GOOD else (False,):
            place = Path(sys.argv[1]) / f"{name} {for_good}"
            place.mkdir()
            print(json.dumps(broken_at_every_step(name, place, disk, for_good=for_good)), flush=True)
    del watch


if __name__ == "__main__":
    try:
        main()
    except CannotRecord as error:
        print(f"cannot watch: {error}")

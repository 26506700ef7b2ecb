"""Records in a folder that others copy: worked on in a place of this machine's own, and put into the folder whole."""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from prospect.errors import GroundError
from prospect.store.backups import back_up, backup_path, is_sound, write_copy
from prospect.store.chain import link
from prospect.store.migrating import upgrade
from prospect.store.opening import check_records
from prospect.store.records_file import error_of, flush, make_folder, open_records, transaction
from prospect.store.schema import SCHEMA_VERSION

Ahead = Literal["same", "here", "there", "apart"]
_GROUNDS, _NOTE = "grounds", "folder.json"


@dataclass(frozen=True, slots=True)
class Told:
    """What a records file tells of itself: its ground's name for programs, and the seal of every change."""

    ground_id: str
    seals: tuple[str, ...]
    last_at: str


def settle(published: Path, home: Path) -> Path:
    """Return this machine's own copy of records that lie in a folder which others copy, the newer of the two.

    Parameters
    ----------
    published
        The records in the folder.
    home
        The program's own data folder.

    Raises
    ------
    GroundError
        When both were changed since they were one: nothing is merged and nothing is chosen silently.
    """
    _refuse_unfinished(published)
    there = _read_closed(published)
    working = working_copy(published, home, there.ground_id)
    if working is None:
        return _begin(published, home)
    here = read_told(working)
    ahead = compare(here.seals, there.seals)
    if ahead == "apart" and _was_set_aside(working, there):
        ahead = "here"
    if ahead == "apart":
        raise GroundError(_apart(published, here, there))
    if ahead == "there":
        replace_with(working, published)
    elif ahead == "here":
        publish(working, published)
    return working


def working_copy(published: Path, home: Path, ground_id: str = "") -> Path | None:
    """Return where this machine works on the records of a folder; None when it never did.

    A copy whose folder was moved or renamed is found by the ground it is of; two folders that hold copies of one
    ground have a working copy each.
    """
    folder = str(published.parent.resolve())
    moved = None
    for note in sorted((home / _GROUNDS).glob(f"*/{_NOTE}")):
        told = _read_note(note)
        records = note.with_name(published.name)
        if told.get("folder") == folder and records.exists():
            return records
        if ground_id and told.get("ground_id") == ground_id and not Path(told.get("folder", "")).exists():
            moved = records
    if moved is not None and moved.exists():
        _write_note(moved, published, ground_id)
        return moved
    return None


def keep(published: Path, home: Path, which: Literal["here", "there"]) -> Path:
    """Choose between two records that went different ways; the other one is kept as a backup; return the copy.

    Raises
    ------
    GroundError
        When there are no two.
    """
    there = _read_closed(published)
    working = working_copy(published, home, there.ground_id)
    if working is None or compare(read_told(working).seals, there.seals) != "apart":
        raise GroundError(f"{published.parent} has one history only; there is nothing to choose.")
    if which == "there":
        replace_with(working, published)
        return working
    backup = backup_path(working, "other")
    write_copy_of(published, backup)
    with transaction(working, "keep", json.dumps({"kept": "here", "other": backup.name})):
        pass
    publish(working, published)
    return working


def compare(here: Sequence[str], there: Sequence[str]) -> Ahead:
    """Return which of two records went on from where the other stands."""
    shared = min(len(here), len(there))
    if list(here[:shared]) != list(there[:shared]):
        return "apart"
    if len(here) == len(there):
        return "same"
    return "here" if len(here) > len(there) else "there"


def publish(working: Path, published: Path) -> None:
    """Put a whole, verified copy of the records into the folder in one step.

    Raises
    ------
    GroundError
        When the folder cannot be written; the records themselves are saved all the same.
    """
    part = published.with_name(f".{published.name}.{os.getpid()}.part")
    try:
        with contextlib.suppress(FileNotFoundError):
            part.unlink()
        write_copy(working, part)
        part.replace(published)
        flush(published.parent)
    except OSError as error:
        raise GroundError(
            f"{published} could not be brought up to date: {error.strerror or error}"
        ) from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def publish_onward(working: Path, published: Path) -> None:
    """Put the records into the folder where it holds nothing that they do not go on from.

    Raises
    ------
    GroundError
        When another machine saved into the folder meanwhile, or the folder cannot be read or written; the records
        themselves are saved all the same, and the next opening says what there is to choose.
    """
    if published.exists():
        here, there = read_told(working), _read_closed(published)
        if compare(here.seals, there.seals) in ("apart", "there"):
            raise GroundError(_apart(published, here, there))
    publish(working, published)


def replace_with(working: Path, published: Path) -> None:
    """Take the records of the folder for this machine's own, which are backed up first."""
    back_up(working, "replaced")
    part = working.with_name(f".{working.name}.{os.getpid()}.part")
    part.unlink(missing_ok=True)
    write_copy_of(published, part)
    part.replace(working)
    flush(working.parent)


def write_copy_of(source: Path, target: Path) -> None:
    """Copy a closed records file that nobody here has open; the copy appears when it is whole and on the disk."""
    part = target.with_name(f".{target.name}.{os.getpid()}.copy")
    try:
        make_folder(target.parent)
        part.write_bytes(source.read_bytes())
        if not is_sound(part):
            raise GroundError(
                f"{source} is damaged or only half copied; wait until it is whole, and try again."
            )
        flush(part)
        part.replace(target)
        flush(target.parent)
    except OSError as error:
        raise GroundError(f"{source} could not be copied to {target}: {error.strerror or error}") from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def read_told(records: Path) -> Told:
    """Return what records of this machine's own tell of themselves.

    Raises
    ------
    GroundError
        When they cannot be read.
    """
    with open_records(records) as connection:
        return _told(connection, records)


def _read_closed(published: Path) -> Told:
    """Read from a copy in memory, so that no lock is ever taken in a folder where locks do not hold."""
    try:
        with contextlib.closing(sqlite3.connect(":memory:")) as connection:
            connection.deserialize(published.read_bytes())
            connection.execute("PRAGMA trusted_schema = OFF")
            return _told(connection, published)
    except OSError as error:
        raise GroundError(f"{published} cannot be read: {error.strerror or error}") from error
    except sqlite3.Error as error:
        raise error_of(f"{published} cannot be used", error) from error


def _told(connection: sqlite3.Connection, records: Path) -> Told:
    try:
        name = connection.execute("SELECT value FROM settings WHERE key = 'ground_id'").fetchone()
        rows = connection.execute("SELECT * FROM audit ORDER BY fid").fetchall()
    except sqlite3.OperationalError as error:
        raise GroundError(f"{records} is not the records of a ground: {error}") from error
    seals: list[str] = []
    for _, revision, at, action, detail, *sealed in rows:
        state = sealed[0] if sealed else ""
        seals.append(link(seals[-1] if seals else "", revision, at, action, detail, state))
    return Told(str(json.loads(name[0])) if name else "", tuple(seals), str(rows[-1][2]) if rows else "")


def _begin(published: Path, home: Path) -> Path:
    """Make this machine's first copy of the records in a folder, and bring it up to date."""
    place = home / _GROUNDS / uuid.uuid4().hex
    working = place / published.name
    write_copy_of(published, working)
    if check_records(working) < SCHEMA_VERSION:
        upgrade(working)
    told = read_told(working)
    _write_note(working, published, told.ground_id)
    if compare(told.seals, _read_closed(published).seals) == "here":
        publish(working, published)
    return working


def _was_set_aside(working: Path, there: Told) -> bool:
    """Whether the folder still has what a backup replaced here: its last step, to the folder, was not reached."""
    for kept in sorted(working.parent.glob(f"{working.stem}-before-*{working.suffix}"), reverse=True)[:1]:
        with contextlib.suppress(GroundError):
            return compare(_read_closed(kept).seals, there.seals) in ("same", "here")
    return False


def _refuse_unfinished(published: Path) -> None:
    if not published.exists():
        raise GroundError(f"{published.parent} is not a ground: it has no {published.name}.")
    for companion in ("-journal", "-wal"):
        beside = published.with_name(published.name + companion)
        if beside.exists():
            raise GroundError(
                f"{beside.name} lies beside {published.name}: a program on another machine is in the middle of a "
                "save, or ended in one. Open the ground there once, close it, and let the folder catch up."
            )


def _read_note(note: Path) -> dict[str, str]:
    try:
        told = json.loads(note.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return {str(key): str(value) for key, value in told.items()} if isinstance(told, dict) else {}


def _write_note(working: Path, published: Path, ground_id: str) -> None:
    told = {"folder": str(published.parent.resolve()), "ground_id": ground_id}
    note = working.with_name(_NOTE)
    part = note.with_name(f".{note.name}.{os.getpid()}.part")
    try:
        part.write_text(json.dumps(told), encoding="utf-8")
        flush(part)
        part.replace(note)
        flush(note.parent)
    except OSError as error:
        raise GroundError(f"{note} could not be written: {error.strerror or error}") from error


def _apart(published: Path, here: Told, there: Told) -> str:
    common = next(
        (
            count
            for count, pair in enumerate(zip(here.seals, there.seals, strict=False))
            if pair[0] != pair[1]
        ),
        min(len(here.seals), len(there.seals)),
    )
    return (
        f"The records of {published.parent} went two ways after change {common}: this machine saved "
        f"{len(here.seals) - common} more, the last on {here.last_at[:10]}, and the folder holds "
        f"{len(there.seals) - common} others, the last on {there.last_at[:10]}. Nothing was merged. Choose with: "
        f"claywalk doctor DIR --keep here (or --keep there); the other one is kept as a backup."
    )

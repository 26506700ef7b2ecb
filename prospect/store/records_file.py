"""The records' GeoPackage, reached only through `sqlite3`: one action is one transaction with its audit row."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from prospect.errors import GroundError
from prospect.store.schema import APPLICATION_ID, SCHEMA_VERSION, TABLES

_MAGIC = b"SQLite format 3\x00"
_WAIT_S = 10.0


@dataclass(frozen=True, slots=True)
class Change:
    """One row of the audit: which revision, when (UTC), what was done and to what."""

    revision: int
    at: str
    action: str
    detail: str


def create_records(path: Path) -> None:
    """Make an empty records file; it appears under its name only when it is whole.

    Raises
    ------
    GroundError
        When a file of that name is there already or the folder cannot be written.
    """
    if path.exists():
        raise GroundError(f"{path.name} is there already; it is never written over.")
    part = path.with_name(f".{path.name}.part")
    try:
        part.unlink(missing_ok=True)
        with contextlib.closing(sqlite3.connect(part, isolation_level=None)) as connection:
            connection.executescript(f"BEGIN IMMEDIATE;{TABLES}COMMIT;")
        _flush(part)
        part.replace(path)
        _flush(path.parent)
    except (OSError, sqlite3.Error) as error:
        raise GroundError(f"The records could not be made in {path.parent}: {error}") from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def check_records(path: Path) -> None:
    """Look at a records file before it is used.

    Raises
    ------
    GroundError
        When it is missing, is another kind of file, is damaged, or was written by a newer program.
    """
    try:
        with path.open("rb") as handle:
            magic = handle.read(len(_MAGIC))
    except OSError as error:
        raise GroundError(
            f"{path.parent} is not a ground: its records ({path.name}) cannot be read. "
            "Start one with: claywalk new DIR"
        ) from error
    if magic != _MAGIC:
        raise GroundError(f"{path.name} is not a records file of this program; it was left untouched.")
    with open_records(path) as connection:
        try:
            identity = connection.execute("PRAGMA application_id").fetchone()[0]
            sound = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
            row = connection.execute("SELECT value FROM settings WHERE key = 'schema_version'").fetchone()
        except sqlite3.Error as error:
            raise GroundError(
                f"{path.name} is damaged or foreign ({error}); it was left untouched."
            ) from error
    if identity != APPLICATION_ID or row is None:
        raise GroundError(
            f"{path.name} is a GeoPackage, but not the records of a ground; it was left untouched."
        )
    if sound != "ok":
        raise GroundError(f"{path.name} is damaged ({sound}); it was left untouched. Restore a copy of it.")
    if int(row[0]) > SCHEMA_VERSION:
        raise GroundError(
            f"{path.name} was written by a newer program (records version {row[0]}, this one reads up to "
            f"{SCHEMA_VERSION}). Update the program."
        )


@contextlib.contextmanager
def open_records(path: Path) -> Iterator[sqlite3.Connection]:
    """Open an existing records file the safe way and close it afterwards."""
    try:
        connection = sqlite3.connect(
            f"{path.resolve().as_uri()}?mode=rw", uri=True, isolation_level=None, timeout=_WAIT_S
        )
    except sqlite3.Error as error:
        raise GroundError(f"{path.name} cannot be opened for writing: {error}") from error
    with contextlib.closing(connection):
        try:
            for pragma in (
                "trusted_schema = OFF",
                "cell_size_check = ON",
                "mmap_size = 0",
                "foreign_keys = ON",
                "synchronous = EXTRA",
                "journal_mode = DELETE",
            ):
                connection.execute(f"PRAGMA {pragma}")
        except sqlite3.Error as error:
            raise GroundError(f"{path.name} cannot be opened: {error}") from error
        yield connection


@contextlib.contextmanager
def transaction(path: Path, action: str, detail: str) -> Iterator[sqlite3.Connection]:
    """Run one action: all its rows and its audit row, or nothing.

    Parameters
    ----------
    path
        The records file.
    action, detail
        What the audit will say.

    Raises
    ------
    GroundError
        When the records are busy, full or damaged; nothing was changed then.
    """
    with open_records(path) as connection:
        try:
            connection.execute("BEGIN IMMEDIATE")
            yield connection
            at = datetime.now(UTC).isoformat(timespec="milliseconds")
            connection.execute(
                "INSERT INTO audit (revision, at, action, detail) "
                "SELECT coalesce(max(revision), 0) + 1, ?, ?, ? FROM audit",
                (at, action, detail),
            )
            connection.execute("COMMIT")
        except sqlite3.Error as error:
            _roll_back(connection)
            raise GroundError(f"Not saved, nothing was changed: {error}") from error
        except BaseException:
            _roll_back(connection)
            raise


def _roll_back(connection: sqlite3.Connection) -> None:
    with contextlib.suppress(sqlite3.Error):
        if connection.in_transaction:
            connection.execute("ROLLBACK")


def _flush(path: Path) -> None:
    folder = path.is_dir()
    if folder and os.name == "nt":
        return
    handle = os.open(path, os.O_RDONLY if folder else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)

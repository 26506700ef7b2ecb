"""The records' GeoPackage, reached only through `sqlite3`: one action is one transaction with its audit row."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import threading
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

from prospect.errors import GroundError
from prospect.store.chain import Known
from prospect.store.changes import append_change
from prospect.store.familiar import is_familiar, remember
from prospect.store.outside import outside_changes
from prospect.store.schema import tables

_WAIT_S = 10.0
_WAITS_TO_END = 3
_GATE = threading.Lock()
_OPEN: Counter[Path] = Counter()
_KNOWN: dict[Path, dict[str, Known]] = {}
"""Digests of tables as they were after the last save of this process, by the path of the records."""
_PRAGMAS = (
    "trusted_schema = OFF",
    "cell_size_check = ON",
    "mmap_size = 0",
    "foreign_keys = ON",
    "synchronous = EXTRA",
)
_ADVICE = {
    sqlite3.SQLITE_BUSY: "Another program is using it; close it there and try again.",
    sqlite3.SQLITE_READONLY: "The file or its folder is read-only, or it was replaced meanwhile.",
    sqlite3.SQLITE_CANTOPEN: "The file is gone, or its folder is read-only or full.",
    sqlite3.SQLITE_FULL: "The disk is full; make room and try again.",
    sqlite3.SQLITE_IOERR: "The disk is full or failing, or the folder is read-only.",
}


class RecordsDamaged(GroundError):
    """What is in the records file is damaged, or not what this program put there."""


def parts_of(path: Path) -> tuple[Path, Path]:
    """Return the names under which a records file and its journal are made before it is whole."""
    return path.with_name(f".{path.name}.part"), path.with_name(f".{path.name}.part-journal")


def create_records(path: Path, begin: Callable[[Path], None]) -> None:
    """Make a records file; it appears under its name only when it is whole.

    Parameters
    ----------
    path
        Where it will be.
    begin
        Puts the first action into the empty file, whose path for now it is given.

    Raises
    ------
    GroundError
        When a file of that name is there already or the folder cannot be written.
    """
    if path.exists():
        raise GroundError(f"{path.name} is there already; it is never written over.")
    part, journal = parts_of(path)
    named = False
    try:
        journal.unlink(missing_ok=True)
        part.unlink(missing_ok=True)
        with contextlib.closing(sqlite3.connect(part, isolation_level=None)) as connection:
            connection.executescript(f"BEGIN IMMEDIATE;{tables()}COMMIT;")
        begin(part)
        flush(part)
        part.replace(path)
        named = True
        flush(path.parent)
    except (OSError, sqlite3.Error, GroundError) as error:
        if named:
            with contextlib.suppress(OSError):
                path.unlink()
        raise GroundError(f"The records could not be made in {path.parent}: {error}") from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


@contextlib.contextmanager
def open_records(path: Path) -> Iterator[sqlite3.Connection]:
    """Open an existing records file the safe way and close it afterwards.

    Raises
    ------
    GroundError
        When it cannot be opened or read; `RecordsDamaged` when what is in it is not sound.
    """
    try:
        with _opened_here(path):
            uri = f"{path.resolve().as_uri()}?mode=rw"
            connection = sqlite3.connect(uri, uri=True, isolation_level=None, timeout=_WAIT_S)
            with contextlib.closing(connection):
                for pragma in _PRAGMAS:
                    connection.execute(f"PRAGMA {pragma}")
                # A file that another program left in write-ahead mode comes back to one file here.
                mode = connection.execute("PRAGMA journal_mode = DELETE").fetchone()[0]
                if mode != "delete":
                    raise GroundError(f"{path.name} is open in another program; close it there.")
                yield connection
    except sqlite3.Error as error:
        raise error_of(f"{path.name} cannot be used", error) from error


@contextlib.contextmanager
def transaction(
    path: Path, action: str, detail: str | Callable[[sqlite3.Connection], str]
) -> Iterator[sqlite3.Connection]:
    """Run one action: all its rows and its audit row, or nothing.

    What another program changed since the last action gets an audit row of its own first.

    Parameters
    ----------
    path
        The records file.
    action, detail
        What the audit will say; a detail that is known only at the end is a function of the connection.

    Raises
    ------
    GroundError
        When the records are busy, full, read-only or damaged; nothing was changed then.
    """
    known: dict[str, Known] = {}
    with begun(path) as connection:
        if is_familiar(path):
            known = dict(_KNOWN.get(path.resolve(), {}))
        else:
            _note_outside_changes(connection)
        yield connection
        append_change(connection, action, detail if isinstance(detail, str) else detail(connection), known)
    # Only what was committed may be relied on at the next save.
    _KNOWN[path.resolve()] = known


def note_outside_changes(path: Path) -> bool:
    """Put on record what another program changed since the last action; return whether there was anything.

    Raises
    ------
    GroundError
        When the records are busy, full, read-only or damaged.
    """
    with open_records(path) as connection:
        if outside_changes(connection) is None:
            return False
    with begun(path) as connection:
        return _note_outside_changes(connection)


def next_revision(connection: sqlite3.Connection) -> int:
    """Return the revision that the action now under way will have."""
    return int(connection.execute("SELECT coalesce(max(revision), 0) + 1 FROM audit").fetchone()[0])


def _note_outside_changes(connection: sqlite3.Connection) -> bool:
    told = outside_changes(connection)
    if told is not None:
        append_change(connection, "changed outside", told)
    return told is not None


@contextlib.contextmanager
def begun(path: Path) -> Iterator[sqlite3.Connection]:
    """Open records for changes that are no action of their own, such as drafts: all of them, or none.

    Raises
    ------
    GroundError
        When the records are busy, full, read-only or damaged; nothing was changed then.
    """
    familiar = False
    with open_records(path) as connection:
        try:
            connection.execute("BEGIN IMMEDIATE")
            familiar = is_familiar(path)
            yield connection
            _commit(path, connection)
        except sqlite3.Error as error:
            _roll_back(connection)
            raise error_of(f"Not saved to {path.name}, nothing was changed", error) from error
        except BaseException:
            _roll_back(connection)
            raise
    if familiar:
        remember(path)


def _commit(path: Path, connection: sqlite3.Connection) -> None:
    try:
        _end(connection)
    except sqlite3.OperationalError as error:
        if getattr(error, "sqlite_errorcode", 0) != sqlite3.SQLITE_IOERR_DIR_FSYNC:
            raise
        # The journal is removed, so the change is made; only its removal may not be on the disk yet.
        try:
            flush(path.parent)
        except OSError as failure:
            raise GroundError(
                f"Saved to {path.name}, but the disk did not confirm it ({failure.strerror or failure}): if the "
                "power fails now, the last change may be gone."
            ) from error


def _end(connection: sqlite3.Connection) -> None:
    """End a transaction; one that readers keep waiting stands as it is and can be ended again (SQLite, COMMIT)."""
    for _ in range(_WAITS_TO_END - 1):
        try:
            connection.execute("COMMIT")
        except sqlite3.OperationalError as error:
            if getattr(error, "sqlite_errorcode", 0) != sqlite3.SQLITE_BUSY:
                raise
        else:
            return
    connection.execute("COMMIT")


def read_header(path: Path) -> bytes | None:
    """Return the first 100 bytes of a records file, or None while this process has it open.

    Closing a file of one's own drops every lock that the process holds on it (POSIX advisory locks; the SQLite
    documentation, "How To Corrupt An SQLite Database File", 2.2), so the file is never read beside a connection.
    """
    with _GATE:
        if _OPEN[path.resolve()]:
            return None
        with path.open("rb") as handle:
            return handle.read(100)


@contextlib.contextmanager
def _opened_here(path: Path) -> Iterator[None]:
    key = path.resolve()
    with _GATE:
        _OPEN[key] += 1
    try:
        yield
    finally:
        with _GATE:
            _OPEN[key] -= 1


def error_of(what: str, error: sqlite3.Error) -> GroundError:
    """Return what is said of an error of SQLite: what could not be done, why, and what helps."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    kind = RecordsDamaged if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB) else GroundError
    advice = _ADVICE.get(code, "")
    return kind(f"{what}: {error}.{f' {advice}' if advice else ''}")


def _roll_back(connection: sqlite3.Connection) -> None:
    with contextlib.suppress(sqlite3.Error):
        if connection.in_transaction:
            connection.execute("ROLLBACK")


def make_folder(path: Path) -> None:
    """Make a folder and those that it lies in, and bring its name to the disk, so that it outlasts a power cut.

    Raises
    ------
    OSError
        When it cannot be made.
    """
    missing = [folder for folder in path.parents if not folder.exists()]
    path.mkdir(parents=True, exist_ok=True)
    for folder in (path, *missing):
        # Whoever may write into a folder need not be allowed to read it.
        with contextlib.suppress(PermissionError):
            flush(folder.parent)


def flush(path: Path) -> None:
    """Bring a file, or the names in a folder, to the disk itself."""
    folder = path.is_dir()
    if folder and os.name == "nt":
        return
    handle = os.open(path, os.O_RDONLY if folder else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)

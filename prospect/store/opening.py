"""What is looked at before a records file is used, and how a refusal is said."""

from __future__ import annotations

import contextlib
import sqlite3
from functools import lru_cache
from pathlib import Path

from prospect.errors import GroundError
from prospect.store.records_file import RecordsDamaged, open_records, read_header
from prospect.store.schema import APPLICATION_ID, SCHEMA_VERSION, tables

_MAGIC = b"SQLite format 3\x00"
_HEADER_BYTES = 100
_UNTOUCHED = "it was left untouched"


def check_records(path: Path) -> int:
    """Look at a records file before it is used; return its version.

    A journal left by a killed program is rolled back and write-ahead mode is undone; nothing else is changed.

    Raises
    ------
    GroundError
        When it is missing, is in use or was written by a newer program.
    RecordsDamaged
        When what is in it is not sound, or it is another kind of file or holds parts of another program.
    """
    _check_header(path)
    with open_records(path) as connection:
        connection.execute("PRAGMA query_only = ON")
        if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
            raise RecordsDamaged(f"{path.name} is not the records of a ground; {_UNTOUCHED}.")
        sound = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
        if sound != "ok":
            raise RecordsDamaged(f"{path.name} is damaged ({sound}); {_UNTOUCHED}.")
        objects = _objects(connection)
        version = _schema_version(path, connection)
    if version > SCHEMA_VERSION:
        raise GroundError(
            f"{path.name} was written by a newer program (records version {version}, this one reads up to "
            f"{SCHEMA_VERSION}). Update the program."
        )
    _check_objects(path, objects, version)
    return version


def foreign_parts(path: Path) -> tuple[tuple[str, str], ...]:
    """Return kind and name of each trigger and view that another program put into the records.

    Nothing is returned when a table or a trigger of ours is another than ours, for then they are no whole records.

    Raises
    ------
    GroundError
        When they cannot be read.
    """
    with open_records(path) as connection:
        objects, version = _objects(connection), _schema_version(path, connection)
    if version > SCHEMA_VERSION:
        return ()
    own = _own_objects(version)
    if any(objects.get(thing) != sql for thing, sql in own.items()):
        return ()
    return tuple(thing for thing in sorted(objects) if thing[0] in ("trigger", "view") and thing not in own)


def _check_header(path: Path) -> None:
    try:
        size = path.stat().st_size
        header = read_header(path)
    except OSError as error:
        raise GroundError(
            f"{path.parent} is not a ground: its records ({path.name}) cannot be read. "
            "Start one with: claywalk new DIR"
        ) from error
    if size == 0:
        raise RecordsDamaged(f"{path.name} is empty; {_UNTOUCHED}.")
    if header is None or path.with_name(f"{path.name}-journal").exists():
        # Beside a journal the first page may be half written: SQLite brings it back before it can be looked at.
        return
    if header[: len(_MAGIC)] != _MAGIC or len(header) < _HEADER_BYTES:
        raise RecordsDamaged(f"{path.name} is not a records file of this program; {_UNTOUCHED}.")
    # Bytes 68 to 71: the application's mark (the SQLite documentation, "Database File Format", 1.3).
    if int.from_bytes(header[68:72], "big") != APPLICATION_ID:
        raise RecordsDamaged(f"{path.name} is not the records of a ground; {_UNTOUCHED}.")


def _schema_version(path: Path, connection: sqlite3.Connection) -> int:
    try:
        row = connection.execute("SELECT value FROM settings WHERE key = 'schema_version'").fetchone()
        return int(row[0])
    except (sqlite3.OperationalError, TypeError, ValueError) as error:
        raise RecordsDamaged(
            f"{path.name} is a GeoPackage, but not the records of a ground; {_UNTOUCHED}."
        ) from error


def _objects(connection: sqlite3.Connection) -> dict[tuple[str, str], str]:
    rows = connection.execute("SELECT type, name, sql FROM sqlite_master").fetchall()
    return {(kind, name): _one_space(sql) for kind, name, sql in rows if sql}


@lru_cache(maxsize=8)
def _own_objects(version: int) -> dict[tuple[str, str], str]:
    with contextlib.closing(sqlite3.connect(":memory:")) as connection:
        connection.executescript(tables(version))
        return _objects(connection)


def _one_space(sql: str) -> str:
    return " ".join(sql.split())


def _check_objects(path: Path, objects: dict[tuple[str, str], str], version: int) -> None:
    own = _own_objects(version)
    foreign = [
        f"{kind} {name}"
        for (kind, name), sql in sorted(objects.items())
        if kind in ("trigger", "view") and own.get((kind, name)) != sql
    ]
    if foreign:
        raise RecordsDamaged(
            f"{path.name} holds what another program put there ({', '.join(foreign)}), which would run with every "
            f"save; {_UNTOUCHED}."
        )
    lacking = [
        f"{kind} {name}" for kind, name in sorted(own) if kind != "index" and (kind, name) not in objects
    ]
    if lacking:
        raise RecordsDamaged(f"{path.name} lacks {', '.join(lacking)}; {_UNTOUCHED}.")

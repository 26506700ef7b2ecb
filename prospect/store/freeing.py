"""Frees sound records of what another program put beside ours and what would run with every save."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path

from prospect.errors import GroundError
from prospect.store.backups import write_copy
from prospect.store.opening import check_records, foreign_parts
from prospect.store.records_file import RecordsDamaged, flush, open_records


def write_freed(records: Path, target: Path) -> tuple[str, ...]:
    """Write a copy of the records without foreign triggers and views; return what was left out.

    The spatial index of another program (GeoPackage, extension gpkg_rtree_index) goes with its triggers: without
    them it would hide from that program what is saved here.

    Parameters
    ----------
    records
        Records that do not open; they are not changed.
    target
        Where the copy is to be; nothing may be there.

    Returns
    -------
    tuple of str
        Empty, and no copy is left, when something else is wrong with the records.
    """
    try:
        foreign = foreign_parts(records)
        if not foreign:
            return ()
        write_copy(records, target)
        with open_records(target) as connection:
            connection.execute("BEGIN IMMEDIATE")
            _take_out(connection, foreign)
            connection.execute("COMMIT")
        check_records(target)
        flush(target)
    except (RecordsDamaged, sqlite3.Error):
        target.unlink(missing_ok=True)
        return ()
    except GroundError:
        target.unlink(missing_ok=True)
        raise
    return tuple(f"{kind} {name}" for kind, name in foreign)


def _take_out(connection: sqlite3.Connection, foreign: tuple[tuple[str, str], ...]) -> None:
    for kind, name in foreign:
        connection.execute(f"DROP {kind} {_quoted(name)}")
    if not any(name.startswith("rtree_") for _, name in foreign):
        return
    indexes = connection.execute(
        "SELECT name FROM sqlite_master WHERE name LIKE 'rtree!_%' ESCAPE '!' AND sql LIKE 'CREATE VIRTUAL TABLE%'"
    ).fetchall()
    for (name,) in indexes:
        connection.execute(f"DROP TABLE {_quoted(name)}")
    with contextlib.suppress(sqlite3.OperationalError):
        connection.execute("DELETE FROM gpkg_extensions WHERE extension_name = 'gpkg_rtree_index'")


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'

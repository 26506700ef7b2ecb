"""The two ledgers, permissions and what was seen on the spot: entries are added and never changed."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import fields
from typing import Any

from prospect.records import Looked, Permission
from prospect.store.samples import point_of
from prospect.store.schema import EXTENT_OF_LOOKED
from prospect.store.typed import typed

_PERMISSION = tuple(item.name for item in fields(Permission))
_LOOKED = tuple(item.name for item in fields(Looked))


def all_permissions(connection: sqlite3.Connection) -> tuple[Permission, ...]:
    """Return every entry that was not taken back, oldest first."""
    return tuple(
        typed(Permission, _named(_PERMISSION, row, ("machine", "may_sell")), "the permission ledger")
        for row in _entries(connection, "permissions", _PERMISSION)
    )


def all_looked(connection: sqlite3.Connection) -> tuple[Looked, ...]:
    """Return every on-site record that was not taken back, oldest first."""
    return tuple(
        typed(Looked, _named(_LOOKED, row, ("clear",)), "the on-site records")
        for row in _entries(connection, "looked", _LOOKED)
    )


def insert_permission(connection: sqlite3.Connection, entry: Permission, revision: int) -> None:
    """Add an entry to the permission ledger."""
    _insert(connection, "permissions", _PERMISSION, [getattr(entry, name) for name in _PERMISSION], revision)


def insert_looked(connection: sqlite3.Connection, entry: Looked, revision: int) -> None:
    """Add an on-site record."""
    values = [point_of(entry.lon, entry.lat), *(getattr(entry, name) for name in _LOOKED)]
    _insert(connection, "looked", ("geom", *_LOOKED), values, revision)
    connection.execute(EXTENT_OF_LOOKED)


def mark_taken_back(connection: sqlite3.Connection, revision: int, by: int) -> None:
    """Mark the entry that a change added as taken back by a later change; it stays where it is."""
    for table in ("permissions", "looked"):
        connection.execute(f"UPDATE {table} SET taken_back = ? WHERE revision = ?", (by, revision))  # noqa: S608


def _entries(connection: sqlite3.Connection, table: str, columns: Sequence[str]) -> list[tuple[Any, ...]]:
    return connection.execute(
        f"SELECT {', '.join(columns)} FROM {table} WHERE taken_back IS NULL ORDER BY fid"  # noqa: S608
    ).fetchall()


def _insert(
    connection: sqlite3.Connection,
    table: str,
    columns: Sequence[str],
    values: Sequence[object],
    revision: int,
) -> None:
    named = (*columns, "revision")
    connection.execute(
        f"INSERT INTO {table} ({', '.join(named)}) VALUES ({', '.join('?' * len(named))})",  # noqa: S608
        (*values, revision),
    )


def _named(columns: Sequence[str], row: Sequence[Any], yes_or_no: Sequence[str]) -> dict[str, Any]:
    values = dict(zip(columns, row, strict=True))
    return {name: bool(value) if name in yes_or_no else value for name, value in values.items()}

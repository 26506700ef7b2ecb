"""Ties every change to all before it, and to the rows that it left, so that what others changed shows."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterable, MutableMapping, Sequence

Known = tuple[tuple[object, ...], str]
"""What changes with every save to a table, and the digest of its rows then."""


def link(previous: str, revision: int, at: str, action: str, detail: str, state: str) -> str:
    """Return the seal of a change: the SHA-256 (FIPS 180-4) of the seal before it and of all that it says.

    Parameters
    ----------
    previous
        Seal of the change before, in hexadecimal; empty for the first.
    revision, at, action, detail
        The change as the audit has it.
    state
        What `state_of` gave after the change; empty where it was not kept.
    """
    told = repr((previous, int(revision), at, action, detail, state))
    return hashlib.sha256(told.encode("utf-8", "surrogatepass")).hexdigest()


def first_broken(changes: Iterable[Sequence[object]]) -> int | None:
    """Return the revision of the first change whose seal is not what it must be; None when all hold.

    Parameters
    ----------
    changes
        `(revision, at, action, detail, state, chain)`, oldest first.
    """
    seal = ""
    for revision, at, action, detail, state, chain in changes:
        seal = link(seal, int(str(revision)), str(at), str(action), str(detail), str(state))
        if seal != chain:
            return int(str(revision))
    return None


def state_of(
    connection: sqlite3.Connection, tables: Sequence[str], known: MutableMapping[str, Known] | None = None
) -> str:
    """Return the SHA-256 of every row of some tables, in the order of their numbers.

    Parameters
    ----------
    connection
        To records whose transaction has begun, or that nobody writes to.
    tables
        The tables; of records that an older program made, those that they have.
    known
        What was worked out for these records before, where nobody else has written since; a table whose marks are as
        they were is not read again. It is brought up to date.
    """
    there = {
        str(name) for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
    }
    if "holes" not in there:
        return _state_of_version_3(connection, [table for table in tables if table in there])
    told = hashlib.sha256()
    for table in tables:
        marks = _marks(connection, table)
        before = known.get(table) if known is not None else None
        if before is not None and marks is not None and before[0] == marks:
            digest = before[1]
        else:
            digest = _digest(connection, table)
            if known is not None and marks is not None:
                known[table] = (marks, digest)
        told.update(f"{table} {digest}\n".encode())
    return told.hexdigest()


def _marks(connection: sqlite3.Connection, table: str) -> tuple[object, ...] | None:
    """Return what changes with every save of ours to a table; None where nothing does."""
    queries = {
        "samples": "SELECT count(*), max(revision), total(revision) FROM samples",
        "permissions": "SELECT count(*), max(revision), total(taken_back) FROM permissions",
        "looked": "SELECT count(*), max(revision), total(taken_back) FROM looked",
        "holes": "SELECT count(*), max(revision), total(revision) FROM holes",
        "hole_layers": "SELECT count(*), max(revision), total(revision) FROM holes",
        "bars": "SELECT count(*), max(revision), total(revision) FROM bars",
        "bench_tests": "SELECT count(*), max(revision), total(revision) FROM bench_tests",
        "batches": "SELECT count(*), max(revision), total(revision) FROM batches",
    }
    query = queries.get(table)
    return None if query is None else tuple(connection.execute(query).fetchone())


def _digest(connection: sqlite3.Connection, table: str) -> str:
    rows = connection.execute(f"SELECT * FROM {table} ORDER BY fid").fetchall()  # noqa: S608 - our own names
    return hashlib.sha256(repr(rows).encode("utf-8", "surrogatepass")).hexdigest()


def _state_of_version_3(connection: sqlite3.Connection, tables: Sequence[str]) -> str:
    told = hashlib.sha256()
    for table in tables:
        rows = connection.execute(f"SELECT * FROM {table} ORDER BY fid").fetchall()  # noqa: S608 - our own names
        told.update(repr((table, rows)).encode("utf-8", "surrogatepass"))
    return told.hexdigest()

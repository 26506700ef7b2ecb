"""Ties every change to all before it, and to the rows that it left, so that what others changed shows."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterable, Sequence


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


def state_of(connection: sqlite3.Connection, tables: Sequence[str]) -> str:
    """Return the SHA-256 of every row of some tables, in the order of their numbers."""
    told = hashlib.sha256()
    for table in tables:
        rows = connection.execute(f"SELECT * FROM {table} ORDER BY fid").fetchall()  # noqa: S608 - our own names
        told.update(repr((table, rows)).encode("utf-8", "surrogatepass"))
    return told.hexdigest()

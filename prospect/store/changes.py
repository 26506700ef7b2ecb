"""One row of the audit, and how a row is added to it."""

from __future__ import annotations

import sqlite3
from collections.abc import MutableMapping
from dataclasses import dataclass
from datetime import UTC, datetime

from prospect.store.chain import Known, link, state_of
from prospect.store.schema import KEPT_TABLES


@dataclass(frozen=True, slots=True)
class Change:
    """One row of the audit: which revision, when (UTC), what was done and to what."""

    revision: int
    at: str
    action: str
    detail: str


def is_chained(connection: sqlite3.Connection) -> bool:
    """Whether the audit of these records carries seals (it does since version 3)."""
    return any(row[1] == "chain" for row in connection.execute("PRAGMA table_info(audit)"))


def append_change(
    connection: sqlite3.Connection, action: str, detail: str, known: MutableMapping[str, Known] | None = None
) -> None:
    """Add a row to the audit of records whose transaction has begun; it seals the rows as they are now.

    Parameters
    ----------
    connection
        To the records.
    action, detail
        What was done.
    known
        As for `state_of`.
    """
    at = datetime.now(UTC).isoformat(timespec="milliseconds")
    if not is_chained(connection):
        connection.execute(
            "INSERT INTO audit (revision, at, action, detail) "
            "SELECT coalesce(max(revision), 0) + 1, ?, ?, ? FROM audit",
            (at, action, detail),
        )
        return
    last = connection.execute("SELECT revision, chain FROM audit ORDER BY fid DESC LIMIT 1").fetchone()
    revision, chain = (last[0] + 1, last[1]) if last else (1, "")
    state = state_of(connection, KEPT_TABLES, known)
    connection.execute(
        "INSERT INTO audit (revision, at, action, detail, state, chain) VALUES (?, ?, ?, ?, ?, ?)",
        (revision, at, action, detail, state, link(chain, revision, at, action, detail, state)),
    )

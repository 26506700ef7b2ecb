"""Notices what another program changed in the records, and puts it on record as an action of its own."""

from __future__ import annotations

import json
import sqlite3

from prospect.store.chain import state_of
from prospect.store.changes import Change, is_chained
from prospect.store.replay import Replayed, differences, replay
from prospect.store.schema import KEPT_TABLES, LOG_NAMES


def outside_changes(connection: sqlite3.Connection) -> str | None:
    """Return the audit's words for what was changed since the last action by another program; None for nothing.

    The words hold everything that the audit's next reader must take for given: names of samples, settings, readings
    of map units and entries of the ledgers.
    """
    if not is_chained(connection):
        return None
    last = connection.execute("SELECT state FROM audit ORDER BY fid DESC LIMIT 1").fetchone()
    if last is None or not last[0] or last[0] == state_of(connection, KEPT_TABLES):
        return None
    rows = connection.execute("SELECT revision, at, action, detail FROM audit ORDER BY fid").fetchall()
    there = found_in(connection)
    try:
        what = list(differences(replay(Change(*row) for row in rows), there))
    except ValueError as error:
        what = [f"the audit cannot be read: {error}"]
    told = {"what": what or ["something inside rows"], **there.as_detail()}
    return json.dumps(told, ensure_ascii=False)


def found_in(connection: sqlite3.Connection) -> Replayed:
    """Return what is on record now, in the form in which the audit is replayed."""
    settings = connection.execute("SELECT key, value FROM settings").fetchall()
    ledgers = [
        revision
        for table in ("permissions", "looked")
        for (revision,) in connection.execute(
            f"SELECT revision FROM {table} WHERE taken_back IS NULL"  # noqa: S608 - our own names
        )
    ]
    log = {
        kind: dict.fromkeys(
            str(name)
            for (name,) in connection.execute(f"SELECT {column} FROM {table} ORDER BY fid")  # noqa: S608
        )
        for kind, (table, column) in LOG_NAMES.items()
        if _is_there(connection, table)
    }
    return Replayed(
        settings={key: value_of(text) for key, text in settings},
        samples={name: None for (name,) in connection.execute("SELECT sample_id FROM samples ORDER BY fid")},
        rocks=dict(connection.execute("SELECT unit, rocks FROM rock_corrections").fetchall()),
        entries=set(ledgers),
        log=log,
    )


def _is_there(connection: sqlite3.Connection, table: str) -> bool:
    """Whether the records have a table yet; older ones lack some."""
    return bool(connection.execute("SELECT 1 FROM sqlite_master WHERE name = ?", (table,)).fetchone())


def value_of(text: str) -> object:
    """Return a setting as it was saved; the bare text where another program left something else."""
    try:
        return json.loads(text)
    except ValueError:
        return text

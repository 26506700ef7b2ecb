"""Takes out of damaged records whatever can still be read, row by row, into new records of their own."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from prospect.errors import GroundError
from prospect.store.outside import found_in
from prospect.store.records_file import create_records, next_revision, open_records, transaction
from prospect.store.schema import (
    EXTENT_OF_HOLES,
    EXTENT_OF_LOOKED,
    EXTENT_OF_SAMPLES,
    KEPT_TABLES,
    LOG_NAMES,
    LOG_TABLES,
    name_ground,
)

_TABLES = (*KEPT_TABLES, "drafts")
_LEDGERS = ("permissions", "looked")
_MOST_PROBED = 200_000
Row = dict[str, object]


@dataclass(frozen=True, slots=True)
class Rescued:
    """What was taken out of damaged records: rows by table, and how many could not be taken over."""

    records: Path
    rows: dict[str, int]
    lost: int

    def sentence(self) -> str:
        """Return what came of it."""
        told = ", ".join(f"{count} of {table}" for table, count in self.rows.items() if count)
        lost = f"; {self.lost} rows or more could not be read" if self.lost else ""
        return f"what can still be read is in {self.records.name}: {told or 'nothing'}{lost}"


def rescue(damaged: Path, target: Path) -> Rescued:
    """Put every row that can still be read into new records.

    Parameters
    ----------
    damaged
        A records file that does not open; it is read from a copy in memory and never touched.
    target
        Where the new records are to be; nothing may be there.

    Raises
    ------
    GroundError
        When nothing at all can be read, or the new records cannot be written.
    """
    readable = dict(_read_all(damaged))
    if not any(rows for rows, _ in readable.values()):
        raise GroundError(f"Nothing in {damaged.name} can be read any more.")
    rows: dict[str, int] = {}
    lost = sum(failed for _, failed in readable.values())

    def told(connection: sqlite3.Connection) -> str:
        there = found_in(connection).as_detail()
        return json.dumps({"from": damaged.name, "rows": rows, "lost": lost, **there}, ensure_ascii=False)

    def begin(part: Path) -> None:
        nonlocal lost
        with transaction(part, "rescue", told) as connection:
            for table, (content, _) in readable.items():
                rows[table] = sum(_put(connection, table, row) for row in content)
                lost += len(content) - rows[table]
            if not connection.execute("SELECT 1 FROM settings WHERE key = 'ground_id'").fetchone():
                name_ground(connection)
            connection.execute(EXTENT_OF_SAMPLES)
            connection.execute(EXTENT_OF_LOOKED)
            connection.execute(EXTENT_OF_HOLES)

    create_records(target, begin)
    return Rescued(target, rows, lost)


def not_in(other: Path, records: Path) -> dict[str, int]:
    """Return how many rows of what people noted in one records file are not, word for word, in another."""
    missing = {}
    for table in ("samples", *_LEDGERS, *LOG_TABLES):
        here, there = (_contents(path, table) for path in (records, other))
        missing[table] = len(here - there)
    return {table: count for table, count in missing.items() if count}


def _contents(records: Path, table: str) -> set[tuple[object, ...]]:
    with open_records(records) as connection:
        columns = [name for _, name, *_ in connection.execute(f"PRAGMA table_info({table})")]
        kept = [name for name in columns if name not in ("fid", "revision", "taken_back")]
        return set(connection.execute(f"SELECT {', '.join(kept)} FROM {table}"))  # noqa: S608 - our own names


def _read_all(damaged: Path) -> Iterator[tuple[str, tuple[list[Row], int]]]:
    try:
        content = damaged.read_bytes()
    except OSError as error:
        raise GroundError(f"{damaged.name} cannot be read: {error.strerror or error}") from error
    with contextlib.closing(sqlite3.connect(":memory:")) as connection:
        connection.row_factory = sqlite3.Row
        connection.text_factory = lambda text: text.decode("utf-8", "replace")
        try:
            connection.deserialize(content)
            connection.execute("PRAGMA trusted_schema = OFF")
            names = {
                row["name"]
                for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
            }
        except sqlite3.Error:
            return
        for table in _TABLES:
            if table in names:
                yield table, _rows_of(connection, table)


def _rows_of(connection: sqlite3.Connection, table: str) -> tuple[list[Row], int]:
    """Read forwards to the first damage, backwards to the last, and between them number by number."""
    ahead, whole = _scan(connection, table, "ASC")
    if whole:
        return ahead, 0
    back, _ = _scan(connection, table, "DESC")
    first = max((_number(row) for row in ahead), default=0) + 1
    last = min((_number(row) for row in back), default=first)
    between: list[Row] = []
    failed = 1 if first >= last else 0
    for number in range(first, min(last, first + _MOST_PROBED)):
        try:
            found = connection.execute(f"SELECT * FROM {table} WHERE fid = ?", (number,)).fetchall()  # noqa: S608
            between += [dict(row) for row in found]
        except sqlite3.Error:
            failed += 1
    rows = {_number(row): row for row in (*ahead, *between, *back)}
    return [rows[number] for number in sorted(rows)], failed


def _scan(connection: sqlite3.Connection, table: str, order: str) -> tuple[list[Row], bool]:
    rows: list[Row] = []
    try:
        for row in connection.execute(f"SELECT * FROM {table} ORDER BY fid {order}"):  # noqa: S608 - our own names
            rows.append(dict(row))  # noqa: PERF401 - what came before the damage is kept
    except sqlite3.Error:
        return rows, False
    return rows, True


def _number(row: Row) -> int:
    number = row.get("fid")
    return number if isinstance(number, int) else 0


def _put(connection: sqlite3.Connection, table: str, row: Row) -> bool:
    columns = {name for _, name, *_ in connection.execute(f"PRAGMA table_info({table})")}
    values = {name: value for name, value in row.items() if name in columns}
    if table == "settings" and values.get("key") == "schema_version":
        return True
    if table in ("samples", *(table for table, _ in LOG_NAMES.values())):
        values["revision"] = next_revision(connection)
    if table in _LEDGERS:
        # Numbers of new changes begin anew, and those of the ledgers must not meet them.
        values["revision"] = -_number(row)
    if table in ("settings", "drafts"):
        values.pop("fid", None)
    names, marks = ", ".join(values), ", ".join("?" * len(values))
    try:
        connection.execute(f"INSERT INTO {table} ({names}) VALUES ({marks})", tuple(values.values()))  # noqa: S608
    except sqlite3.Error:
        return False
    return True

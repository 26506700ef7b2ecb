"""What is being typed and not saved yet: kept at every change, so that a lost page loses no more than a field."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from prospect.errors import WrongUsage

MOST_CHARACTERS = 200_000
"""Longest draft (own judgement: some forty pages of notes)."""


@dataclass(frozen=True, slots=True)
class Pending:
    """A draft: its key, when it was last typed into (ISO, UTC), and its fields."""

    key: str
    at: str
    content: Mapping[str, str]


def all_drafts(connection: sqlite3.Connection) -> tuple[Pending, ...]:
    """Return every draft, the one last typed into first."""
    rows = connection.execute("SELECT key, at FROM drafts ORDER BY at DESC, key").fetchall()
    return tuple(Pending(str(key), str(at), read_draft(connection, key)) for key, at in rows)


def read_draft(connection: sqlite3.Connection, key: str) -> dict[str, str]:
    """Return a draft's fields; empty when there is none."""
    row = connection.execute("SELECT content FROM drafts WHERE key = ?", (key,)).fetchone()
    content = json.loads(row[0]) if row else {}
    return {str(name): str(text) for name, text in content.items()} if isinstance(content, dict) else {}


def write_draft(connection: sqlite3.Connection, key: str, content: Mapping[str, str]) -> None:
    """Put a draft in place of the one before it; empty content takes it out.

    Raises
    ------
    WrongUsage
        When it is longer than any note.
    """
    text = json.dumps(dict(content), ensure_ascii=False)
    if len(text) > MOST_CHARACTERS:
        raise WrongUsage(
            f"A draft of {len(text):,} characters is too long; at most {MOST_CHARACTERS:,} are kept."
        )
    if not content:
        connection.execute("DELETE FROM drafts WHERE key = ?", (key,))
        return
    at = datetime.now(UTC).isoformat(timespec="milliseconds")
    # One statement: between two, a program that is killed would have no draft at all.
    connection.execute(
        "INSERT INTO drafts (key, content, at) VALUES (?, ?, ?) "
        "ON CONFLICT (key) DO UPDATE SET content = excluded.content, at = excluded.at",
        (key, text, at),
    )

"""What was typed into forms and is neither saved nor put away yet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from prospect.store.drafts import read_draft
from prospect.store.records_file import open_records


@dataclass(frozen=True, slots=True)
class Pending:
    """A draft: its key, when it was last typed into (ISO, UTC), and its fields."""

    key: str
    at: str
    content: Mapping[str, str]


def pending_drafts(records: Path) -> tuple[Pending, ...]:
    """Return every draft that the records hold, the one last typed into first.

    Raises
    ------
    GroundError
        When the records cannot be read.
    """
    with open_records(records) as connection:
        rows = connection.execute("SELECT key, at FROM drafts ORDER BY at DESC, key").fetchall()
        return tuple(Pending(str(key), str(at), read_draft(connection, key)) for key, at in rows)

"""Refuses a whole file with one issue that says what was found, what was expected and what to do."""

from __future__ import annotations

from typing import NoReturn

from prospect.errors import InputRefused
from prospect.issues import Issue, IssueLog


def refuse_file(
    log: IssueLog, found: str, expected: str, action: str, *, place: str = "", field: str = ""
) -> NoReturn:
    """Add an error about the whole file to its log and raise `InputRefused` with it."""
    issue = Issue("error", log.file, place, field, found, expected, action)
    log.note(issue)
    raise InputRefused(issue.sentence(), log)

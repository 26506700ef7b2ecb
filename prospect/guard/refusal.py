"""Refuses a whole file with one issue that says what was found, what was expected and what to do."""

from __future__ import annotations

from typing import NoReturn

from prospect.errors import InputRefused, ReaderFault
from prospect.issues import Issue, IssueLog


def refuse_file(
    log: IssueLog, found: str, expected: str, action: str, *, place: str = "", field: str = ""
) -> NoReturn:
    """Add an error about the whole file to its log and raise `InputRefused` with it."""
    issue = Issue("error", log.file, place, field, found, expected, action)
    log.note(issue)
    raise InputRefused(issue.sentence(), log)


def refuse_for_fault(log: IssueLog, fault: str, trace: str = "") -> NoReturn:
    """Refuse a file over which the program itself failed: raise `ReaderFault` with the class of the error."""
    action = "Export it again, perhaps in another form; nothing of yours was changed."
    found = f"the program itself failed over this file ({fault})"
    issue = Issue("error", log.file, "", "", found, "a file in one of its usual forms", action)
    log.note(issue)
    raise ReaderFault(issue.sentence(), log, fault, trace)

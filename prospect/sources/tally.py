"""Keeps what happened to each item of a file until all is read, so that every item is counted exactly once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from prospect.issues import Issue, IssueLog, Severity


class Tally:
    """What happened to each item; an item with nothing on record was kept as it was.

    Parameters
    ----------
    log
        The log that `settle` counts into.
    noun
        What an item is called in the file: `feature`, `row`, `waypoint`.
    """

    def __init__(self, log: IssueLog, noun: str) -> None:
        self.log = log
        self.noun = noun
        self._issues: dict[int, list[Issue]] = defaultdict(list)
        self._refused: set[int] = set()

    def repair(self, item: int, field: str, value: object, expected: str, action: str) -> None:
        """Record that one item was mended."""
        self._add("warning", item, field, value, expected, action)

    def refuse(self, item: int, field: str, value: object, expected: str, action: str) -> None:
        """Record that one item was left out."""
        self._add("error", item, field, value, expected, action)
        self._refused.add(item)

    def note(self, field: str, value: object, expected: str, action: str, *, warning: bool = False) -> None:
        """Record something about the file as a whole."""
        severity: Severity = "warning" if warning else "note"
        text = str(value)
        if any(i.field == field and i.action == action for i in self.log.issues):
            return
        self.log.note(Issue(severity, self.log.file, "whole file", field, text, expected, action))

    def is_refused(self, item: int) -> bool:
        """Whether an item was left out."""
        return item in self._refused

    def settle(self, items: Iterable[int]) -> IssueLog:
        """Count every item into the log and return the log, which then adds up."""
        for item in items:
            issues = self._issues.get(item)
            if not issues:
                self.log.keep()
            elif item in self._refused:
                self.log.refuse(*issues)
            else:
                self.log.repair(*issues)
        return self.log.add_up()

    def _add(
        self, severity: Severity, item: int, field: str, value: object, expected: str, action: str
    ) -> None:
        place = f"{self.noun} {item}"
        text = "" if value is None else str(value)
        self._issues[item].append(Issue(severity, self.log.file, place, field, text, expected, action))

"""A problem in the user's data as a record, and the log in which what was read must add up."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

Severity = Literal["note", "warning", "error"]
Verdict = Literal["accepted", "accepted with notes", "refused"]


@dataclass(frozen=True, slots=True)
class Issue:
    """One thing that is wrong or worth knowing: what, where, which value, what to do.

    Attributes
    ----------
    severity
        ``note`` for what was only noticed, ``warning`` for what was repaired, ``error`` for what was refused.
    file
        Name of the file (never its full path).
    place
        Where inside it, in words a person can follow: ``row 7``, ``feature 12``, ``table chorizon, line 3``.
    field
        Column, tag or key; empty when the problem is the whole record or file.
    value
        The value found, as text.
    expected
        What would have been right.
    action
        What was done, or what to do about it.
    """

    severity: Severity
    file: str
    place: str
    field: str
    value: str
    expected: str
    action: str

    def sentence(self) -> str:
        """Return the issue as one readable sentence."""
        where = ", ".join(part for part in (self.file, self.place, self.field) if part)
        found = f"found '{_short(self.value)}', " if self.value else ""
        return f"{where}: {found}expected {self.expected}. {self.action}"


@dataclass(slots=True)
class IssueLog:
    """Counts of what was read from one file, and every issue met on the way.

    Each item read is exactly one of kept, repaired or refused; `add_up` holds the sum to it. An item that was
    repaired or refused has at least one issue.
    """

    file: str
    kind: str
    read: int = 0
    kept: int = 0
    repaired: int = 0
    refused: int = 0
    issues: list[Issue] = field(default_factory=list)

    def keep(self, count: int = 1) -> None:
        """Count items that were taken as they are."""
        self.read += count
        self.kept += count

    def repair(self, *issues: Issue) -> None:
        """Count one item that was mended, with what was done to it."""
        self._one("repaired", issues)

    def refuse(self, *issues: Issue) -> None:
        """Count one item that was left out, with the reason."""
        self._one("refused", issues)

    def note(self, issue: Issue) -> None:
        """Record something about the file as a whole; it counts as no item."""
        self.issues.append(issue)

    def add_up(self) -> IssueLog:
        """Return the log, or raise `ValueError` when the counts do not add up."""
        if self.read != self.kept + self.repaired + self.refused:
            raise ValueError(
                f"{self.file}: read {self.read} is not kept {self.kept} + repaired {self.repaired} "
                f"+ refused {self.refused}"
            )
        return self

    @property
    def verdict(self) -> Verdict:
        """Whether the file as a whole can be used."""
        nothing_left = self.kept + self.repaired == 0
        if nothing_left and (self.read > 0 or any(issue.severity == "error" for issue in self.issues)):
            return "refused"
        return "accepted with notes" if self.issues else "accepted"

    def as_dict(self) -> dict[str, object]:
        """Return the log as plain data, in the words of the command contract."""
        return {
            "file": self.file,
            "kind": self.kind,
            "verdict": self.verdict,
            "read": self.read,
            "kept": self.kept,
            "repaired": self.repaired,
            "refused": self.refused,
            "problems": [
                {
                    "severity": issue.severity,
                    "place": issue.place,
                    "field": issue.field,
                    "value": _short(issue.value),
                    "expected": issue.expected,
                    "action": issue.action,
                }
                for issue in self.issues
            ],
        }

    def _one(self, count: Literal["repaired", "refused"], issues: Iterable[Issue]) -> None:
        found = list(issues)
        if not found:
            raise ValueError(f"an item cannot be {count} without an issue")
        self.read += 1
        setattr(self, count, getattr(self, count) + 1)
        self.issues.extend(found)


def _short(value: str, most: int = 120) -> str:
    return value if len(value) <= most else value[: most - 1] + "…"

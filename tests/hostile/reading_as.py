"""Reads an input as a user's would be read, without any catch-all, and holds its log to what every log must be."""

from __future__ import annotations

import re
from pathlib import Path

from prospect.criteria import load_deposit_model
from prospect.errors import DefinitionError, InputRefused, ReaderFault
from prospect.issues import IssueLog
from prospect.sources.reading import Wording, read_file

TODAY = "2026-11-26"


def read_as(kind: str, path: Path, wording: Wording) -> tuple[IssueLog, str]:
    """Return the log and the message of a refusal, '' for none.

    No catch-all stands between the readers and this: whatever is raised beside a refusal fails the test.
    """
    try:
        if kind == "deposit":
            load_deposit_model(path)
            return IssueLog(path.name, kind, read=1, kept=1), ""
        reading = read_file(kind, path, wording)
    except DefinitionError as faulty:
        log = IssueLog(path.name, kind)
        log.refuse(*faulty.issues)
        return log, str(faulty)
    except ReaderFault as fault:
        raise AssertionError(f"an error nobody expected: {fault}\n{fault.trace}") from fault
    except InputRefused as refused:
        if refused.log is None:
            raise AssertionError("refused without a log") from refused
        return refused.log, str(refused)
    counts = reading.source.counts
    assert (counts["read"], counts["kept"]) == (reading.log.read, reading.log.kept)
    return reading.log, ""


def check_log(log: IssueLog, message: str, path: Path) -> None:
    """Hold a log to what every log must be."""
    assert log.add_up() is log
    assert (log.verdict == "refused") == bool(message)
    if message:
        assert any(issue.severity == "error" for issue in log.issues), "refused without a reason"
        assert log.file in message, "the message does not name the file"
    for issue in log.issues:
        said = issue.sentence()
        assert issue.file, said
        assert issue.expected, said
        assert issue.action, said
        assert (
            issue.action.endswith((".", "?", "MN", "326", ":n", "COLUMN", "NAME", "CSV"))
            or " " in issue.action
        )
        assert len(said) < 1500, said
        assert not re.search(r"\b(?!GPSH)[A-Z]\w+Error\b", said), said
        assert "Traceback" not in said, said
        hidden = str(path.parent) if path.parent.is_absolute() and "pytest" in str(path) else "\0"
        assert hidden not in said, "the message shows where the file lies"

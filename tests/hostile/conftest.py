"""What holds for every hostile input: no network, nothing written outside, no library's error, counts that add up."""

from __future__ import annotations

import re
import socket
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from controls import make_control
from watch import Listener

from prospect.criteria import load_deposit_model
from prospect.errors import DefinitionError, InputRefused, ReaderFault
from prospect.issues import IssueLog
from prospect.sources.reading import Wording, read_file

TODAY = "2026-11-26"


@pytest.fixture(scope="session")
def listener() -> Iterator[Listener]:
    """Give what listens where the hostile files point to, so that a call made below Python is counted, too."""
    listening = Listener()
    yield listening
    listening.close()


@pytest.fixture(autouse=True)
def _no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*args: object, **kwargs: object) -> None:
        raise AssertionError("an input made the program reach for the network")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "create_connection", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)


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


@pytest.fixture
def outcome() -> Callable[[str, Path], tuple[str, IssueLog]]:
    """Return a function that reads a file as a kind and gives the verdict and the log."""

    def read(kind: str, path: Path) -> tuple[str, IssueLog]:
        log, message = read_as(kind, path, Wording(today=TODAY))
        check_log(log, message, path)
        return log.verdict, log

    return read


@pytest.fixture
def control(tmp_path: Path) -> Callable[[str], Path]:
    """Return a function that makes a good file of a form; see `controls.FORMS`."""
    return lambda form: make_control(form, tmp_path)

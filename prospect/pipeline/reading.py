"""Reads what a user gives in a process of its own: a bad file costs a message, never the program."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from prospect.criteria import DepositModel, load_deposit_model
from prospect.errors import DefinitionError
from prospect.guard.inspection import file_name
from prospect.guard.worker import Limits, run_guarded
from prospect.issues import IssueLog
from prospect.sources.log_reading import LogReading
from prospect.sources.reading import (
    CHECKED_KINDS,
    KINDS,
    LOG_KINDS,
    RECORD_KINDS,
    FileReader,
    Reading,
    Wording,
    read_file,
)

__all__ = [
    "CHECKED_KINDS",
    "KINDS",
    "LARGE",
    "LOG_KINDS",
    "RECORD_KINDS",
    "USUAL",
    "FileReader",
    "LogReading",
    "Reading",
    "Wording",
    "check_deposit_model",
    "guarded",
    "read_deposit_model",
    "read_file",
    "read_file_guarded",
]

Result = TypeVar("Result")

USUAL = Limits(
    seconds=30.0,
    memory_mb=2_000.0,
    otherwise="; a large file of your own, which you trust, can be read by the command `claywalk add` with --large",
)
"""For any file (the time and the memory are own judgement: a county's soil survey takes a tenth of either)."""

LARGE = Limits(seconds=900.0, memory_mb=8_000.0)
"""For a large file that its user trusts (own judgement)."""


def guarded(
    function: Callable[..., Result],
    path: Path,
    kind: str,
    *args: Any,
    limits: Limits = USUAL,
    **named: Any,
) -> Result:
    """Return what a reader makes of a file, read in a process of its own.

    Parameters
    ----------
    function
        A function at the top level of a module; it is called with the path, then `args` and `named`.
    path, kind
        The file and the word of the command it was given for; a refusal names them.
    limits
        What reading may take.

    Raises
    ------
    InputRefused
        When reading crashes, takes too long or too much memory.
    ReaderFault
        When it meets an error that nobody expected.
    """
    log = IssueLog(file_name(path), kind)
    return run_guarded(function, path, *args, log=log, limits=limits, **named)


def read_file_guarded(
    kind: str,
    path: Path,
    wording: Wording,
    *,
    read: FileReader = read_file,
    limits: Limits = USUAL,
) -> Reading:
    """Read a file like `read_file`, in a process of its own: for every file that a user gives.

    Parameters
    ----------
    kind, path, wording
        As for `read_file`.
    read
        What reads it; a function at the top level of a module.
    limits
        What reading may take.

    Raises
    ------
    WrongUsage
        When there is no such kind.
    InputRefused
        When the file cannot be used, and when reading it crashes, takes too long or too much memory.
    """
    log = IssueLog(file_name(path), kind)
    return run_guarded(read, kind, path, wording, log=log, limits=limits)


def read_deposit_model(path: Path) -> DepositModel:
    """Read a user's deposit model in a process of its own.

    Raises
    ------
    DefinitionError
        When the file has faults, all of them named.
    InputRefused
        When reading crashes, takes too long or too much memory.
    """
    return guarded(load_deposit_model, path, "deposit")


def check_deposit_model(path: Path) -> IssueLog:
    """Look at a deposit-model file; every fault is an issue with its path inside the file."""
    log = IssueLog(file_name(path), "deposit")
    try:
        read_deposit_model(path)
    except DefinitionError as error:
        log.refuse(*error.issues)
    else:
        log.keep()
    return log.add_up()

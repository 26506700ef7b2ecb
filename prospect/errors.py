"""One tree of errors for programmers; a problem in a user's data is an ``Issue`` instead.

ProspectError
├── InputRefused        a file that cannot be used, with the log that says why     (exit 3)
│   └── ReaderFault     the program itself failed over a file: a fault of ours     (exit 3)
├── NothingToWorkWith   a needed layer or record is missing, named                 (exit 4)
├── DefinitionError     a TOML file of ours or the user's with faults              (exit 3)
├── WrongUsage          an argument that makes no sense                            (exit 2)
├── GridMismatch        two grids that should be one
├── Stopped             work that was ended because somebody asked for it          (exit 130)
└── GroundError         a ground folder that cannot be opened or written           (exit 4)
"""

from __future__ import annotations

import traceback
from pathlib import PurePath
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from prospect.issues import Issue, IssueLog


class ProspectError(Exception):
    """Base of every error that this package raises on purpose.

    Attributes
    ----------
    causes
        Classes of the errors that it was made of, outermost first, where it comes from the process that reads
        foreign files; elsewhere `causes_of` finds them.
    """

    exit_code = 1
    causes: tuple[str, ...] = ()


class InputRefused(ProspectError):
    """A file was looked at and cannot be used; ``log`` holds every problem found."""

    exit_code = 3

    def __init__(self, message: str, log: IssueLog | None = None) -> None:
        super().__init__(message)
        self.log = log


class ReaderFault(InputRefused):
    """Reading a file met an error that nobody expected; ``fault`` is its class and ``trace`` where it arose.

    A user sees a message as for any file that cannot be used. A test that meets one has found a fault of ours.
    """

    def __init__(self, message: str, log: IssueLog | None = None, fault: str = "", trace: str = "") -> None:
        super().__init__(message, log)
        self.fault = fault
        self.trace = trace


class NothingToWorkWith(ProspectError):
    """The work needs a layer or a record that the ground does not have."""

    exit_code = 4


class DefinitionError(ProspectError, ValueError):
    """A definition file has faults; all of them are in ``issues``."""

    exit_code = 3

    def __init__(self, message: str, issues: tuple[Issue, ...] = ()) -> None:
        super().__init__(message)
        self.issues = issues


class WrongUsage(ProspectError, ValueError):
    """An argument that makes no sense was given."""

    exit_code = 2


class GridMismatch(ProspectError, ValueError):
    """Two rasters that should share one grid do not."""


class Stopped(ProspectError):
    """Work was ended because somebody asked for it; what is done is kept."""

    exit_code = 130


class GroundError(ProspectError):
    """A ground folder cannot be opened, read or written."""

    exit_code = 4


def causes_of(error: BaseException) -> tuple[str, ...]:
    """Return the full class names of the errors that one was raised from or amid, outermost first."""
    found = list(error.causes) if isinstance(error, ProspectError) else []
    cause = error.__cause__ or error.__context__
    while cause is not None:
        found.append(f"{type(cause).__module__}.{type(cause).__qualname__}")
        cause = cause.__cause__ or cause.__context__
    return tuple(found)


def fault_in_words(error: BaseException) -> str:
    """Return what failed in a way that may be passed on: the error's class and the line of this program it arose in.

    The error's own words are left out, for they may name people, places and folders.
    """
    package = PurePath(__file__).parent
    ours = [
        f"{PurePath(frame.filename).relative_to(package.parent).as_posix()}, line {frame.lineno}"
        for frame in traceback.extract_tb(error.__traceback__)
        if PurePath(frame.filename).is_relative_to(package)
    ]
    return f"{type(error).__name__} in {ours[-1]}" if ours else type(error).__name__

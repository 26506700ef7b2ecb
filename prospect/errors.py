"""One tree of errors for programmers; a problem in a user's data is an ``Issue`` instead.

ProspectError
├── InputRefused        a file that cannot be used, with the log that says why     (exit 3)
├── NothingToWorkWith   a needed layer or record is missing, named                 (exit 4)
├── DefinitionError     a TOML file of ours or the user's with faults              (exit 3)
├── WrongUsage          an argument that makes no sense                            (exit 2)
├── GridMismatch        two grids that should be one
└── GroundError         a ground folder that cannot be opened or written           (exit 4)
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from prospect.issues import Issue, IssueLog


class ProspectError(Exception):
    """Base of every error that this package raises on purpose."""

    exit_code = 1


class InputRefused(ProspectError):
    """A file was looked at and cannot be used; ``log`` holds every problem found."""

    exit_code = 3

    def __init__(self, message: str, log: IssueLog | None = None) -> None:
        super().__init__(message)
        self.log = log


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


class GroundError(ProspectError):
    """A ground folder cannot be opened, read or written."""

    exit_code = 4

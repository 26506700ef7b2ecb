"""Reads an input as a user's file is read, in a process of its own, and says how much memory and time it took."""

from __future__ import annotations

import time
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from prospect.guard.worker import Limits, try_out
from prospect.issues import IssueLog
from prospect.sources.reading import Wording, read_file

MOST_MB = 500.0
"""Most resident memory for a bad input, loaded libraries included."""

MOST_S_OF_A_BOMB = 5.0

FAULTS = frozenset(
    f"builtins.{name}"
    for name in (
        "AssertionError",
        "AttributeError",
        "IndexError",
        "KeyError",
        "NameError",
        "RecursionError",
        "TypeError",
        "UnboundLocalError",
        "ZeroDivisionError",
    )
)
"""Errors that no library of ours raises over a bad file: where one lies behind a refusal, the program is at fault."""


@dataclass(frozen=True)
class Taken:
    """What reading an input took and what came of it.

    Attributes
    ----------
    how
        `result`, `refusal`, `fault`, `memory`, `hang` or `crash`; the last four mean a fault of ours or a limit met.
    message
        What the user is told; '' for a result.
    log
        The reader's log; None where there is none.
    causes
        Full class names of the errors that the refusal was made of.
    peak_mb
        Most resident memory of the process, libraries included, MB.
    cpu_s, wall_s
        Processor time and time by the clock, s.
    """

    how: str
    message: str
    log: IssueLog | None
    causes: tuple[str, ...]
    peak_mb: float
    cpu_s: float
    wall_s: float

    @property
    def faults(self) -> tuple[str, ...]:
        """What was wrong with the program over this file, whatever the user was told; empty when nothing was."""
        met = self.how not in ("result", "refusal")
        return (*((f"{self.how}: {self.message}",) if met else ()), *sorted(FAULTS & set(self.causes)))


def read_apart(
    kind: str, path: Path, wording: Wording | None = None, limits: Limits | None = None, read=read_file
) -> Taken:
    """Read a file as a kind in a process of its own and return what came of it; nothing is raised.

    Parameters
    ----------
    kind, path, wording
        As for `read_file`.
    limits
        What it may take; the usual when not said.
    read
        What reads it; a function at the top level of a module.
    """
    began = time.perf_counter()
    trial = try_out(partial(read, kind, path, wording or Wording()), limits or Limits())
    wall_s = time.perf_counter() - began
    assert trial.ended is not None, "the process left no word of how it ended"
    took = (trial.ended.peak_mb, trial.ended.cpu_s, wall_s)
    if trial.how == "result":
        return Taken("result", "", trial.content.log, (), *took)
    if trial.how == "refusal":
        error, causes = trial.content
        return Taken("refusal", str(error), getattr(error, "log", None), causes, *took)
    told = "\n".join(trial.content) if trial.how == "fault" else str(trial.content or "")
    return Taken(trial.how, told, None, (), *took)

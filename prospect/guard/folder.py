"""Lists the plain files below a folder, bounded in number and depth, without following links to other folders."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from prospect.guard.refusal import refuse_file
from prospect.issues import IssueLog

MOST_ENTRIES = 50_000
DEEPEST = 8


def files_below(root: Path, log: IssueLog) -> list[Path]:
    """Return the files below a folder in the order of their names; pipes, sockets and devices are left aside.

    Raises
    ------
    InputRefused
        When there are more than `MOST_ENTRIES` names in it.
    """
    return sorted(path for path in _names_below(root, log) if path.is_file())


def _names_below(root: Path, log: IssueLog) -> Iterator[Path]:
    # os.walk and not a pattern: real names hold square brackets, which patterns read as something else.
    count = 0
    for folder, below, names in os.walk(root, followlinks=False):
        here = Path(folder)
        if len(here.relative_to(root).parts) >= DEEPEST:
            below.clear()
        below[:] = sorted(name for name in below if name != "__MACOSX")
        count += len(names) + len(below)
        if count > MOST_ENTRIES:
            action = "Point at the folder of these files itself."
            refuse_file(log, f"more than {MOST_ENTRIES:,} files", f"at most {MOST_ENTRIES:,}", action)
        for name in names:
            yield here / name

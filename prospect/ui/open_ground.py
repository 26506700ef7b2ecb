"""Which ground this process has open: named by the command line or the environment, held once."""

from __future__ import annotations

import atexit
import os
import sys
from functools import lru_cache
from pathlib import Path

from prospect.ui.workspace import Workspace

GROUND_VARIABLE = "CLAYWALK_GROUND"


def ground_folder() -> Path:
    """Return the ground's folder: the environment's, else the first argument, else the working folder."""
    named = os.environ.get(GROUND_VARIABLE, "")
    given = next((argument for argument in sys.argv[1:] if Path(argument).is_dir()), ".")
    return Path(named or given).resolve()


@lru_cache(maxsize=1)
def workspace() -> Workspace:
    """Return the one workspace of this process; it lets its ground go when the process ends."""
    space = Workspace(ground_folder())
    atexit.register(space.let_go)
    return space

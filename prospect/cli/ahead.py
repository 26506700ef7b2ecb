"""Starts loading the readers, in their own process, while the rest of the command loads; import it first."""

from __future__ import annotations

import sys

from prospect.guard.worker import get_ready

_READING_COMMANDS = {"add", "log", "check", "probe"}
_READING_OPTIONS = {"--outline", "--model"}


def reads_a_file(arguments: list[str]) -> bool:
    """Return whether a command line names a file to read."""
    options = {word.partition("=")[0] for word in arguments}
    asks = {"--help", "-h"} & options
    return not asks and (bool(_READING_COMMANDS & set(arguments[:1])) or bool(_READING_OPTIONS & options))


if reads_a_file(sys.argv[1:]):
    get_ready()

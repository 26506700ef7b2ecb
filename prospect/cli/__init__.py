"""The command `claywalk`: words in, plain answers out, and an exit code that says how it went."""

from __future__ import annotations

import gc
import os
import re
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path

import click

from prospect.cli import ahead as _ahead  # noqa: F401 - first: readers load meanwhile, in their own process
from prospect.cli import app, clay, demo, doctor, ground, land, look, show
from prospect.cli.printing import print_log, say
from prospect.errors import InputRefused, ProspectError, WrongUsage, fault_in_words
from prospect.text import plain

PROGRAM_FAULT = 1
STOPPED = 130
_HALVES = re.compile("[\ud800-\udfff]")
RARE_COLLECTION = (100_000, 50, 50)
"""A command is short and makes few cycles: looking for them less often saves a tenth of its time."""


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110})
@click.version_option(package_name="claywalk", prog_name="claywalk")
def claywalk() -> None:
    """Find ground worth digging for clay, on your own machine, from open maps and your own samples.

    Exit codes: 0 done, 2 wrong usage, 3 input refused, 4 nothing to do it with.
    """


for command in (
    *demo.COMMANDS,
    *ground.COMMANDS,
    *look.COMMANDS,
    *land.COMMANDS,
    *clay.COMMANDS,
    *show.COMMANDS,
    *app.COMMANDS,
    *doctor.COMMANDS,
):
    claywalk.add_command(command)


def main() -> None:
    """Run the command line; no traceback reaches the user unless CLAYWALK_DEBUG is set."""
    gc.set_threshold(*RARE_COLLECTION)
    sys.exit(run(sys.argv[1:]))


def run(arguments: list[str]) -> int:
    """Run one command and return its exit code."""
    debug = bool(os.environ.get("CLAYWALK_DEBUG"))
    try:
        _refuse_what_is_no_text(arguments)
        left_with = claywalk.main(arguments, prog_name="claywalk", standalone_mode=False)
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except (click.Abort, KeyboardInterrupt):
        say("Stopped. What was saved is saved; nothing was left half done.", err=True)
        return STOPPED
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except ProspectError as error:
        if debug:
            traceback.print_exc()
        said = False
        if isinstance(error, InputRefused) and error.log is not None:
            print_log(error.log, to_stderr=True)
            said = str(error) in {issue.sentence() for issue in error.log.issues}
        if not said:
            say(error, err=True)
        return error.exit_code
    except Exception as error:
        if debug:
            traceback.print_exc()
        say(
            f"The program itself failed ({fault_in_words(error)}). Nothing of yours was changed by this "
            "step. That line names nobody and may be sent. With CLAYWALK_DEBUG=1 it says more, also names and folders "
            "of yours: look that over before you send it.",
            err=True,
        )
        return PROGRAM_FAULT
    return left_with if isinstance(left_with, int) else 0


def _refuse_what_is_no_text(arguments: Sequence[str]) -> None:
    """Refuse bytes that are no text in the terminal's own writing, unless they name a file that is there."""
    for argument in arguments:
        if not _HALVES.search(argument):
            continue
        try:
            there = Path(argument).exists()
        except (OSError, ValueError):
            there = False
        if not there:
            raise WrongUsage(f"'{plain(argument, 80)}' holds bytes that are no text in UTF-8.")

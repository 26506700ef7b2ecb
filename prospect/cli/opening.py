"""Opens a ground for a command: to save into it, or only to look at it while another program has it open."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import click

from prospect.cli.printing import note
from prospect.store import Ground


def open_for_saving(folder: Path) -> Ground:
    """Open a ground and hold it until the command ends.

    Raises
    ------
    GroundError
        When it cannot be opened, or another program has it open; the message says who.
    """
    ground: Ground = click.get_current_context().with_resource(_held(folder))
    return ground


def open_for_looking(folder: Path) -> Ground:
    """Open a ground that nothing is saved into; say so when another program has it open."""
    ground = Ground.open(folder)
    holder = ground.holder()
    if holder is None:
        return ground
    note(f"{folder} is open in another program ({holder.sentence()}): looking only.")
    return replace(ground, read_only=f"{holder.sentence()} has it open.")


@contextlib.contextmanager
def _held(folder: Path) -> Iterator[Ground]:
    ground = Ground.open(folder)
    with ground.held() as held:
        if held.taken_over is not None:
            note(held.sentence())
        yield ground

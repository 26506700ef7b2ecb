"""Where a ground's records are worked on, and what is looked at and brought up to date before they are used."""

from __future__ import annotations

import contextlib
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import platformdirs

from prospect.errors import GroundError
from prospect.store.backups import newest_good
from prospect.store.familiar import is_familiar, remember
from prospect.store.holding import lock_path
from prospect.store.mending import mend
from prospect.store.migrating import upgrade
from prospect.store.opening import check_records
from prospect.store.place import place_of
from prospect.store.publishing import keep, publish, settle, working_copy, write_copy_of
from prospect.store.records_file import RecordsDamaged, make_folder, note_outside_changes
from prospect.store.rescue import rescue
from prospect.store.schema import SCHEMA_VERSION

RECORDS = "records.gpkg"


@dataclass(frozen=True, slots=True)
class Looking:
    """Records that can only be looked at, and why that is so."""

    records: Path
    why: str


def data_home() -> Path:
    """Return the program's own data folder on this machine."""
    return Path(platformdirs.user_data_dir("claywalk", appauthor=False))


def worked_on(folder: Path) -> Path:
    """Return where the records of a ground are worked on: in its folder, or in a place of this machine's own.

    Raises
    ------
    GroundError
        When a folder that others copy is not whole, or went another way than this machine.
    """
    published = folder / RECORDS
    if place_of(folder).is_own_disk:
        return published
    if published.exists():
        return settle(published, data_home())
    return working_copy(published, data_home()) or published


def enter(folder: Path, *, saving: bool) -> Path:
    """Return where the records of a ground are worked on, looked through and brought up to date.

    Parameters
    ----------
    folder
        The ground's folder.
    saving
        Whether something will be saved; what another program changed is put on record then.

    Raises
    ------
    GroundError
        When they cannot be used; the message gives the reason and the newest good backup.
    """
    records = worked_on(folder)
    if is_familiar(records):
        return records
    try:
        version = check_records(records)
    except GroundError as error:
        backup = newest_good(records) if not records.exists() or isinstance(error, RecordsDamaged) else None
        if backup is None:
            raise
        raise type(error)(
            f"{error} The newest good backup is {backup.path}. To bring it back: claywalk doctor {folder} --mend"
        ) from error
    if version < SCHEMA_VERSION:
        upgrade(records)
    if saving:
        # In a read-only folder nothing can be put on record; the doctor says what was changed.
        with contextlib.suppress(GroundError):
            note_outside_changes(records)
        remember(records)
    return records


def enter_for_looking(folder: Path) -> Looking:
    """Return a copy of what there is of a ground whose records are damaged.

    That is the newest good backup, else what can still be read of the records.

    Raises
    ------
    GroundError
        When there is neither, or the copy cannot be written.
    """
    records = _worked_on_at_worst(folder)
    backup = newest_good(records)
    copy = folder / "derived" / "looking" / RECORDS
    try:
        shutil.rmtree(copy.parent, ignore_errors=True)
        make_folder(copy.parent)
    except OSError as error:
        raise GroundError(f"{copy.parent} cannot be written: {error.strerror or error}") from error
    if backup is not None:
        write_copy_of(backup.path, copy)
        why = f"the records are damaged; this is the backup of {backup.at:%Y-%m-%d %H:%M} UTC."
    else:
        told = rescue(records, copy).sentence()
        why = f"the records are damaged and there is no backup; {told}."
    if check_records(copy) < SCHEMA_VERSION:
        upgrade(copy)
    return Looking(copy, why)


def mend_ground(folder: Path) -> tuple[str, ...]:
    """Mend what can be mended of a ground's records; return a sentence for each thing that was done.

    Raises
    ------
    GroundError
        When somebody has the ground open, or nothing is left to mend it from.
    """
    records = _worked_on_at_worst(folder)
    done = tuple(mend(records, lock_path(folder / RECORDS)))
    if records != folder / RECORDS:
        publish(records, folder / RECORDS)
    return done


def keep_one(folder: Path, which: Literal["here", "there"]) -> None:
    """Choose between the records of this machine and those of a folder that others copy, where they differ.

    Raises
    ------
    GroundError
        When there is nothing to choose.
    """
    if place_of(folder).is_own_disk:
        raise GroundError(f"{folder} is on this machine's own disk; there is nothing to choose.")
    keep(folder / RECORDS, data_home(), which)


def _worked_on_at_worst(folder: Path) -> Path:
    """Return this machine's own copy also where the one in the folder is damaged."""
    try:
        return worked_on(folder)
    except RecordsDamaged:
        working = working_copy(folder / RECORDS, data_home())
        if working is None:
            raise
        return working

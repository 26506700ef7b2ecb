"""Mends what can be mended in a ground's records without losing anything; says what was done."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from prospect.errors import GroundError
from prospect.store.backups import (
    Backup,
    back_up,
    backups_of,
    is_damaged,
    is_sound,
    restore,
    set_aside,
    to_try,
)
from prospect.store.checkup import is_behind, leftovers
from prospect.store.freeing import write_freed
from prospect.store.holding import has_ended, holder_of
from prospect.store.migrating import upgrade
from prospect.store.opening import check_records
from prospect.store.records_file import RecordsDamaged, flush, note_outside_changes, open_records
from prospect.store.rescue import not_in, rescue
from prospect.store.schema import EXTENT_OF_HOLES, EXTENT_OF_LOOKED, EXTENT_OF_SAMPLES, SCHEMA_VERSION

_EXTENTS = (("samples", EXTENT_OF_SAMPLES), ("looked", EXTENT_OF_LOOKED), ("holes", EXTENT_OF_HOLES))


def mend(records: Path, lock: Path) -> Iterator[str]:
    """Mend records and what lies about them; yield a sentence for each thing that was done.

    Parameters
    ----------
    records
        The records as they are worked on.
    lock
        The lock file.

    Raises
    ------
    GroundError
        When somebody has the ground open, or the disk refuses; what was done before that is done.
    """
    try:
        yield from _mended(records, lock)
    except OSError as error:
        raise GroundError(f"{records.name} could not be mended: {error}") from error


def _mended(records: Path, lock: Path) -> Iterator[str]:
    holder = holder_of(records, lock)
    if holder is not None:
        if not has_ended(records, holder):
            raise GroundError(f"{lock.parent} is open: {holder.sentence()}. Close it there first.")
        lock.unlink(missing_ok=True)
        yield f"The mark of {holder.sentence()}, which has ended, was taken away."
    yield from _made_usable(records)
    if note_outside_changes(records):
        yield "What another program had changed was put on record."
    yield from _extents_put_right(records)
    for path in leftovers(records):
        with contextlib.suppress(OSError):
            path.unlink()
            yield f"{path.name}, left by a killed run, was deleted."
    for backup in backups_of(records):
        if is_damaged(backup.path):
            with contextlib.suppress(OSError):
                backup.path.unlink()
                yield f"The backup {backup.path.name} was not sound and was deleted."
    if is_behind(records):
        yield f"A backup was made: {back_up(records, 'asked').path.name}."


def _made_usable(records: Path) -> Iterator[str]:
    try:
        version = check_records(records)
    except GroundError as error:
        if records.exists() and not isinstance(error, RecordsDamaged):
            raise
        reason = str(error)
        yield from _brought_back(records, reason)
        version = check_records(records)
    if version < SCHEMA_VERSION:
        upgrade(records)
        yield f"The records were brought up to version {SCHEMA_VERSION}."


def _brought_back(records: Path, reason: str) -> Iterator[str]:
    readable = records.with_name(f".{records.name}.readable.part")
    readable.unlink(missing_ok=True)
    foreign = write_freed(records, readable) if records.exists() else ()
    if foreign:
        as_it_was = _put_in_place(readable, records)
        yield (
            f"What another program had put into {records.name} and what would have run with every save "
            f"({', '.join(foreign)}) was taken out; all that was saved is there. The file as it was is kept as "
            f"{as_it_was}."
        )
        return
    backup = _newest_whole(records, reason)
    if backup is not None:
        kept = restore(records, backup.path)
        beside = f"; what was there is kept as {kept.name}" if kept else ""
        yield f"{reason} The backup of {backup.at:%Y-%m-%d %H:%M} UTC was brought back{beside}."
        if kept is not None:
            yield from _later_than_the_backup(records, kept)
        return
    if not records.exists():
        raise GroundError(f"{reason} There is no backup.")
    told = rescue(records, readable)
    damaged = _put_in_place(readable, records)
    lost = f", {told.lost} rows or more were lost" if told.lost else ""
    yield (
        f"{reason} There was no backup: {told.rows.get('samples', 0)} samples and what else could be read was put into "
        f"new records{lost}. The damaged file is kept as {damaged}."
    )


def _later_than_the_backup(records: Path, kept: Path) -> Iterator[str]:
    """Put what the damaged file still tells beyond the backup into records beside it, for the user to choose."""
    readable = kept.with_name(kept.name.replace("-before-", "-readable-"))
    # The backup is in its place whatever comes of this, and the damaged file stays.
    with contextlib.suppress(GroundError, sqlite3.Error, OSError):
        rescue(kept, readable)
        more = not_in(records, readable)
        if not more:
            readable.unlink()
            return
        told = ", ".join(f"{count} of {table}" for table, count in more.items())
        yield (
            f"The damaged file holds what this backup does not ({told}): what can be read of it is in {readable.name}. "
            f"To go on with that instead: claywalk doctor DIR --back-to {readable}"
        )


def _put_in_place(made: Path, records: Path) -> str:
    """Put new records in the place of the old ones; return the name under which those are kept beside them."""
    kept = set_aside(records)
    flush(records.parent)
    made.replace(records)
    flush(records.parent)
    return kept.name


def _newest_whole(records: Path, reason: str) -> Backup | None:
    for backup in to_try(records):
        if is_sound(backup.path):
            return backup
        if not is_damaged(backup.path):
            raise GroundError(
                f"{reason} Its newest backup, {backup.path}, cannot be read now; see whether the disk is well and try "
                "again."
            )
    return None


def _extents_put_right(records: Path) -> Iterator[str]:
    """Yield what was put right: by a wrong extent other programs show nothing (GeoPackage, table gpkg_contents)."""
    for table, statement in _EXTENTS:
        with open_records(records) as connection:
            told = connection.execute(
                "SELECT min_x, min_y, max_x, max_y FROM gpkg_contents WHERE table_name = ?", (table,)
            ).fetchone()
            true = connection.execute(
                f"SELECT min(lon), min(lat), max(lon), max(lat) FROM {table}"  # noqa: S608 - our own names
            ).fetchone()
            if told == true:
                continue
            with contextlib.suppress(sqlite3.OperationalError):
                connection.execute(statement)
                yield f"The extent of {table} was put right."

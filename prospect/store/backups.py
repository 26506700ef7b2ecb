"""Whole copies of the records by SQLite's backup API: for other libraries, and as backups kept and rolled."""

from __future__ import annotations

import contextlib
import json
import os
import re
import sqlite3
import threading
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from prospect.errors import GroundError
from prospect.store.holding import has_ended, holder_of, is_here
from prospect.store.opening import check_records
from prospect.store.records_file import (
    RecordsDamaged,
    error_of,
    flush,
    make_folder,
    open_records,
    transaction,
)

KEPT_NEWEST = 10
"""Backups kept whatever their age (common practice, no source)."""
KEPT_DAYS = 30
"""Days of which the newest backup is kept besides (common practice, no source)."""

_NAME = re.compile(r"records-(\d{4}-\d\d-\d\dT\d{6}\.\d{3})Z-([a-z]+)\.gpkg")
_STAMP = "%Y-%m-%dT%H%M%S.%f"
_COMPANIONS = ("-journal", "-wal", "-shm")
_OLD_PART = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Backup:
    """A backup: its file, when it was made (UTC) and why (`day`, `upgrade`, `replaced`, `other`, `asked`)."""

    path: Path
    at: datetime
    reason: str


def backups_folder(records: Path) -> Path:
    """Return where the backups of a records file are."""
    return records.parent / "backups"


def backups_of(records: Path) -> tuple[Backup, ...]:
    """Return the backups of a records file, newest first."""
    folder = backups_folder(records)
    found = []
    with contextlib.suppress(OSError):
        for path in folder.iterdir():
            match = _NAME.fullmatch(path.name)
            if match:
                at = datetime.strptime(match[1], _STAMP).replace(tzinfo=UTC)
                found.append(Backup(path, at, match[2]))
    return tuple(sorted(found, key=lambda backup: (backup.at, backup.path.name), reverse=True))


def write_copy(records: Path, target: Path) -> None:
    """Write the records as they are now to another file, which appears only when it is whole and verified.

    Raises
    ------
    GroundError
        When the file is there already or cannot be written.
    RecordsDamaged
        When the copy is not sound, which says that the records are not.
    """
    if target.exists():
        raise GroundError(f"{target} is there already; it is never written over.")
    part = target.with_name(f".{target.name}.{os.getpid()}-{threading.get_ident()}.part")
    try:
        with open_records(records) as source:
            make_folder(target.parent)
            source.execute("BEGIN")
            counts = _row_counts(source)
            _copy(source, part)
        if not is_sound(part, counts):
            raise RecordsDamaged(f"{records.name} is damaged: a copy of it is not sound.")
        flush(part)
        part.replace(target)
        _confirm(target)
    except sqlite3.Error as error:
        raise error_of(f"{records.name} could not be copied to {target}", error) from error
    except OSError as error:
        raise GroundError(f"{records.name} could not be copied to {target}: {error}") from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def backup_path(records: Path, reason: str, now: datetime | None = None) -> Path:
    """Return the name of a backup made at a moment (UTC), by default now."""
    stamp = (now or _now()).strftime(_STAMP)[:-3]
    return backups_folder(records) / f"records-{stamp}Z-{reason}.gpkg"


def _confirm(target: Path) -> None:
    try:
        flush(target.parent)
    except OSError:
        # A copy that is said to be none must not be there.
        target.unlink(missing_ok=True)
        raise


def back_up(records: Path, reason: str) -> Backup:
    """Make a backup and remove those that are no longer kept.

    Raises
    ------
    GroundError
        When it could not be made; no older backup was removed then.
    """
    now = _now()
    path = backup_path(records, reason, now)
    write_copy(records, path)
    backups = backups_of(records)
    kept = to_keep(backups, now)
    with contextlib.suppress(OSError):
        for backup in backups:
            if backup not in kept:
                backup.path.unlink(missing_ok=True)
        for part in unfinished_backups(records):
            if now - datetime.fromtimestamp(part.stat().st_mtime, UTC) > _OLD_PART:
                part.unlink(missing_ok=True)
    return Backup(path, now.replace(microsecond=now.microsecond // 1000 * 1000), reason)


def back_up_once_a_day(records: Path) -> None:
    """Make the day's backup (UTC) when there is none yet.

    A save goes on when a backup cannot be written (a full disk, a read-only folder): `doctor` says how old the newest
    one is. It does not go on when the records themselves turn out to be damaged.
    """
    today = _now().date()
    if any(backup.at.date() == today for backup in backups_of(records)):
        return
    try:
        back_up(records, "day")
    except RecordsDamaged:
        raise
    except GroundError:
        return


def to_keep(backups: Iterable[Backup], now: datetime) -> frozenset[Backup]:
    """Return the backups to keep: the last ten, and the newest of every one of the last thirty days."""
    newest_first = sorted(backups, key=lambda backup: (backup.at, backup.path.name), reverse=True)
    of_day: dict[object, Backup] = {}
    for backup in newest_first:
        if backup.at > now - timedelta(days=KEPT_DAYS):
            of_day.setdefault(backup.at.date(), backup)
    return frozenset(newest_first[:KEPT_NEWEST]) | frozenset(of_day.values())


def newest_good(records: Path) -> Backup | None:
    """Return the newest backup that is sound, or None."""
    return next((backup for backup in to_try(records) if is_sound(backup.path)), None)


def to_try(records: Path) -> tuple[Backup, ...]:
    """Return the backups newest first, and last those of a day still to come: a clock ran ahead when they were made."""
    now = _now()
    return tuple(sorted(backups_of(records), key=lambda backup: backup.at > now))


def unfinished_backups(records: Path) -> tuple[Path, ...]:
    """Return the files that killed backups left behind."""
    return tuple(sorted(backups_folder(records).glob(".records-*.part*")))


def restore(records: Path, backup: Path) -> Path | None:
    """Put a backup in the place of the records; return where the records of before are kept, beside them.

    Raises
    ------
    GroundError
        When the backup is not sound or not a ground's, when the records are in use, or when the disk refuses;
        the records are as they were then.
    """
    if not is_sound(backup):
        raise GroundError(f"{backup.name} is not a sound backup; nothing was changed.")
    holder = holder_of(records)
    if holder is not None and not has_ended(records, holder) and not is_here(records, holder):
        raise GroundError(f"{records.parent} is open: {holder.sentence()}. Close it there first.")
    part = records.with_name(f".{records.name}.{os.getpid()}.part")
    before = _free_name(records)
    kept = before if records.exists() else None
    detail = {"backup": backup.name, "kept": kept.name if kept else ""}
    try:
        _prepare(part, backup, json.dumps(detail))
        if kept is not None:
            _refuse_in_use(records)
        _set_aside(records, before)
        # What is replaced must be on the disk under its new name before it loses the old one.
        flush(records.parent)
        part.replace(records)
    except sqlite3.Error as error:
        raise error_of(f"{backup.name} was not brought back", error) from error
    except OSError as error:
        _back_in_place(records, before)
        raise GroundError(f"{backup.name} was not brought back: {error}") from error
    finally:
        for suffix in ("", *_COMPANIONS):
            with contextlib.suppress(OSError):
                part.with_name(part.name + suffix).unlink(missing_ok=True)
    try:
        flush(records.parent)
    except OSError as error:
        raise GroundError(
            f"{backup.name} was brought back, but may not be on the disk yet: {error}"
        ) from error
    return kept


def _prepare(part: Path, backup: Path, detail: str) -> None:
    part.unlink(missing_ok=True)
    with contextlib.closing(_connect_read_only(backup)) as source:
        _copy(source, part)
    try:
        check_records(part)
    except GroundError as error:
        raise GroundError(
            f"{backup.name} cannot be brought back, nothing was changed: {str(error).replace(part.name, backup.name)}"
        ) from error
    with transaction(part, "restore", detail):
        pass
    flush(part)


def _set_aside(records: Path, kept: Path) -> None:
    if records.exists():
        try:
            os.link(records, kept)
        except OSError:
            records.rename(kept)
    # A journal belongs to the file that it was written for; beside another one it would do harm.
    for suffix in _COMPANIONS:
        companion = records.with_name(records.name + suffix)
        if companion.exists():
            companion.rename(kept.with_name(kept.name + suffix))


def _back_in_place(records: Path, kept: Path) -> None:
    with contextlib.suppress(OSError):
        for suffix in (*_COMPANIONS, ""):
            aside, place = (path.with_name(path.name + suffix) for path in (kept, records))
            if aside.exists() and not place.exists():
                aside.rename(place)
        if kept.exists() and kept.samefile(records):
            kept.unlink()


def set_aside(records: Path) -> Path:
    """Give damaged records, and the journal that belongs to them, a second name beside them; return it."""
    kept = _free_name(records)
    _set_aside(records, kept)
    return kept


def _free_name(records: Path) -> Path:
    stamp = _now().strftime(_STAMP)[:-3]
    return records.with_name(f"{records.stem}-before-{stamp}Z{records.suffix}")


def _refuse_in_use(records: Path) -> None:
    try:
        with open_records(records) as connection:
            connection.execute("BEGIN EXCLUSIVE")
            connection.execute("ROLLBACK")
    except RecordsDamaged:
        return


def _copy(source: sqlite3.Connection, part: Path) -> None:
    with contextlib.closing(sqlite3.connect(part, isolation_level=None)) as copy:
        # The copy is thrown away whole when anything fails, and flushed once at its end.
        copy.execute("PRAGMA journal_mode = OFF")
        copy.execute("PRAGMA synchronous = OFF")
        source.backup(copy)


def _connect_read_only(path: Path) -> sqlite3.Connection:
    uri = f"{path.resolve().as_uri()}?mode=ro&immutable=1"
    return sqlite3.connect(uri, uri=True, isolation_level=None)


def is_sound(path: Path, counts: dict[str, int] | None = None) -> bool:
    """Whether a closed file is a whole database, with these numbers of rows in its tables when they are given."""
    try:
        found = _rows_when_whole(path)
    except sqlite3.Error:
        return False
    return bool(found) and (counts is None or found == counts)


def is_damaged(path: Path) -> bool:
    """Whether a closed file is known to be no whole database; one that cannot be read now may be whole."""
    try:
        return path.stat().st_size == 0 or not _rows_when_whole(path)
    except OSError:
        return False
    except sqlite3.Error as error:
        return isinstance(error_of(path.name, error), RecordsDamaged)


def _rows_when_whole(path: Path) -> dict[str, int]:
    with contextlib.closing(_connect_read_only(path)) as connection:
        connection.execute("PRAGMA trusted_schema = OFF")
        whole = connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        return _row_counts(connection) if whole else {}


def _row_counts(connection: sqlite3.Connection) -> dict[str, int]:
    names = [name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    quoted = [(name, name.replace('"', '""')) for name in names]
    return {
        name: int(connection.execute(f'SELECT count(*) FROM "{safe}"').fetchone()[0])  # noqa: S608
        for name, safe in quoted
    }


def _now() -> datetime:
    return datetime.now(UTC)

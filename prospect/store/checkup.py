"""How the records and their backups are: what is sound, what is missing, what killed runs left behind."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from prospect.store.backups import Backup, backups_of, is_damaged, is_sound, newest_good, unfinished_backups
from prospect.store.chain import first_broken
from prospect.store.changes import Change
from prospect.store.holding import has_ended, holder_of, is_here
from prospect.store.outside import found_in, outside_changes
from prospect.store.records_file import open_records
from prospect.store.replay import Replayed, differences, few, replay

_NO_BACKUP_BEFORE = ("new", "restore", "upgrade")
"""Actions that no backup of the day goes before."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at: its name, whether it is well, and what was found."""

    name: str
    well: bool
    found: str


def check_up(records: Path, lock: Path | None = None) -> tuple[Finding, ...]:
    """Look through records that can be opened, and their backups.

    Parameters
    ----------
    records
        The records as they are worked on.
    lock
        The lock file; by default beside them.

    Raises
    ------
    GroundError
        When the records cannot be read.
    """
    now = datetime.now(UTC)
    with open_records(records) as connection:
        faults = [str(row[0]) for row in connection.execute("PRAGMA integrity_check(5)") if row[0] != "ok"]
        loose = connection.execute("PRAGMA foreign_key_check").fetchall()
        rows = connection.execute(
            "SELECT revision, at, action, detail, state, chain FROM audit ORDER BY fid"
        ).fetchall()
        there = found_in(connection)
        outside = outside_changes(connection)
    changes = [Change(*row[:4]) for row in rows]
    if loose:
        faults.append(f"{len(loose)} rows refer to rows that are not there")
    sound = f"sound, {len(changes)} changes on record, {len(there.samples)} samples"
    differing = list(_audit_faults(changes, there, first_broken(rows), outside))
    return (
        Finding("records", not faults, "; ".join(faults) or sound),
        Finding("audit", not differing, "; ".join(differing) or "every row is accounted for"),
        _backup_finding(records, changes, now),
        *_outside_findings(changes),
        *_holder_findings(records, lock),
        _leftover_finding(records),
    )


def leftovers(records: Path) -> tuple[Path, ...]:
    """Return the files that killed runs left in a ground; all of them are safe to delete."""
    folder = records.parent
    found = [
        *folder.glob(f".{records.name}.*part*"),
        *folder.glob(f".{records.stem}.lock.part"),
        *(folder / "layers").glob(".*.part*"),
        *unfinished_backups(records),
    ]
    return tuple(sorted(found))


def _audit_faults(
    changes: list[Change], there: Replayed, broken: int | None, outside: str | None
) -> Iterator[str]:
    if [change.revision for change in changes] != list(range(1, len(changes) + 1)):
        yield "revisions are missing"
    if broken is not None:
        yield f"from change {broken} on the audit is not as it was written"
    try:
        found = list(differences(replay(changes), there))
    except ValueError as error:
        yield f"cannot be read: {error}"
        return
    yield from found
    if outside is not None and not found:
        yield "what is inside rows was changed by another program"


def is_behind(records: Path) -> bool:
    """Whether something was saved on a later day than the newest good backup."""
    with open_records(records) as connection:
        rows = connection.execute("SELECT revision, at, action, detail FROM audit ORDER BY fid").fetchall()
    return _is_behind([Change(*row) for row in rows], newest_good(records))


def _is_behind(changes: list[Change], newest: Backup | None) -> bool:
    # The first save after the start is what the first backup goes before.
    saved = [change.at[:10] for change in changes[1:] if change.action not in _NO_BACKUP_BEFORE]
    return bool(saved) and (newest is None or newest.at.date().isoformat() < max(saved))


def _backup_finding(records: Path, changes: list[Change], now: datetime) -> Finding:
    sound = {backup: is_sound(backup.path) for backup in backups_of(records)}
    good = [backup for backup in sound if sound[backup]]
    # A save meanwhile may have removed one that was no longer kept.
    others = [backup.path for backup in sound if not sound[backup] and backup.path.exists()]
    bad = [path.name for path in others if is_damaged(path)]
    unread = [path.name for path in others if path.name not in bad]
    behind = _is_behind(changes, good[0] if good else None)
    words = [
        f"{len(good)}, the newest {_age(now - good[0].at)} old: {good[0].path.name}" if good else "none yet"
    ]
    if behind:
        words.append("older than the last save: see whether the backups folder can be written")
    if bad:
        words.append(f"not sound, delete: {few(bad)}")
    if unread:
        words.append(f"cannot be read now: {few(unread)}")
    return Finding("backups", not behind and not others, "; ".join(words))


def _outside_findings(changes: list[Change]) -> Iterator[Finding]:
    """Tell what another program changed; it is well once something was saved on top of it."""
    for place, change in enumerate(changes):
        if change.action != "changed outside":
            continue
        what = "; ".join(str(sentence) for sentence in json.loads(change.detail).get("what", ()))
        accepted = any(later.action != "changed outside" for later in changes[place + 1 :])
        advice = "" if accepted else "; bring a backup back, or go on saving to accept it"
        yield Finding("changed outside", accepted, f"noticed {change.at[:10]}: {what}{advice}")


def _holder_findings(records: Path, lock: Path | None) -> Iterator[Finding]:
    holder = holder_of(records, lock)
    if holder is None or is_here(records, holder):
        return
    ended = has_ended(records, holder)
    yield Finding(
        "open in",
        True,
        f"{holder.sentence()}{', which has ended; the next program takes over' if ended else ''}",
    )


def _leftover_finding(records: Path) -> Finding:
    found = [path.relative_to(records.parent).as_posix() for path in leftovers(records)]
    return Finding("left by killed runs", True, f"safe to delete: {few(found)}" if found else "nothing")


def _age(span: timedelta) -> str:
    minutes = max(0, int(span.total_seconds() // 60))
    if minutes < 120:
        return f"{minutes} minutes"
    hours = minutes // 60
    return f"{hours} hours" if hours < 48 else f"{hours // 24} days"

"""How the records and their backups are: what is sound, what is missing, what killed runs left behind."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from prospect.store.backups import backups_of, is_sound, unfinished_backups
from prospect.store.holding import has_ended, holder_of, is_here
from prospect.store.records_file import Change, open_records
from prospect.store.replay import replay

_NO_BACKUP_BEFORE = ("new", "restore", "upgrade")
"""Actions that no backup of the day goes before."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at: its name, whether it is well, and what was found."""

    name: str
    well: bool
    found: str


def check_up(records: Path) -> tuple[Finding, ...]:
    """Look through records that can be opened, and their backups.

    Raises
    ------
    GroundError
        When the records cannot be read.
    """
    now = datetime.now(UTC)
    with open_records(records) as connection:
        faults = [str(row[0]) for row in connection.execute("PRAGMA integrity_check(5)") if row[0] != "ok"]
        loose = connection.execute("PRAGMA foreign_key_check").fetchall()
        rows = connection.execute("SELECT revision, at, action, detail FROM audit ORDER BY fid").fetchall()
        samples = [name for (name,) in connection.execute("SELECT sample_id FROM samples ORDER BY fid")]
        rocks = dict(connection.execute("SELECT unit, rocks FROM rock_corrections").fetchall())
        settings = dict(connection.execute("SELECT key, value FROM settings").fetchall())
    changes = [Change(*row) for row in rows]
    if loose:
        faults.append(f"{len(loose)} rows refer to rows that are not there")
    sound = f"sound, {len(changes)} changes on record, {len(samples)} samples"
    differing = list(_differences(changes, samples, rocks, settings))
    return (
        Finding("records", not faults, "; ".join(faults) or sound),
        Finding("audit", not differing, "; ".join(differing) or "every row is accounted for"),
        _backup_finding(records, changes, now),
        *_holder_findings(records),
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


def _differences(
    changes: list[Change], samples: list[str], rocks: dict[str, str], settings: dict[str, str]
) -> Iterator[str]:
    if [change.revision for change in changes] != list(range(1, len(changes) + 1)):
        yield "revisions are missing"
    try:
        state = replay(changes)
    except ValueError as error:
        yield f"cannot be read: {error}"
        return
    there = set(samples)
    gone = [name for name in state.samples if name not in there]
    added = [name for name in samples if name not in state.samples]
    if gone:
        yield f"samples were removed by another program: {_few(gone)}"
    if added:
        yield f"samples were added by another program: {_few(added)}"
    units = [unit for unit in sorted({*rocks, *state.rocks}) if rocks.get(unit) != state.rocks.get(unit)]
    if units:
        yield f"readings of map units were changed by another program: {_few(units)}"
    changed = [
        key
        for key, value in state.settings.items()
        if key not in settings or json.loads(settings[key]) != value
    ]
    if changed:
        yield f"settings were changed by another program: {_few(changed)}"


def _backup_finding(records: Path, changes: list[Change], now: datetime) -> Finding:
    backups = backups_of(records)
    bad = [backup.path.name for backup in backups if not is_sound(backup.path)]
    good = [backup for backup in backups if backup.path.name not in bad]
    saved = [change.at[:10] for change in changes[1:] if change.action not in _NO_BACKUP_BEFORE]
    # The first save after the start is what the first backup goes before.
    behind = bool(saved) and (not good or good[0].at.date().isoformat() < max(saved))
    words = [
        f"{len(good)}, the newest {_age(now - good[0].at)} old: {good[0].path.name}" if good else "none yet"
    ]
    if behind:
        words.append("older than the last save: see whether the backups folder can be written")
    if bad:
        words.append(f"not sound, delete: {_few(bad)}")
    return Finding("backups", not behind and not bad, "; ".join(words))


def _holder_findings(records: Path) -> Iterator[Finding]:
    holder = holder_of(records)
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
    return Finding("left by killed runs", True, f"safe to delete: {_few(found)}" if found else "nothing")


def _few(names: list[str]) -> str:
    more = f" and {len(names) - 3} more" if len(names) > 3 else ""
    return ", ".join(names[:3]) + more


def _age(span: timedelta) -> str:
    minutes = max(0, int(span.total_seconds() // 60))
    if minutes < 120:
        return f"{minutes} minutes"
    hours = minutes // 60
    return f"{hours} hours" if hours < 48 else f"{hours // 24} days"

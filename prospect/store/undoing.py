"""The last action is taken back by a new one, which the audit keeps like any other."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field

from prospect.errors import GroundError, NothingToWorkWith
from prospect.records import Sample
from prospect.store.changes import Change
from prospect.store.ledgers import mark_taken_back
from prospect.store.log import (
    LOG_KINDS,
    LogItem,
    LogKind,
    delete_items,
    insert_items,
    item_of,
    kind_of,
    name_of,
    update_item,
)
from prospect.store.replay import replay
from prospect.store.samples import delete_samples, insert_samples, update_sample

LookUp = Callable[[Sequence[str]], Sequence[Sample]]
LookUpLog = Callable[[LogKind, Sequence[str]], Sequence[LogItem]]

_NOT_OF_THE_USER = ("undo", "upgrade")
_UNDONE_HERE = (
    "set",
    "add samples",
    "edit sample",
    "drop sample",
    "add log",
    "edit log",
    "drop log",
    "correct rock",
    "permit",
    "looked",
)


@dataclass(frozen=True, slots=True)
class Step:
    """A step back.

    Attributes
    ----------
    change
        The action that is taken back.
    last_revision
        The newest revision when this was worked out.
    settings, rocks
        What the settings and the readings of map units become again; an empty reading is none.
    samples
        The samples to take out, with everything that is in them.
    put_back
        The samples to put back.
    earlier
        What changed samples become again.
    log, log_back, log_earlier
        Holes, bars, tests and batches to take out, to put back, and as they become again.
    """

    change: Change
    last_revision: int
    settings: Mapping[str, object] = field(default_factory=dict)
    rocks: Mapping[str, str] = field(default_factory=dict)
    samples: tuple[Sample, ...] = ()
    put_back: tuple[Sample, ...] = ()
    earlier: tuple[Sample, ...] = ()
    log: tuple[LogItem, ...] = ()
    log_back: tuple[LogItem, ...] = ()
    log_earlier: tuple[LogItem, ...] = ()

    def detail(self) -> dict[str, object]:
        """Return what the audit says of the step."""
        detail: dict[str, object] = {"revision": self.change.revision, "action": self.change.action}
        if self.settings:
            detail["settings"] = dict(self.settings)
        for word, samples in (
            ("samples", self.samples),
            ("put back", self.put_back),
            ("earlier", self.earlier),
        ):
            if samples:
                detail[word] = [asdict(sample) for sample in samples]
        for word, items in (
            ("log", self.log),
            ("log back", self.log_back),
            ("log earlier", self.log_earlier),
        ):
            if items:
                told: dict[str, list[object]] = {}
                for item in items:
                    told.setdefault(kind_of(item), []).append(asdict(item))
                detail[word] = told
        for unit, rocks in self.rocks.items():
            detail.update(unit=unit, rocks=rocks)
        return detail


def step_back(changes: Sequence[Change], look_up: LookUp, look_up_log: LookUpLog) -> Step:
    """Work out how to take back the last action that is not taken back yet.

    Parameters
    ----------
    changes
        The whole audit, oldest first.
    look_up
        Gives the samples on record of some names.
    look_up_log
        Gives the records of a kind of some names.

    Raises
    ------
    NothingToWorkWith
        When there is no such action, or it cannot be taken back here.
    GroundError
        When the audit cannot be read.
    """
    try:
        undone = replay(changes).undone
        place = _last(changes, undone)
        # What was taken back before stays taken back: only what still holds counts towards what was before.
        before = replay(change for change in changes[:place] if change.revision not in undone)
        change, newest = changes[place], changes[-1].revision
        if change.action.endswith(" log"):
            return _log_step(change, newest, look_up, look_up_log)
        return _step(change, newest, before.settings, before.rocks, look_up)
    except (ValueError, TypeError, KeyError) as error:
        raise GroundError(f"The audit cannot be read: {error}") from error


def take_back(connection: sqlite3.Connection, step: Step) -> None:
    """Write a step back into records whose transaction has begun.

    Raises
    ------
    GroundError
        When another program saved something since the step was worked out.
    """
    newest = connection.execute("SELECT max(revision) FROM audit").fetchone()[0]
    if newest != step.last_revision:
        raise GroundError("Another program saved something meanwhile; nothing was taken back. Try again.")
    if step.settings:
        put_settings(connection, step.settings)
    for unit, rocks in step.rocks.items():
        put_correction(connection, unit, rocks)
    if step.samples:
        delete_samples(connection, [sample.sample_id for sample in step.samples])
    if step.put_back:
        insert_samples(connection, step.put_back, newest + 1)
    for sample in step.earlier:
        update_sample(connection, sample, newest + 1)
    for item in step.log:
        delete_items(connection, kind_of(item), (name_of(item),))
    if step.log_back:
        insert_items(connection, step.log_back, newest + 1)
    for item in step.log_earlier:
        update_item(connection, item, newest + 1)
    if step.change.action in ("permit", "looked"):
        mark_taken_back(connection, step.change.revision, newest + 1)


def put_settings(connection: sqlite3.Connection, values: Mapping[str, object]) -> None:
    """Write settings into records whose transaction has begun."""
    connection.executemany(
        "INSERT INTO settings (key, value) VALUES (?, ?) "
        "ON CONFLICT (key) DO UPDATE SET value = excluded.value",
        [(key, json.dumps(value, ensure_ascii=False)) for key, value in values.items()],
    )


def put_correction(connection: sqlite3.Connection, unit: str, rocks: str) -> None:
    """Write a reading of a map unit into records whose transaction has begun; an empty one is removed."""
    connection.execute("DELETE FROM rock_corrections WHERE unit = ?", (unit,))
    if rocks:
        connection.execute("INSERT INTO rock_corrections (unit, rocks) VALUES (?, ?)", (unit, rocks))


def _last(changes: Sequence[Change], undone: set[int]) -> int:
    for place in range(len(changes) - 1, -1, -1):
        change = changes[place]
        if change.action in _NOT_OF_THE_USER or change.revision in undone:
            continue
        if change.action in _UNDONE_HERE:
            return place
        if change.action == "new":
            break
        raise NothingToWorkWith(f"The last action ({change.action}) cannot be taken back.")
    raise NothingToWorkWith("There is nothing to take back.")


def _step(
    change: Change,
    last_revision: int,
    settings: Mapping[str, object],
    rocks: Mapping[str, str],
    look_up: LookUp,
) -> Step:
    detail = json.loads(change.detail)
    if change.action == "set":
        # A setting that an older program did not know yet goes back to not known.
        return Step(change, last_revision, settings={key: settings.get(key) for key in detail})
    if change.action == "correct rock":
        unit = str(detail["unit"])
        return Step(change, last_revision, rocks={unit: rocks.get(unit, "")})
    if change.action == "edit sample":
        return Step(change, last_revision, earlier=(Sample(**detail["before"]),))
    if change.action == "drop sample":
        return Step(change, last_revision, put_back=(Sample(**detail["sample"]),))
    if change.action == "add samples":
        return Step(change, last_revision, samples=tuple(look_up(detail["samples"])))
    return Step(change, last_revision)


def _log_step(change: Change, last_revision: int, look_up: LookUp, look_up_log: LookUpLog) -> Step:
    detail = json.loads(change.detail)
    if change.action == "add log":
        items = [item for kind in LOG_KINDS for item in look_up_log(kind, detail.get(kind, ()))]
        changed = detail.get("changed", {})
        return Step(
            change,
            last_revision,
            samples=tuple(look_up(detail.get("samples", ()))),
            earlier=tuple(Sample(**one["before"]) for one in changed.get("samples", ())),
            log=tuple(items),
            log_earlier=tuple(
                item_of(kind, one["before"]) for kind in LOG_KINDS for one in changed.get(kind, ())
            ),
        )
    kind: LogKind = detail["kind"]
    if change.action == "edit log":
        return Step(change, last_revision, log_earlier=(item_of(kind, detail["before"]),))
    return Step(change, last_revision, log_back=(item_of(kind, detail["item"]),))

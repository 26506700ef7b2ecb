"""What must be on record by the audit alone, to hold the records to it and to go back to what was before."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from prospect.store.changes import Change
from prospect.store.schema import LOG_NAMES

_NOT_THE_USERS = ("schema_version", "ground_id")


@dataclass(slots=True)
class Replayed:
    """The state that a run of changes leads to.

    Attributes
    ----------
    settings
        Every setting that was saved.
    samples
        Names of the samples in the order they were saved.
    rocks
        The user's own readings of map units.
    entries
        Revisions of the entries in the ledgers: permissions and on-site records.
    log
        Names of the holes, bars, tests and batches, by kind, in the order they were saved.
    undone
        Revisions that were taken back.
    """

    settings: dict[str, object] = field(default_factory=dict)
    samples: dict[str, None] = field(default_factory=dict)
    rocks: dict[str, str] = field(default_factory=dict)
    entries: set[int] = field(default_factory=set)
    log: dict[str, dict[str, None]] = field(default_factory=dict)
    undone: set[int] = field(default_factory=set)

    def as_detail(self) -> dict[str, object]:
        """Return the state in the words of the audit."""
        own = {key: value for key, value in self.settings.items() if key not in _NOT_THE_USERS}
        return {
            "settings": own,
            "samples": list(self.samples),
            "rocks": self.rocks,
            "entries": sorted(self.entries),
            "log": {kind: list(names) for kind, names in self.log.items() if names},
        }


def replay(changes: Iterable[Change]) -> Replayed:
    """Return the state that the changes, oldest first, lead to; actions on layers change nothing here.

    Raises
    ------
    ValueError
        When the detail of a change is not what its action writes.
    """
    state = Replayed()
    for change in changes:
        if change.action in ("new", "set"):
            state.settings.update(_detail(change))
        elif change.action == "add samples":
            state.samples.update(dict.fromkeys(map(str, _items(change, "samples"))))
        elif change.action == "drop sample":
            state.samples.pop(_name(_detail(change).get("sample")), None)
        elif change.action == "add log":
            state.samples.update(dict.fromkeys(map(str, _items(change, "samples"))))
            for kind in LOG_NAMES:
                state.log.setdefault(kind, {}).update(dict.fromkeys(map(str, _items(change, kind))))
        elif change.action == "drop log":
            detail = _detail(change)
            kind = str(detail.get("kind", ""))
            state.log.get(kind, {}).pop(_log_name(kind, detail.get("item")), None)
        elif change.action == "correct rock":
            detail = _detail(change)
            _correct(state, str(detail.get("unit", "")), str(detail.get("rocks", "")))
        elif change.action in ("permit", "looked"):
            state.entries.add(change.revision)
        elif change.action == "undo":
            _take_back(state, change)
        elif change.action in ("changed outside", "rescue"):
            _take_for_given(state, change)
    return state


def differences(state: Replayed, there: Replayed) -> Iterator[str]:
    """Yield a sentence for each sort of thing that is otherwise on record (`there`) than the audit says (`state`)."""
    gone = [name for name in state.samples if name not in there.samples]
    added = [name for name in there.samples if name not in state.samples]
    if gone:
        yield f"samples were removed by another program: {few(gone)}"
    if added:
        yield f"samples were added by another program: {few(added)}"
    units = [
        unit
        for unit in sorted({*there.rocks, *state.rocks})
        if there.rocks.get(unit) != state.rocks.get(unit)
    ]
    if units:
        yield f"readings of map units were changed by another program: {few(units)}"
    changed = [
        key
        for key, value in state.settings.items()
        if key not in there.settings or there.settings[key] != value
    ]
    if changed:
        yield f"settings were changed by another program: {few(changed)}"
    for kind, (table, _) in LOG_NAMES.items():
        ours, theirs = state.log.get(kind, {}), there.log.get(kind, {})
        called = table.replace("_", " ")
        if missing := [name for name in ours if name not in theirs]:
            yield f"{called} were removed by another program: {few(missing)}"
        if more := [name for name in theirs if name not in ours]:
            yield f"{called} were added by another program: {few(more)}"
    if state.entries != there.entries:
        count = len(state.entries ^ there.entries)
        yield f"{count} entries of the ledgers were changed by another program"


def few(names: Sequence[str]) -> str:
    """Return the first few names, and how many more there are."""
    more = f" and {len(names) - 3} more" if len(names) > 3 else ""
    return ", ".join(names[:3]) + more


def _take_back(state: Replayed, change: Change) -> None:
    detail = _detail(change)
    revision = int(str(detail.get("revision", 0)))
    state.undone.add(revision)
    state.entries.discard(revision)
    settings = detail.get("settings", {})
    if isinstance(settings, dict):
        state.settings.update(settings)
    for sample in _items(change, "samples"):
        state.samples.pop(_name(sample), None)
    for sample in _items(change, "put back"):
        state.samples[_name(sample)] = None
    for kind, items in _by_kind(detail, "log"):
        for item in items:
            state.log.get(kind, {}).pop(_log_name(kind, item), None)
    for kind, items in _by_kind(detail, "log back"):
        for item in items:
            state.log.setdefault(kind, {})[_log_name(kind, item)] = None
    if "unit" in detail:
        _correct(state, str(detail["unit"]), str(detail.get("rocks", "")))


def _take_for_given(state: Replayed, change: Change) -> None:
    detail = _detail(change)
    settings, rocks = detail.get("settings"), detail.get("rocks")
    if not isinstance(settings, dict) or not isinstance(rocks, dict):
        raise ValueError(f"change {change.revision} ({change.action}) does not say what there was")
    state.settings = dict(settings)
    state.rocks = {str(unit): str(words) for unit, words in rocks.items()}
    state.samples = dict.fromkeys(map(str, _items(change, "samples")))
    state.entries = {int(str(revision)) for revision in _items(change, "entries")}
    state.log = {kind: dict.fromkeys(map(str, names)) for kind, names in _by_kind(detail, "log")}


def _correct(state: Replayed, unit: str, rocks: str) -> None:
    state.rocks.pop(unit, None)
    if rocks:
        state.rocks[unit] = rocks


def _by_kind(detail: dict[str, object], key: str) -> Iterator[tuple[str, list[object]]]:
    told = detail.get(key, {})
    for kind, items in (told if isinstance(told, dict) else {}).items():
        if kind in LOG_NAMES and isinstance(items, list):
            yield str(kind), items


def _log_name(kind: str, item: object) -> str:
    column = LOG_NAMES.get(kind, ("", ""))[1]
    return str(item.get(column)) if isinstance(item, dict) else ""


def _name(sample: object) -> str:
    return str(sample.get("sample_id")) if isinstance(sample, dict) else ""


def _items(change: Change, key: str) -> list[object]:
    items = _detail(change).get(key, [])
    return items if isinstance(items, list) else []


def _detail(change: Change) -> dict[str, object]:
    detail = json.loads(change.detail)
    if not isinstance(detail, dict):
        raise ValueError(f"change {change.revision} ({change.action}) has no detail")
    return detail

"""What must be on record by the audit alone, to hold the records to it and to go back to what was before."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass, field

from prospect.store.records_file import Change


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
    undone
        Revisions that were taken back.
    """

    settings: dict[str, object] = field(default_factory=dict)
    samples: dict[str, None] = field(default_factory=dict)
    rocks: dict[str, str] = field(default_factory=dict)
    undone: set[int] = field(default_factory=set)


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
        elif change.action == "correct rock":
            detail = _detail(change)
            _correct(state, str(detail.get("unit", "")), str(detail.get("rocks", "")))
        elif change.action == "undo":
            _take_back(state, change)
    return state


def _take_back(state: Replayed, change: Change) -> None:
    detail = _detail(change)
    state.undone.add(int(str(detail.get("revision", 0))))
    settings = detail.get("settings", {})
    if isinstance(settings, dict):
        state.settings.update(settings)
    for sample in _items(change, "samples"):
        if isinstance(sample, dict):
            state.samples.pop(str(sample.get("sample_id")), None)
    if "unit" in detail:
        _correct(state, str(detail["unit"]), str(detail.get("rocks", "")))


def _correct(state: Replayed, unit: str, rocks: str) -> None:
    state.rocks.pop(unit, None)
    if rocks:
        state.rocks[unit] = rocks


def _items(change: Change, key: str) -> list[object]:
    items = _detail(change).get(key, [])
    return items if isinstance(items, list) else []


def _detail(change: Change) -> dict[str, object]:
    detail = json.loads(change.detail)
    if not isinstance(detail, dict):
        raise ValueError(f"change {change.revision} ({change.action}) has no detail")
    return detail

"""Puts together what was noted of one thing at two times, where neither contradicts the other."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Any, TypeVar

from prospect.records.bench import Bar, Batch, BenchTest
from prospect.records.log import Hole, HoleLayer, Sample

Noted = Hole | HoleLayer | Sample | Bar | BenchTest | Batch
Record = TypeVar("Record", Hole, HoleLayer, Sample, Bar, BenchTest, Batch)

_NOT_SAID: Mapping[str, str] = {"preparation": "raw", "usable": "unknown", "dry": "unknown"}
"""What stands in a field where nobody said anything; elsewhere nothing stands there."""


def completed(held: Record, added: Record) -> Record | None:
    """Return a record with what another of the same name adds to it; None where the two contradict each other.

    Parameters
    ----------
    held
        What is on record.
    added
        What was noted later, perhaps of a part only: what it does not say leaves what is on record as it is.

    Notes
    -----
    The layers of a hole are put together one by one: a layer between the same depths is the same layer, one that lies
    beside all others is new, and one that overlaps another is a contradiction.
    """
    if contradictions(held, added):
        return None
    return replace(held, **{name: _joined(name, held, added) for name in _names(held)})


def contradictions(held: Noted, added: Noted) -> tuple[str, ...]:
    """Return the fields in which two records of one name say different things."""
    return tuple(name for name in _names(held) if not _agree(name, held, added))


def _names(record: Noted) -> list[str]:
    return [item.name for item in fields(record)]


def _said(name: str, record: Noted) -> bool:
    value: Any = getattr(record, name)
    if name == "faults":
        return bool(value) or getattr(record, "looked_for_faults", False)
    if isinstance(value, str):
        return value != _NOT_SAID.get(name, "")
    # Zero is something that was said.
    return bool(value) if isinstance(value, (bool, tuple, dict)) else value is not None


def _agree(name: str, held: Noted, added: Noted) -> bool:
    before, after = getattr(held, name), getattr(added, name)
    if before == after or not (_said(name, held) and _said(name, added)):
        return True
    if isinstance(before, dict):
        return all(before[key] == text for key, text in after.items() if key in before)
    if name == "layers":
        return _layers(before, after) is not None
    return False


def _joined(name: str, held: Noted, added: Noted) -> Any:
    before, after = getattr(held, name), getattr(added, name)
    if isinstance(before, dict):
        return {**before, **after}
    if name == "layers" and before and after:
        return _layers(before, after)
    return before if _said(name, held) else after


def _layers(before: tuple[HoleLayer, ...], after: tuple[HoleLayer, ...]) -> tuple[HoleLayer, ...] | None:
    """Return the layers of both from the top down; None where they contradict."""
    if before == after:
        return before
    joined = list(before)
    for layer in after:
        same = next((at for at, one in enumerate(before) if _depths(one) == _depths(layer)), None)
        if same is not None:
            whole = completed(before[same], layer)
            if whole is None:
                return None
            joined[same] = whole
        elif all(_beside(one, layer) for one in joined):
            joined.append(layer)
        else:
            return None
    if len(joined) > len(before):
        joined.sort(key=lambda one: one.top_cm or 0.0)
    return tuple(joined)


def _depths(layer: HoleLayer) -> tuple[float | None, float | None]:
    return layer.top_cm, layer.bottom_cm


def _beside(one: HoleLayer, other: HoleLayer) -> bool:
    """Whether two layers certainly do not overlap."""
    ends = (one.top_cm, one.bottom_cm, other.top_cm, other.bottom_cm)
    if None in ends:
        return False
    top, bottom, other_top, other_bottom = (float(end) for end in ends if end is not None)
    return bottom <= other_top or other_bottom <= top

"""Sorts what is to be saved into new, adding to what is on record, and contradicting it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Generic, TypeVar

from prospect.records import Bar, Batch, BenchTest, Hole, Sample, completed

Item = TypeVar("Item", Hole, Sample, Bar, BenchTest, Batch)


@dataclass(frozen=True, slots=True)
class Amendment(Generic[Item]):
    """What is on record, what it becomes, and the revision as of which it is on record."""

    before: Item
    after: Item
    revision: int


@dataclass(frozen=True, slots=True)
class Sorted(Generic[Item]):
    """Items of one kind.

    Attributes
    ----------
    new
        By name, in the order they came.
    amended
        What is on record and is completed by what came.
    clashes
        What contradicts something of its name; what adds nothing is in none of the three.
    """

    new: Mapping[str, Item]
    amended: tuple[Amendment[Item], ...]
    clashes: tuple[Item, ...]


def sort_out(
    items: Iterable[Item], name: Callable[[Item], str], held: Mapping[str, tuple[Item, int]]
) -> Sorted[Item]:
    """Return what of some items is new, completes what is on record, and contradicts it.

    Parameters
    ----------
    items
        What is to be saved.
    name
        Gives the name of an item.
    held
        What is on record by name, each with its revision.
    """
    new: dict[str, Item] = {}
    after: dict[str, Item] = {}
    clashes: list[Item] = []
    for item in items:
        key = name(item)
        there = after.get(key) or new.get(key) or (held[key][0] if key in held else None)
        if there is None:
            new[key] = item
            continue
        whole = completed(there, item)
        if whole is None:
            clashes.append(item)
        elif whole != there:
            (new if key in new else after)[key] = whole
    amended = tuple(Amendment(held[key][0], item, held[key][1]) for key, item in after.items())
    return Sorted(new, amended, tuple(clashes))

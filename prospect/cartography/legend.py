"""What the colours, hatches and shapes of a map mean, in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from prospect.palette import colours, ramp, rock_family

WORTH: tuple[tuple[float, str], ...] = (
    (0.75, "well worth a look"),
    (0.5, "worth a look"),
    (0.25, "a long shot"),
    (0.0, "hardly worth a look"),
)
"""Favourability from which a word holds; own judgement, relative and never a probability."""

KNOWN: tuple[tuple[float, str], ...] = (
    (0.995, "all that matters is known"),
    (0.9, "nearly all that matters is known"),
    (0.75, "most of what matters is known"),
    (0.5, "about half of what matters is known"),
    (0.3, "little of what matters is known"),
    (0.0, "too little is known to say"),
)
"""Completeness from which a sentence holds; 0.3 is where a deposit model may no longer lead."""


@dataclass(frozen=True, slots=True)
class Key:
    """One line of a map's key.

    Attributes
    ----------
    label
        What it means.
    colour
        `#RRGGBB`.
    shape
        `patch`, `hatch`, `line`, `dash` or `dot`; hatches carry the number of strokes in `detail`.
    detail
        More about it: the numbers behind a word, a pattern's name.
    """

    label: str
    colour: str
    shape: str
    detail: str = ""


def worth_in_words(favourability: float | None) -> str:
    """Return a favourability 0..1 as words; None or NaN reads "cannot say"."""
    return _step(WORTH, favourability, "cannot say")


def known_in_words(completeness: float | None) -> str:
    """Return a completeness 0..1 as a short sentence."""
    return _step(KNOWN, completeness, "nothing is known")


def favourability_key() -> tuple[Key, ...]:
    """Return the key of the favourability colours, best first."""
    edges = [1.0, *(floor for floor, _ in WORTH)]
    return tuple(
        Key(word, ramp().hex((upper + floor) / 2), "patch", f"{floor:.2f} to {upper:.2f}")
        for (floor, word), upper in zip(WORTH, edges, strict=False)
    )


def completeness_key() -> tuple[Key, ...]:
    """Return the key of the hatch that says how much is known, least known last."""
    slate = colours().light.slate
    return (
        Key("most is known", slate, "hatch", "0"),
        Key("half or more is known", slate, "hatch", "1"),
        Key("less than half is known", slate, "hatch", "2"),
        Key("too little is known to say", slate, "hatch", "3"),
    )


def rock_key(lineages: Mapping[str, tuple[str, ...]]) -> tuple[Key, ...]:
    """Return the key of the rock families that occur, in the palette's order.

    Parameters
    ----------
    lineages
        For each map unit its lithology term followed by the broader ones; empty when its wording was not read.
    """
    present = {rock_family(lineage).key for lineage in lineages.values()}
    return tuple(
        Key(family.title, family.colour, "patch", family.pattern)
        for family in colours().families
        if family.key in present
    )


def _step(steps: tuple[tuple[float, str], ...], value: float | None, otherwise: str) -> str:
    if value is None or value != value:
        return otherwise
    return next((word for floor, word in steps if value >= floor), steps[-1][1])

"""What clay is used for and how each use judges it, as `layers/clay/uses.toml` gives it."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Literal

import numpy as np
from pydantic import Field
from pydantic.dataclasses import dataclass

from prospect.definitions import STRICT, layers_folder, read_definition

Question = Literal["plasticity", "maturing", "colour", "contaminants"]
QUESTIONS: Mapping[Question, str] = {
    "plasticity": "Plasticity",
    "maturing": "Maturing temperature",
    "colour": "Colour at that temperature",
    "contaminants": "Contaminants",
}
"""What is judged, in the trade's order."""


@dataclass(config=STRICT, frozen=True)
class Use:
    """One use of clay.

    Attributes
    ----------
    key, title, doc
        Its name in the files, in words, and in a sentence.
    purposes
        Purposes of a ground that it serves.
    cones
        Coolest and hottest cone at which it is fired; empty when it is not.
    absorption_pct
        Least and greatest absorption of the finished ware; empty when it does not matter.
    wants_colour
        Groups of fired colour that suit, the first best; empty when it does not matter.
    reference
        Where its figures come from.
    """

    key: str
    title: str
    doc: str
    purposes: tuple[str, ...]
    reference: str
    wants_colour: tuple[str, ...]
    cones: tuple[str, ...] = ()
    absorption_pct: tuple[float, ...] = ()


@dataclass(config=STRICT, frozen=True)
class Mark:
    """What a part of the judgement looks at, and how well each value suits.

    Attributes
    ----------
    measure, title
        Key of the measurement, and what it is called.
    points
        Value and how well it suits, 0..1, straight between and level beyond.
    words
        How well each word suits.
    lows, highs
        Words that mean too little or too much of it.
    low, high
        What to do then; empty = what the part says.
    caps
        Words that cap the whole judgement.
    softer_for
        Uses for which a word that suits badly is no more than half as bad.
    no_matter_for
        By word, the uses for which it says nothing.
    reference
        Where this comes from.
    """

    measure: str
    title: str
    reference: str
    points: tuple[tuple[float, float], ...] = ()
    words: Mapping[str, float] = Field(default_factory=dict)
    lows: tuple[str, ...] = ()
    highs: tuple[str, ...] = ()
    low: str = ""
    high: str = ""
    caps: tuple[str, ...] = ()
    softer_for: tuple[str, ...] = ()
    no_matter_for: Mapping[str, tuple[str, ...]] = Field(default_factory=dict)

    def suits(self, value: float | str, use: str = "") -> float | None:
        """Return how well a value suits, 0..1; None for a word that says nothing of it."""
        if isinstance(value, str):
            if use in self.no_matter_for.get(value, ()):
                return None
            found = self.words.get(value)
            soft = found is not None and use in self.softer_for
            return None if found is None else 1 - (1 - found) / 2 if soft else found
        if not self.points:
            return None
        at, how = zip(*self.points, strict=True)
        return float(np.interp(value, at, how))

    def side(self, value: float | str) -> Literal["low", "high", ""]:
        """Return on which side of the good range a value lies."""
        if isinstance(value, str):
            return "low" if value in self.lows else "high" if value in self.highs else ""
        best = max(how for _, how in self.points)
        good = [at for at, how in self.points if how == best]
        return "low" if value < good[0] else "high" if value > good[-1] else ""


@dataclass(config=STRICT, frozen=True)
class Part:
    """One part of the judgement.

    Attributes
    ----------
    key, title
        Its name in the files and in words.
    question
        Which of the trade's questions it belongs to.
    weight
        Its share; those of a use are taken to their sum.
    uses
        Uses that it holds for.
    take
        Whether the `first` mark that was measured speaks, or the `least`.
    low, high
        What to do where a value lies below or above the good range.
    needs
        Below the good range and suiting less than this, it caps the whole judgement.
    special
        What is worked out from the firings rather than read from marks.
    marks
        What it looks at, the best evidence first.
    reference
        Where this comes from.
    """

    key: str
    title: str
    question: Question
    weight: float
    uses: tuple[str, ...]
    reference: str
    take: Literal["first", "least"] = "first"
    low: str = ""
    high: str = ""
    needs: float = 0.0
    special: Literal["", "maturing", "melting", "colour"] = ""
    marks: tuple[Mark, ...] = ()


@dataclass(config=STRICT, frozen=True)
class Cure:
    """What to do about a fault."""

    fault: str
    cure: str
    reference: str


@dataclass(config=STRICT, frozen=True)
class Rules:
    """Where the lines are drawn; see the file."""

    capped_at: float
    fit_from: float
    helped_from: float
    least_completeness: float
    sure_completeness: float
    usable_from: float
    useless_below: float
    advised_below: float
    lead_mg_kg: float
    arsenic_mg_kg: float
    reference: str


@dataclass(config=STRICT, frozen=True)
class Judgement:
    """The whole file."""

    uses: tuple[Use, ...]
    parts: tuple[Part, ...]
    cures: tuple[Cure, ...]
    rules: Rules

    def parts_of(self, use: str) -> tuple[Part, ...]:
        """Return the parts that judge a use, in the trade's order."""
        order = list(QUESTIONS)
        return tuple(
            sorted(
                (part for part in self.parts if use in part.uses), key=lambda part: order.index(part.question)
            )
        )

    def cure(self, fault: str) -> str:
        """Return what to do about a fault; empty when nothing is known."""
        return next((cure.cure for cure in self.cures if cure.fault == fault), "")


@lru_cache(maxsize=1)
def judgement() -> Judgement:
    """Return how each use judges clay."""
    return read_definition(layers_folder() / "clay" / "uses.toml", Judgement)


def use_for(purpose: str) -> Use | None:
    """Return the use that a purpose of the ground means; None for no purpose in particular."""
    return next((use for use in judgement().uses if use.key == purpose), None)

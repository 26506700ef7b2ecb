"""What a deposit-model file holds: criteria, memberships, gates, bonuses, defining evidence, cautions."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

import numpy as np
from pydantic import Field
from pydantic.dataclasses import dataclass

from prospect.criteria import memberships as shape
from prospect.definitions import STRICT
from prospect.types import FloatArray

Unit = Annotated[float, Field(ge=0, le=1)]
Key = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=60)]
Text = Annotated[str, Field(min_length=1, max_length=600)]
Point = tuple[float, Unit]

Kind = Literal[
    "up",
    "down",
    "trapezoid",
    "piecewise_linear",
    "steps",
    "large",
    "small",
    "classes",
    "phrases",
    "identity",
]
Combine = Literal["weighted", "mean", "min", "max", "first", "limited", "product"]

WORD_KINDS = ("classes", "phrases")


@dataclass(config=STRICT, frozen=True)
class Membership:
    """How a value or a word becomes a membership 0..1; `kind` names the function in `memberships`.

    Attributes
    ----------
    kind
        Which function.
    points, scale
        Of `piecewise_linear` and `steps`: pairs (value, membership), values ascending, in the factor's unit.
    a, b, c, d
        Of `up`, `down` (a, b) and `trapezoid` (a to d).
    midpoint, spread
        Of `large` and `small`.
    values, several, nothing_found
        Of `classes` and `phrases`.
    """

    kind: Kind
    points: tuple[Point, ...] = ()
    scale: Literal["linear", "log10"] = "linear"
    a: float | None = None
    b: float | None = None
    c: float | None = None
    d: float | None = None
    midpoint: float | None = None
    spread: float | None = None
    values: dict[str, Unit] = Field(default_factory=dict)
    several: shape.Several = "max"
    nothing_found: Unit | None = None

    @property
    def reads_words(self) -> bool:
        """Whether it looks words up."""
        return self.kind in WORD_KINDS

    def of_numbers(self, x: FloatArray) -> FloatArray:
        """Return the memberships of numbers, float32, NaN = missing."""
        match self.kind:
            case "piecewise_linear":
                return shape.piecewise_linear(x, self.points, scale=self.scale)
            case "steps":
                return shape.steps(x, self.points)
            case "up" | "down" | "trapezoid":
                ends = tuple(end for end in (self.a, self.b, self.c, self.d) if end is not None)
                return getattr(shape, self.kind)(x, *ends)
            case "large" | "small":
                return getattr(shape, self.kind)(x, self.midpoint, self.spread)
            case "identity":
                return shape.identity(x)
        return np.full(np.shape(x), np.nan, dtype=np.float32)

    def of_words(self, words: object) -> FloatArray:
        """Return the memberships of words, float32, NaN = missing."""
        look = shape.classes if self.kind == "classes" else shape.phrases
        return look(words, self.values, several=self.several, nothing_found=self.nothing_found)  # type: ignore[arg-type]


@dataclass(config=STRICT, frozen=True)
class Condition:
    """A test on one factor; without bounds or words it only asks whether the factor is known.

    Attributes
    ----------
    factor
        Name from the list of factors.
    at_least, at_most, above, below
        Bounds, all of which must hold.
    words, without
        Of a factor that holds words: any of `words` must occur, none of `without` may.
    known
        False asks that the factor is missing.
    unknown
        What becomes of the test where the factor is missing.
    """

    factor: Key
    at_least: float | None = None
    at_most: float | None = None
    above: float | None = None
    below: float | None = None
    words: tuple[Text, ...] = ()
    without: tuple[Text, ...] = ()
    known: bool = True
    unknown: Literal["fails", "holds"] = "fails"


@dataclass(config=STRICT, frozen=True)
class Adjustment:
    """Where its conditions all hold, a membership is lifted to `at_least` or held to `at_most`."""

    reference: Text
    at_least: Unit | None = None
    at_most: Unit | None = None
    conditions: tuple[Condition, ...] = ()
    title: str = ""


@dataclass(config=STRICT, frozen=True)
class Beyond:
    """Holds a depth's membership to `at_most` where the depth is greater than a constant can reach."""

    factor: Key
    times: Annotated[float, Field(gt=0)]
    at_most: Unit
    reference: Text


@dataclass(config=STRICT, frozen=True)
class Criterion:
    """One thing that a model looks at: a leaf reads a factor, a branch combines parts.

    Attributes
    ----------
    key, title
        Name in the file, and in plain words.
    weight
        Within its parent; read where the parent combines by weight.
    factor, otherwise
        Of a leaf: the factor, and the one that stands in for it cell by cell where it is missing.
    membership
        Of a leaf.
    beyond
        Of a leaf that reads a depth: what lies out of reach.
    parts, combine
        Of a branch. `weighted`, `mean`, `min`, `max` leave missing parts out; `first` takes the first part
        known; `limited` takes the first part held to the least of the others, `product` multiplies it by them,
        and both are missing when the first part is.
    adjust
        Lifts and limits, in order.
    reference
        Where its numbers come from.
    note
        What a reader should know about it.
    only_with
        At the top level: the layer without which the ground is judged as if the model had no such criterion, its
        weight going to the others.
    """

    key: Key
    title: Text
    weight: Unit = 1.0
    factor: str = ""
    otherwise: str = ""
    membership: Membership | None = None
    beyond: Beyond | None = None
    parts: tuple[Criterion, ...] = ()
    combine: Combine | None = None
    adjust: tuple[Adjustment, ...] = ()
    reference: str = ""
    note: str = ""
    only_with: Literal["", "soil", "unit"] = ""

    def leaves(self) -> Iterator[Criterion]:
        """Yield the criteria that read a factor."""
        if not self.parts:
            yield self
        for part in self.parts:
            yield from part.leaves()

    def factors(self) -> set[str]:
        """Return the names of every factor below, those of adjustments included."""
        own = {name for name in (self.factor, self.otherwise) if name}
        own |= {condition.factor for change in self.adjust for condition in change.conditions}
        if self.beyond is not None:
            own.add(self.beyond.factor)
        return own.union(*(part.factors() for part in self.parts))


@dataclass(config=STRICT, frozen=True)
class Gate:
    """Something that rules ground out, wholly or in part, and says so.

    Attributes
    ----------
    key, title
        Name in the file, and in plain words.
    factor
        What the score is multiplied by where the gate fires.
    reason
        Sentence for the reader.
    conditions, when
        When it fires; no conditions = always.
    reference
        Where the numbers come from.
    """

    key: Key
    title: Text
    factor: Unit
    reason: Text
    reference: Text
    conditions: tuple[Condition, ...] = ()
    when: Literal["any", "all"] = "all"


@dataclass(config=STRICT, frozen=True)
class Bonus:
    """Something that adds to the score; the sum is capped at 1 before the gates."""

    key: Key
    title: Text
    add: Annotated[float, Field(gt=0, le=0.5)]
    reference: Text
    conditions: Annotated[tuple[Condition, ...], Field(min_length=1)]
    when: Literal["any", "all"] = "all"


@dataclass(config=STRICT, frozen=True)
class Evidence:
    """One way in which a model's defining evidence may be given: all its conditions hold.

    Attributes
    ----------
    title
        The evidence in plain words, for the sentence that says it is missing.
    conditions
        What must hold.
    least_share
        Share of a soil map unit on which its soil conditions must hold.
    """

    title: Text
    conditions: Annotated[tuple[Condition, ...], Field(min_length=1)]
    least_share: Unit = 0.3


@dataclass(config=STRICT, frozen=True)
class Caution:
    """A warning that goes with the model, always or where its conditions hold."""

    text: Text
    conditions: tuple[Condition, ...] = ()


@dataclass(config=STRICT, frozen=True)
class DepositModel:
    """One way in which usable clay comes to be somewhere, as a set of criteria.

    Attributes
    ----------
    key, title, doc
        Name in files, name for readers (the potter's and the geologist's word), what it is.
    weights_reference
        Where the weights come from.
    needs
        The defining evidence in words, to finish the sentence "this model needs …".
    defining_criteria
        Keys of the criteria of the top level that read it.
    least_completeness
        Share of the weights that must be known before the model may lead.
    defining
        Ways in which the defining evidence may be given; one is enough.
    criteria
        Combined by weight at the top; weights sum to 1.
    gates, bonuses, cautions
        See there.
    """

    key: Key
    title: Text
    doc: Text
    weights_reference: Text
    needs: Text
    criteria: Annotated[tuple[Criterion, ...], Field(min_length=1)]
    defining: Annotated[tuple[Evidence, ...], Field(min_length=1)]
    defining_criteria: tuple[Key, ...] = ()
    least_completeness: Unit = 0.3
    gates: tuple[Gate, ...] = ()
    bonuses: tuple[Bonus, ...] = ()
    cautions: tuple[Caution, ...] = ()

    def walk(self) -> Iterator[tuple[Criterion, int]]:
        """Yield every criterion with its depth, parents before their parts."""

        def below(criteria: tuple[Criterion, ...], level: int) -> Iterator[tuple[Criterion, int]]:
            for criterion in criteria:
                yield criterion, level
                yield from below(criterion.parts, level + 1)

        return below(self.criteria, 0)

    def factors(self) -> frozenset[str]:
        """Return the names of every factor that the model reads."""
        names: set[str] = set().union(*(criterion.factors() for criterion in self.criteria))
        rules: tuple[Gate | Bonus | Evidence | Caution, ...]
        rules = (*self.gates, *self.bonuses, *self.defining, *self.cautions)
        names.update(condition.factor for rule in rules for condition in rule.conditions)
        return frozenset(names)

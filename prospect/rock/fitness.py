"""What a mix of rocks weathers to and sends downstream, from the parent-rock table."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache

from pydantic.dataclasses import dataclass as checked

from prospect.definitions import STRICT, layers_folder, read_definition
from prospect.errors import DefinitionError
from prospect.rock.mix import RockMix
from prospect.rock.vocabulary import Vocabulary, lithology

COLOURS = ("L", "B", "R", "D")
COLOUR_FROM = 0.2
CONTAMINANTS_FROM = 0.05
GATE_FROM = 0.5


@checked(frozen=True, config=STRICT)
class _Composition:
    reference: str
    carbonate: float | None = None
    mafic: float | None = None
    felsic: float | None = None


@checked(frozen=True, config=STRICT)
class _Row:
    terms: tuple[str, ...]
    residual_fitness: float
    downstream_share: float
    fired_colour: tuple[str, ...]
    composition: str
    contaminants: tuple[str, ...]
    reference: str
    asbestos: bool = False
    anthropogenic: bool = False
    gate: str = ""
    hazard: str = ""


@checked(frozen=True, config=STRICT)
class _Table:
    umbrella: tuple[str, ...]
    composition: dict[str, _Composition]
    rows: tuple[_Row, ...]


@dataclass(frozen=True, slots=True)
class ParentRock:
    """What one term weathers to; None = not known.

    Attributes
    ----------
    residual_fitness
        R, fitness to weather in place to workable clay, 0..1.
    downstream_share
        P, share of fine, low-lime clay sent downstream, 0..1.
    fired_colour
        Letters of L white or cream, B buff, R red, D dark.
    carbonate, mafic, felsic
        Shares 0..1.
    read_from
        The terms whose rows were used: the term itself, or the nearest broader ones.
    """

    residual_fitness: float | None
    downstream_share: float | None
    fired_colour: tuple[str, ...] = ()
    carbonate: float | None = None
    mafic: float | None = None
    felsic: float | None = None
    contaminants: tuple[str, ...] = ()
    asbestos: bool = False
    anthropogenic: bool = False
    gate: str = ""
    hazard: str = ""
    read_from: tuple[str, ...] = ()


UNKNOWN_ROCK = ParentRock(None, None)


@dataclass(frozen=True, slots=True)
class Fitness:
    """The roll-up of a mix; NaN = not known, and every figure is over the known share.

    `known_share` is the part of the whole unit, 0..1, for which the table has a figure.
    """

    residual_fitness: float = math.nan
    downstream_share: float = math.nan
    known_share: float = 0.0
    fired_colour: str = ""
    contaminants: tuple[str, ...] = ()
    carbonate: float = math.nan
    mafic: float = math.nan
    felsic: float = math.nan
    asbestos: bool = False
    anthropogenic: bool = False
    gates: tuple[str, ...] = ()
    hazards: tuple[str, ...] = field(default=())


class ParentRocks:
    """The parent-rock table over a vocabulary, with the rule for terms that have no row of their own."""

    def __init__(self, table: _Table, vocabulary: Vocabulary) -> None:
        self.vocabulary = vocabulary
        self.umbrella = frozenset(table.umbrella)
        self.rows = {term: _as_rock(row, table.composition, term) for row in table.rows for term in row.terms}
        strange = [term for term in (*self.rows, *self.umbrella) if term not in vocabulary] + [
            term for term in self.rows if term in self.umbrella
        ]
        if strange:
            raise DefinitionError(f"parent_rock.toml: not in the vocabulary, or in it twice: {strange}")
        self._known: dict[str, ParentRock] = {}

    def of(self, term: str) -> ParentRock:
        """Return what a term weathers to: its own row, else the mean of the nearest broader rows, else unknown."""
        if term not in self._known:
            self._known[term] = self._look_up(term)
        return self._known[term]

    def _look_up(self, term: str) -> ParentRock:
        if term in self.umbrella:
            return UNKNOWN_ROCK
        for level in self.vocabulary.broader_levels(term):
            found = [self.rows[key] for key in level if key in self.rows]
            if found:
                return found[0] if len(found) == 1 else _mean_rock(found)
        return UNKNOWN_ROCK


@lru_cache(maxsize=32768)
def roll_up(mix: RockMix, *, felsic_by_words: float | None = None) -> Fitness:
    """Return what a mix weathers to: R = Σ f·R over the share that is known, and so for the other figures.

    Parameters
    ----------
    mix
        Terms with fractions.
    felsic_by_words
        What the unit's wording says of terms that do not say it themselves ("rhyolitic" beside "tuff"): felsic
        share 0..1; None where the wording says nothing.
    """
    rocks = [(parent_rocks().of(term), fraction) for term, fraction in mix.terms]
    if not rocks:
        return Fitness()

    def mean(figure: Callable[[ParentRock], float | None]) -> float:
        known = [(value, share) for rock, share in rocks if (value := figure(rock)) is not None]
        total = math.fsum(share for _, share in known)
        return math.fsum(value * share for value, share in known) / total if total > 0 else math.nan

    present = [rock for rock, share in rocks if share >= CONTAMINANTS_FROM]
    return Fitness(
        residual_fitness=mean(lambda rock: rock.residual_fitness),
        downstream_share=mean(lambda rock: rock.downstream_share),
        known_share=math.fsum(share for rock, share in rocks if rock.residual_fitness is not None),
        fired_colour=_mixed_colour(rocks),
        contaminants=_joined(rock.contaminants for rock in present),
        carbonate=mean(lambda rock: rock.carbonate),
        mafic=mean(lambda rock: _or_words(rock.mafic, rock, felsic_by_words, mafic=True)),
        felsic=mean(lambda rock: _or_words(rock.felsic, rock, felsic_by_words, mafic=False)),
        asbestos=any(rock.asbestos for rock in present),
        anthropogenic=math.fsum(share for rock, share in rocks if rock.anthropogenic) >= GATE_FROM,
        gates=_gates(rocks),
        hazards=_joined((rock.hazard,) for rock in present if rock.hazard),
    )


@lru_cache(maxsize=1)
def parent_rocks() -> ParentRocks:
    """Return the table that travels with the program."""
    table = read_definition(layers_folder() / "vocabularies" / "parent_rock.toml", _Table)
    return ParentRocks(table, lithology())


def _as_rock(row: _Row, compositions: dict[str, _Composition], term: str) -> ParentRock:
    made_of = compositions[row.composition]
    return ParentRock(
        row.residual_fitness,
        row.downstream_share,
        row.fired_colour,
        made_of.carbonate,
        made_of.mafic,
        made_of.felsic,
        row.contaminants,
        row.asbestos,
        row.anthropogenic,
        row.gate,
        row.hazard,
        (term,),
    )


def _mean_rock(rocks: list[ParentRock]) -> ParentRock:
    def mean(figure: Callable[[ParentRock], float | None]) -> float | None:
        known = [value for rock in rocks if (value := figure(rock)) is not None]
        return math.fsum(known) / len(known) if known else None

    return ParentRock(
        mean(lambda rock: rock.residual_fitness),
        mean(lambda rock: rock.downstream_share),
        tuple(letter for letter in COLOURS if any(letter in rock.fired_colour for rock in rocks)),
        mean(lambda rock: rock.carbonate),
        mean(lambda rock: rock.mafic),
        mean(lambda rock: rock.felsic),
        _joined(rock.contaminants for rock in rocks),
        any(rock.asbestos for rock in rocks),
        any(rock.anthropogenic for rock in rocks),
        next((rock.gate for rock in rocks if rock.gate), ""),
        next((rock.hazard for rock in rocks if rock.hazard), ""),
        tuple(term for rock in rocks for term in rock.read_from),
    )


def _or_words(value: float | None, rock: ParentRock, felsic: float | None, *, mafic: bool) -> float | None:
    # An umbrella term stays unknown: "rhyolitic" beside it speaks of another rock.
    if value is not None or felsic is None or rock.residual_fitness is None:
        return value
    return 1.0 - felsic if mafic else felsic


def _mixed_colour(rocks: list[tuple[ParentRock, float]]) -> str:
    weights = dict.fromkeys(COLOURS, 0.0)
    for rock, share in rocks:
        for letter in rock.fired_colour:
            weights[letter] += share / len(rock.fired_colour)
    total = math.fsum(weights.values())
    return "–".join(letter for letter in COLOURS if total and weights[letter] / total >= COLOUR_FROM)


def _gates(rocks: list[tuple[ParentRock, float]]) -> tuple[str, ...]:
    names = dict.fromkeys(rock.gate for rock, _ in rocks if rock.gate)
    return tuple(
        name for name in names if math.fsum(share for rock, share in rocks if rock.gate == name) >= GATE_FROM
    )


def _joined(groups: object) -> tuple[str, ...]:
    return tuple(dict.fromkeys(word for group in groups for word in group))  # type: ignore[attr-defined]

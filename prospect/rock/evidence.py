"""What a unit's wording says beside its rock: how it was laid down, how old it is, what to beware of."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from pydantic.dataclasses import dataclass as checked

from prospect.definitions import STRICT, layers_folder, read_definition
from prospect.errors import DefinitionError
from prospect.rock.lexicon import lexicon, plain_words
from prospect.rock.mix import RockMix
from prospect.rock.vocabulary import lithology

LOOSE = ("natural_unconsolidated_material", "residual_material", "unconsolidated_material")
ROCK = ("rock",)
MILLION_YEARS = re.compile(
    r"(?P<young>\d+(?:\.\d+)?)(?:\s*(?:-|–|to)\s*(?P<old>\d+(?:\.\d+)?))?\s*(?P<unit>ma|ka)\b"
)
CLAUSE_END = re.compile(r"[.,;:()\[\]]+(?:\s+|$)|(?<=\s)[(\[]|[;()\[\]]|,|\s{2,}")
BEGINNING = 4
BARE_YEARS = re.compile(r"^\s*(?P<young>\d+(?:\.\d+)?)(?:\s*(?:-|–|to)\s*(?P<old>\d+(?:\.\d+)?))?\s*$")


@checked(frozen=True, config=STRICT)
class _Age:
    key: str
    words: tuple[str, ...]
    youngest_ma: float
    oldest_ma: float
    reference: str


@checked(frozen=True, config=STRICT)
class _Rule:
    value: float
    words: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    terms: tuple[str, ...] = ()
    ages: tuple[str, ...] = ()
    whole: tuple[str, ...] = ()
    not_terms: tuple[str, ...] = ()
    ground: str = ""


@checked(frozen=True, config=STRICT)
class _Evidence:
    name: str
    about: str
    rules: tuple[_Rule, ...]


@checked(frozen=True, config=STRICT)
class _Composition:
    words: tuple[str, ...]
    felsic: float
    reference: str


@checked(frozen=True, config=STRICT)
class _Contaminant:
    words: tuple[str, ...]
    adds: str


@checked(frozen=True, config=STRICT)
class _Asbestos:
    words: tuple[str, ...]


@checked(frozen=True, config=STRICT)
class _UnitWording:
    reference: str
    full_from: float
    minor_factor: float
    main_part: float
    not_of_this_kind: float
    ages: tuple[_Age, ...]
    evidence: tuple[_Evidence, ...]
    composition: tuple[_Composition, ...]
    contaminants: tuple[_Contaminant, ...]
    asbestos: _Asbestos


@dataclass(frozen=True, slots=True)
class _Words:
    """Phrases as one pattern, with the beginnings of their first words: no beginning in the text, no match."""

    beginnings: frozenset[str]
    pattern: re.Pattern[str]

    def in_text(self, text: str) -> bool:
        return self.pattern.search(text) is not None


@dataclass(frozen=True, slots=True)
class _ReadyRule:
    rule: _Rule
    words: _Words | None
    unless: _Words | None
    terms: frozenset[str]
    not_terms: frozenset[str]


@dataclass(frozen=True, slots=True)
class Said:
    """What a wording affirms, clause by clause with ` | ` between: of the unit as a whole, and of minor parts."""

    main: str
    minor: str
    beginnings: frozenset[str]


@dataclass(frozen=True, slots=True)
class _Unit:
    """One unit as the rules see it; `loose` and `rock` are the weights of such ground, 1 where no rock was read."""

    mix: RockMix
    said: tuple[Said, ...]
    beginnings: frozenset[str]
    wholes: frozenset[str]
    ages: frozenset[str]
    ground: dict[str, float]


class UnitWording:
    """The rules of `unit_wording.toml`, compiled once."""

    def __init__(self, data: _UnitWording) -> None:
        terms, ages = lithology(), {age.key for age in data.ages} | {"unknown"}
        self.data = data
        self.names = tuple(item.name for item in data.evidence)
        self.rules: dict[str, tuple[_ReadyRule, ...]] = {}
        for item in data.evidence:
            for rule in item.rules:
                named = (*rule.terms, *rule.not_terms)
                strange = [term for term in named if term not in terms] + sorted(set(rule.ages) - ages)
                if strange or rule.ground not in {"", "loose", "rock"}:
                    raise DefinitionError(
                        f"unit_wording.toml: {item.name}: not known: {strange or rule.ground}"
                    )
            self.rules[item.name] = tuple(_ready(rule) for rule in item.rules)
        self.ages = tuple((age, _phrases(age.words)) for age in data.ages)
        self.composition = tuple((item.felsic, _phrases(item.words)) for item in data.composition)
        self.contaminants = tuple((item.adds, _phrases(item.words)) for item in data.contaminants)
        self.asbestos = _phrases(data.asbestos.words)


@lru_cache(maxsize=1)
def unit_wording() -> UnitWording:
    """Return the rules that travel with the program."""
    return UnitWording(read_definition(layers_folder() / "vocabularies" / "unit_wording.toml", _UnitWording))


def evidence_names() -> tuple[str, ...]:
    """Return the names of the evidence columns, in the order of the file."""
    return unit_wording().names


def evidence_of(mix: RockMix, wordings: Iterable[str], ages: frozenset[str]) -> dict[str, float]:
    """Return each evidence 0..1 of a unit: NaN throughout when nothing of it can be read.

    Parameters
    ----------
    mix
        The unit's rocks.
    wordings
        Name, description and the other words of the unit.
    ages
        Keys of `ages_of`; empty = the map gives none.
    """
    rules, texts = unit_wording(), tuple(wordings)
    unit = _as_unit(mix, tuple(said_in(text) for text in texts if text), texts, ages)
    found = {name: max([0.0, *(_value(rule, unit) for rule in rules.rules[name])]) for name in rules.names}
    if not mix.terms and not any(found.values()):
        return dict.fromkeys(found, math.nan)
    return {name: max(value, rules.data.not_of_this_kind) for name, value in found.items()}


@lru_cache(maxsize=16384)
def ages_of(text: str) -> frozenset[str]:
    """Return the keys of the ages that a text names, in words or as `12 Ma`, `2-16 Ma`, `10 ka`; empty if none.

    A text that is nothing but a number or a range is read as million years.
    """
    plain = plain_words(text)
    if not plain:
        return frozenset()
    ages = unit_wording().ages
    found = {age.key for age, words in ages if words.in_text(plain)}
    for years in [*MILLION_YEARS.finditer(text.lower()), *filter(None, [BARE_YEARS.match(text)])]:
        scale = 0.001 if years.groupdict().get("unit") == "ka" else 1.0
        first = float(years["young"]) * scale
        last = float(years["old"]) * scale if years["old"] else first
        young, old = sorted((first, last))
        found |= {age.key for age, _ in ages if young <= age.oldest_ma and old > age.youngest_ma}
        found |= {"quaternary"} if old == 0 else set()
    return frozenset(found)


def felsic_by_words(wordings: Iterable[str]) -> float | None:
    """Return the felsic share 0..1 that the words give (`rhyolitic`, `andesitic`), their mean, or None."""
    text = " | ".join(said_in(wording).main for wording in wordings)
    found = [felsic for felsic, words in unit_wording().composition if words.in_text(text)]
    return math.fsum(found) / len(found) if found else None


def contaminants_by_words(wordings: Iterable[str]) -> tuple[str, ...]:
    """Return what the words warn of (`pyritic`, `gypsiferous`)."""
    text = _all_said(wordings)
    return tuple(adds for adds, words in unit_wording().contaminants if words.in_text(text))


def names_asbestos(wordings: Iterable[str]) -> bool:
    """Whether the words name an asbestos mineral or a rock that grows it."""
    return unit_wording().asbestos.in_text(_all_said(wordings))


@lru_cache(maxsize=32768)
def said_in(text: str) -> Said:
    """Return what a wording affirms, without what it says is absent or elsewhere."""
    denied, next_only, minor = _mood_patterns()
    plain = unicodedata.normalize("NFKC", text).lower().replace("’", "'")
    plain = " | ".join(plain_words(part) for part in CLAUSE_END.split(plain) if part)
    plain = next_only.sub(" ", denied.sub("", plain))
    clauses = plain.split(" | ")
    low = [clause for clause in clauses if minor.search(clause)] if minor.search(plain) else []
    beginnings = {word[:size] for word in plain.split() for size in (3, BEGINNING)}
    main = " | ".join(clause for clause in clauses if clause not in low)
    return Said(main, " | ".join(low), frozenset(beginnings))


def _all_said(wordings: Iterable[str]) -> str:
    return " | ".join(f"{said.main} | {said.minor}" for said in map(said_in, wordings))


@lru_cache(maxsize=1)
def _mood_patterns() -> tuple[re.Pattern[str], re.Pattern[str], re.Pattern[str]]:
    known = lexicon()
    denied = _phrases((*known.absent_words, *known.elsewhere_words)).pattern.pattern
    return (
        re.compile(denied + r"[^|]*?(?= with | but | \||$)"),
        re.compile(_phrases(known.absent_next_words).pattern.pattern + r"(?: an?| any| the)? \w+"),
        _phrases(known.minor_words).pattern,
    )


def _as_unit(mix: RockMix, said: tuple[Said, ...], texts: tuple[str, ...], ages: frozenset[str]) -> _Unit:
    ground = {"loose": 1.0, "rock": 1.0}
    if mix.terms:
        ground = {"loose": _weight(mix, _under(LOOSE)), "rock": _weight(mix, _under(ROCK))}
    beginnings = frozenset(beginning for part in said for beginning in part.beginnings)
    return _Unit(mix, said, beginnings, frozenset(map(plain_words, texts)), ages, ground)


def _value(ready: _ReadyRule, unit: _Unit) -> float:
    rule, value = ready.rule, ready.rule.value
    if ready.words is not None and ready.words.beginnings.isdisjoint(unit.beginnings):
        return 0.0
    if rule.ages and unit.ages.isdisjoint(rule.ages) and (unit.ages or "unknown" not in rule.ages):
        return 0.0
    if rule.whole and unit.wholes.isdisjoint(rule.whole):
        return 0.0
    if rule.ground:
        # Ground alone is no evidence where no rock was read; words about it are.
        value *= unit.ground[rule.ground] if unit.mix.terms or ready.words is not None else 0.0
    if ready.terms:
        value *= _weight(unit.mix, ready.terms)
    if value and ready.words is not None:
        value *= _how_much_said(ready.words, ready.unless, unit.said)
    if value and ready.not_terms and unit.mix.share_of(ready.not_terms) >= unit_wording().data.main_part:
        return 0.0
    return value


def _how_much_said(words: _Words, unless: _Words | None, said: tuple[Said, ...]) -> float:
    def says(text: str) -> bool:
        return bool(text) and words.in_text(unless.pattern.sub(" ", text) if unless is not None else text)

    near = [part for part in said if not words.beginnings.isdisjoint(part.beginnings)]
    if any(says(part.main) for part in near):
        return 1.0
    return unit_wording().data.minor_factor if any(says(part.minor) for part in near) else 0.0


def _weight(mix: RockMix, terms: frozenset[str]) -> float:
    return min(1.0, mix.share_of(terms) / unit_wording().data.full_from)


@lru_cache(maxsize=512)
def _under(terms: tuple[str, ...]) -> frozenset[str]:
    vocabulary = lithology()
    return frozenset(narrow for term in terms for narrow in vocabulary.under(term))


def _ready(rule: _Rule) -> _ReadyRule:
    return _ReadyRule(
        rule,
        _phrases(rule.words) if rule.words else None,
        _phrases(rule.unless) if rule.unless else None,
        _under(rule.terms),
        _under(rule.not_terms),
    )


def _phrases(phrases: Iterable[str]) -> _Words:
    ordered, forms = sorted(phrases, key=len, reverse=True), []
    for phrase in ordered:
        stem = re.escape(phrase.rstrip("*")).replace(r"\ ", " ").replace(" _ ", r" (?:\w+ ){0,2}")
        forms.append(stem + (r"\w*" if phrase.endswith("*") else "(?:s|es)?"))
    pattern = re.compile(r"\b(?:" + "|".join(forms) + r")\b")
    return _Words(frozenset(phrase.split()[0].rstrip("*")[:BEGINNING] for phrase in ordered), pattern)

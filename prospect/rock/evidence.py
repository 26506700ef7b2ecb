"""What a unit's wording says beside its rock: how it was laid down, how old it is, what to beware of."""

from __future__ import annotations

import math
import re
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
MILLION_YEARS = re.compile(r"(?P<young>\d+(?:\.\d+)?)(?:\s*(?:-|–|to)\s*(?P<old>\d+(?:\.\d+)?))?\s*(?P<unit>ma|ka)\b")
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
class _ReadyRule:
    rule: _Rule
    words: re.Pattern[str] | None
    unless: re.Pattern[str] | None
    terms: frozenset[str]
    not_terms: frozenset[str]


@dataclass(frozen=True, slots=True)
class Clause:
    """A part of the wording between commas, without what it denies; `minor` when it speaks of a minor part."""

    text: str
    minor: bool


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
                    raise DefinitionError(f"unit_wording.toml: {item.name}: not known: {strange or rule.ground}")
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
    clauses = tuple(clause for text in texts for clause in clauses_of(text))
    wholes = frozenset(plain_words(text) for text in texts)
    found = {
        name: max((_value(rule, mix, clauses, wholes, ages) for rule in rules.rules[name]), default=0.0)
        for name in rules.names
    }
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
    found = {age.key for age, words in ages if words.search(plain)}
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
    text = " ".join(clause.text for wording in wordings for clause in clauses_of(wording) if not clause.minor)
    found = [felsic for felsic, words in unit_wording().composition if words.search(text)]
    return math.fsum(found) / len(found) if found else None


def contaminants_by_words(wordings: Iterable[str]) -> tuple[str, ...]:
    """Return what the words warn of (`pyritic`, `gypsiferous`)."""
    text = " , ".join(clause.text for wording in wordings for clause in clauses_of(wording))
    return tuple(adds for adds, words in unit_wording().contaminants if words.search(text))


def names_asbestos(wordings: Iterable[str]) -> bool:
    """Whether the words name an asbestos mineral or a rock that grows it."""
    text = " , ".join(clause.text for wording in wordings for clause in clauses_of(wording))
    return unit_wording().asbestos.search(text) is not None


@lru_cache(maxsize=32768)
def clauses_of(text: str) -> tuple[Clause, ...]:
    """Return the parts of a wording between commas, each without what it says is absent or elsewhere."""
    denied, next_only, minor = _mood_patterns()
    found = []
    for part in re.split(r"[.,;:()\[\]]+\s*|\s{2,}", text):
        plain = next_only.sub(" ", denied.sub("", plain_words(part)))
        if plain.strip():
            found.append(Clause(plain.strip(), minor.search(plain) is not None))
    return tuple(found)


@lru_cache(maxsize=1)
def _mood_patterns() -> tuple[re.Pattern[str], re.Pattern[str], re.Pattern[str]]:
    known = lexicon()
    denied = _phrases((*known.absent_words, *known.elsewhere_words)).pattern
    return (
        re.compile(denied + r".*?(?= with | but |$)"),
        re.compile(_phrases(known.absent_next_words).pattern + r"(?: an?| any| the)? \w+"),
        _phrases(known.minor_words),
    )


def _value(
    ready: _ReadyRule,
    mix: RockMix,
    clauses: tuple[Clause, ...],
    wholes: frozenset[str],
    ages: frozenset[str],
) -> float:
    rule = ready.rule
    if rule.ages and not (ages & frozenset(rule.ages) or ("unknown" in rule.ages and not ages)):
        return 0.0
    if rule.whole and wholes.isdisjoint(rule.whole):
        return 0.0
    if ready.not_terms and mix.share_of(ready.not_terms) >= unit_wording().data.main_part:
        return 0.0
    value = rule.value
    if ready.words is not None:
        value *= _said(ready.words, ready.unless, clauses)
    if ready.terms:
        value *= _weight(mix, ready.terms)
    if rule.ground and mix.terms:
        value *= _weight(mix, _under(LOOSE if rule.ground == "loose" else ROCK))
    elif rule.ground and ready.words is None:
        return 0.0
    return value


def _said(words: re.Pattern[str], unless: re.Pattern[str] | None, clauses: tuple[Clause, ...]) -> float:
    best = 0.0
    for clause in clauses:
        text = unless.sub(" ", clause.text) if unless is not None else clause.text
        if words.search(text):
            best = max(best, unit_wording().data.minor_factor if clause.minor else 1.0)
    return best


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


def _phrases(phrases: Iterable[str]) -> re.Pattern[str]:
    forms = []
    for phrase in sorted(phrases, key=len, reverse=True):
        stem = re.escape(phrase.rstrip("*")).replace(r"\ ", " ")
        forms.append(stem + (r"\w*" if phrase.endswith("*") else "(?:s|es)?"))
    return re.compile(r"\b(?:" + "|".join(forms) + r")\b")

"""Gives the readers of a log the words of its choices and the kinds of bench test in one plain form."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from prospect.clay.vocabulary import Field, log_words, test_kinds


@dataclass(frozen=True, slots=True)
class BenchField:
    """One measurement of a bench test.

    Attributes
    ----------
    kind, key, title
        Key of its test, its own key, what it is called.
    unit
        Unit that its value is kept in; empty for a word or a plain number.
    least, most
        Smallest and largest value that can be meant.
    choices
        What may be written → its word; empty for a number and for words of one's own.
    is_number
        Whether it is a number.
    """

    kind: str
    key: str
    title: str
    unit: str
    least: float
    most: float
    choices: Mapping[str, str]
    is_number: bool


@cache
def bench_fields() -> tuple[BenchField, ...]:
    """Return every measurement of every bench test."""
    return tuple(_field(kind.key, item) for kind in test_kinds() for item in kind.fields)


@cache
def bench_titles() -> Mapping[str, str]:
    """Return the key of every bench test and what it is called."""
    return {kind.key: kind.title for kind in test_kinds()}


def bench_field(kind: str, key: str) -> BenchField:
    """Return one measurement."""
    return next(item for item in bench_fields() if (item.kind, item.key) == (kind, key))


def own_words(field: str) -> Mapping[str, str]:
    """Return what may be written → the word of the log, of one choice of a hole, a layer or a bar."""
    words: dict[str, str] = {}
    for word in log_words().get(field, ()):
        words.setdefault(word.key, word.key)
        words.setdefault(word.title, word.key)
    return words


def _field(kind: str, item: Field) -> BenchField:
    least = -1e9 if item.least is None else item.least
    most = 1e9 if item.most is None else item.most
    choices = {form: choice.key for choice in item.choices for form in (choice.key, choice.title)}
    return BenchField(kind, item.key, item.title, item.unit, least, most, choices, item.is_number)

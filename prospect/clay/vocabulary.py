"""The words of the log and the tests of the bench, as the files in `layers/clay` give them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Literal

from pydantic.dataclasses import dataclass

from prospect.definitions import STRICT, layers_folder, read_definition


@dataclass(config=STRICT, frozen=True)
class Word:
    """One answer: the word that is kept, and how it is said to a person."""

    key: str
    title: str


@dataclass(config=STRICT, frozen=True)
class Question:
    """One field of the log that is answered by a word.

    Attributes
    ----------
    key, title
        Its name in the records, and how it is asked for.
    reference
        Whose scale it is.
    words
        In the order in which they are offered; a scale runs from least to most.
    cautions
        What to look out for when it is tried.
    """

    key: str
    title: str
    reference: str
    words: tuple[Word, ...]
    cautions: tuple[str, ...] = ()


@dataclass(config=STRICT, frozen=True)
class Field:
    """One thing that a bench test asks for: a number with a unit, one of some words, or words of one's own.

    Attributes
    ----------
    key, title
        Its name in the records (a number's names its unit), and how it is asked for.
    unit
        Unit that a number is kept in; empty for a word or a plain number.
    least, most
        What a number can be at all; None for words.
    choices
        The words that may be chosen; empty for a number and for words of one's own.
    """

    key: str
    title: str
    unit: str = ""
    least: float | None = None
    most: float | None = None
    choices: tuple[Word, ...] = ()

    @property
    def is_number(self) -> bool:
        """Whether a number is asked for."""
        return self.least is not None


@dataclass(config=STRICT, frozen=True)
class TestKind:
    """A test of the bench.

    Attributes
    ----------
    key, title
        Its name in the records and in words.
    stage
        Where it is done: on the `bench`, in the `kiln`, or in a `laboratory`.
    how
        How it is done, a sentence each.
    cautions
        What to look out for at this step.
    fields
        What it asks for.
    reference
        Where it comes from.
    """

    key: str
    title: str
    stage: Literal["bench", "kiln", "laboratory"]
    how: tuple[str, ...]
    cautions: tuple[str, ...]
    fields: tuple[Field, ...]
    reference: str

    __test__ = False


@dataclass(config=STRICT, frozen=True)
class _Log:
    fields: tuple[Question, ...]


@dataclass(config=STRICT, frozen=True)
class _Tests:
    tests: tuple[TestKind, ...]


@lru_cache(maxsize=1)
def questions() -> Mapping[str, Question]:
    """Return every field of holes, layers and bars that is answered by a word, by its name in the records."""
    file = read_definition(layers_folder() / "clay" / "log.toml", _Log)
    return {question.key: question for question in file.fields}


@lru_cache(maxsize=1)
def log_words() -> Mapping[str, tuple[Word, ...]]:
    """Return the words that may answer each field, in order."""
    return {key: question.words for key, question in questions().items()}


@lru_cache(maxsize=1)
def test_kinds() -> tuple[TestKind, ...]:
    """Return the tests of the bench in the order of work."""
    return read_definition(layers_folder() / "clay" / "tests.toml", _Tests).tests


test_kinds.__test__ = False  # type: ignore[attr-defined]


def test_kind(key: str) -> TestKind | None:
    """Return the test of a key; None when there is none."""
    return next((kind for kind in test_kinds() if kind.key == key), None)


test_kind.__test__ = False  # type: ignore[attr-defined]

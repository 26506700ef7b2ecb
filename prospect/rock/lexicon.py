"""The words of geologic maps: which phrases name rocks, amounts, absence, places, and which name nothing."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from pydantic.dataclasses import dataclass as checked

from prospect.definitions import STRICT, layers_folder, read_definition
from prospect.errors import DefinitionError
from prospect.rock.vocabulary import Vocabulary, lithology

Kind = Literal[
    "term", "adjective", "dominant", "major", "minor", "minor_after", "equal", "absent", "absent_next",
    "absent_after", "elsewhere", "suffix", "clast", "place", "place_if_capital", "generic", "mineral",
    "anywhere", "alone",
]  # fmt: skip
Shares = tuple[tuple[str, float], ...]

CLASTS = frozenset({"cobble", "pebble", "boulder", "clast", "fragment", "xenolith", "chip"})
WORD = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)?")


@checked(frozen=True, config=STRICT)
class _Amounts:
    dominant: float
    major: float
    minor: float
    reference: str


@checked(frozen=True, config=STRICT)
class _Nothing:
    wordings: tuple[str, ...]


@checked(frozen=True, config=STRICT)
class _Combination:
    adjectives: tuple[str, ...]
    heads: tuple[str, ...]
    reads: str


@checked(frozen=True, config=STRICT)
class _Ranks:
    dominant: tuple[str, ...]
    major: tuple[str, ...]
    minor: tuple[str, ...]
    minor_after: tuple[str, ...]
    equal: tuple[str, ...]


@checked(frozen=True, config=STRICT)
class _Absent:
    next_only: tuple[str, ...]
    before: tuple[str, ...]
    after: tuple[str, ...]
    elsewhere: tuple[str, ...]
    suffixes: tuple[str, ...]


@checked(frozen=True, config=STRICT)
class _Beside:
    term: str
    beside: tuple[str, ...]
    reads: str


@checked(frozen=True, config=STRICT)
class _Classes:
    terms: tuple[str, ...]
    as_wide_as: dict[str, str]


@checked(frozen=True, config=STRICT)
class _Places:
    sure: tuple[str, ...]
    if_capital: tuple[str, ...]


@checked(frozen=True, config=STRICT)
class _Generic:
    heads: tuple[str, ...]


@checked(frozen=True, config=STRICT)
class _NotRocks:
    minerals: tuple[str, ...]
    words: tuple[str, ...]


@checked(frozen=True, config=STRICT)
class _Abbreviations:
    anywhere: dict[str, str]
    alone: dict[str, str]


@checked(frozen=True, config=STRICT)
class _Synonyms:
    reference: str
    shares: _Amounts
    nothing: _Nothing
    whole: dict[str, str]
    words: dict[str, str]
    combinations: tuple[_Combination, ...]
    adjectives: dict[str, str]
    abbreviations: _Abbreviations
    ranks: _Ranks
    absent: _Absent
    places: _Places
    beside: tuple[_Beside, ...]
    classes: _Classes
    labels: dict[str, str]
    generic: _Generic
    not_rocks: _NotRocks


@dataclass(frozen=True, slots=True)
class Entry:
    """What one phrase may be; `rocks` and `adjective` are mixes, `reads_as` the phrase an abbreviation is for."""

    kinds: frozenset[str]
    rocks: Shares = ()
    adjective: Shares = ()
    reads_as: str = ""


class Lexicon:
    """Phrases by their first word, longest first, and the tables around them."""

    def __init__(self, words: _Synonyms, vocabulary: Vocabulary) -> None:
        self.vocabulary = vocabulary
        self.amounts = words.shares
        self.nothing = frozenset(words.nothing.wordings)
        self.whole = {plain_words(text): self._shares(reads) for text, reads in words.whole.items()}
        self.classes = frozenset(words.classes.terms) | frozenset(words.classes.as_wide_as)
        self.beside = words.beside
        self.labels = words.labels
        self.as_wide_as = words.classes.as_wide_as
        self.absent_words, self.absent_next_words = words.absent.before, words.absent.next_only
        self.elsewhere_words, self.minor_words = words.absent.elsewhere, words.ranks.minor
        self.protected = frozenset(words.not_rocks.words) | frozenset(words.not_rocks.minerals)
        self._entries: dict[tuple[str, ...], Entry] = {}
        self._add_terms(vocabulary)
        for combination in words.combinations:
            for adjective in combination.adjectives:
                for head in combination.heads:
                    self._add(f"{adjective} {head}", "term", rocks=self._shares(combination.reads))
        for phrase, reads in words.words.items():
            self._add(phrase, "term", rocks=self._shares(reads))
        for phrase, reads in words.adjectives.items():
            self._add(phrase, "adjective", adjective=self._shares(reads))
        self._add_the_rest(words)
        self.known_words = frozenset(word for tokens in self._entries for word in tokens)
        self._entries = {tuple(map(self.singular, tokens)): entry for tokens, entry in self._entries.items()}
        self._by_first: dict[str, list[tuple[tuple[str, ...], Entry]]] = {}
        for tokens in sorted(self._entries, key=len, reverse=True):
            self._by_first.setdefault(tokens[0], []).append((tokens, self._entries[tokens]))
        self.known_words = frozenset(word for tokens in self._entries for word in tokens)
        self.generic_words = frozenset(words.generic.heads)
        self.rock_words = tuple(
            tokens[0]
            for tokens, entry in self._entries.items()
            if len(tokens) == 1 and entry.kinds & {"term", "adjective"}
        )

    def longest(self, words: list[str], start: int) -> tuple[int, Entry | None]:
        """Return the number of words of the longest phrase from `start` on, and its entry (1, None if unknown)."""
        for tokens, entry in self._by_first.get(words[start], ()):
            if len(tokens) == 1 or tuple(words[start : start + len(tokens)]) == tokens:
                return len(tokens), entry
        return 1, None

    def entry(self, phrase: str) -> Entry | None:
        """Return what a whole phrase may be, or None."""
        return self._entries.get(tuple(plain_words(phrase).split()))

    def label(self, term: str) -> str:
        """Return what people read for a term."""
        return self.labels.get(term) or self.vocabulary.label(term)

    def singular(self, word: str) -> str:
        """Return the known singular of a word, or the word itself."""
        if (word,) in self._entries or not word.endswith("s"):
            return word
        for tail, instead in (("ies", "y"), ("es", ""), ("s", "")):
            shorter = word[: -len(tail)] + instead if word.endswith(tail) else ""
            # "places" stays what it is: "in places" is an amount, "in place" a way of weathering.
            if (shorter,) in self._entries or (shorter in self.known_words and word not in self.protected):
                return shorter
        return word

    def _add_terms(self, vocabulary: Vocabulary) -> None:
        for term in vocabulary.terms.values():
            for example in term.examples:
                if self._entries.get(tuple(plain_words(example).split())) is None:
                    self._add(example, "term", rocks=((term.key, 1.0),))
        for term in vocabulary.terms.values():
            for words in (term.key.replace("_", " "), term.label):
                self._add(words, "term", rocks=((term.key, 1.0),))

    def _add_the_rest(self, words: _Synonyms) -> None:
        groups: Mapping[Kind, Iterable[str]] = {
            "dominant": words.ranks.dominant,
            "major": words.ranks.major,
            "minor": words.ranks.minor,
            "minor_after": words.ranks.minor_after,
            "equal": words.ranks.equal,
            "absent": words.absent.before,
            "absent_next": words.absent.next_only,
            "absent_after": words.absent.after,
            "elsewhere": words.absent.elsewhere,
            "suffix": words.absent.suffixes,
            "clast": CLASTS,
            "place": words.places.sure,
            "place_if_capital": words.places.if_capital,
            "generic": words.generic.heads,
            "mineral": words.not_rocks.minerals,
        }
        for kind, phrases in groups.items():
            for phrase in phrases:
                self._add(phrase, kind)
        for short, long in words.abbreviations.anywhere.items():
            self._add(short, "anywhere", reads_as=long)
        for short, long in words.abbreviations.alone.items():
            self._add(short, "alone", reads_as=long)

    def _add(
        self, phrase: str, kind: Kind, *, rocks: Shares = (), adjective: Shares = (), reads_as: str = ""
    ) -> None:
        tokens = tuple(plain_words(phrase).split())
        before = self._entries.get(tokens, Entry(frozenset()))
        self._entries[tokens] = Entry(
            before.kinds | {kind},
            rocks or before.rocks,
            adjective or before.adjective,
            reads_as or before.reads_as,
        )

    def _shares(self, reads: str) -> Shares:
        found = []
        for part in reads.split(","):
            term, _, fraction = part.partition(":")
            if term not in self.vocabulary:
                raise DefinitionError(f"synonyms.toml: '{term}' is not a lithology term")
            found.append((term, float(fraction or 1)))
        return tuple(found)


def plain_words(text: str) -> str:
    """Return text in lower case, one space between words, hyphens as spaces, without a full stop at its end."""
    text = unicodedata.normalize("NFKC", text).lower().replace("’", "'")
    return re.sub(r"\s+", " ", re.sub(r"[-‐‑–—_]+", " ", text)).strip(" .;,")


@lru_cache(maxsize=1)
def lexicon() -> Lexicon:
    """Return the words that travel with the program."""
    return Lexicon(
        read_definition(layers_folder() / "vocabularies" / "synonyms.toml", _Synonyms), lithology()
    )

"""Cuts a map's wording into phrases that the lexicon knows, with the punctuation that separates them."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from prospect.rock.lexicon import Entry, lexicon
from prospect.rock.spelling import likely_meant

SHORT_WORDING = 8
ROCK_ENDINGS = re.compile(
    r".{3,}(?:ites?|stones?|oids?|schists?|gneiss(?:es)?|liths?|rocks?|clays?|marls?|tuffs?|sands?|iths)$"
)
HYPHENS = frozenset("-‐‑–—")
MARKS = {
    ".": ".", "\n": ".", ";": ";", "(": "(", "[": "(", ")": ")", "]": ")", ",": ",", ":": ",", "/": ","
}  # fmt: skip
CONNECTIVES = frozenset({"and", "or", "to", "plus"})
TOKEN = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)?|[,;:()\[\]/&]|\.(?=\s|$)|  +|\n|[-‐‑–—]")


@dataclass(frozen=True, slots=True)
class Phrase:
    """A run of words, or one mark of punctuation (`mark`, one of `, ; . ( )`); `word` is in lower case."""

    word: str
    mark: str = ""
    entry: Entry | None = None
    kinds: frozenset[str] = frozenset()
    capital: bool = False
    ends_generic: bool = False
    hyphen: bool = False
    mended: str = ""

    def may_be(self, kind: str) -> bool:
        """Whether the lexicon lists the phrase under a kind."""
        return kind in self.kinds


def phrases_of(text: str) -> tuple[Phrase, ...]:
    """Return the known phrases, unknown words and marks of a wording, in order."""
    words, marks, capitals, hyphens = _tokens(text)
    known = lexicon()
    alone = _may_read_abbreviations(words, marks)
    found: list[Phrase] = []
    at = 0
    while at < len(words):
        if marks[at]:
            found.append(Phrase("", marks[at]))
            at += 1
            continue
        count, entry = known.longest(words, at)
        word, mended = " ".join(words[at : at + count]), ""
        if entry is not None and entry.reads_as and ("anywhere" in entry.kinds or alone):
            entry = known.entry(entry.reads_as)
        elif entry is not None and entry.kinds == {"alone"}:
            entry = None
        elif entry is None and word not in CONNECTIVES and (mended := likely_meant(word)):
            entry = known.entry(mended)
        capital = capitals[at]
        generic = words[at + count - 1] in known.generic_words
        kinds = entry.kinds if entry is not None else frozenset()
        found.append(Phrase(word, "", entry, kinds, capital, generic, hyphens[at], mended))
        at += count
    return tuple(found)


def looks_like_rock(word: str) -> bool:
    """Whether an unknown word ends like the name of a rock."""
    known = lexicon()
    return (
        ROCK_ENDINGS.match(word) is not None
        and word not in known.protected
        and known.singular(word) not in known.known_words
    )


def _tokens(text: str) -> tuple[list[str], list[str], list[bool], list[bool]]:
    text = unicodedata.normalize("NFKC", text).replace("+/-", " ").replace("±", " ").strip()
    known = lexicon()
    words: list[str] = []
    marks: list[str] = []
    capitals: list[bool] = []
    hyphens: list[bool] = []
    after_hyphen = False
    for piece in TOKEN.findall(text):
        if piece in HYPHENS:
            after_hyphen = True
            continue
        mark = _mark(piece)
        word = "" if mark else known.singular("and" if piece == "&" else piece.lower().replace("’", "'"))
        if after_hyphen and word and words and not marks[-1] and (whole := _joined(words[-1], word)):
            words[-1] = whole
        else:
            words.append(word or " ")
            marks.append(mark)
            hyphens.append(after_hyphen)
            capitals.append(piece[:1].isupper() and not piece[1:2].isupper())
        after_hyphen = False
    return words, marks, capitals, hyphens


def _joined(first: str, second: str) -> str:
    """Return the one word that a hyphen cut in two (`sand-stone`), or ''."""
    known = lexicon()
    whole = known.singular(first + second)
    entry = known.entry(whole)
    if entry is None or not (first not in known.known_words or "term" in entry.kinds):
        return ""
    return whole


def _mark(piece: str) -> str:
    # Two blanks stand where a comma was lost on the way out of a database.
    return MARKS.get(piece) or ("," if piece.isspace() else "")


def _may_read_abbreviations(words: list[str], marks: list[str]) -> bool:
    letters = [word for word, mark in zip(words, marks, strict=True) if not mark]
    known = lexicon()
    return len(letters) <= SHORT_WORDING and all(
        word in CONNECTIVES or word in known.known_words for word in letters
    )

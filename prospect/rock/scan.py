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
CONNECTIVES = frozenset({"and", "or", "to", "plus"})
TOKEN = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)?|[,;:()\[\]/&]|\.(?=\s|$)|  +|\n|[-‐‑–—]")


@dataclass(frozen=True, slots=True)
class Phrase:
    """A run of words, or one mark of punctuation (`mark`, one of `, ; . ( )`); `word` is in lower case."""

    word: str
    mark: str = ""
    entry: Entry | None = None
    capital: bool = False
    ends_generic: bool = False
    mended: str = ""

    def may_be(self, kind: str) -> bool:
        """Whether the lexicon lists the phrase under a kind."""
        return self.entry is not None and kind in self.entry.kinds


def phrases_of(text: str) -> tuple[Phrase, ...]:
    """Return the known phrases, unknown words and marks of a wording, in order."""
    words, marks, capitals = _tokens(text)
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
        generic = bool(words[at + count - 1 : at + count]) and _is_generic(words[at + count - 1])
        found.append(Phrase(word, "", entry, capital, generic, mended))
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


def _is_generic(word: str) -> bool:
    entry = lexicon().entry(word)
    return entry is not None and "generic" in entry.kinds


def _tokens(text: str) -> tuple[list[str], list[str], list[bool]]:
    text = unicodedata.normalize("NFKC", text).replace("+/-", " ").replace("±", " ").strip()
    known = lexicon()
    words: list[str] = []
    marks: list[str] = []
    capitals: list[bool] = []
    hyphen = False
    for token in TOKEN.findall(text):
        if token in "-‐‑–—":
            hyphen = True
            continue
        if token in {"&"}:
            token = "and"  # noqa: S105
        mark = _mark(token)
        word = "" if mark else known.singular(token.lower().replace("’", "'"))
        if hyphen and word and words and not marks[-1] and (whole := known.singular(words[-1] + word)):
            if known.entry(whole) is not None and (words[-1] not in known.known_words or _one_rock(whole)):
                words[-1] = whole
                hyphen = False
                continue
        hyphen = False
        words.append(word or " ")
        marks.append(mark)
        capitals.append(token[:1].isupper() and not token[1:2].isupper())
    return words, marks, capitals


def _one_rock(word: str) -> bool:
    entry = lexicon().entry(word)
    return entry is not None and "term" in entry.kinds


def _mark(token: str) -> str:
    if token in {".", "\n"}:
        return "."
    if token == ";":
        return ";"
    if token in {"(", "["}:
        return "("
    if token in {")", "]"}:
        return ")"
    # Two blanks stand where a comma was lost on the way out of a database.
    return "," if token in {",", ":", "/"} or token.isspace() else ""


def _may_read_abbreviations(words: list[str], marks: list[str]) -> bool:
    letters = [word for word, mark in zip(words, marks, strict=True) if not mark]
    known = lexicon()
    return len(letters) <= SHORT_WORDING and all(
        word in CONNECTIVES or word in known.known_words for word in letters
    )

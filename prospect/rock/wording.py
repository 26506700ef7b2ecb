"""Reads a map's wording (`interbedded shale and limestone, minor chert`) as a mix of open lithology terms."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from prospect.rock.lexicon import CLASTS, Shares, lexicon, plain_words
from prospect.rock.mix import RockMix, mix_of
from prospect.rock.scan import CONNECTIVES, Phrase, looks_like_rock, phrases_of
from prospect.rock.vocabulary import lithology
from prospect.rock.weigh import Found, weigh

ARTICLES = frozenset({"a", "an", "any", "the"})
LISTED_SENTENCE = 3
LONGEST_NAME = 6
CODED_PART = re.compile(r"^\s*(?P<rock>[^:,;]+?)\s*:\s*(?P<amount>\d*\.?\d+)\s*(?P<percent>%?)\s*$")


@dataclass(slots=True)
class _Reader:
    """Walks over the phrases of one wording; what it met so far, and in which mood it is."""

    phrases: tuple[Phrase, ...]
    found: list[Found] = field(default_factory=list)
    pending: list[Phrase] = field(default_factory=list)
    fallback: list[Phrase] = field(default_factory=list)
    mended: dict[str, str] = field(default_factory=dict)
    rank: str = "base"
    start_rank: str = "base"
    silent: bool = False
    outer: list[tuple[str, bool]] = field(default_factory=list)
    inside_of: str = ""
    is_list: bool = False


def parse_rock(text: str, *, proportions: Mapping[str, float] | None = None) -> RockMix:
    """Return what a map's wording says is in the ground, in open lithology terms.

    Read are plain names and their slips of the pen, plurals, hyphens, a few abbreviations, open addresses and URNs,
    the names of the open geologic map schemas, the coded form `term:fraction,term:fraction`, and sentences. Words of
    amount (mainly, with, minor) rank the rocks; rocks of equal rank share equally, for the order of a list is weak
    evidence. Rocks that are named and not there ("no clay", "limestone-derived", "Clay County", "granite cobbles")
    are left out, and so is the first of two names that stand together ("granitic gravel" is gravel).

    Parameters
    ----------
    text
        The wording; empty is allowed.
    proportions
        Weight of a `dominant`, `major` and `minor` rock where the wording gives no figures; the default is .6, .3
        and .1, own judgement.

    Returns
    -------
    RockMix
        Fractions sum to 1, or to less where words that look like rocks could not be read.
    """
    amounts = dict(_default_amounts()) if proportions is None else {**_default_amounts(), **proportions}
    return _parse(text, tuple(amounts[rank] for rank in ("dominant", "major", "minor")))


def read_coded(text: str) -> tuple[tuple[str, float], ...] | None:
    """Return the parts of the coded form `rock:fraction,rock:fraction` as written, or None when it is not one.

    Percent are read as percent; figures that sum to more than 1 are taken in proportion.
    """
    parts = [CODED_PART.match(part) for part in re.split(r"[,;]", text) if part.strip()]
    if not parts or any(part is None for part in parts):
        return None
    amounts = [float(part["amount"]) / (100.0 if part["percent"] else 1.0) for part in parts if part]
    total = sum(amounts)
    scale = total if total > 1.0 + 1e-9 else 1.0
    return tuple((part["rock"], amount / scale) for part, amount in zip(parts, amounts, strict=True) if part)


def combine(parts: tuple[tuple[str, float], ...]) -> RockMix:
    """Return one mix from wordings with their shares, 0..1, as a map's own proportion table gives them."""
    shares: dict[str, float] = {}
    unread: list[str] = []
    notes: list[str] = []
    for wording, share in parts:
        key = plain_words(wording).replace(" ", "_")
        mix = RockMix(((key, 1.0),)) if key in lithology() else parse_rock(wording)
        for term, fraction in mix.terms:
            shares[term] = shares.get(term, 0.0) + fraction * share
        unread += mix.unread
        notes += [mix.note] if mix.note else []
    return mix_of(shares, unread, " ".join(dict.fromkeys(notes)))


@lru_cache(maxsize=1)
def _default_amounts() -> Mapping[str, float]:
    amounts = lexicon().amounts
    return {"dominant": amounts.dominant, "major": amounts.major, "minor": amounts.minor}


@lru_cache(maxsize=32768)
def _parse(text: str, amounts: tuple[float, float, float]) -> RockMix:
    known = lexicon()
    whole = plain_words(text)
    if (
        not whole
        or whole in known.nothing
        or whole.startswith(("http://www.opengis.net/def/nil", "urn:ogc:def:nil"))
    ):
        return RockMix()
    if term := lithology().term_of_address(text.strip()):
        return RockMix(((term, 1.0),))
    if whole in known.whole:
        return mix_of(dict(known.whole[whole]))
    if coded_parts := read_coded(text):
        return combine(coded_parts)
    if listed := _listed_names(whole, amounts):
        return combine(listed)
    if whole.replace(" ", "_") in lithology() and known.entry(whole) is None:
        return RockMix(((whole.replace(" ", "_"), 1.0),))
    reader = _read(phrases_of(text))
    note = "; ".join(f"read '{slip}' as {meant}" for slip, meant in reader.mended.items())
    return weigh(reader.found, reader.fallback, amounts, text=text, note=note)


def _listed_names(plain: str, amounts: tuple[float, float, float]) -> tuple[tuple[str, float], ...]:
    """Return the names of a list of whole wordings (`igneous, volcanic, granite; minor sedimentary, clastic`).

    Schemas' names have commas of their own, so the longest known run of parts counts as one name. Empty unless every
    part of the list is known and one of them is such a name.
    """
    known = lexicon()
    dominant, _, minor = amounts
    found: list[tuple[str, float]] = []
    named = False
    for group in plain.split("; "):
        weight = minor if group.startswith("minor ") else dominant
        parts, at = group.removeprefix("minor ").split(", "), 0
        while at < len(parts):
            runs = (", ".join(parts[at : at + size]) for size in range(LONGEST_NAME, 0, -1))
            name = next((run for run in runs if run in known.whole), "")
            entry = None if name else known.entry(" ".join(map(known.singular, parts[at].split())))
            if not name and (entry is None or not entry.rocks):
                return ()
            named = named or bool(name)
            found.append((name or parts[at], weight))
            at += name.count(", ") + 1
    total = sum(weight for _, weight in found)
    return tuple((name, weight / total) for name, weight in found) if named else ()


def _read(phrases: tuple[Phrase, ...]) -> _Reader:
    reader = _Reader(phrases, is_list=_is_list(phrases))
    for at, phrase in enumerate(phrases):
        if phrase.mark:
            _punctuate(reader, phrase, at)
        elif phrase.word in CONNECTIVES:
            continue
        else:
            _take(reader, phrase, at)
    _drop_pending(reader)
    return reader


def _punctuate(reader: _Reader, phrase: Phrase, at: int) -> None:
    if phrase.mark == ",":
        reader.silent = False
    elif phrase.mark == "(":
        reader.outer.append((reader.rank, reader.silent))
        reader.inside_of = reader.found[-1].word if at and _is_last_found(reader, at) else reader.inside_of
    elif phrase.mark == ")":
        reader.rank, reader.silent = reader.outer.pop() if reader.outer else (reader.rank, False)
        reader.inside_of = ""
    else:
        _drop_pending(reader)
        reader.silent, reader.outer, reader.inside_of = False, [], ""
        # What a second sentence names is rarely the body of the unit, unless the sentences are but a list.
        if phrase.mark == "." and reader.found and not reader.is_list:
            reader.start_rank = "minor"
        reader.rank = reader.start_rank


def _is_list(phrases: tuple[Phrase, ...]) -> bool:
    lengths, count = [], 0
    for phrase in phrases:
        if phrase.mark in {".", ";"}:
            lengths.append(count)
            count = 0
        elif not phrase.mark:
            count += 1
    lengths.append(count)
    return all(length <= LISTED_SENTENCE for length in lengths)


def _is_last_found(reader: _Reader, at: int) -> bool:
    return bool(reader.found) and reader.phrases[at - 1].word == reader.found[-1].word


def _take(reader: _Reader, phrase: Phrase, at: int) -> None:
    following = reader.phrases[at + 1] if at + 1 < len(reader.phrases) else Phrase("", ".")
    if phrase.mended:
        reader.mended[phrase.word] = phrase.mended
    if _set_mood(reader, phrase):
        return
    if reader.silent or _is_place(phrase, following) or _named_otherwise(reader, phrase, following, at):
        return
    if _names_a_formation(reader, phrase, following, at):
        return
    if phrase.may_be("term") and not (phrase.may_be("generic") and reader.pending):
        _take_term(reader, phrase, following, at)
    elif phrase.may_be("adjective"):
        reader.pending.append(phrase)
    elif phrase.may_be("generic"):
        _emit_pending(reader)
    elif phrase.entry is None and looks_like_rock(phrase.word) and not _is_name(phrase, following):
        _emit(reader, (), phrase.word)


def _set_mood(reader: _Reader, phrase: Phrase) -> bool:
    """Change the rank or fall silent when the phrase says so; say whether the phrase was of that kind."""
    if phrase.may_be("term") or phrase.may_be("adjective"):
        return False
    if phrase.may_be("absent") or phrase.may_be("elsewhere"):
        reader.silent = True
    elif phrase.may_be("dominant"):
        reader.rank = "dominant" if reader.start_rank == "base" else reader.start_rank
        reader.silent = False
    elif phrase.may_be("minor"):
        reader.rank, reader.silent = "minor", False
    elif phrase.may_be("major"):
        reader.silent = False
        if reader.found and reader.rank != "minor":
            reader.rank = "major"
    elif phrase.may_be("equal"):
        reader.silent = False
    else:
        return False
    return True


def _is_place(phrase: Phrase, following: Phrase) -> bool:
    if following.may_be("place"):
        return True
    return following.may_be("place_if_capital") and following.capital and phrase.capital


def _names_a_formation(reader: _Reader, phrase: Phrase, following: Phrase, at: int) -> bool:
    """Whether a rock word is part of a name that is not this unit's: `of the Planet Volcanics`, `Sand Wells`."""
    if not phrase.capital or at == 0 or reader.phrases[at - 1].mark in {".", ";"}:
        return False
    if following.capital and following.entry is None and not following.mark:
        return True
    start = at
    while start > max(0, at - LONGEST_NAME) and reader.phrases[start - 1].capital:
        start -= 1
    before = [earlier.word for earlier in reader.phrases[max(0, start - 2) : start]]
    return start < at and (before[-1:] == ["of"] or before == ["of", "the"])


def _is_name(phrase: Phrase, following: Phrase) -> bool:
    return phrase.capital and following.word in {
        "formation",
        "group",
        "member",
        "suite",
        "supergroup",
        "complex",
    }


def _named_otherwise(reader: _Reader, phrase: Phrase, following: Phrase, at: int) -> bool:
    """Whether a rock word here speaks of something else: `clay-rich`, `quartzite pebbles`, `not limestone`."""
    before = [earlier for earlier in reader.phrases[max(0, at - 2) : at] if earlier.word not in ARTICLES]
    if before and before[-1].may_be("absent_next"):
        return True
    if following.may_be("suffix") or following.may_be("clast") or _rest_says(reader, at, "absent_after"):
        return phrase.may_be("term") or phrase.may_be("adjective")
    if at + 2 < len(reader.phrases) and following.word in {"and", "or"}:
        other = reader.phrases[at + 2]
        after = reader.phrases[at + 3] if at + 3 < len(reader.phrases) else Phrase("", ".")
        return other.may_be("term") and after.word in CLASTS
    return False


def _take_term(reader: _Reader, phrase: Phrase, following: Phrase, at: int) -> None:
    # The first of two names is what the second is made of, unless a hyphen makes them equals (`shale-limestone`).
    if following.may_be("term") and not following.may_be("generic") and not following.hyphen:
        return
    joined = bool(reader.pending) and phrase.ends_generic and _connected(reader, at)
    if joined:
        _emit_pending(reader)
    else:
        _drop_pending(reader)
    if phrase.entry is None or (reader.inside_of and not _inside_says_more(reader, phrase.entry.rocks)):
        return
    low = following.may_be("minor_after") or _rest_says(reader, at, "minor_after")
    _emit(reader, phrase.entry.rocks, phrase.word, "minor" if low else "")


def _connected(reader: _Reader, at: int) -> bool:
    before = reader.phrases[at - 1]
    return before.mark == "," or before.word in CONNECTIVES


def _inside_says_more(reader: _Reader, rocks: Shares) -> bool:
    """Whether a rock in brackets is a kind of the umbrella before them: `sedimentary rock (shale, limestone)`."""
    outer = next((found for found in reversed(reader.found) if found.word == reader.inside_of), None)
    if outer is None:
        return True
    terms = lithology()
    return any(terms.is_broader(broad, narrow) for broad, _ in outer.rocks for narrow, _ in rocks)


def _rest_says(reader: _Reader, at: int, kind: str) -> bool:
    """Whether the clause goes on, without another rock, to say that this one is rare or absent (`chert is rare`)."""
    for phrase in reader.phrases[at + 1 : at + 6]:
        if phrase.mark or phrase.may_be("term"):
            return False
        if phrase.may_be(kind) and (" " in phrase.word or kind == "absent_after"):
            return True
    return False


def _emit(reader: _Reader, rocks: Shares, word: str, rank: str = "") -> None:
    reader.found.append(Found(rocks, rank or reader.rank, word))


def _emit_pending(reader: _Reader) -> None:
    for adjective in reader.pending:
        rocks = adjective.entry.adjective if adjective.entry else ()
        if not reader.inside_of or _inside_says_more(reader, rocks):
            _emit(reader, rocks, adjective.word)
    reader.pending = []


def _drop_pending(reader: _Reader) -> None:
    reader.fallback += reader.pending
    reader.pending = []

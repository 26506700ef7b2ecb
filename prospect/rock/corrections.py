"""A person's own reading of a map unit, `UNIT=term:fraction,term:fraction`, checked before it is kept."""

from __future__ import annotations

import math
import re

from prospect.errors import WrongUsage
from prospect.rock.lexicon import lexicon, plain_words
from prospect.rock.mix import RockMix, coded, mix_of
from prospect.rock.vocabulary import lithology

SUM_TOLERANCE = 1e-6
FORM = "UNIT=term:fraction,term:fraction, for example Kgr=granite:0.7,pegmatite:0.3"
NUMBER = re.compile(r"^\d*\.?\d+$")


def parse_correction(text: str) -> tuple[str, str]:
    """Return the unit and its rocks in coded form from `UNIT=term:fraction,term:fraction`.

    A fraction may be written as percent, and may be left out where there is but one term. Terms are open lithology
    terms, their labels, or trade words that the program reads as one.

    Raises
    ------
    WrongUsage
        When the form, a term or a fraction is wrong; an unknown term comes with the nearest known ones.
    """
    unit, equals, rocks = text.rpartition("=")
    if not equals or not unit.strip() or not rocks.strip():
        raise WrongUsage(f"'{text}' is not of the form {FORM}")
    return unit.strip(), coded(read_rocks(rocks))


def read_rocks(rocks: str) -> RockMix:
    """Return the mix of `term:fraction,term:fraction`, which may sum to less than 1: the rest is unknown.

    Raises
    ------
    WrongUsage
        When a term or a fraction is wrong.
    """
    parts = [part.strip() for part in rocks.split(",") if part.strip()]
    if not parts:
        raise WrongUsage(f"no rock is named; write {FORM}")
    shares: dict[str, float] = {}
    for part in parts:
        words, colon, amount = part.rpartition(":")
        if not colon and len(parts) > 1:
            raise WrongUsage(f"'{part}' has no fraction; write {FORM}")
        fraction = _fraction(amount, part) if colon else 1.0
        for term, inner in _terms(words if colon else part):
            shares[term] = shares.get(term, 0.0) + inner * fraction
    total = math.fsum(shares.values())
    if total > 1.0 + SUM_TOLERANCE:
        raise WrongUsage(f"the fractions of '{rocks.strip()}' sum to {total:.4g}, which is more than 1")
    return mix_of(shares)


def _terms(words: str) -> tuple[tuple[str, float], ...]:
    key = plain_words(words).replace(" ", "_")
    if key in lithology():
        return ((key, 1.0),)
    singular = " ".join(map(lexicon().singular, plain_words(words).split()))
    if words.strip() in lithology():
        return ((words.strip(), 1.0),)
    entry = lexicon().entry(singular)
    if entry is not None and entry.rocks:
        return entry.rocks
    near = lithology().nearest(words)
    hint = f"; nearest are {', '.join(near)}" if near else ""
    raise WrongUsage(f"'{words.strip()}' is not a lithology term{hint}")


def _fraction(amount: str, part: str) -> float:
    digits = amount.strip().removesuffix("%").strip()
    if not NUMBER.match(digits):
        raise WrongUsage(f"'{amount.strip()}' in '{part}' is not a fraction between 0 and 1")
    fraction = float(digits) / (100.0 if amount.strip().endswith("%") else 1.0)
    if not 0.0 < fraction <= 1.0:
        raise WrongUsage(f"{amount.strip()} in '{part}' must be more than 0 and at most 1")
    return fraction

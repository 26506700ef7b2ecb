"""A mix of open lithology terms with their shares, its coded form, and what it says to people."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RockMix:
    """What a map's wording says is in the ground.

    Attributes
    ----------
    terms
        Open lithology terms with their fraction 0..1, largest first; they sum to 1, or to less where words that
        look like rocks could not be read.
    unread
        Words that could not be read, as they stood.
    note
        What was assumed, as a sentence; empty when nothing was.
    """

    terms: tuple[tuple[str, float], ...] = ()
    unread: tuple[str, ...] = ()
    note: str = ""

    @property
    def share_read(self) -> float:
        """Sum of the fractions that were read, 0..1."""
        return math.fsum(fraction for _, fraction in self.terms)

    @property
    def main(self) -> str:
        """The term with the largest fraction; empty when nothing was read."""
        return self.terms[0][0] if self.terms else ""

    def share_of(self, terms: Iterable[str]) -> float:
        """Return the sum of the fractions of `terms`, 0..1."""
        wanted = terms if isinstance(terms, frozenset) else frozenset(terms)
        return math.fsum(fraction for term, fraction in self.terms if term in wanted)


def mix_of(shares: Mapping[str, float], unread: Iterable[str] = (), note: str = "") -> RockMix:
    """Return the mix of positive `shares`, largest first, equal ones in the order given."""
    ordered = sorted(
        ((term, share) for term, share in shares.items() if share > 0), key=lambda item: -item[1]
    )
    return RockMix(tuple(ordered), tuple(dict.fromkeys(unread)), note)


def coded(mix: RockMix) -> str:
    """Return the coded form `term:fraction,term:fraction`; empty when nothing was read."""
    return ",".join(f"{term}:{fraction:.4g}" for term, fraction in mix.terms)

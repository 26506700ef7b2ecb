"""The open lithology terms, their broader terms, and which terms lie under which."""

from __future__ import annotations

import csv
import difflib
from collections import defaultdict
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from prospect.definitions import layers_folder
from prospect.errors import DefinitionError

OPEN_PREFIXES = ("http://", "https://", "urn:")


@dataclass(frozen=True, slots=True)
class Term:
    """One lithology term: its key, its label, its broader terms, examples, and whether it is one of our own."""

    key: str
    label: str
    broader: tuple[str, ...]
    examples: tuple[str, ...] = ()
    own: bool = False


class Vocabulary:
    """Lithology terms by key, with the graph of broader and narrower terms (a term may have several parents)."""

    def __init__(self, terms: dict[str, Term]) -> None:
        self.terms = terms
        narrower: dict[str, list[str]] = defaultdict(list)
        for term in terms.values():
            for parent in term.broader:
                if parent not in terms:
                    raise DefinitionError(f"lithology term '{term.key}' has the unknown parent '{parent}'")
                narrower[parent].append(term.key)
        self._narrower = dict(narrower)
        self._levels: dict[str, tuple[tuple[str, ...], ...]] = {}
        self._under: dict[str, frozenset[str]] = {}

    def __contains__(self, key: object) -> bool:
        return key in self.terms

    def __len__(self) -> int:
        return len(self.terms)

    def label(self, key: str) -> str:
        """Return the words people read for a term."""
        return self.terms[key].label

    def broader_levels(self, key: str) -> tuple[tuple[str, ...], ...]:
        """Return the term itself, then its parents, then theirs, each term once at its nearest level."""
        if key not in self._levels:
            levels: list[tuple[str, ...]] = []
            seen = {key}
            here: tuple[str, ...] = (key,)
            while here:
                levels.append(here)
                above = dict.fromkeys(parent for term in here for parent in self.terms[term].broader)
                here = tuple(parent for parent in above if parent not in seen)
                seen.update(here)
            self._levels[key] = tuple(levels)
        return self._levels[key]

    def under(self, key: str) -> frozenset[str]:
        """Return the term with every narrower one, at any depth."""
        if key not in self._under:
            found, ahead = {key}, [key]
            while ahead:
                for child in self._narrower.get(ahead.pop(), ()):
                    if child not in found:
                        found.add(child)
                        ahead.append(child)
            self._under[key] = frozenset(found)
        return self._under[key]

    def is_broader(self, broader: str, narrower: str) -> bool:
        """Whether `broader` lies anywhere above `narrower`; a term is not broader than itself."""
        return broader != narrower and narrower in self.under(broader)

    def term_of_address(self, text: str) -> str:
        """Return the term of an open address or URN (`…/cgi/lithology/granite`), or '' when it names none."""
        if not text.lower().startswith(OPEN_PREFIXES):
            return ""
        last = text.rstrip("/").replace("#", "/").replace(":", "/").rsplit("/", 1)[-1].lower()
        return last if last in self.terms else ""

    def nearest(self, wording: str, most: int = 3) -> tuple[str, ...]:
        """Return the terms spelt most like `wording`, best first."""
        key = wording.strip().lower().replace(" ", "_").replace("-", "_")
        close = difflib.get_close_matches(key, self.terms, n=most, cutoff=0.6)
        inside = [term for term in self.terms if key and (key in term or term in key)]
        return tuple(dict.fromkeys([*close, *sorted(inside, key=len)]))[:most]


def read_terms(path: Path, *, own: bool = False) -> dict[str, Term]:
    """Return the terms of a CSV with the columns term, label, broader (`;` between several), and examples."""
    with path.open(encoding="utf-8", newline="") as lines:
        return {
            row["term"]: Term(
                row["term"],
                row["label"],
                tuple(filter(None, row["broader"].split(";"))),
                tuple(filter(None, (row.get("examples") or "").split(";"))),
                own,
            )
            for row in csv.DictReader(lines)
        }


@lru_cache(maxsize=1)
def lithology() -> Vocabulary:
    """Return the open terms together with the few of our own, each of which has an official parent."""
    folder = layers_folder() / "vocabularies"
    return Vocabulary(
        {**read_terms(folder / "lithology.csv"), **read_terms(folder / "own_terms.csv", own=True)}
    )

"""Keep-out rules from their files: what they are about, how far they reach and why."""

from __future__ import annotations

import re
from dataclasses import field
from functools import lru_cache
from pathlib import Path
from typing import Literal

from pydantic.dataclasses import dataclass

from prospect.definitions import STRICT, layers_folder, read_definition
from prospect.errors import DefinitionError
from prospect.issues import Issue
from prospect.records import Scope

Effect = Literal["stay out", "ask first", "no matter"]
RuleLayer = Literal["water", "wetlands", "roads", "keepouts", "unmapped"]


@dataclass(frozen=True, config=STRICT)
class KeepOutRule:
    """One rule.

    Attributes
    ----------
    key, title
        Name of the rule and what people call the thing.
    layer
        Layer it reads; `unmapped` for what no map shows and only somebody on the spot can clear.
    kinds
        Words and phrases looked for in a shape's `kind`, or in the `name` of a keep-out whose kind says nothing;
        one or two letters must be the whole of it. Empty = every shape of the layer that no other rule speaks for.
    distance_m
        How far the rule reaches beyond the shape, m.
    map_error_m
        Standard deviation of the mapped shape, m.
    effect
        `stay out`, `ask first`, or `no matter` for shapes that such layers hold and that restrict nothing.
    scopes
        What it holds for.
    reason
        A sentence for people.
    reference
        Law, standard or table behind it, or `own judgement` or `common practice, no source`.
    """

    key: str
    title: str
    layer: RuleLayer
    effect: Effect
    reason: str
    reference: str
    scopes: tuple[Scope, ...]
    kinds: tuple[str, ...] = ()
    distance_m: float = 0.0
    map_error_m: float = 5.0
    rank: int = field(default=50)

    def speaks_for(self, text: str) -> bool:
        """Whether one of the rule's phrases occurs, as whole words, in a shape's kind or name."""
        words = _words(text)
        return any(
            words == phrase if len(phrase) <= 2 else re.search(rf"\b{re.escape(phrase)}s?\b", words)
            for phrase in self.kinds
        )


def load_rule(path: Path) -> KeepOutRule:
    """Read one rule file; raise `DefinitionError` with every fault in it."""
    rule = read_definition(path, KeepOutRule)
    faults = [
        Issue("error", path.name, key, "", str(value), expected, "Mend the key and try again.")
        for key, value, expected, wrong in (
            ("distance_m", rule.distance_m, "zero or more metres", rule.distance_m < 0),
            ("map_error_m", rule.map_error_m, "zero or more metres", rule.map_error_m < 0),
            ("reference", rule.reference, "where the rule comes from", not rule.reference.strip()),
            ("reason", rule.reason, "a sentence", not rule.reason.strip()),
            ("scopes", "", "at least one of look, walk, auger, dig, take", not rule.scopes),
        )
        if wrong
    ]
    if faults:
        raise DefinitionError("\n".join(fault.sentence() for fault in faults), tuple(faults))
    return rule


def load_rules(folder: Path) -> tuple[KeepOutRule, ...]:
    """Read every rule in a folder, ordered by rank and key; two rules with one key are a fault."""
    rules = [load_rule(path) for path in sorted(folder.glob("*.toml"))]
    seen: set[str] = set()
    for rule in rules:
        if rule.key in seen:
            raise DefinitionError(f"{folder.name}: two keep-out rules have the key '{rule.key}'.")
        seen.add(rule.key)
    return tuple(sorted(rules, key=lambda rule: (rule.rank, rule.key)))


@lru_cache(maxsize=1)
def shipped_rules() -> tuple[KeepOutRule, ...]:
    """Return the rules that travel with the program."""
    return load_rules(layers_folder() / "constraints")


def _words(text: str) -> str:
    return re.sub(r"[\s_\-/]+", " ", text).strip().casefold()

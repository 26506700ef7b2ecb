"""Keep-out rules from their files: what they are about, how far they reach and why."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import asdict, field
from functools import lru_cache
from pathlib import Path
from typing import Literal

from pydantic.dataclasses import dataclass

from prospect.definitions import STRICT, as_definition, layers_folder, read_definition, read_toml
from prospect.errors import DefinitionError
from prospect.issues import Issue
from prospect.records import Scope

Effect = Literal["stay out", "ask first", "no matter"]
RuleLayer = Literal["water", "wetlands", "roads", "keepouts", "unmapped"]

OWN_RULES_FOLDER = "keep-out-rules"
"""Folder inside a ground that holds its own rule files."""
LAYER_TITLES: dict[str, str] = {
    "keepouts": "keep-outs",
    "water": "water",
    "wetlands": "wetlands",
    "roads": "roads",
}
"""The layers that keep-out rules read, and what people call what is in them."""


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
    lasts_days
        How long a record that the spot is clear holds when it names no end; None = until somebody sees otherwise.
    needs_ticket
        Whether such a record counts only with the number of a utility-location ticket.
    never_shared
        Whether where such a thing lies must not be told to anybody else.
    runs_along
        Whether the thing runs along a line, so that a line that closes has no inside (a pipe around a village); of
        anything else a closed line is the outline.
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
    lasts_days: int | None = None
    needs_ticket: bool = False
    never_shared: bool = False
    runs_along: bool = False

    def speaks_for(self, text: str) -> bool:
        """Whether one of the rule's phrases occurs, as whole words, in a shape's kind or name."""
        whole, pattern = _phrases(self.kinds)
        words = _words(text)
        return words in whole or (pattern is not None and pattern.search(words) is not None)


def load_rule(path: Path) -> KeepOutRule:
    """Read one rule file; raise `DefinitionError` with every fault in it."""
    rule = read_definition(path, KeepOutRule)
    _refuse(_faults(rule, path.name))
    return rule


def load_rules(folder: Path) -> tuple[KeepOutRule, ...]:
    """Read every rule in a folder, ordered by rank and key; two rules with one key are a fault."""
    rules = [load_rule(path) for path in _files(folder)]
    seen: set[str] = set()
    for rule in rules:
        if rule.key in seen:
            raise DefinitionError(f"{folder.name}: two keep-out rules have the key '{rule.key}'.")
        seen.add(rule.key)
    return _ordered(rules)


@lru_cache(maxsize=1)
def shipped_rules() -> tuple[KeepOutRule, ...]:
    """Return the rules that travel with the program."""
    return load_rules(layers_folder() / "constraints")


def ground_rules(folder: Path) -> tuple[KeepOutRule, ...]:
    """Return the shipped rules with a ground's own over them.

    Parameters
    ----------
    folder
        The ground's folder of rule files; without one, the shipped rules.

    Notes
    -----
    A file with the key of a shipped rule changes what it names and leaves the rest; any other key adds a rule.
    Every file says where its numbers come from (`reference`). A shipped rule can be softened to `ask first` but
    not silenced, and keeps its layer, its words and its need for a ticket; one that holds for all that no other
    speaks for gets no words.

    Raises
    ------
    DefinitionError
        With every fault of every file, each with its file and key path.
    """
    rules = {rule.key: rule for rule in shipped_rules()}
    own: dict[str, str] = {}
    faults: list[Issue] = []
    for path in _files(folder):
        try:
            rule = _own_rule(path, {rule.key: rule for rule in shipped_rules()})
        except DefinitionError as error:
            faults.extend(error.issues)
            continue
        if rule.key in own:
            expected = f"a key that {own[rule.key]} does not have"
            faults.append(_fault(path.name, "key", rule.key, expected))
        own[rule.key] = path.name
        rules[rule.key] = rule
    _refuse(faults)
    return _ordered(rules.values())


def _files(folder: Path) -> Iterator[Path]:
    """Yield a folder's rule files in order; some programs write the end of a name in capitals."""
    for path in sorted(folder.iterdir() if folder.is_dir() else ()):
        if path.suffix.casefold() == ".toml":
            yield path


def _own_rule(path: Path, shipped: dict[str, KeepOutRule]) -> KeepOutRule:
    content = read_toml(path)
    before = shipped.get(str(content.get("key", "")))
    if before is None:
        rule = as_definition(content, KeepOutRule, path.name)
        _refuse(_faults(rule, path.name))
        return rule
    without_reference = {key: value for key, value in asdict(before).items() if key != "reference"}
    rule = as_definition({**without_reference, **content}, KeepOutRule, path.name)
    faults = _faults(rule, path.name)
    if rule.effect == "no matter" != before.effect:
        faults.append(_fault(path.name, "effect", rule.effect, "stay out or ask first for a shipped rule"))
    if rule.layer != before.layer:
        faults.append(_fault(path.name, "layer", rule.layer, f"{before.layer}, as shipped"))
    if before.never_shared and not rule.never_shared:
        faults.append(_fault(path.name, "never_shared", "false", "true, as shipped"))
    if before.needs_ticket and not rule.needs_ticket:
        faults.append(_fault(path.name, "needs_ticket", "false", "true, as shipped"))
    if not set(map(_words, before.kinds)) <= set(map(_words, rule.kinds)):
        expected = f"at least {', '.join(before.kinds)}, as shipped"
        faults.append(_fault(path.name, "kinds", ", ".join(rule.kinds), expected))
    if rule.kinds and not before.kinds and before.layer != "unmapped":
        expected = "no words: as shipped it holds for everything that no other rule speaks for"
        faults.append(_fault(path.name, "kinds", ", ".join(rule.kinds), expected))
    if not set(before.scopes) <= set(rule.scopes):
        expected = f"at least {', '.join(before.scopes)}, as shipped"
        faults.append(_fault(path.name, "scopes", ", ".join(rule.scopes), expected))
    _refuse(faults)
    return rule


def _faults(rule: KeepOutRule, file: str) -> list[Issue]:
    unmapped = rule.layer == "unmapped"
    return [
        _fault(file, key, str(value), expected)
        for key, value, expected, wrong in (
            ("key", rule.key, "small letters, digits and _", not re.fullmatch(r"[a-z][a-z0-9_]*", rule.key)),
            ("key", rule.key, "a key that is no layer's name", rule.key in LAYER_TITLES),
            ("title", rule.title, "what people call it", not rule.title.strip()),
            ("distance_m", rule.distance_m, "zero or more metres", rule.distance_m < 0),
            ("map_error_m", rule.map_error_m, "zero or more metres", rule.map_error_m < 0),
            ("reference", rule.reference, "where the rule comes from", not rule.reference.strip()),
            ("reason", rule.reason, "a sentence", not rule.reason.strip()),
            ("scopes", "", "at least one of look, walk, auger, dig, take", not rule.scopes),
            (
                "lasts_days",
                rule.lasts_days,
                "one day or more",
                rule.lasts_days is not None and rule.lasts_days < 1,
            ),
            ("effect", rule.effect, "stay out or ask first", unmapped and rule.effect == "no matter"),
            ("kinds", "", "no words: no map shows it", unmapped and bool(rule.kinds)),
            ("kinds", ", ".join(rule.kinds), "words", not all(map(_words, rule.kinds))),
        )
        if wrong
    ]


def _fault(file: str, key: str, value: str, expected: str) -> Issue:
    return Issue("error", file, key, "", value, expected, "Mend the key and try again.")


def _refuse(faults: list[Issue]) -> None:
    if faults:
        raise DefinitionError("\n".join(fault.sentence() for fault in faults), tuple(faults))


def _ordered(rules: object) -> tuple[KeepOutRule, ...]:
    return tuple(sorted(rules, key=lambda rule: (rule.rank, rule.key)))  # type: ignore[call-overload]


@lru_cache(maxsize=512)
def _phrases(kinds: tuple[str, ...]) -> tuple[frozenset[str], re.Pattern[str] | None]:
    """Return the phrases that must be the whole text, and a pattern for those that may be part of it."""
    phrases = [_words(phrase) for phrase in kinds]
    longer = [re.escape(phrase) for phrase in phrases if len(phrase) > 2]
    pattern = re.compile(rf"\b(?:{'|'.join(longer)})s?\b") if longer else None
    return frozenset(phrase for phrase in phrases if len(phrase) <= 2), pattern


def _words(text: str) -> str:
    """Return a text as phrases are compared: one form of every accent, single blanks, no capitals."""
    return re.sub(r"[\s_\-/]+", " ", unicodedata.normalize("NFC", text).casefold()).strip()

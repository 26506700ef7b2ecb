"""The words of the letter and the slip, from their file."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from typing import Annotated

from pydantic import Field
from pydantic.dataclasses import dataclass

from prospect.definitions import STRICT, layers_folder, read_definition
from prospect.records import Scope

Words = Annotated[str, Field(min_length=1, max_length=600)]
_FILLED_IN = re.compile(r"\{(\w+)\}")


@dataclass(frozen=True, config=STRICT)
class MapWords:
    """What stands beside the small map."""

    parcel: Words
    lines: Words
    source: Words
    spot: Words
    road: Words
    water: Words
    north: Words


@dataclass(frozen=True, config=STRICT)
class RowLabels:
    """Names of the rows that say what is asked for."""

    scope: Words
    where: Words
    holes: Words
    amount: Words
    tools: Words
    machine: Words
    vehicle: Words
    days: Words
    people: Words
    clay_use: Words
    sold: Words


@dataclass(frozen=True, config=STRICT)
class LetterWords:
    """The letter; `always`, `closed_ground` (look and walk) and `digging` are its promises."""

    title: Words
    greeting: Words
    greeting_nameless: Words
    opening: Words
    enclosed: Words
    thanks: Words
    writer: Words
    owner: Words
    sign: Words
    promises: Words
    decision: Words
    always: tuple[Words, ...]
    closed_ground: tuple[Words, ...]
    digging: tuple[Words, ...]
    no: Words
    withdraw: Words
    withdraw_walk: Words
    others: Words
    scopes: Mapping[Scope, Words]
    labels: RowLabels
    values: Mapping[str, Words]


@dataclass(frozen=True, config=STRICT)
class SlipWords:
    """The slip, in the order of the page."""

    title: Words
    parcel: Words
    place: Words
    given_to: Words
    tick: Words
    look: Words
    walk: Words
    auger: Words
    dig: Words
    take: Words
    holes: Words
    holes_unit: Words
    depth: Words
    volume: Words
    amount: Words
    by_hand: Words
    machine: Words
    may_sell: Words
    yes: Words
    no: Words
    asked: Words
    start: Annotated[Words, Field(alias="from")]
    until: Words
    dates: Words
    conditions: Words
    who: Words
    alone: Words
    shared: Words
    tenant: Words
    mineral: Words
    mineral_mine: Words
    mineral_other: Words
    mineral_unknown: Words
    holds: Words
    rules: tuple[Words, ...]
    name: Words
    signature: Words
    day: Words
    other_owner: Words


@dataclass(frozen=True, config=STRICT)
class LawNote:
    """The note to have the paper looked over by somebody who knows local law."""

    letter: Words
    slip: Words


@dataclass(frozen=True, config=STRICT)
class Wording:
    """Everything in `layers/wording/request.toml`."""

    language: Annotated[str, Field(pattern=r"^[a-z]{2,3}$")]
    months: Annotated[tuple[Words, ...], Field(min_length=12, max_length=12)]
    date: Words
    date_us: Words
    joint: Annotated[Words, Field(alias="and")]
    map: MapWords
    letter: LetterWords
    slip: SlipWords
    law: LawNote


@cache
def wording() -> Wording:
    """Return the words; raise `DefinitionError` with every fault when the file has any."""
    return read_definition(layers_folder() / "wording" / "request.toml", Wording)


def filled(words: str, **values: object) -> str:
    """Return words with what stands in braces filled in, once: a value's own braces stay as they are."""
    return _FILLED_IN.sub(lambda found: str(values[found[1]]), words)

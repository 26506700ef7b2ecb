"""What maps show and what somebody saw at each spot: what forbids, what asks to ask, and what nobody has looked for."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import geopandas as gpd
import numpy as np

from prospect.land.constraints import ConstraintReadings
from prospect.land.findings import ASK_FIRST, BESIDE, STAY_OUT, Findings
from prospect.land.on_site import (
    LOOKED_AND_CLEAR,
    NOBODY_LOOKED,
    OnSite,
    Seen,
    ends_on,
    why_not_clear,
)
from prospect.land.parcels import trimmed
from prospect.land.rules import LAYER_TITLES, KeepOutRule
from prospect.records import Scope
from prospect.types import BoolArray, FloatArray

PUBLIC_WAY_M = 5.0
"""A mapped road this near counts as being on it, for looking (own judgement)."""
KINDS_NAMED = 6
"""Kinds of keep-outs named in one sentence."""
_PRIVATE = ("private", "drive", "service")


def read_hits(found: Findings, hits: ConstraintReadings, seen: OnSite) -> None:
    """Note what maps show; an on-site record settles what they ask to ask about."""
    hard = np.array([rule.effect == "stay out" for rule in hits.rules], bool)[hits.rule]
    settled = np.zeros(len(hits.spot), bool)
    for number in np.unique(hits.rule[~hard]):
        here = ~hard & (hits.rule == number)
        settled[here] = seen.clear(hits.rules[number].key)[hits.spot[here]]

    def say_settled(spot: int, hit: int) -> tuple[str, ...]:
        one = hits.hit(hit)
        return (f"{one.sentence()} Looked at and settled: {_told(seen, one.rule.key, spot)}.",)

    def say(_spot: int, hit: int) -> tuple[str, ...]:
        return (hits.hit(hit).sentence(),)

    numbers = np.arange(len(hits.spot))
    unpublished = np.array([rule.never_shared for rule in hits.rules], bool)[hits.rule]
    for secret, sort in ((True, unpublished), (False, ~unpublished)):
        for weight, which, words in (
            (STAY_OUT, sort & hard, say),
            (ASK_FIRST, sort & ~hard & ~settled, say),
            (BESIDE, sort & settled, say_settled),
        ):
            found.note(weight, hits.spot[which], words, numbers[which], secret=secret)


def read_seen(found: Findings, seen: OnSite, rules: Sequence[KeepOutRule], scope: Scope) -> None:
    """Note what somebody saw on the spot."""
    holding = [rule for rule in rules if scope in rule.scopes and rule.effect != "no matter"]
    for rule in holding:
        hard = rule.effect == "stay out"
        _note_seen(found, seen, rule.key, rule.title, rule.reason, hard=hard, secret=rule.never_shared)
    for layer, title in LAYER_TITLES.items():
        hard = any(rule.effect == "stay out" for rule in holding if rule.layer == layer)
        if any(rule.layer == layer for rule in holding):
            _note_seen(found, seen, layer, title.capitalize(), "", hard=hard, secret=layer == "keepouts")


def _note_seen(
    found: Findings, seen: OnSite, key: str, title: str, reason: str, *, hard: bool, secret: bool
) -> None:
    found.note(
        STAY_OUT if hard else ASK_FIRST,
        np.flatnonzero(seen.found(key)),
        lambda spot, _about: (f"{title}: seen here ({_told(seen, key, spot)}). {reason}".strip(),),
        secret=secret,
    )


def read_unmapped(
    found: Findings,
    seen: OnSite,
    rules: Sequence[KeepOutRule],
    scope: Scope,
    looked: Sequence[Seen],
    places: tuple[FloatArray, FloatArray],
    on: str,
) -> None:
    """Note what no map shows: clear only where somebody looked."""
    needed = [rule for rule in rules if rule.layer == "unmapped" and scope in rule.scopes]
    if not needed:
        return
    clear = np.column_stack([seen.clear(rule.key) for rule in needed])
    unseen = ~clear & ~np.column_stack([seen.found(rule.key) for rule in needed])

    def say_unseen(spot: int, _about: int) -> tuple[str, ...]:
        words = []
        for rule, lacking in zip(needed, unseen[spot], strict=True):
            if lacking:
                lapsed = _lapsed(looked, rule, places[0][spot], places[1][spot], on)
                words.append(rule.title.lower() + (f" ({lapsed})" if lapsed else ""))
        return (f"{NOBODY_LOOKED} {'; '.join(words)}. No map shows them: look, and note it.",)

    def say_clear(spot: int, number: int) -> tuple[str, ...]:
        rule = needed[number]
        record = seen.records[seen.column(rule.key)[spot]]
        end = ends_on(record, rule)
        until = f", holds until {end}" if end else ""
        return (f"{rule.title}{LOOKED_AND_CLEAR} ({_told(seen, rule.key, spot)}{until}).",)

    found.note(ASK_FIRST, np.flatnonzero(unseen.any(axis=1)), say_unseen)
    spots, numbers = np.nonzero(clear)
    found.note(BESIDE, spots, say_clear, numbers)


def read_missing(
    found: Findings,
    seen: OnSite,
    rules: Sequence[KeepOutRule],
    scope: Scope,
    mapped: Mapping[str, BoolArray],
) -> None:
    """Note where there is no map of something: nothing shown is not clear, unless somebody looked."""
    open_layers: dict[str, BoolArray] = {}
    for layer in LAYER_TITLES:
        keys = [
            rule.key
            for rule in rules
            if rule.layer == layer and scope in rule.scopes and rule.effect != "no matter"
        ]
        if keys:
            one_by_one = np.logical_and.reduce([seen.clear(key) for key in keys])
            open_layers[layer] = ~(mapped.get(layer, False) | seen.clear(layer) | one_by_one)
    if not open_layers:
        return
    lacking = np.column_stack(list(open_layers.values()))

    def say(spot: int, _about: int) -> tuple[str, ...]:
        words = [LAYER_TITLES[name] for name, open_ in zip(open_layers, lacking[spot], strict=True) if open_]
        return (
            f"No map of {', '.join(words)}, and nobody has noted having looked: nothing shown is not the same as "
            "nothing there.",
        )

    found.note(ASK_FIRST, np.flatnonzero(lacking.any(axis=1)), say)


def read_unshown(
    found: Findings,
    seen: OnSite,
    unshown: Sequence[KeepOutRule],
    scope: Scope,
    mapped: BoolArray,
) -> None:
    """Note kinds of keep-outs of which the map shows none at all: a map of graveyards does not clear a well."""
    held = [rule for rule in unshown if scope in rule.scopes and rule.effect != "no matter"]
    if not held:
        return
    clear = np.column_stack([seen.clear(rule.key) for rule in held])
    lacking = ~clear & (mapped & ~seen.clear("keepouts"))[:, None]

    def say(spot: int, _about: int) -> tuple[str, ...]:
        titles = [rule.title.lower() for rule, open_ in zip(held, lacking[spot], strict=True) if open_]
        more = f" and {len(titles) - KINDS_NAMED} kinds more" if len(titles) > KINDS_NAMED else ""
        return (
            f"The map of keep-outs shows none of these anywhere on this ground and may not be about them: "
            f"{'; '.join(titles[:KINDS_NAMED])}{more}. Ask and look, and note it as looked at for keepouts.",
        )

    found.note(ASK_FIRST, np.flatnonzero(lacking.any(axis=1)), say)


def read_public_way(found: Findings, roads: gpd.GeoDataFrame, x: FloatArray, y: FloatArray) -> None:
    """Note where a public road is mapped, from which one may look without asking."""
    points = gpd.points_from_xy(x, y)
    spot, row = roads.sindex.query(points, predicate="dwithin", distance=PUBLIC_WAY_M)
    kinds = trimmed(roads.iloc[row], "kind")
    public = np.array([not any(word in kind.casefold() for word in _PRIVATE) for kind in kinds], bool)
    found.note(
        BESIDE,
        np.unique(spot[public]) if len(spot) else spot,
        lambda _spot, _about: (
            "A road is mapped here. What can be seen from a public way may be looked at from it without asking: "
            "stay on it, and make sure that it is public.",
        ),
    )


def _told(seen: OnSite, key: str, spot: int) -> str:
    """Return what was seen, with its day and ticket."""
    record = seen.records[seen.column(key)[spot]]
    ticket = f"ticket {record.ticket.strip()}" if record.ticket.strip() else ""
    return ", ".join(part for part in (record.seen.strip() or "no note", ticket, record.seen_on[:10]) if part)


def _lapsed(looked: Sequence[Seen], rule: KeepOutRule, x: float, y: float, on: str) -> str:
    """Return why the newest record that is there does not count; empty when there is none."""
    for one in reversed(looked):
        near = math.hypot(one.easting - x, one.northing - y) <= one.record.radius_m
        if near and one.record.keepout.strip() == rule.key and one.record.clear:
            why = why_not_clear(one.record, rule, on) or "your position is too uncertain for it"
            return f"a record is there, but {why}"
    return ""

"""One answer for each spot: go, ask first, stay out or unknown, with the reasons."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from numpy.typing import ArrayLike
from scipy.special import ndtri
from shapely.geometry.base import BaseGeometry

from prospect.errors import WrongUsage
from prospect.land.cautions import CAUTIONS
from prospect.land.constraints import LIKELY_ENOUGH, ConstraintReadings, read_constraints, unshown_rules
from prospect.land.findings import (
    ASK_FIRST,
    BESIDE,
    GO,
    NOT_KNOWN,
    STAY_OUT,
    VERDICTS,
    Findings,
)
from prospect.land.on_site import (
    LOOKED_AND_CLEAR,
    NOBODY_LOOKED,
    OnSite,
    Seen,
    ends_on,
    read_on_site,
    why_not_clear,
)
from prospect.land.parcels import ParcelReadings, read_parcels, totals, trimmed
from prospect.land.permission import Intent, Standing, is_about, loosely, standing
from prospect.land.position import sigma_of_radius
from prospect.land.rules import LAYER_TITLES, KeepOutRule, shipped_rules
from prospect.land.setback import CONFIDENCES, setback
from prospect.records import LandCheck, Permission, Scope, Setback, Verdict
from prospect.types import BoolArray, FloatArray, IntArray

PUBLIC_WAY_M = 5.0
"""A mapped road this near counts as being on it, for looking (own judgement)."""
EDGE_M = 250.0
"""This near the edge that a map was cut to, things beyond it may reach in (own judgement)."""
FAR_APART_M = 1000.0
"""Pieces of one parcel this far from each other may be two parcels of one number (own judgement)."""
_PRIVATE = ("private", "drive", "service")
_LIKELIER_THAN_NOT = 0.5


@dataclass(frozen=True, slots=True)
class Spot:
    """A measured position.

    Attributes
    ----------
    easting, northing
        m, in the grid's CRS.
    gps_error_m
        68 % radius, m. The default is a phone under open sky; under trees it is two to four times as much.
    """

    easting: float
    northing: float
    gps_error_m: float = 5.0


@dataclass(frozen=True, slots=True)
class LandLayers:
    """The layers that say whose ground it is and what applies; None = the ground has no such layer.

    All in the grid's CRS, in the normal form (`parcel_id, owner, line_error_m` and `kind, name`).

    Attributes
    ----------
    covers
        The area that a layer was cut to when it was taken in; a layer without one was kept whole. Beyond it a map
        shows nothing, which is not the same as nothing there.
    """

    parcels: gpd.GeoDataFrame | None = None
    water: gpd.GeoDataFrame | None = None
    wetlands: gpd.GeoDataFrame | None = None
    roads: gpd.GeoDataFrame | None = None
    keepouts: gpd.GeoDataFrame | None = None
    covers: Mapping[str, BaseGeometry] = field(default_factory=dict)

    def restricting(self) -> dict[str, gpd.GeoDataFrame]:
        """Return the layers that keep-out rules read, by name, without those that are not there or empty."""
        frames = {name: getattr(self, name) for name in LAYER_TITLES}
        return {name: frame for name, frame in frames.items() if frame is not None and not frame.empty}

    def reaches(self, name: str, eastings: FloatArray, northings: FloatArray) -> BoolArray:
        """Whether a layer can be relied on at each of some positions: well inside the area it was cut to."""
        area = self.covers.get(name)
        if area is None:
            return np.ones(len(eastings), bool)
        return shapely.contains_xy(shapely.buffer(area, -EDGE_M), eastings, northings)


@dataclass(frozen=True, slots=True)
class Ledger:
    """What is on record: permissions, and what was seen on the spot."""

    permissions: Sequence[Permission] = ()
    looked: Sequence[Seen] = ()


@dataclass(frozen=True, slots=True)
class Terms:
    """What a check is held against.

    Attributes
    ----------
    line_error_m
        Standard deviation of the parcel lines, m, for parcels that do not bring their own.
    own_setback_m
        How far from a parcel line to stay on top of the errors, m.
    sure_inside
        Chance of standing on ground with leave that `go` needs.
    rules
        Keep-out rules; None = the shipped ones.
    """

    line_error_m: float = 10.0
    own_setback_m: float = 0.0
    sure_inside: float = 0.95
    rules: Sequence[KeepOutRule] | None = None

    def __post_init__(self) -> None:
        for name in ("line_error_m", "own_setback_m"):
            value = getattr(self, name)
            if not math.isfinite(value) or value < 0:
                raise WrongUsage(f"Invalid {name} {value}: it must be a number, zero or more.")
        if not 0.5 <= self.sure_inside <= 0.999:
            raise WrongUsage(f"Invalid sure_inside {self.sure_inside}: it must be from 0.5 to 0.999.")


@dataclass(frozen=True, slots=True)
class LandChecks:
    """The answers for many spots; reasons are put into words only when asked for.

    Attributes
    ----------
    weights
        (spots,) the heaviest finding at each spot.
    """

    weights: IntArray
    _eastings: FloatArray
    _northings: FloatArray
    _gps_error_m: FloatArray
    _found: Findings
    _parcels: ParcelReadings | None
    _terms: Terms

    def __len__(self) -> int:
        return len(self.weights)

    def __getitem__(self, number: int) -> LandCheck:
        if not 0 <= number < len(self):
            raise IndexError(number)
        hits = () if self._parcels is None else self._parcels.at(number).hits
        advice: tuple[Setback, ...] = ()
        if self._parcels is not None and hits:
            first = np.searchsorted(self._parcels.spot, number)
            line_error_m = float(self._parcels.holdings.line_error_m[self._parcels.holding[first]])
            gps_error_m, own_m = float(self._gps_error_m[number]), self._terms.own_setback_m
            advice = tuple(setback(gps_error_m, line_error_m, one, own_m=own_m) for one in CONFIDENCES)
        reasons, secrets = self._found.reasons(number), self._found.secrets(number)
        return LandCheck(self.verdict(number), reasons, hits, CAUTIONS, advice, secrets)

    def verdict(self, number: int) -> Verdict:
        """Return one spot's verdict."""
        return VERDICTS[self.weights[number]]

    def verdicts(self) -> list[Verdict]:
        """Return every spot's verdict."""
        return [VERDICTS[weight] for weight in self.weights.tolist()]

    def frame(self) -> pd.DataFrame:
        """Return `easting, northing, verdict, parcel_id, chance_inside, line_distance_m` of the likeliest parcel."""
        count = len(self)
        ids = np.full(count, "", object)
        numbers = np.full((count, 2), np.nan)
        if self._parcels is not None:
            spots, first = np.unique(self._parcels.spot, return_index=True)
            named = np.array(self._parcels.holdings.parcel_ids, object)
            ids[spots] = named[self._parcels.holding[first]]
            numbers[spots, 0] = self._parcels.chance[first]
            numbers[spots, 1] = self._parcels.line_distance_m[first]
        return pd.DataFrame(
            {
                "easting": self._eastings,
                "northing": self._northings,
                "verdict": self.verdicts(),
                "parcel_id": ids,
                "chance_inside": numbers[:, 0],
                "line_distance_m": numbers[:, 1],
            }
        )


def check_spot(
    spot: Spot,
    layers: LandLayers,
    *,
    scope: Scope | Intent = "dig",
    ledger: Ledger | None = None,
    on: str = "",
    terms: Terms | None = None,
) -> LandCheck:
    """Return whose ground a spot is, what applies there, and whether one may go; as `check_spots` for one."""
    return check_spots(
        [spot.easting],
        [spot.northing],
        layers,
        gps_error_m=spot.gps_error_m,
        scope=scope,
        ledger=ledger,
        on=on,
        terms=terms,
    )[0]


def check_spots(
    eastings: ArrayLike,
    northings: ArrayLike,
    layers: LandLayers,
    *,
    gps_error_m: ArrayLike = 5.0,
    scope: Scope | Intent = "dig",
    ledger: Ledger | None = None,
    on: str = "",
    terms: Terms | None = None,
) -> LandChecks:
    """Return whose ground each spot is, what applies there, and whether one may go.

    Parameters
    ----------
    eastings, northings
        (spots,) measured positions, m, in the grid's CRS.
    layers
        Layers in the grid's CRS.
    gps_error_m
        68 % radius, m: one for all, or one for each spot.
    scope
        What is to be done: look, walk, auger, dig or take, or an `Intent` that says more.
    ledger
        Permissions and on-site records; none by default.
    on
        ISO date of the visit, passed in; without one a dated grant does not count.
    terms
        Errors, set-backs and rules to hold it against.

    Notes
    -----
    The hardest answer wins: stay out, then unknown, then ask first. `go` needs a parcel, leave on record for what
    is to be done on that day by everybody who has a say, that leave covering ground that holds the spot with the
    chance of `sure_inside`, and every keep-out rule clear: by its map, or by a dated record of somebody who
    looked. What is not mapped is not clear. An on-site record settles what a map asks to ask about, never what a
    map says to stay out of.
    """
    x, y = np.atleast_1d(np.asarray(eastings, float)), np.atleast_1d(np.asarray(northings, float))
    errors = np.broadcast_to(np.asarray(gps_error_m, float), x.shape)
    if x.shape != y.shape or x.ndim != 1:
        raise WrongUsage("Eastings and northings must be two lists of the same length.")
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise WrongUsage("Invalid position: eastings and northings must be finite numbers.")
    if not np.isfinite(errors).all() or (errors < 0).any():
        raise WrongUsage("Invalid position error: it must be a number, zero or more.")
    intent = scope if isinstance(scope, Intent) else Intent(scope)
    ledger, terms = ledger or Ledger(), terms or Terms()
    rules = tuple(shipped_rules() if terms.rules is None else terms.rules)
    sigma = errors * sigma_of_radius(1.0)
    found = Findings(len(x))
    parcels = None
    if layers.parcels is None:
        found.note(NOT_KNOWN, np.arange(len(x)), lambda _spot, _about: (_NO_PARCELS,))
    else:
        beyond = np.flatnonzero(~layers.reaches("parcels", x, y))
        found.note(NOT_KNOWN, beyond, lambda _spot, _about: (_BEYOND_PARCELS,))
        parcels = read_parcels(layers.parcels, x, y, sigma, terms.line_error_m)
        _Leave(found, parcels, ledger, intent, on, terms).read()
    present = layers.restricting()
    seen = read_on_site(ledger.looked, rules, x, y, on, errors)
    hits = read_constraints(present, x, y, sigma, intent.scope, rules)
    _read_hits(found, hits, seen)
    _read_seen(found, seen, rules, intent.scope)
    _read_unmapped(found, seen, rules, intent.scope, ledger.looked, (x, y), on)
    mapped = {layer: layers.reaches(layer, x, y) for layer in present}
    _read_missing(found, seen, rules, intent.scope, mapped)
    if "keepouts" in mapped and layers.keepouts is not None:
        unshown = unshown_rules(layers.keepouts, rules)
        _read_unshown(found, seen, unshown, intent.scope, mapped["keepouts"])
    if intent.scope == "look" and "roads" in present:
        _read_public_way(found, present["roads"], x, y)
    return LandChecks(found.weights(), x, y, errors, found, parcels, terms)


KINDS_NAMED = 6
"""Kinds of keep-outs named in one sentence."""
_NO_PARCELS = (
    "Whose ground this is is not known: there is no parcel layer. Add one, or ask at the land registry."
)
_BEYOND_PARCELS = (
    "The parcel map was cut to a smaller area than this ground has now: add the parcels again, in place of what is "
    "there."
)
_NO_PARCEL_HERE = (
    "No parcel is drawn here: a road, water, public ground or a gap in the map. "
    "Find out whose it is before you go."
)


class _Leave:
    """Reads who has a say at each spot and whether they gave leave."""

    def __init__(
        self,
        found: Findings,
        parcels: ParcelReadings,
        ledger: Ledger,
        intent: Intent,
        on: str,
        terms: Terms,
    ) -> None:
        self.found, self.parcels, self.intent, self.on, self.terms = found, parcels, intent, on, terms
        self.limit = 1.0 - terms.sure_inside
        ids = parcels.holdings.parcel_ids
        self.codes, self.names = pd.factorize(np.array(ids, object))
        self.owners: dict[str, list[str]] = {}
        for parcel_id, owner in zip(ids, parcels.holdings.owners, strict=True):
            self.owners.setdefault(parcel_id, []).append(owner)
        self.entries: dict[str, list[Permission]] = {}
        alike: dict[str, list[str]] = {}
        for name in self.owners:
            alike.setdefault(loosely(name), []).append(name)
        for entry in ledger.permissions:
            for name in alike.get(loosely(entry.parcel_id), ()):
                if is_about(entry, name):
                    self.entries.setdefault(name, []).append(entry)
        self.standings: dict[str, Standing] = {}

    def standing(self, parcel_id: str) -> Standing:
        """Where a parcel stands; worked out once."""
        known = self.standings.get(parcel_id)
        if known is None:
            entries = self.entries.get(parcel_id, [])
            owners = self.owners[parcel_id] if parcel_id else ()
            known = standing(entries, parcel_id, self.intent, self.on, owners)
            self.standings[parcel_id] = known
        return known

    def read(self) -> None:
        """Note what parcels and ledger say."""
        spot, holding, chance = self.parcels.spot, self.parcels.holding, self.parcels.chance
        first = np.ones(len(spot), bool)
        first[1:] = np.diff(spot) != 0
        weight = self._weights()[self.codes[holding]]
        refused, once = weight == STAY_OUT, self._each_shape_once()
        together = totals(spot[refused & once], chance[refused & once], self.found.count)[spot]
        no_counts = refused & (together >= min(self.limit, LIKELY_ENOUGH))
        deciding = first | no_counts | (chance >= self.limit)
        somebody = np.zeros(self.found.count, bool)
        somebody[spot] = self.parcels.chance_unmapped[spot] < _LIKELIER_THAN_NOT
        nobody = np.flatnonzero(~somebody)
        self.found.note(NOT_KNOWN, nobody, lambda _spot, _about: (_NO_PARCEL_HERE,))
        for one in (STAY_OUT, ASK_FIRST):
            which = deciding & (weight == one)
            self.found.note(one, spot[which], self._say_standing, holding[which])
        self._note_unmapped(nobody)
        self._note_doubt(weight, deciding, once)
        granted = np.unique(spot[deciding & (weight == GO)])
        self.found.note(GO, granted, self._say_leave)
        self._note_own_setback(first)
        self._note_neighbours(deciding)
        self.found.note(BESIDE, spot[deciding], self._say_cautions, holding[deciding])

    def _weights(self) -> IntArray:
        """How much each parcel's standing weighs, by the number of its identifier."""
        weights = np.full(len(self.names), ASK_FIRST, np.intp)
        for code, name in enumerate(self.names):
            if name in self.entries and name:
                here = self.standing(name)
                weights[code] = STAY_OUT if here.keep_away else GO if here.may_go else ASK_FIRST
        return weights

    def _note_unmapped(self, nobody: IntArray) -> None:
        unmapped = self.parcels.chance_unmapped
        at = np.setdiff1d(np.flatnonzero(unmapped > self.limit), nobody)
        self.found.note(
            ASK_FIRST,
            at,
            lambda spot, _about: (
                f"With a chance of {unmapped[spot]:.0%} the spot is on ground that no parcel covers "
                "(a road, water or a gap in the map).",
            ),
        )

    def _each_shape_once(self) -> BoolArray:
        """Which hits add up: a parcel of several owners is there once for each of them, and is one piece of ground."""
        spot, holding = self.parcels.spot, self.parcels.holding
        key = np.column_stack([spot, self.codes[holding], self.parcels.holdings.shape_code[holding]])
        once = np.zeros(len(spot), bool)
        if len(spot):
            once[np.unique(key, axis=0, return_index=True)[1]] = True
        return once

    def _note_doubt(self, weight: IntArray, deciding: BoolArray, once: BoolArray) -> None:
        """Add up the chances of all ground without leave, however small each of them is."""
        spot = self.parcels.spot
        without = once & (weight != GO)
        count = self.found.count
        doubt = totals(spot[without], self.parcels.chance[without], count)
        doubt += self.parcels.chance_unnamed + self.parcels.chance_unmapped
        told = np.zeros(count, bool)
        told[spot[deciding & (weight != GO)]] = True
        allowed = np.flatnonzero((doubt > LIKELY_ENOUGH + 1e-12) & (doubt <= self.limit + 1e-12) & ~told)
        self.found.note(
            BESIDE,
            np.intersect1d(allowed, spot),
            lambda one, _about: (
                f"With a chance of {doubt[one]:.0%} the spot is on ground without leave on record; how sure you said "
                "to be allows it, its owner may not.",
            ),
        )
        at = np.flatnonzero((doubt > self.limit + 1e-12) & ~told)
        at = at[self.parcels.chance_unmapped[at] <= self.limit]
        at = np.intersect1d(at, spot)
        self.found.note(
            ASK_FIRST,
            at,
            lambda one, _about: (
                f"With a chance of {min(doubt[one], 1.0):.0%} the spot is on ground without leave on record, all "
                f"the neighbours' together; go needs it to be at most {self.limit:.2g}.",
            ),
        )

    def _note_own_setback(self, first: BoolArray) -> None:
        own_m = self.terms.own_setback_m
        if own_m <= 0:
            return
        keep = float(ndtri(self.terms.sure_inside)) * self.parcels.sigma_m + own_m
        near = first & (self.parcels.line_distance_m < keep)
        self.found.note(
            ASK_FIRST,
            self.parcels.spot[near],
            lambda _spot, hit: (
                f"A parcel line is {abs(self.parcels.line_distance_m[hit]):.0f} m away: with your own set-back of "
                f"{own_m:g} m and the errors of receiver and map, stay {keep[hit]:.0f} m from it.",
            ),
            np.flatnonzero(near),
        )

    def _note_neighbours(self, deciding: BoolArray) -> None:
        spot, holding = self.parcels.spot[deciding], self.parcels.holding[deciding]
        pairs = np.unique(np.column_stack([spot, self.codes[holding]]), axis=0)[:, 0] if len(spot) else spot
        several, count = np.unique(pairs, return_counts=True)

        def say(one: int, _about: int) -> tuple[str, ...]:
            low, high = np.searchsorted(self.parcels.spot, [one, one + 1])
            nearest = np.abs(self.parcels.line_distance_m[low:high]).min()
            return (
                f"A parcel line is {nearest:.0f} m away, too near to tell which side you are on: "
                "every parcel that may hold the spot has a say.",
            )

        self.found.note(BESIDE, several[count > 1], say)

    def _say_standing(self, _spot: int, holding: int) -> tuple[str, ...]:
        return (self.standing(self.parcels.holdings.parcel_ids[holding]).sentence,)

    def _say_leave(self, spot: int, _about: int) -> tuple[str, ...]:
        """Every leave that the spot needs, the one that ends first before the others."""
        low, high = np.searchsorted(self.parcels.spot, [spot, spot + 1])
        names = [self.parcels.holdings.parcel_ids[holding] for holding in self.parcels.holding[low:high]]
        needed = [
            self.standing(name)
            for name, chance in zip(names, self.parcels.chance[low:high], strict=True)
            if chance >= self.limit or name == names[0]
        ]
        given = [one for one in needed if one.may_go]
        return tuple(one.sentence for one in sorted(given, key=lambda one: one.until or "9999"))

    def _say_cautions(self, _spot: int, holding: int) -> tuple[str, ...]:
        name = self.parcels.holdings.parcel_ids[holding]
        apart = name and _far_apart(self.parcels.holdings.shapes[holding])
        twice = (
            f"The map draws parcel {name} in places more than {FAR_APART_M / 1000:g} km apart: two districts may use "
            "one number, so make sure that the leave is for this place."
        )
        return (*((twice,) if apart else ()), *self.standing(name).cautions)


def _far_apart(shape: BaseGeometry) -> bool:
    """Whether a piece of a parcel lies far from all its other pieces."""
    pieces = shapely.get_parts(shape)
    _, metres = shapely.STRtree(pieces).query_nearest(pieces, exclusive=True, return_distance=True)
    return bool((metres > FAR_APART_M).any())


def _read_hits(found: Findings, hits: ConstraintReadings, seen: OnSite) -> None:
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


def _read_seen(found: Findings, seen: OnSite, rules: Sequence[KeepOutRule], scope: Scope) -> None:
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


def _read_unmapped(
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


def _read_missing(
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


def _read_unshown(
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


def _read_public_way(found: Findings, roads: gpd.GeoDataFrame, x: FloatArray, y: FloatArray) -> None:
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

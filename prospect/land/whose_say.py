"""Who has a say at each spot, and whether they gave leave for what is to be done."""

from __future__ import annotations

import numpy as np
import pandas as pd
import shapely
from scipy.special import ndtri
from shapely.geometry.base import BaseGeometry

from prospect.land.constraints import LIKELY_ENOUGH
from prospect.land.findings import (
    ASK_FIRST,
    BESIDE,
    GO,
    NOT_KNOWN,
    STAY_OUT,
    Findings,
)
from prospect.land.parcels import ParcelReadings, totals
from prospect.land.permission import Intent, Standing, is_about, loosely, standing
from prospect.land.question import Ledger, Terms
from prospect.records import Permission
from prospect.types import BoolArray, IntArray

FAR_APART_M = 1000.0
"""Pieces of one parcel this far from each other may be two parcels of one number (own judgement)."""
_LIKELIER_THAN_NOT = 0.5
_NO_PARCEL_HERE = (
    "No parcel is drawn here: a road, water, public ground or a gap in the map. "
    "Find out whose it is before you go."
)


class Leave:
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

"""One answer for each spot: go, ask first, stay out or unknown, with the reasons."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from prospect.errors import WrongUsage
from prospect.land.cautions import CAUTIONS
from prospect.land.constraints import read_constraints, unshown_rules
from prospect.land.findings import NOT_KNOWN, VERDICTS, Findings
from prospect.land.on_site import read_on_site
from prospect.land.parcels import ParcelReadings, read_parcels
from prospect.land.permission import Intent
from prospect.land.position import sigma_of_radius
from prospect.land.question import LandLayers, Ledger, Spot, Terms
from prospect.land.rules import shipped_rules
from prospect.land.setback import CONFIDENCES, setback
from prospect.land.what_applies import (
    read_hits,
    read_missing,
    read_public_way,
    read_seen,
    read_unmapped,
    read_unshown,
)
from prospect.land.whose_say import Leave
from prospect.records import LandCheck, Scope, Setback, Verdict
from prospect.types import FloatArray, IntArray


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
        Leave(found, parcels, ledger, intent, on, terms).read()
    present = layers.restricting()
    seen = read_on_site(ledger.looked, rules, x, y, on, errors)
    hits = read_constraints(present, x, y, sigma, intent.scope, rules)
    read_hits(found, hits, seen)
    read_seen(found, seen, rules, intent.scope)
    read_unmapped(found, seen, rules, intent.scope, ledger.looked, (x, y), on)
    mapped = {layer: layers.reaches(layer, x, y) for layer in present}
    read_missing(found, seen, rules, intent.scope, mapped)
    if "keepouts" in mapped and layers.keepouts is not None:
        unshown = unshown_rules(layers.keepouts, rules)
        read_unshown(found, seen, unshown, intent.scope, mapped["keepouts"])
    if intent.scope == "look" and "roads" in present:
        read_public_way(found, present["roads"], x, y)
    return LandChecks(found.weights(), x, y, errors, found, parcels, terms)


_NO_PARCELS = (
    "Whose ground this is is not known: there is no parcel layer. Add one, or ask at the land registry."
)
_BEYOND_PARCELS = (
    "The parcel map was cut to a smaller area than this ground has now: add the parcels again, in place of what is "
    "there."
)

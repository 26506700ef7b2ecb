"""One answer for one spot: go, ask first, stay out or unknown, with the reasons."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import geopandas as gpd

from prospect.land.constraints import ConstraintHit, constraints_at, unmapped_rules
from prospect.land.parcels import LIKELY_ENOUGH, ParcelReading, read_parcels_at
from prospect.land.permission import Standing, standing
from prospect.land.rules import KeepOutRule
from prospect.records import LandCheck, Looked, ParcelHit, Permission, Scope, Verdict

CAUTIONS: tuple[str, ...] = (
    "Before any hole, call the free utility-location service of your area and wait for the marks; private lines "
    "are not marked.",
    "Find the well, the septic tank and its drain field before you dig; no map shows them reliably.",
    "Stop if bone, a hearth, pottery or worked stone appears: leave it, note the place and call the authority. "
    "Leave graves, mounds and old kilns alone.",
    "A trench wall can fall without warning and a cubic metre of clay weighs about 1.8 t: no one in a hole deeper "
    "than 1.2 m, never undercut a bank, fill open holes the same day.",
    "Dry clay dust holds silica: work it damp, clean up wet, wear a fitted respirator when it is dry.",
    "Map lines are not a survey: monuments and deeds decide, and a licensed surveyor where it matters.",
    "This map refers and never certifies: local law and licensed practice come first.",
)
"""What always holds, whatever the verdict."""

_ON_THE_SPOT = ("auger", "dig", "take")


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
    """

    parcels: gpd.GeoDataFrame | None = None
    water: gpd.GeoDataFrame | None = None
    wetlands: gpd.GeoDataFrame | None = None
    roads: gpd.GeoDataFrame | None = None
    keepouts: gpd.GeoDataFrame | None = None

    def restricting(self) -> dict[str, gpd.GeoDataFrame]:
        """Return the layers that keep-out rules read, by name, without those that are not there."""
        frames = {
            "water": self.water,
            "wetlands": self.wetlands,
            "roads": self.roads,
            "keepouts": self.keepouts,
        }
        return {name: frame for name, frame in frames.items() if frame is not None}


@dataclass(frozen=True, slots=True)
class Seen:
    """A record of what was seen on the spot, with its place in the grid's CRS, m."""

    record: Looked
    easting: float
    northing: float

    def holds_at(self, spot: Spot, on: str) -> bool:
        """Whether the record speaks for a spot on a day (ISO date)."""
        away = math.hypot(self.easting - spot.easting, self.northing - spot.northing)
        until = self.record.until[:10]
        in_time = not until or (bool(on) and on[:10] <= until)
        return away <= self.record.radius_m and (in_time or not self.record.clear)


@dataclass(frozen=True, slots=True)
class Ledger:
    """What is on record: permissions, and what was seen on the spot."""

    permissions: Sequence[Permission] = ()
    looked: Sequence[Seen] = ()


@dataclass(slots=True)
class _Findings:
    """Sentences that speak for each verdict, in the order they were found."""

    stay_out: list[str] = field(default_factory=list)
    unknown: list[str] = field(default_factory=list)
    ask_first: list[str] = field(default_factory=list)
    go: list[str] = field(default_factory=list)
    beside: list[str] = field(default_factory=list)

    def verdict(self) -> Verdict:
        if self.stay_out:
            return "stay out"
        if self.unknown:
            return "unknown"
        return "ask first" if self.ask_first or not self.go else "go"

    def reasons(self) -> tuple[str, ...]:
        ordered = (*self.stay_out, *self.unknown, *self.ask_first, *self.go, *self.beside)
        return tuple(dict.fromkeys(ordered))


def check_spot(
    spot: Spot,
    layers: LandLayers,
    *,
    line_error_m: float = 10.0,
    scope: Scope = "dig",
    ledger: Ledger | None = None,
    on: str = "",
    rules: Sequence[KeepOutRule] | None = None,
) -> LandCheck:
    """Return whose ground a spot is, what applies there, and whether one may go.

    Parameters
    ----------
    spot
        Measured position.
    layers
        Layers in the grid's CRS.
    line_error_m
        Standard deviation of the parcel lines, m, for parcels that do not bring their own.
    scope
        What is to be done: look, walk, auger, dig or take.
    ledger
        Permissions and on-site records; none by default.
    on
        ISO date of the visit, passed in; without one a dated grant does not count.
    rules
        Keep-out rules; the shipped ones by default.

    Notes
    -----
    The hardest answer wins: stay out, then unknown, then ask first. `go` needs leave on record for every parcel
    that may hold the spot with a chance of 5 % or more. No parcel layer means unknown, never free ground.
    """
    ledger = ledger or Ledger()
    found = _Findings()
    hits = constraints_at(layers.restricting(), spot.easting, spot.northing, spot.gps_error_m, scope, rules)
    _read_constraints(found, hits)
    parcels = _read_parcels(found, spot, layers.parcels, line_error_m, ledger, scope, on)
    _read_on_the_spot(found, spot, unmapped_rules(scope, rules), ledger, scope, on)
    _say_what_is_missing(found, layers)
    return LandCheck(found.verdict(), found.reasons(), parcels, CAUTIONS)


def _read_constraints(found: _Findings, hits: Sequence[ConstraintHit]) -> None:
    for hit in hits:
        (found.stay_out if hit.effect == "stay out" else found.ask_first).append(hit.sentence())


def _read_parcels(
    found: _Findings,
    spot: Spot,
    parcels: gpd.GeoDataFrame | None,
    line_error_m: float,
    ledger: Ledger,
    scope: Scope,
    on: str,
) -> tuple[ParcelHit, ...]:
    if parcels is None:
        found.unknown.append(
            "Whose ground this is is not known: there is no parcel layer. Add one, or ask at the land registry."
        )
        return ()
    reading = read_parcels_at(parcels, spot.easting, spot.northing, spot.gps_error_m, line_error_m)
    deciding = [hit for hit in reading.hits if hit.chance_inside >= LIKELY_ENOUGH] or list(reading.hits[:1])
    _say_who_may_own(found, reading, deciding)
    for parcel_id in dict.fromkeys(hit.parcel_id for hit in deciding):
        _read_standing(found, standing(ledger.permissions, parcel_id, scope, on))
    return reading.hits


def _say_who_may_own(found: _Findings, reading: ParcelReading, deciding: Sequence[ParcelHit]) -> None:
    if not deciding:
        found.unknown.append(
            "No parcel is drawn here: a road, water, public ground or a gap in the map. "
            "Find out whose it is before you go."
        )
        return
    if reading.chance_unmapped >= LIKELY_ENOUGH:
        found.ask_first.append(
            f"With a chance of {reading.chance_unmapped:.0%} the spot is on ground that no parcel covers "
            "(a road, water or a gap in the map)."
        )
    if len({hit.parcel_id for hit in deciding}) > 1:
        nearest = min(abs(hit.line_distance_m) for hit in deciding)
        found.beside.append(
            f"A parcel line is {nearest:.0f} m away, too near to tell which side you are on: "
            "every parcel that may hold the spot has a say."
        )
    if len({hit.owner for hit in deciding if hit.owner}) > len({hit.parcel_id for hit in deciding}):
        found.beside.append("More than one owner is on record for a parcel here: all of them have a say.")


def _read_standing(found: _Findings, word: Standing) -> None:
    if word.keep_away:
        found.stay_out.append(word.sentence)
    elif word.may_go:
        found.go.append(word.sentence)
    else:
        found.ask_first.append(word.sentence)


def _read_on_the_spot(
    found: _Findings, spot: Spot, rules: Sequence[KeepOutRule], ledger: Ledger, scope: Scope, on: str
) -> None:
    if scope not in _ON_THE_SPOT:
        return
    unseen = []
    for rule in rules:
        records = [
            seen.record
            for seen in ledger.looked
            if seen.record.keepout == rule.key and seen.holds_at(spot, on)
        ]
        if not records:
            unseen.append(rule.title.lower())
            continue
        latest = max(enumerate(records), key=lambda pair: (pair[1].seen_on, pair[0]))[1]
        if latest.clear:
            found.beside.append(f"{rule.title}: looked at and clear ({latest.seen or 'no note'}).")
        else:
            sentence = f"{rule.title}: seen here ({latest.seen or 'no note'}). {rule.reason}"
            (found.stay_out if rule.effect == "stay out" else found.ask_first).append(sentence)
    if unseen:
        found.beside.append(f"Nobody has yet looked on the spot for: {'; '.join(unseen)}. No map shows them.")


def _say_what_is_missing(found: _Findings, layers: LandLayers) -> None:
    there = layers.restricting()
    absent = [
        word
        for name, word in (
            ("keepouts", "keep-outs"),
            ("water", "water"),
            ("wetlands", "wetlands"),
            ("roads", "roads"),
        )
        if name not in there
    ]
    if absent:
        found.beside.append(f"No map of {', '.join(absent)}: nothing shown is not the same as nothing there.")

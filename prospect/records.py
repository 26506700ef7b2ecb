"""What people note down and what the parts hand each other, as frozen dataclasses."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

Usable = Literal["yes", "no", "unknown"]
Verdict = Literal["go", "ask first", "stay out", "unknown"]
Scope = Literal["look", "walk", "auger", "dig", "take"]
Purpose = Literal["any", "earthenware", "stoneware", "white", "brick", "unfired", "slip"]
YesNoUnknown = Literal["yes", "no", "unknown"]
PermissionStatus = Literal["asked", "granted", "refused", "withdrawn", "do-not-ask"]

_KEPT_BACK = "Something here is to be left alone; whoever made this map knows what."
_HEADS: dict[Verdict, str] = {
    "go": "Go",
    "ask first": "Ask first",
    "stay out": "Stay out",
    "unknown": "Not known",
}
PURPOSES: tuple[Purpose, ...] = ("any", "earthenware", "stoneware", "white", "brick", "unfired", "slip")
SCOPES: tuple[Scope, ...] = ("look", "walk", "auger", "dig", "take")
STATUSES: tuple[PermissionStatus, ...] = ("asked", "granted", "refused", "withdrawn", "do-not-ask")


@dataclass(frozen=True, slots=True)
class GroundSettings:
    """What is asked once of a ground and never invented; None means not known.

    Attributes
    ----------
    name
        What the ground is called.
    crs
        The grid's CRS; empty until an area or a layer sets it.
    cell_m
        Side of a cell, m; None = the elevation's own.
    west, south, east, north
        The area, m, in `crs`; None until known.
    area_set_by
        `you` when the area was given by hand (layers are cropped to it), else the kind of layer that set it.
    purpose
        What the clay is wanted for.
    units
        `metric` or `us` (feet, acres, °F beside).
    mean_annual_rain_mm
        Mean annual precipitation, mm; None = from the soil survey where it says so, else unknown.
    glaciated
        Whether ice covered the ground in the last cold period.
    line_error_m
        Error of mapped parcel lines (one standard deviation), m.
    own_setback_m
        How far from a parcel line to stay on top of the errors, m.
    sure_inside
        Chance of standing on ground with leave that `go` needs, 0.5..0.999.
    reach_m
        How deep the digger can reach, m (spade 0.8, auger its length, machine 3).
    channel_area_km2
        Upstream area at which a channel begins where no streams are mapped, km².
    bankfull_a, bankfull_b
        Regional bankfull curve Q = a·A^b (m³/s, km²); None = unknown.
    """

    name: str = "ground"
    crs: str = ""
    cell_m: float | None = None
    west: float | None = None
    south: float | None = None
    east: float | None = None
    north: float | None = None
    area_set_by: str = ""
    purpose: Purpose = "any"
    units: Literal["metric", "us"] = "metric"
    mean_annual_rain_mm: float | None = None
    glaciated: YesNoUnknown = "unknown"
    line_error_m: float = 10.0
    own_setback_m: float = 0.0
    sure_inside: float = 0.95
    reach_m: float = 0.8
    channel_area_km2: float = 0.25
    bankfull_a: float | None = None
    bankfull_b: float | None = None


@dataclass(frozen=True, slots=True)
class Sample:
    """A spot where somebody looked at the clay; every field but the place may be unknown (None or '').

    Attributes
    ----------
    sample_id, hole_id
        Short names, unique within the ground.
    lon, lat
        WGS 84, degrees.
    position_error_m
        68 % radius of the position, m.
    top_cm, bottom_cm
        Depth range of the sample below the surface, cm.
    date
        ISO date.
    usable
        Whether the clay was worth having.
    quality
        0..1, when judged.
    fields
        Every other column as text, by name.
    """

    sample_id: str
    lon: float
    lat: float
    hole_id: str = ""
    position_error_m: float | None = None
    top_cm: float | None = None
    bottom_cm: float | None = None
    date: str = ""
    usable: Usable = "unknown"
    quality: float | None = None
    note: str = ""
    fields: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Permission:
    """One entry of the permission ledger; an entry is added, never changed.

    Attributes
    ----------
    parcel_id
        The parcel it is about.
    status
        What happened.
    scope
        How far a grant goes; each scope includes the ones before it in look, walk, auger, dig, take. A grant
        without a scope does not count.
    person
        Who spoke, one of perhaps several owners; personal data.
    speaks_as
        What they speak as: owner, tenant, holder of the mineral right, agency …; empty when not said.
    how
        How it was said: on the spot, by telephone, in writing …
    machine
        Whether a machine may be used; without it, hand tools only.
    depth_m, volume_m3
        Limits of the grant for holes; None = none was named.
    amount_kg, may_sell
        How much clay may be taken away, and whether what is made of it may be sold.
    valid_from, valid_until
        ISO dates; empty = not limited.
    conditions
        What was asked in return or laid down.
    document
        Name of the paper kept in the ground's `documents` folder; empty when there is none.
    note
        What else was said.
    recorded
        ISO time (UTC) of the entry; given when it is saved. A person's latest entry speaks for them.
    """

    parcel_id: str
    status: PermissionStatus
    scope: Scope | None = None
    person: str = ""
    speaks_as: str = ""
    how: str = ""
    machine: bool = False
    depth_m: float | None = None
    volume_m3: float | None = None
    amount_kg: float | None = None
    may_sell: bool = False
    valid_from: str = ""
    valid_until: str = ""
    conditions: str = ""
    document: str = ""
    note: str = ""
    recorded: str = ""


@dataclass(frozen=True, slots=True)
class Looked:
    """What somebody saw on the spot about a keep-out that no map shows; an entry is added, never changed.

    Attributes
    ----------
    keepout
        Key of the rule (`utility_lines`, `well_or_septic`, …).
    lon, lat
        Where, WGS 84, degrees.
    clear
        Whether the spot is clear of it.
    seen
        What was seen, in words.
    ticket
        Number of the utility-location ticket; empty when there is none.
    seen_on, until
        ISO dates; after `until` a clear record no longer counts, empty = not limited.
    radius_m
        How far around the place it holds, m.
    person
        Who looked; personal data.
    recorded
        ISO time (UTC) of the entry; given when it is saved.
    """

    keepout: str
    lon: float
    lat: float
    clear: bool
    seen: str = ""
    ticket: str = ""
    seen_on: str = ""
    until: str = ""
    radius_m: float = 15.0
    person: str = ""
    recorded: str = ""


@dataclass(frozen=True, slots=True)
class ParcelHit:
    """One parcel that may hold a spot.

    Attributes
    ----------
    parcel_id
        The parcel's own identifier, as text.
    owner
        Personal data: local use only.
    chance_inside
        Probability that the true position lies inside, 0..1.
    line_distance_m
        Distance from the measured position to the nearest line; negative outside.
    """

    parcel_id: str
    owner: str
    chance_inside: float
    line_distance_m: float


@dataclass(frozen=True, slots=True)
class Setback:
    """How far from a mapped line to stay.

    Attributes
    ----------
    confidence
        Chance of being on the drawn side when that far from a straight line, one-sided, 0.5..1.
    error_m
        What the errors of receiver and line together ask for, m.
    own_m, legal_m
        Distances to keep for one's own reasons and by law; they come on top, m.
    """

    confidence: float
    error_m: float
    own_m: float = 0.0
    legal_m: float = 0.0

    @property
    def total_m(self) -> float:
        """How far to stay, m."""
        return self.error_m + self.own_m + self.legal_m

    def sentence(self) -> str:
        """Return the advice in words."""
        parts = [f"{self.error_m:.1f} m for the errors of receiver and map"]
        parts += [f"{self.own_m:g} m of your own"] if self.own_m else []
        parts += [f"{self.legal_m:g} m by law"] if self.legal_m else []
        how = f" ({', '.join(parts)})" if len(parts) > 1 else ""
        return f"To be {self.confidence:.0%} sure of the side, stay {self.total_m:.1f} m from the mapped line{how}."


@dataclass(frozen=True, slots=True)
class LandCheck:
    """Whose ground a spot is, what applies there, and whether one may go.

    Attributes
    ----------
    verdict
        `go`, `ask first`, `stay out` or `unknown`.
    reasons
        Sentences, the deciding one first.
    parcels
        Parcels that may hold the spot, most likely first.
    cautions
        What always holds before any hole.
    setbacks
        How far from the parcel lines to stay, the least certain first; empty when no parcel is near.
    not_for_others
        Those of the reasons that give away what must stay unpublished: a heritage site, a rare plant.
    """

    verdict: Verdict
    reasons: tuple[str, ...]
    parcels: tuple[ParcelHit, ...]
    cautions: tuple[str, ...]
    setbacks: tuple[Setback, ...] = ()
    not_for_others: tuple[str, ...] = ()

    def for_others(self) -> LandCheck:
        """Return the check fit for anybody but its maker; the verdict stays."""
        kept = (_KEPT_BACK if reason in self.not_for_others else reason for reason in self.reasons)
        return replace(self, reasons=tuple(dict.fromkeys(kept)), not_for_others=())

    @property
    def headline(self) -> str:
        """The answer in one sentence that misleads nobody who reads nothing else."""
        first = self.reasons[0] if self.reasons else "nothing is on record about this ground."
        starts = first[:1].lower() if first[1:2].islower() else first[:1]
        return f"{_HEADS[self.verdict]}: {starts}{first[1:]}"


@dataclass(frozen=True, slots=True)
class Site:
    """A piece of candidate ground.

    Attributes
    ----------
    site
        Rank, from 1.
    deposit
        Key of the leading deposit model.
    favourability, completeness
        Mean over the site, 0..1.
    area_ha
        Area, ha.
    lon, lat
        Best spot inside it, WGS 84.
    easting, northing
        The same in the grid's CRS, m.
    rock
        The map unit's name at the spot; empty when there is no rock map.
    slope_pct, height_above_drainage_m
        Mean over the site; None when unknown.
    parcels
        Identifiers of the parcels it touches.
    permission
        What the ledger says, in a word or two.
    cautions
        What to look out for there.
    """

    site: int
    deposit: str
    favourability: float
    completeness: float
    area_ha: float
    lon: float
    lat: float
    easting: float
    northing: float
    rock: str = ""
    slope_pct: float | None = None
    height_above_drainage_m: float | None = None
    parcels: tuple[str, ...] = ()
    permission: str = ""
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CriterionReading:
    """What one criterion of a deposit model says at one spot.

    Attributes
    ----------
    key, title
        The criterion's key in the model file and its plain name.
    value
        The number or word that was read, ready to show with its unit; `not known` when missing.
    membership
        0..1; None when missing.
    weight
        Weight within its parent, as the model file gives it.
    share
        Part of the score's strength that this criterion carries, 0..1 (the top level sums to 1 over the
        known ones); None when missing.
    source
        Layer and date the value came from.
    note
        What else is worth saying: a fallback, a lower bound, a range over components.
    defining
        Whether the model cannot lead without it.
    level
        0 for a criterion of the model, 1 for a part of the criterion before it, and so on.
    """

    key: str
    title: str
    value: str
    membership: float | None
    weight: float
    share: float | None
    source: str
    note: str = ""
    defining: bool = False
    level: int = 0


@dataclass(frozen=True, slots=True)
class GateReading:
    """A gate that fired at a spot: what it found and by how much it cuts the score."""

    key: str
    title: str
    factor: float
    reason: str
    source: str


@dataclass(frozen=True, slots=True)
class ModelReading:
    """One deposit model taken apart at one spot.

    Attributes
    ----------
    deposit, title
        Key and plain name of the model.
    favourability, linear
        Headline score (weighted geometric mean, after bonus and gates) and the linear one beside it, 0..1;
        None when nothing is known.
    completeness
        Share of the weights with data, 0..1.
    can_lead
        Whether the model may be the headline here.
    cannot_say
        Why it may not lead; empty when it may.
    criteria
        Every criterion in the order of the model file, parts after their parent.
    gates
        The gates that fired.
    cautions
        The model's own warnings.
    """

    deposit: str
    title: str
    favourability: float | None
    linear: float | None
    completeness: float
    can_lead: bool
    cannot_say: str
    criteria: tuple[CriterionReading, ...]
    gates: tuple[GateReading, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Fact:
    """Something known about a spot, whether or not a model uses it."""

    label: str
    value: str
    source: str


@dataclass(frozen=True, slots=True)
class GroundReport:
    """Everything known about one spot.

    Attributes
    ----------
    lon, lat, easting, northing
        WGS 84 degrees, and metres in the grid's CRS.
    sentence
        The plain reading: what kind of ground, why, what is not known.
    lead
        The model in the headline; None when nothing can be said.
    models
        Every model, the lead first, then by favourability, those that cannot say last.
    facts
        Slope, heights, map unit, soil and so on, each with its source.
    land
        Whose ground it is and what applies.
    cautions
        Everything to look out for here, each once.
    missing
        What is not known, and what that costs.
    """

    lon: float
    lat: float
    easting: float
    northing: float
    sentence: str
    lead: ModelReading | None
    models: tuple[ModelReading, ...]
    facts: tuple[Fact, ...]
    land: LandCheck
    cautions: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()

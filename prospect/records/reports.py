"""What the map says: candidate ground and one spot taken apart."""

from __future__ import annotations

from dataclasses import dataclass

from prospect.records.land import LandCheck


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

"""Whose ground it is and what was said about it: the ledgers and the answer of a land check."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

Verdict = Literal["go", "ask first", "stay out", "unknown"]
Scope = Literal["look", "walk", "auger", "dig", "take"]
PermissionStatus = Literal["asked", "granted", "refused", "withdrawn", "do-not-ask"]
SCOPES: tuple[Scope, ...] = ("look", "walk", "auger", "dig", "take")
STATUSES: tuple[PermissionStatus, ...] = ("asked", "granted", "refused", "withdrawn", "do-not-ask")

_KEPT_BACK = "Something here is to be left alone; whoever made this map knows what."
_HEADS: dict[Verdict, str] = {
    "go": "Go",
    "ask first": "Ask first",
    "stay out": "Stay out",
    "unknown": "Not known",
}


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

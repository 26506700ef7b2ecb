"""Who is looking: this machine itself, or another device on the network, and what each may see and do."""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from hmac import compare_digest

import streamlit as st

from prospect.records import GroundReport

HEADER = "x-claywalk-visitor"
"""Written by the gate on every request it lets through, after taking out whatever came in under that name."""
ANOTHER_DEVICE = "another device"
SOMEBODY = "the owner"


@dataclass(frozen=True, slots=True)
class Opening:
    """That the app is open to the local network since this start.

    Attributes
    ----------
    addresses
        What to type on the other device, `http://192.168.1.20:8501`.
    owners
        Whether those devices see owners, and people named with permissions.
    own_word
        A word made anew at every start by which the gate marks the requests of this machine itself.
    """

    addresses: tuple[str, ...]
    owners: bool = False
    own_word: str = field(default_factory=lambda: secrets.token_urlsafe(24), repr=False)


@dataclass(frozen=True, slots=True)
class Visitor:
    """What the one who is looking may see and do.

    Every device that gave the passphrase sees the ground, its sites, samples and parcel lines with exact places, for
    it stands in the field; it may log holes and samples and note what an owner answered. Files are read in, backups
    brought back, settings changed and papers opened only on the machine that holds the ground.

    Attributes
    ----------
    here
        Whether this is the machine that holds the ground.
    sees_owners
        Whether owners' names, people named with permissions and their papers are shown.
    """

    here: bool = True
    sees_owners: bool = True

    @property
    def may_import(self) -> bool:
        """Whether files may be read in, and whatever else replaces much at once be done."""
        return self.here

    @property
    def may_change_settings(self) -> bool:
        """Whether the ground's settings may be changed and its backups brought back."""
        return self.here


_opened: list[Opening] = []


def open_to_network(opening: Opening | None) -> None:
    """Keep in mind for this process how the app is open; None = to this machine only."""
    _opened[:] = [] if opening is None else [opening]


def opening() -> Opening | None:
    """Return how the app is open to the network; None = to this machine only."""
    return _opened[0] if _opened else None


def visitor_marked(mark: str | None) -> Visitor:
    """Return who is looking by the gate's mark; while the app is open, whoever bears no mark is a stranger."""
    opened = opening()
    if opened is None or compare_digest((mark or "").encode(), opened.own_word.encode()):
        return Visitor()
    return Visitor(here=False, sees_owners=opened.owners)


def who_is_looking() -> Visitor:
    """Return who looks at the screen that is being drawn."""
    return visitor_marked(None if opening() is None else st.context.headers.get(HEADER))


def fit_for(visitor: Visitor, report: GroundReport, people: Iterable[str] = ()) -> GroundReport:
    """Return a reading with what the visitor may see.

    Parameters
    ----------
    visitor
        Who is looking.
    report
        Everything known about a spot.
    people
        Names on record with permissions; together with the owners of the parcels here they are taken out of every
        sentence about the land.
    """
    if visitor.sees_owners:
        return report
    land = report.land
    names = names_at(report, people)
    kept = replace(
        land,
        parcels=tuple(replace(hit, owner="") for hit in land.parcels),
        reasons=tuple(unnamed(reason, names) for reason in land.reasons),
        cautions=tuple(unnamed(caution, names) for caution in land.cautions),
    )
    return replace(report, land=kept, cautions=tuple(unnamed(caution, names) for caution in report.cautions))


def names_at(report: GroundReport, people: Iterable[str]) -> frozenset[str]:
    """Return who may be named at a spot: people on record, and the owners of the parcels there."""
    return frozenset({*people, *(hit.owner for hit in report.land.parcels)})


def unnamed(sentence: str, names: Iterable[str]) -> str:
    """Return a sentence in which somebody stands for each of the names, longer ones first, whole words only."""
    for name in sorted({name.strip() for name in names} - {""}, key=len, reverse=True):
        sentence = re.sub(rf"(?<!\w){re.escape(name)}(?!\w)", SOMEBODY, sentence)
    return sentence

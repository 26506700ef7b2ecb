"""What the fields of an answer's form say: an entry of the permission ledger, or what is wrong with which field."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import cast, get_args

from prospect.records import SCOPES, STATUSES, Permission, PermissionStatus, Scope
from prospect.sources.numbers import read_length, read_number
from prospect.sources.sample_rows import read_date
from prospect.text import plain

STATUS_WORDS: dict[str, str] = {
    "asked": "◐ I asked",
    "granted": "● leave given",
    "refused": "■ refused",
    "withdrawn": "■ leave withdrawn",
    "do-not-ask": "■ do not ask again",
}
SCOPE_WORDS: dict[str, str] = {
    "look": "look from the public way",
    "walk": "walk on it",
    "auger": "auger",
    "dig": "dig",
    "take": "take clay away",
}
SPEAKERS: dict[str, str] = {
    "owner": "owner",
    "co-owner": "one of several owners",
    "all owners": "for all owners",
    "tenant": "tenant",
    "holder of the mineral right": "holder of the mineral right",
    "agency": "agency, for public land",
    "somebody else": "somebody else",
}
"""As the land check understands them, and how they are asked for."""
HOW: dict[str, str] = {
    "on the spot": "on the spot",
    "by telephone": "by telephone",
    "in writing": "in writing",
    "another way": "another way",
}
M3_PER_CUBIC_YARD = 0.764554857984  # cube of the international yard of 0.9144 m
KG_PER_POUND = 0.45359237  # international pound
_DEEPEST_M, _MOST_M3, _MOST_KG = 100.0, 1e6, 1e9
_GOES_AS_FAR_AS = ("asked", "granted")


@dataclass(frozen=True, slots=True)
class Measure:
    """How a limit is asked for: its unit's sign, and how much one of it is in the unit of the records."""

    sign: str
    factor: float


def measures(units: str) -> dict[str, Measure]:
    """Return how depth, volume and amount are asked for."""
    if units == "us":
        return {
            "depth": Measure("ft", 0.3048),  # international foot
            "volume": Measure("yd³", M3_PER_CUBIC_YARD),
            "amount": Measure("lb", KG_PER_POUND),
        }
    return {"depth": Measure("m", 1.0), "volume": Measure("m³", 1.0), "amount": Measure("kg", 1.0)}


@dataclass(frozen=True, slots=True)
class PermissionReading:
    """What a form says.

    Attributes
    ----------
    entry
        The entry; None while something is wrong or missing.
    wrong
        Field → what is wrong with what stands in it.
    missing
        Field → why it cannot be left empty.
    """

    entry: Permission | None
    wrong: dict[str, str] = field(default_factory=dict)
    missing: dict[str, str] = field(default_factory=dict)


def read_permission(content: Mapping[str, str], units: str) -> PermissionReading:
    """Return the entry that the form's fields say; limits and reach only where leave is asked for or given."""
    wrong: dict[str, str] = {}
    status, scope = content.get("status", ""), content.get("scope", "")
    asked = measures(units)
    depth_m = _length(content.get("depth", ""), asked["depth"], wrong)
    volume_m3 = _amount(content.get("volume", ""), "volume", asked["volume"], _MOST_M3, wrong)
    amount_kg = _amount(content.get("amount", ""), "amount", asked["amount"], _MOST_KG, wrong)
    first, last = (_day(content.get(name, ""), name, wrong) for name in ("from", "until"))
    if first and last and last < first:
        wrong["until"] = "It ends before it begins. Expected a later day."
    missing = {}
    parcel = plain(content.get("parcel", ""), 200)
    if not parcel:
        missing["parcel"] = "Which parcel is it about?"
    if status not in STATUSES:
        missing["status"] = "What happened?"
    if status == "granted" and scope not in SCOPES:
        missing["scope"] = "For what? Leave that does not say what for does not count."
    limits = ("scope", "depth", "volume", "amount", "from", "until")
    if status not in _GOES_AS_FAR_AS:
        wrong = {name: words for name, words in wrong.items() if name not in limits}
    if wrong or missing:
        return PermissionReading(None, wrong, missing)
    entry = Permission(
        parcel_id=parcel,
        status=cast(PermissionStatus, status),
        person=plain(content.get("person", ""), 200),
        speaks_as=content.get("speaks as", ""),
        how=content.get("how", ""),
        note=plain(content.get("note", ""), 4000, lines=True),
    )
    if status not in _GOES_AS_FAR_AS:
        return PermissionReading(entry)
    return PermissionReading(
        Permission(
            parcel_id=entry.parcel_id,
            status=entry.status,
            scope=cast(Scope, scope) if scope in get_args(Scope) else None,
            person=entry.person,
            speaks_as=entry.speaks_as,
            how=entry.how,
            machine=content.get("machine") == "yes",
            depth_m=depth_m,
            volume_m3=volume_m3,
            amount_kg=amount_kg,
            may_sell=content.get("may sell") == "yes",
            valid_from=first,
            valid_until=last,
            conditions=plain(content.get("conditions", ""), 4000, lines=True),
            note=entry.note,
        )
    )


def limits_in_words(entry: Permission, units: str) -> str:
    """Return the limits of an entry in a few words; empty when it has none."""
    asked = measures(units)
    named = (
        ("down to {}", entry.depth_m, asked["depth"]),
        ("up to {} dug", entry.volume_m3, asked["volume"]),
        ("up to {} taken away", entry.amount_kg, asked["amount"]),
    )
    parts = [
        form.format(f"{value / measure.factor:.4g} {measure.sign}")
        for form, value, measure in named
        if value is not None
    ]
    if entry.scope in ("dig", "take"):
        parts.append("machine allowed" if entry.machine else "hand tools only")
    if entry.scope == "take":
        parts.append("may be sold" if entry.may_sell else "not for sale")
    return ", ".join(parts)


def days_in_words(entry: Permission) -> str:
    """Return from when until when an entry holds; empty when it has no dates."""
    if entry.valid_from and entry.valid_until:
        return f"{entry.valid_from} to {entry.valid_until}"
    if entry.valid_until:
        return f"until {entry.valid_until}"
    return f"from {entry.valid_from} on" if entry.valid_from else ""


def _length(text: str, measure: Measure, wrong: dict[str, str]) -> float | None:
    if not text.strip():
        return None
    value = read_length(text, "m", default=measure.sign)
    if value is None or not 0 < value <= _DEEPEST_M:
        wrong["depth"] = (
            f"'{plain(text, 40)}' is not a depth. Expected a number such as 1.2 or 1.2 {measure.sign}."
        )
        return None
    return round(value, 4)


def _amount(text: str, name: str, measure: Measure, most: float, wrong: dict[str, str]) -> float | None:
    bare = text.strip().removesuffix(measure.sign).strip()
    if not bare:
        return None
    value = read_number(bare)
    if value is None or not 0 < value * measure.factor <= most:
        wrong[name] = (
            f"'{plain(text, 40)}' is not an amount. Expected a number such as 2.5 or 2.5 {measure.sign}."
        )
        return None
    return round(value * measure.factor, 4)


def _day(text: str, name: str, wrong: dict[str, str]) -> str:
    if not text.strip():
        return ""
    found = read_date(text.strip())
    if found is None:
        wrong[name] = f"'{plain(text, 40)}' is not a day. Expected a day such as 2026-05-31."
        return ""
    return found[0]

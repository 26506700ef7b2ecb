"""What runs out soon, and what is on record for parcels that no map shows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

import geopandas as gpd

from prospect.land.on_site import ends_on, seen_on
from prospect.land.parcels import trimmed
from prospect.land.permission import latest_answers
from prospect.land.rules import LAYER_TITLES, KeepOutRule, shipped_rules
from prospect.records import Looked, Permission


def reminders(
    permissions: Sequence[Permission],
    looked: Sequence[Looked],
    on: str,
    within_days: int = 30,
    rules: Iterable[KeepOutRule] | None = None,
) -> tuple[str, ...]:
    """Return a sentence for each grant, ticket and on-site record that has run out or soon will, the oldest first.

    Parameters
    ----------
    permissions, looked
        The ledger; only what still speaks is told of.
    on
        ISO date of today.
    within_days
        How far ahead to look.
    rules
        Keep-out rules; the shipped ones by default.
    """
    today = date.fromisoformat(on[:10])
    found = [*_grants(permissions), *_records(looked, tuple(rules or shipped_rules()))]
    said = []
    for end, what in sorted(found):
        left = (date.fromisoformat(end) - today).days
        if left < 0:
            said.append(f"{what} ran out on {end}.")
        elif left <= within_days:
            when = "today" if left == 0 else "tomorrow" if left == 1 else f"in {left} days"
            said.append(f"{what} runs out {when}, on {end}.")
    return tuple(said)


def unmatched_permissions(
    permissions: Iterable[Permission], parcels: gpd.GeoDataFrame | None
) -> tuple[str, ...]:
    """Return the parcels that have entries in the ledger and are not on the map, sorted; none without a map."""
    if parcels is None:
        return ()
    known = set(trimmed(parcels, "parcel_id"))
    return tuple(sorted({entry.parcel_id.strip() for entry in permissions} - known))


def _grants(permissions: Sequence[Permission]) -> list[tuple[str, str]]:
    by_parcel: dict[str, list[Permission]] = {}
    for entry in permissions:
        by_parcel.setdefault(entry.parcel_id.strip(), []).append(entry)
    return [
        (entry.valid_until.strip()[:10], f"Leave to {entry.scope or 'go'} on parcel {parcel_id}")
        for parcel_id, entries in by_parcel.items()
        for entry in latest_answers(entries).values()
        if entry.status == "granted" and _readable(entry.valid_until)
    ]


def _records(looked: Sequence[Looked], rules: tuple[KeepOutRule, ...]) -> list[tuple[str, str]]:
    by_key = {rule.key: rule for rule in rules}
    latest: dict[tuple[str, float, float], Looked] = {}
    for record in sorted(looked, key=seen_on):
        latest[(record.keepout.strip(), round(record.lon, 4), round(record.lat, 4))] = record
    found = []
    for (key, _, _), record in latest.items():
        rule = by_key.get(key)
        end = ends_on(record, rule)
        if record.clear and end:
            title = rule.title if rule is not None else LAYER_TITLES.get(key, key).capitalize()
            ticket = f"Utility ticket {record.ticket.strip()}" if record.ticket.strip() else ""
            what = ticket or f"The record that the spot is clear ({title.lower()})"
            found.append((end, f"{what} at {record.lon:.5f}, {record.lat:.5f}"))
    return found


def _readable(text: str) -> bool:
    try:
        date.fromisoformat(text.strip()[:10])
    except ValueError:
        return False
    return True

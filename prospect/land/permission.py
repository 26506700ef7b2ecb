"""What the permission ledger says about a parcel, for a purpose and on a day."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from prospect.records import SCOPES, Permission, Scope

StandingWord = Literal[
    "granted", "asked", "refused", "withdrawn", "do not ask", "not asked", "run out", "not for this"
]


@dataclass(frozen=True, slots=True)
class Standing:
    """Where one parcel stands: a word, a sentence, and whether one may go or must keep away."""

    word: StandingWord
    sentence: str
    may_go: bool = False
    keep_away: bool = False


def standing(ledger: Iterable[Permission], parcel_id: str, scope: Scope, on: str) -> Standing:
    """Return what the ledger says about a parcel.

    Parameters
    ----------
    ledger
        Every entry, in any order of parcels; entries of one parcel with the same `recorded` count in order.
    parcel_id
        The parcel; entries match it exactly.
    scope
        What is to be done there.
    on
        ISO date of the visit. Without one, a grant with dates cannot be held against them and does not count.
    """
    entries = [entry for entry in ledger if entry.parcel_id == parcel_id]
    if not parcel_id or not entries:
        return Standing(
            "not asked", f"No permission is on record for {_named(parcel_id)}: ask the owner first."
        )
    latest = max(enumerate(entries), key=lambda pair: (pair[1].recorded, pair[0]))[1]
    name = _named(parcel_id)
    if latest.status == "asked":
        return Standing("asked", f"The owner of {name} was asked; there is no answer on record yet.")
    if latest.status == "refused":
        return Standing("refused", f"Permission for {name} was refused.", keep_away=True)
    if latest.status == "withdrawn":
        return Standing("withdrawn", f"Permission for {name} was withdrawn.", keep_away=True)
    if latest.status == "do-not-ask":
        return Standing("do not ask", f"The owner of {name} does not want to be asked.", keep_away=True)
    return _grant(latest, name, scope, on)


def permission_word(
    ledger: Sequence[Permission], parcel_ids: Sequence[str], scope: Scope, on: str
) -> StandingWord:
    """Return one word for several parcels together: the standing that decides."""
    words = {standing(ledger, parcel_id, scope, on).word for parcel_id in parcel_ids} or {"not asked"}
    order: tuple[StandingWord, ...] = (
        "do not ask",
        "refused",
        "withdrawn",
        "not asked",
        "run out",
        "not for this",
        "asked",
    )
    return next((word for word in order if word in words), "granted")


def _grant(entry: Permission, name: str, scope: Scope, on: str) -> Standing:
    if entry.scope is None:
        return Standing("not for this", f"The permission for {name} does not say what for: ask again.")
    if SCOPES.index(entry.scope) < SCOPES.index(scope):
        return Standing(
            "not for this", f"The permission for {name} is to {entry.scope}, not to {scope}: ask for it."
        )
    if (entry.valid_from or entry.valid_until) and not on:
        return Standing("run out", f"The permission for {name} has dates and no date of the visit was given.")
    day = on[:10]
    if entry.valid_until and day > entry.valid_until[:10]:
        return Standing("run out", f"The permission for {name} ended on {entry.valid_until}: ask again.")
    if entry.valid_from and day < entry.valid_from[:10]:
        return Standing("run out", f"The permission for {name} begins on {entry.valid_from}.")
    return Standing("granted", f"{_capital(name)}: leave to {entry.scope} is on record.", may_go=True)


def _named(parcel_id: str) -> str:
    return f"parcel {parcel_id}" if parcel_id else "a parcel without identifier"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]

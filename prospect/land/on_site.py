"""What people saw on the spot about keep-outs that no map shows, and where and how long it holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import shapely

from prospect.land.rules import LAYER_TITLES, KeepOutRule
from prospect.records import Looked
from prospect.types import FloatArray, IntArray

FARTHEST_M = 100.0
"""A record holds no farther than this from where somebody stood, whatever it says (own judgement)."""
FOUND_M = 15.0
"""What was found keeps people off at least this far, whatever the record says (own judgement)."""
UNSEEN = -1
NOBODY_LOOKED = "Nobody has yet looked on the spot for:"
"""How the sentence begins that names what is still to be looked for."""
LOOKED_AND_CLEAR = ": looked at and clear"
"""What follows the title of a rule in the sentence about a record that clears it."""


@dataclass(frozen=True, slots=True)
class Seen:
    """A record of what was seen on the spot, with its place in the grid's CRS, m."""

    record: Looked
    easting: float
    northing: float


@dataclass(frozen=True, slots=True)
class OnSite:
    """Which record speaks at each of many positions.

    Attributes
    ----------
    keys
        Keys of the rules, then the names of the layers: a record may speak for a rule or for a whole layer.
    records
        The records.
    speaks
        (positions, keys) number of the record that speaks there; `UNSEEN` where none does.
    """

    keys: tuple[str, ...]
    records: tuple[Looked, ...]
    speaks: IntArray

    def column(self, key: str) -> IntArray:
        """Return the record that speaks for one rule or layer at every position."""
        return self.speaks[:, self.keys.index(key)]

    def clear(self, key: str) -> np.ndarray:
        """Whether the record that speaks says that the position is clear."""
        return self._that_say(key, clear=True)

    def found(self, key: str) -> np.ndarray:
        """Whether the record that speaks says that something is there."""
        return self._that_say(key, clear=False)

    def _that_say(self, key: str, *, clear: bool) -> np.ndarray:
        numbers = self.column(key)
        said = np.array([record.clear == clear for record in self.records] + [False], bool)
        return said[numbers]


def read_on_site(
    looked: Sequence[Seen],
    rules: Sequence[KeepOutRule],
    eastings: FloatArray,
    northings: FloatArray,
    on: str,
    gps_error_m: FloatArray | float = 0.0,
) -> OnSite:
    """Return which on-site record speaks at each position on a day.

    Parameters
    ----------
    looked
        Every record, oldest first where their dates are equal.
    rules
        The rules in force; a record for anything else is passed over.
    eastings, northings
        (positions,) m, the records' CRS.
    on
        ISO date of the visit.
    gps_error_m
        68 % radius of each position, m.

    Notes
    -----
    The latest record within its radius speaks. One that says clear counts only when it is dated, not after the
    visit, not past its end, for utility lines with a ticket, and where the position is known to within its radius.
    What was found there reaches as much farther as the position is uncertain, and stays found until somebody sees
    otherwise.
    """
    keys = (*(rule.key for rule in rules), *LAYER_TITLES)
    place = {key: number for number, key in enumerate(keys)}
    by_key = {rule.key: rule for rule in rules}
    speaks = np.full((len(eastings), len(keys)), UNSEEN, np.intp)
    records = tuple(seen.record for seen in looked)
    counting = [
        number
        for number, record in enumerate(records)
        if record.keepout.strip() in place
        and (not record.clear or why_not_clear(record, by_key.get(record.keepout.strip()), on) == "")
    ]
    if counting:
        counting.sort(key=lambda number: (seen_on(records[number]), number))
        points = shapely.points(eastings, northings)
        spots = shapely.STRtree(points)
        at = shapely.points([(looked[number].easting, looked[number].northing) for number in counting])
        radius = np.array([min(max(records[number].radius_m, 0.0), FARTHEST_M) for number in counting])
        found = np.array([not records[number].clear for number in counting], bool)
        radius[found] = np.maximum(np.nan_to_num(radius[found]), FOUND_M)
        error = np.broadcast_to(np.asarray(gps_error_m, float), eastings.shape)
        which, spot = spots.query(at, predicate="dwithin", distance=radius + error.max(initial=0.0))
        away = shapely.distance(at[which], points[spot])
        sure = (away <= radius[which]) & (error[spot] <= radius[which])
        holds = np.where(found[which], away <= radius[which] + error[spot], sure)
        which, spot = which[holds], spot[holds]
        order = np.argsort(which, kind="stable")
        column = np.array([place[records[number].keepout.strip()] for number in counting], np.intp)
        for one, here in zip(which[order].tolist(), spot[order].tolist(), strict=True):
            speaks[here, column[one]] = counting[one]
    return OnSite(keys, records, speaks)


def why_not_clear(record: Looked, rule: KeepOutRule | None, on: str) -> str:
    """Return why a record that says clear does not count on a day; empty when it does."""
    day, end = seen_on(record), ends_on(record, rule)
    if not day:
        return "it is not dated"
    if rule is not None and rule.needs_ticket and not names_ticket(record.ticket):
        return "it has no ticket of the utility-location service"
    if record.until.strip() and not _day(record.until):
        return "its end cannot be read"
    if end and not _day(on):
        return "no date of the visit was given"
    if end and on[:10] > end:
        return f"it ended on {end}"
    if _day(on) and on[:10] < day:
        return f"it was made later, on {day}"
    return ""


def names_ticket(text: str) -> bool:
    """Whether a text can be the number of a ticket: 'none', 'pending' and '-' are not."""
    return any(letter.isdigit() for letter in text)


def seen_on(record: Looked) -> str:
    """Return the ISO date of a record; empty when it has none."""
    return _day(record.seen_on) or _day(record.recorded)


def ends_on(record: Looked, rule: KeepOutRule | None) -> str:
    """Return the ISO date until which a clear record holds; empty when it holds until somebody sees otherwise."""
    end, day = _day(record.until), seen_on(record)
    if rule is None or rule.lasts_days is None or not day or (end and not rule.needs_ticket):
        return end
    usual = (date.fromisoformat(day) + timedelta(days=rule.lasts_days)).isoformat()
    # Marks on the ground fade, whatever end somebody typed: a ticket holds no longer than its rule says.
    return min(end, usual) if end else usual


def _day(text: str) -> str:
    try:
        return date.fromisoformat(text.strip()[:10]).isoformat()
    except ValueError:
        return ""

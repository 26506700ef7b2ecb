"""Says which hole each photo belongs to, how sure that is and why: by place, by time between photos, by day."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

import numpy as np
import numpy.typing as npt

from prospect.records import Hole
from prospect.sources.photos import Photo
from prospect.text import plain

Sureness = Literal["sure", "likely", "guess", "none"]
By = Literal["place", "time", "day", ""]

USUAL_ERROR_M = 10.0
"""68 % radius of a position that states none, m (own judgement: a phone below trees)."""
STAND_OFF_M = 3.0
"""How far from a hole somebody stands to photograph it, m (own judgement)."""
VAGUE_M = 50.0
"""A common error beyond which a place alone is no more than a guess, m (own judgement)."""
DAY_ODDS = {True: 1.0, None: 0.3, False: 0.03}
"""Weight of a hole in the odds when the days agree, when one is not known, and when they differ (own judgement)."""
LIKELY_SHARE = 0.8
"""Share of the odds that the best of several holes must have to be likely (own judgement)."""
NEAR_S = 15 * 60.0
"""Longest time for which one photo lends its place to another, s (own judgement: the look at one hole)."""
CLOSE_S = 5 * 60.0
"""Time within which nobody is far from where they were, s (own judgement)."""
_RIVAL_TIMES, _RIVAL_S = 3.0, 60.0
"""How many times, and how many seconds, further another hole must be in time to be no rival (own judgement)."""
# Of a round normal distribution: 1 - exp(-r²/2s²) = 0.68 and 0.95, solved for r / s.
_R68 = math.sqrt(-2.0 * math.log(1.0 - 0.68))
_REACH = math.sqrt(-2.0 * math.log(1.0 - 0.95)) / _R68
_EARTH_M = 6_371_008.8
"""Mean radius, m (IUGG, R1 of GRS 80)."""
_CLOCK = re.compile(r"(?:(\d{4}-\d\d-\d\d)[T ])?(\d\d):(\d\d)(?::(\d\d))?(?:\.\d+)?\s*(Z|[+-]\d\d:\d\d)?")
_TIME_FIELDS = ("time", "taken")
_NAMED = 6

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Match:
    """Where one photo belongs.

    Attributes
    ----------
    photo
        The photo as it was read, with its direction.
    hole_id
        The hole; empty exactly when `sure` is `none`.
    sure
        `sure` and `likely` may be taken as they are, a `guess` needs a look.
    why
        In words, for a person.
    by
        What told: its `place`, the `time` between photos, the `day`; empty when nothing did.
    lon, lat
        WGS 84, degrees: its own place, else the one that it was lent; None when neither is known.
    distance_m
        From its own place to that hole, or to the nearest one when it has none, m.
    gap_s
        To the photo or hole that lent it a place, s.
    others
        Holes that it could also be, the likeliest first.
    """

    photo: Photo
    hole_id: str
    sure: Sureness
    why: str
    by: By = ""
    lon: float | None = None
    lat: float | None = None
    distance_m: float | None = None
    gap_s: float | None = None
    others: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Lender:
    """A photo with a position, or a hole with a time, that may tell where somebody was."""

    title: str
    moment: tuple[float, float]
    lon: float
    lat: float
    hole_id: str
    sure: Sureness


@dataclass(frozen=True, slots=True)
class _Places:
    """The holes in the order of their names, with their places as arrays (holes,), degrees and m."""

    holes: tuple[Hole, ...]
    lon: Floats
    lat: Floats
    error_m: Floats


def match_photos(photos: Iterable[Photo], holes: Iterable[Hole]) -> tuple[Match, ...]:
    """Say where each photo belongs.

    A photo with a position goes by place: within the errors of both, and by the day where both say it. One without
    goes by time: the nearest photo that has a position, or hole that has a time, within `NEAR_S`, lends its place.
    Where there is none, the holes of that day are what is left.

    Parameters
    ----------
    photos
        With or without a position, with or without a time.
    holes
        With their dates; a time of day is taken from the field `time` or `taken`.

    Returns
    -------
    tuple of Match
        One for each photo, in the order given; what each says does not depend on the order of either.
    """
    photos = tuple(photos)
    places = _placed(holes)
    found: dict[int, Match] = {
        number: _by_place(photo, places) for number, photo in enumerate(photos) if photo.lon is not None
    }
    lenders, moments = _lenders(found.values(), places.holes)
    for number, photo in enumerate(photos):
        if number not in found:
            found[number] = _orphan(photo, lenders, moments, places.holes)
    return tuple(found[number] for number in range(len(photos)))


def distances_m(lon: float, lat: float, lons: Floats, lats: Floats) -> Floats:
    """Return the great-circle distances from one place to others, degrees to m.

    Notes
    -----
    Haversine formula (Sinnott, "Virtues of the haversine", 1984); on a sphere, so within 0.6 % of the ellipsoid.
    """
    up, across = np.radians(lats - lat), np.radians(lons - lon)
    half = np.sin(up / 2) ** 2 + np.cos(np.radians(lat)) * np.cos(np.radians(lats)) * np.sin(across / 2) ** 2
    return np.asarray(2 * _EARTH_M * np.arcsin(np.sqrt(np.clip(half, 0.0, 1.0))), dtype=np.float64)


def _placed(holes: Iterable[Hole]) -> _Places:
    ordered = tuple(sorted(holes, key=lambda hole: (hole.hole_id, hole.lon, hole.lat)))
    error = [USUAL_ERROR_M if hole.position_error_m is None else hole.position_error_m for hole in ordered]
    return _Places(
        ordered,
        np.array([hole.lon for hole in ordered], dtype=np.float64),
        np.array([hole.lat for hole in ordered], dtype=np.float64),
        np.array(error, dtype=np.float64),
    )


def _by_place(photo: Photo, places: _Places) -> Match:
    assert photo.lon is not None
    assert photo.lat is not None
    nothing = Match(photo, "", "none", "No hole is on record yet.", "", photo.lon, photo.lat)
    if not places.holes:
        return nothing
    own = USUAL_ERROR_M if photo.position_error_m is None else photo.position_error_m
    apart = distances_m(photo.lon, photo.lat, places.lon, places.lat)
    both = np.hypot(np.hypot(places.error_m, own), STAND_OFF_M)
    near = np.flatnonzero(apart <= _REACH * both)
    if not near.size:
        at = int(np.argmin(apart))
        why = (
            f"The nearest hole, {_named(places.holes[at])}, is {_metres(apart[at])} off, beyond the errors of "
            f"both (± {_metres(both[at])} together)."
        )
        return replace(nothing, why=why, distance_m=float(apart[at]))
    agrees = {int(at): _same_day(photo, places.holes[at].date) for at in near}
    spread = both[near] / _R68
    by_place = np.exp(-0.5 * (apart[near] / spread) ** 2) / spread**2
    odds = {at: float(odd) * DAY_ODDS[agrees[at]] for at, odd in zip(agrees, by_place, strict=True)}
    ordered = sorted(agrees, key=lambda at: (-odds[at], places.holes[at].hole_id))
    best = ordered[0]
    share = odds[best] / sum(odds[at] for at in ordered)
    hole, within = places.holes[best], float(both[best])
    parts = [f"{_metres(apart[best])} from hole {_named(hole)}, {_within(float(apart[best]), within)}"]
    parts.append(_day_words(photo, hole, agrees[best]))
    others = tuple(places.holes[at].hole_id for at in ordered[1:])
    sure: Sureness = "sure"
    if agrees[best] is None or float(apart[best]) > within or len(ordered) > 1:
        sure = "likely"
    if agrees[best] is False or share < LIKELY_SHARE or within > VAGUE_M:
        sure = "guess"
    if others:
        parts.append(f"near enough too: {_several(others)}")
    if within > VAGUE_M:
        parts.append("the positions are too vague to tell more")
    why = f"{'; '.join(part for part in parts if part)}."
    return Match(
        photo, hole.hole_id, sure, why, "place", photo.lon, photo.lat, float(apart[best]), None, others
    )


def _within(apart_m: float, both_m: float) -> str:
    words = "within the errors of both" if apart_m <= both_m else "just beyond the usual errors of both"
    return f"{words} (± {_metres(both_m)} together)"


def _day_words(photo: Photo, hole: Hole, agrees: bool | None) -> str:
    if agrees is None:
        return "the hole has no date" if photo.taken else "the photo has no date"
    return "of the same day" if agrees else f"taken on another day ({photo.taken[:10]}, hole {hole.date})"


def _same_day(photo: Photo, date: str) -> bool | None:
    """Whether a photo is of a day; a few minutes past midnight still belong to the day before. None = not known."""
    if not photo.taken or not date:
        return None
    if photo.taken[:10] == date:
        return True
    moment, midnight = _moment(photo.taken, ""), _moment(f"{date}T00:00:00", "")
    if moment is None or midnight is None:
        return False
    return -NEAR_S <= moment[0] - midnight[0] < 86_400 + NEAR_S


def _lenders(placed: Iterable[Match], holes: Sequence[Hole]) -> tuple[tuple[_Lender, ...], Floats]:
    """Return who may lend a place, in the order of time, with their moments (lenders, 2): own clock and UTC, s."""
    found = []
    for match in placed:
        moment = _moment(match.photo.taken, match.photo.offset)
        if moment is not None and match.lon is not None and match.lat is not None:
            title = f"photo {_short(match.photo.name)}"
            found.append(
                (match.photo.digest, _Lender(title, moment, match.lon, match.lat, match.hole_id, match.sure))
            )
    for hole in holes:
        moment = _hole_moment(hole)
        if moment is not None:
            title = f"hole {_named(hole)}"
            found.append(("", _Lender(title, moment, hole.lon, hole.lat, hole.hole_id, "sure")))
    found.sort(key=lambda one: (one[1].moment[0], one[0], one[1].title, one[1].lon, one[1].lat))
    lenders = tuple(lender for _, lender in found)
    return lenders, np.array([lender.moment for lender in lenders], dtype=np.float64).reshape(-1, 2)


def _orphan(photo: Photo, lenders: Sequence[_Lender], moments: Floats, holes: Sequence[Hole]) -> Match:
    if not photo.taken:
        return Match(photo, "", "none", "It says neither where nor when it was taken.")
    moment = _moment(photo.taken, photo.offset)
    if moment is not None and lenders:
        timed = _by_time(photo, moment, lenders, moments)
        if timed is not None:
            return timed
    return _by_day(photo, holes, told_apart=moment is not None and _any_that_day(photo, lenders))


def _by_time(
    photo: Photo, moment: tuple[float, float], lenders: Sequence[_Lender], moments: Floats
) -> Match | None:
    """Return what the nearest in time tells; None when nobody is near in time."""
    own, utc = moments[:, 0] - moment[0], moments[:, 1] - moment[1]
    # Where one of the two does not say its time zone, both clocks are taken to show the same one.
    gaps = np.where(np.isnan(utc), own, utc)
    size = np.abs(gaps)
    at = int(np.argmin(size))
    if size[at] > NEAR_S:
        return None
    nearest, gap = lenders[at], float(size[at])
    near = [int(other) for other in np.flatnonzero(size <= NEAR_S)]
    away = [other for other in near if lenders[other].hole_id != nearest.hole_id]
    away.sort(key=lambda other: (size[other], lenders[other].hole_id))
    others = tuple(dict.fromkeys(lenders[other].hole_id for other in away if lenders[other].hole_id))
    when = f"{_minutes(gap)} {'after' if gaps[at] < 0 else 'before'}" if gap else "at the same time as"
    when = f"{when} {nearest.title}"
    lent = Match(photo, "", "none", "", "time", nearest.lon, nearest.lat, None, gap, others)
    if not nearest.hole_id:
        return replace(lent, why=f"Taken {when}, which lies by no hole; its place is lent.")
    rival = min((float(size[other]) for other in away), default=math.inf)
    between = _between(gaps, near, lenders, nearest.hole_id)
    alone = gap <= CLOSE_S and (rival > CLOSE_S or (rival >= _RIVAL_TIMES * gap and rival >= gap + _RIVAL_S))
    sure: Sureness = "likely" if nearest.sure != "guess" and (alone or between) else "guess"
    itself = nearest.title == f"hole {_short(nearest.hole_id)}"
    parts = [f"Taken {when}" if itself else f"Taken {when}, which is at hole {_short(nearest.hole_id)}"]
    if between:
        parts.append("others before and after it are at the same hole")
    if nearest.sure == "guess":
        parts.append("that one is a guess itself")
    if others:
        parts.append(f"not long from it others are at {_several(others)}")
    elif away:
        parts.append("not long from it others lie by no hole")
    return replace(lent, hole_id=nearest.hole_id, sure=sure, why=f"{'; '.join(parts)}.")


def _between(gaps: Floats, near: Sequence[int], lenders: Sequence[_Lender], hole_id: str) -> bool:
    """Whether everybody just before and just after was at one hole."""
    before = [gaps[at] for at in near if gaps[at] < 0]
    after = [gaps[at] for at in near if gaps[at] > 0]
    if not before or not after:
        return False
    beside = [lenders[at] for at in near if max(before) <= gaps[at] <= min(after)]
    return all(lender.hole_id == hole_id and lender.sure != "guess" for lender in beside)


def _by_day(photo: Photo, holes: Sequence[Hole], *, told_apart: bool) -> Match:
    day = photo.taken[:10]
    of_day = [hole for hole in holes if hole.date == day]
    others = tuple(hole.hole_id for hole in of_day)
    if not of_day:
        return Match(photo, "", "none", f"Nothing near it in time has a place, and no hole is of {day}.")
    if len(of_day) > 1:
        why = f"It has no position, and {len(of_day)} holes are of that day: {_several(others)}."
        return Match(photo, "", "none", why, "day", others=others)
    hole = of_day[0]
    why = f"Hole {_named(hole)} is the only one of {day}"
    if told_apart:
        why += "; nothing that has a place was taken near it in time, though others were that day"
    return Match(
        photo, hole.hole_id, "guess" if told_apart else "likely", f"{why}.", "day", hole.lon, hole.lat
    )


def _any_that_day(photo: Photo, lenders: Sequence[_Lender]) -> bool:
    noon = _seconds(datetime.fromisoformat(f"{photo.taken[:10]}T12:00:00"))
    return any(abs(lender.moment[0] - noon) <= 43_200 for lender in lenders)


def _moment(taken: str, offset: str) -> tuple[float, float] | None:
    """Return a moment of the own clock and in UTC, s, NaN where the time zone is not known; None without a clock."""
    moment = _clock_of(taken)
    if moment is None:
        return None
    own = _seconds(moment)
    if offset == "Z":
        return own, own
    if not offset:
        return own, math.nan
    ahead = 60.0 * (60 * int(offset[1:3]) + int(offset[4:6]))
    return own, own - math.copysign(ahead, -1.0 if offset[0] == "-" else 1.0)


def _hole_moment(hole: Hole) -> tuple[float, float] | None:
    for name in _TIME_FIELDS:
        found = _CLOCK.fullmatch(hole.fields.get(name, "").strip())
        if found is None:
            continue
        day, hour, minute, second, offset = found.groups()
        return _moment(f"{day or hole.date}T{hour}:{minute}:{second or '00'}", offset or "")
    return None


def _clock_of(taken: str) -> datetime | None:
    try:
        return datetime.fromisoformat(taken) if "T" in taken else None
    except ValueError:
        return None


def _seconds(moment: datetime) -> float:
    return (moment - datetime(1970, 1, 1)).total_seconds()


def _minutes(gap_s: float) -> str:
    if gap_s < 60:
        return f"{gap_s:.0f} s"
    return f"{gap_s / 60:.0f} min"


def _metres(value: float) -> str:
    return f"{value / 1000:,.1f} km" if value >= 1000 else f"{value:.0f} m"


def _named(hole: Hole) -> str:
    return _short(hole.hole_id)


def _short(name: str) -> str:
    return plain(name, 60)


def _several(names: Sequence[str]) -> str:
    shown = ", ".join(_short(name) for name in names[:_NAMED])
    return shown if len(names) <= _NAMED else f"{shown} and {len(names) - _NAMED} more"

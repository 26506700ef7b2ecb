"""What somebody saw on the spot about keep-outs that no map shows: how each stands here, and what a form says."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from prospect.land import KeepOutRule
from prospect.records import Looked
from prospect.sources.numbers import read_length
from prospect.sources.sample_rows import date_fault, read_date
from prospect.text import plain
from prospect.ui.reading import words

ANSWERS: dict[str, str] = {"clear": "○ nothing of it here", "seen": "■ it is here"}
_SHAPES = {"clear": ("●", "reed"), "seen": ("■", "iron"), "over": ("◔", "glaze"), "open": ("○", "faded")}
_FARTHEST_M = 100.0
_NEEDS_TICKET = "utility_lines"


@dataclass(frozen=True, slots=True)
class OnSpot:
    """How one keep-out stands at one spot.

    Attributes
    ----------
    rule
        What it is about.
    state
        `clear`, `seen`, `over` (it was clear once) or `open` (nobody has looked).
    told
        The same in words.
    """

    rule: KeepOutRule
    state: str
    told: str


@dataclass(frozen=True, slots=True)
class LookedReading:
    """What a form says: the record, None while something is wrong or missing, and both by field."""

    entry: Looked | None
    wrong: dict[str, str] = field(default_factory=dict)
    missing: dict[str, str] = field(default_factory=dict)


def on_spot(
    rules: Sequence[KeepOutRule],
    looked: Sequence[tuple[Looked, float, float]],
    easting: float,
    northing: float,
    on: str,
) -> tuple[OnSpot, ...]:
    """Return how each keep-out that no map shows stands at a spot.

    Parameters
    ----------
    rules
        The rules about what no map shows.
    looked
        Every record with its place, m, oldest first.
    easting, northing
        The spot, m, in the same CRS.
    on
        ISO date of the visit.
    """
    near = [record for record, x, y in looked if math.hypot(x - easting, y - northing) <= record.radius_m]
    return tuple(
        _stand(rule, [record for record in near if record.keepout == rule.key], on) for rule in rules
    )


def on_spot_list(found: Sequence[OnSpot]) -> str:
    """Return how the keep-outs that no map shows stand, each with a word and a shape."""
    items = "".join(
        f'<li><i class="cw-ink-{_SHAPES[one.state][1]}" aria-hidden="true">{_SHAPES[one.state][0]}</i>'
        f'<div>{words(one.rule.title)}<span class="cw-small">{words(one.told)}</span></div></li>'
        for one in found
    )
    return f'<h4>What no map shows</h4><ul class="cw-looked">{items}</ul>' if items else ""


def read_looked(content: Mapping[str, str], today: str) -> LookedReading:
    """Return the record that the form's fields say."""
    wrong: dict[str, str] = {}
    answer, seen = content.get("answer", ""), plain(content.get("seen", ""), 2000)
    ticket = plain(content.get("ticket", ""), 80)
    radius_m = 15.0
    if content.get("radius", "").strip():
        read = read_length(content["radius"], "m")
        if read is None or not 0 < read <= _FARTHEST_M:
            wrong["radius"] = f"Expected metres, more than 0 and at most {_FARTHEST_M:.0f}."
        else:
            radius_m = read
    day, until = (_day(content.get(name, ""), name, wrong) for name in ("day", "until"))
    if day and date_fault(day, today):
        wrong["day"] = f"Expected {date_fault(day, today)}."
    if day and until and until < day:
        wrong["until"] = "It ends before somebody looked. Expected a later day."
    missing = {}
    if answer not in ANSWERS:
        missing["answer"] = "Is it there or not? When you cannot tell, leave it open."
    if not seen:
        missing["seen"] = "What did you see, in a few words? Others will rely on it."
    if "day" not in content:
        missing["day"] = "On which day did you look?"
    if answer == "clear" and content.get("keepout") == _NEEDS_TICKET and not ticket:
        missing["ticket"] = "Clear of utility lines counts only with the number of the ticket."
    if wrong or missing:
        return LookedReading(None, wrong, missing)
    return LookedReading(
        Looked(
            keepout=content["keepout"],
            lon=float(content["lon"]),
            lat=float(content["lat"]),
            clear=answer == "clear",
            seen=seen,
            ticket=ticket,
            seen_on=day,
            until=until,
            radius_m=radius_m,
            person=plain(content.get("person", ""), 200),
        )
    )


def _stand(rule: KeepOutRule, records: Sequence[Looked], on: str) -> OnSpot:
    if not records:
        return OnSpot(rule, "open", "nobody has looked here yet")
    latest = max(enumerate(records), key=lambda pair: (pair[1].seen_on, pair[0]))[1]
    day = f", {latest.seen_on}" if latest.seen_on else ""
    if not latest.clear:
        return OnSpot(rule, "seen", f"it is here: {latest.seen or 'no note'}{day}")
    if latest.until and on > latest.until[:10]:
        return OnSpot(rule, "over", f"looked at and clear, but only until {latest.until}: look again")
    until = f", holds until {latest.until}" if latest.until else ""
    return OnSpot(rule, "clear", f"looked at and clear: {latest.seen or 'no note'}{day}{until}")


def _day(text: str, name: str, wrong: dict[str, str]) -> str:
    if not text.strip():
        return ""
    found = read_date(text.strip())
    if found is None:
        wrong[name] = f"'{plain(text, 40)}' is not a day. Expected a day such as 2026-05-31."
        return ""
    return found[0]

"""What somebody saw on the spot about keep-outs that no map shows: how each stands here, and what a form says."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from prospect.land import (
    LAYER_TITLES,
    LOOKED_AND_CLEAR,
    NOBODY_LOOKED,
    KeepOutRule,
    Seen,
    ends_on,
    unmapped_rules,
    why_not_clear,
)
from prospect.land.on_site import UNSEEN, names_ticket, read_on_site
from prospect.records import LandCheck, Looked
from prospect.sources.numbers import read_length
from prospect.sources.sample_rows import date_fault, read_date
from prospect.text import plain
from prospect.ui.reading import words

ANSWERS: dict[str, str] = {"clear": "○ nothing of it here", "seen": "■ it is here"}
_SHAPES = {"clear": ("●", "reed"), "seen": ("■", "iron"), "over": ("◔", "glaze"), "open": ("○", "faded")}
_FARTHEST_M = 100.0
_NAMED = 2


@dataclass(frozen=True, slots=True)
class Topic:
    """What somebody can look for on the spot: a keep-out that no map shows, or a whole map that is not here."""

    key: str
    title: str
    reason: str
    needs_ticket: bool = False
    rule: KeepOutRule | None = None


@dataclass(frozen=True, slots=True)
class OnSpot:
    """How one thing to look for stands at one spot.

    Attributes
    ----------
    topic
        What it is about.
    state
        `clear`, `seen`, `over` (it was clear once) or `open` (nobody has looked).
    told
        The same in words.
    """

    topic: Topic
    state: str
    told: str


@dataclass(frozen=True, slots=True)
class LookedReading:
    """What a form says: the record, None while something is wrong or missing, and both by field."""

    entry: Looked | None
    wrong: dict[str, str] = field(default_factory=dict)
    missing: dict[str, str] = field(default_factory=dict)


def topics(rules: Sequence[KeepOutRule], layers: Collection[str]) -> tuple[Topic, ...]:
    """Return what only somebody on the spot can clear: what no map shows, and what there is no map of.

    Parameters
    ----------
    rules
        The keep-out rules in force.
    layers
        Names of the layers that the ground has.
    """
    unmapped = (
        Topic(rule.key, rule.title, rule.reason, rule.needs_ticket, rule)
        for rule in unmapped_rules("dig", rules)
    )
    absent = (
        Topic(
            layer, f"{title.capitalize()}, of which there is no map", f"Look around for {title} of any kind."
        )
        for layer, title in LAYER_TITLES.items()
        if layer not in layers
    )
    others = (
        Topic(
            "keepouts", "Keep-outs of a kind that the map shows none of", "Ask and look around for any kind."
        ),
    )
    return (*unmapped, *absent, *(others if "keepouts" in layers else ()))


def on_spot(
    asked: Sequence[Topic], looked: Sequence[Seen], easting: float, northing: float, on: str
) -> tuple[OnSpot, ...]:
    """Return how everything that is to be looked for stands at a spot.

    Parameters
    ----------
    asked
        What is to be looked for.
    looked
        Every record with its place, m, oldest first.
    easting, northing
        The spot, m, in the same CRS.
    on
        ISO date of the visit.
    """
    rules = [topic.rule for topic in asked if topic.rule is not None]
    speaking = read_on_site(looked, rules, np.array([easting]), np.array([northing]), on)
    found = []
    for topic in asked:
        number = int(speaking.column(topic.key)[0])
        if number != UNSEEN:
            found.append(_told(topic, speaking.records[number]))
        else:
            here = [seen.record for seen in looked if seen.record.keepout == topic.key]
            near = [
                seen.record
                for seen in looked
                if seen.record in here
                and math.hypot(seen.easting - easting, seen.northing - northing) <= seen.record.radius_m
            ]
            found.append(_open(topic, near, on))
    return tuple(found)


def without_the_list(land: LandCheck, found: Sequence[OnSpot]) -> LandCheck:
    """Return a land check without the sentences that the list of `on_spot` says again; the first only gets shorter."""
    cleared = tuple(f"{one.topic.title}{LOOKED_AND_CLEAR}" for one in found)
    first, rest = land.reasons[:1], land.reasons[1:]
    still = sum(one.state in ("open", "over") for one in found)
    if first and first[0].startswith(NOBODY_LOOKED) and still > _NAMED:
        first = (
            f"Nobody has yet looked on the spot for {still} things that no map shows: see the list below.",
        )
    kept = (reason for reason in rest if not reason.startswith((NOBODY_LOOKED, *cleared)))
    return replace(land, reasons=(*first, *kept)) if found else land


def on_spot_list(found: Sequence[OnSpot]) -> str:
    """Return how the keep-outs that no map shows stand, each with a word and a shape."""
    items = "".join(
        f'<li><i class="cw-ink-{_SHAPES[one.state][1]}" aria-hidden="true">{_SHAPES[one.state][0]}</i>'
        f'<div>{words(one.topic.title)}<span class="cw-small">{words(one.told)}</span></div></li>'
        for one in found
    )
    return f'<h4>To be looked for on the spot</h4><ul class="cw-looked">{items}</ul>' if items else ""


def read_looked(content: Mapping[str, str], today: str, *, needs_ticket: bool = False) -> LookedReading:
    """Return the record that the form's fields say; with `needs_ticket`, clear counts only with one."""
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
    if answer == "clear" and needs_ticket and not names_ticket(ticket):
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


def _told(topic: Topic, record: Looked) -> OnSpot:
    ticket = f", ticket {record.ticket}" if record.ticket else ""
    day = f"{ticket}, {record.seen_on}" if record.seen_on else ticket
    if not record.clear:
        return OnSpot(topic, "seen", f"it is here: {record.seen or 'no note'}{day}")
    end = ends_on(record, topic.rule)
    until = f", holds until {end}" if end else ""
    return OnSpot(topic, "clear", f"looked at and clear: {record.seen or 'no note'}{day}{until}")


def _open(topic: Topic, near: Sequence[Looked], on: str) -> OnSpot:
    if not near:
        return OnSpot(topic, "open", "nobody has looked here yet")
    why = why_not_clear(near[-1], topic.rule, on)
    return OnSpot(topic, "over", f"looked at once, but that no longer counts: {why}. Look again.")


def _day(text: str, name: str, wrong: dict[str, str]) -> str:
    if not text.strip():
        return ""
    found = read_date(text.strip())
    if found is None:
        wrong[name] = f"'{plain(text, 40)}' is not a day. Expected a day such as 2026-05-31."
        return ""
    return found[0]

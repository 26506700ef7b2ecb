"""The form by which it is written down what somebody saw on the spot."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import streamlit as st

from prospect.cartography import place_in_words
from prospect.errors import ProspectError
from prospect.pipeline.leave import keep_out_rules
from prospect.store import Ground
from prospect.ui.entry import (
    BLANK,
    Entry,
    choice,
    clock,
    close,
    line,
    new_key,
    note,
    offer_to_save,
    opened,
    ready_to_save,
    say_faults,
    say_state,
)
from prospect.ui.on_site import ANSWERS, LookedReading, Topic, read_looked, topics
from prospect.ui.open_ground import workspace
from prospect.ui.reading import words

KIND = "looked"


def begin_looked(ground: Ground, topic: Topic, spot: tuple[float, float]) -> str:
    """Open a form about one keep-out at one spot; return its key."""
    key = new_key(KIND)
    place = {"lon": repr(spot[0]), "lat": repr(spot[1])}
    ground.keep_draft(key, {BLANK: "yes", "keepout": topic.key, **place, "day": date.today().isoformat()})
    return key


def spot_of(content: Mapping[str, str]) -> tuple[float, float] | None:
    """Return the longitude and latitude that a draft is about; None when it names none."""
    try:
        return float(content["lon"]), float(content["lat"])
    except (KeyError, ValueError):
        return None


@st.fragment
def looked_form(key: str) -> None:
    """Draw the form until it is saved or put away."""
    ground = workspace().ground
    entry = opened(ground, key)
    if entry.done is not None:
        st.rerun()
    topic = _topic(ground, entry)
    reading = _read(ground, entry)
    faults = reading.wrong | (reading.missing if entry.tried else {})
    with st.container(key="entry"):
        spot = spot_of(entry.content)
        place = place_in_words(*spot) if spot else ""
        st.html(
            f'<p class="cw-place">{words(place)}</p><h1>{words(topic.title)}</h1><p>{words(topic.reason)}</p>'
        )
        _fields(ground, entry, topic, faults)
        _end(ground, entry, reading, faults)


def _fields(ground: Ground, entry: Entry, topic: Topic, faults: Mapping[str, str]) -> None:
    choice(ground, entry, "answer", "You looked here yourself. Is it there?", ANSWERS, faults)
    note(
        ground,
        entry,
        "seen",
        "What you saw",
        faults,
        placeholder="paint marks on the verge, none in the field",
    )
    if topic.needs_ticket:
        line(ground, entry, "ticket", "Number of the ticket of the utility-location service", faults, most=80)
    with st.container(horizontal=True):
        line(ground, entry, "day", "Day you looked", faults, placeholder="2026-05-31", most=20)
        line(ground, entry, "until", "Good until", faults, placeholder="2026-06-14", most=20)
    with st.container(horizontal=True):
        line(ground, entry, "person", "Who looked", faults, most=200)
        line(ground, entry, "radius", "How far around (m)", faults, placeholder="15", most=20)


def _end(ground: Ground, entry: Entry, reading: LookedReading, faults: Mapping[str, str]) -> None:
    with st.container():  # what comes and goes here moves no button under a finger
        if reading.entry is not None and reading.entry.clear:
            until = f" until {reading.entry.until}" if reading.entry.until else ""
            st.html(
                f'<p class="cw-reads">Reads as: clear within {reading.entry.radius_m:g} m of this spot{words(until)}. '
                "Somebody else may dig because of this word: when in doubt, leave it open.</p>"
            )
        if entry.tried:
            say_faults(faults)
        say_state(entry)
    offer_to_save(ground, entry, _save, (ground, entry))


def _topic(ground: Ground, entry: Entry) -> Topic:
    """Return what the form is about; a rule that is gone since keeps its key for a title."""
    key = entry.text_of("keepout")
    found = (topic for topic in topics(keep_out_rules(ground), ground.layers()) if topic.key == key)
    return next(found, Topic(key, key.replace("_", " "), ""))


def _read(ground: Ground, entry: Entry) -> LookedReading:
    needs_ticket = _topic(ground, entry).needs_ticket
    return read_looked(entry.content, date.today().isoformat(), needs_ticket=needs_ticket)


def _save(ground: Ground, entry: Entry) -> None:
    if not ready_to_save(ground, entry):
        return
    said = _read(ground, entry).entry
    if said is None:
        return
    try:
        ground.note_looked(said)
    except ProspectError as error:
        entry.trouble = f"Not saved: {error}"
        return
    close(ground, entry, f"Saved: what you saw on the spot, {clock()}.")

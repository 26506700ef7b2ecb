"""The form by which a hole or a face is noted layer by layer, each on record as soon as the next is begun."""

from __future__ import annotations

from datetime import date

import streamlit as st

from prospect.errors import WrongUsage
from prospect.records import Hole
from prospect.store import Ground
from prospect.ui.entry import BLANK, Entry, choice, draw_part, line, new_key, note, opened, tick
from prospect.ui.hole_clash import clash_page
from prospect.ui.hole_layer import layer_part
from prospect.ui.hole_reading import (
    FACE,
    HoleReading,
    bag_name,
    content_of,
    marks,
    next_hole_name,
    sample_of,
)
from prospect.ui.hole_saving import (
    CLASH,
    END,
    HEAD,
    KIND,
    OF,
    PART,
    on_record,
    origins,
    read_form,
    recorded_hole,
)
from prospect.ui.hole_steps import button, finish, go_on, say_how_it_reads, ways, ways_out
from prospect.ui.hole_words import WALLS, asks_for_care, choices_of, title_of
from prospect.ui.open_ground import workspace
from prospect.ui.reading import words
from prospect.ui.sample_form import KIND as SAMPLE
from prospect.ui.sample_reading import content_of as sample_content
from prospect.ui.sample_reading import depth_unit, place_as_numbers


def begin_new(ground: Ground, spot: tuple[float, float] | None) -> str:
    """Open a form for a new hole, with a free name, today and the spot that is being read; return its key."""
    pending = [draft for draft in ground.pending() if draft.key.startswith(f"{KIND} ")]
    for draft in pending:
        if BLANK in draft.content:
            ground.drop_draft(draft.key)
    names = [hole.hole_id for hole in reversed(ground.holes())]
    promised = {draft.content.get("name", "") for draft in pending if BLANK not in draft.content}
    content = {
        BLANK: "yes",
        "name": next_hole_name({*names, *promised}, names),
        "day": date.today().isoformat(),
    }
    if spot is not None:
        content["place"] = place_as_numbers(*spot)
    key = new_key(KIND)
    ground.keep_draft(key, content)
    return key


def begin_change(ground: Ground, name: str) -> str:
    """Open a form for a hole on record, which keeps the revision that it began from; return its key."""
    key = new_key(KIND)
    recorded = on_record(ground, name)
    if recorded is None:
        raise WrongUsage(f"There is no hole {name} on record any more.")
    units = ground.settings.units
    ground.keep_draft(key, {BLANK: "yes", **content_of(recorded.hole, units), **origins(recorded, units)})
    return key


def begin_sample(ground: Ground, hole: Hole, place: int | None) -> str:
    """Open a form for a sample from a hole, from one of its layers by its place from 0; return its key."""
    samples = ground.samples()
    names = [sample.sample_id for sample in reversed(samples)]
    promised = {draft.content.get("name", "") for draft in ground.pending()}
    layer = None if place is None else hole.layers[place]
    sample = sample_of(
        hole, layer, bag_name(hole.hole_id, {*names, *promised}, names), date.today().isoformat()
    )
    key = new_key(SAMPLE)
    ground.keep_draft(key, {BLANK: "yes", **sample_content(sample, ground.settings.units)})
    return key


def what_became(ground: Ground, key: str) -> str:
    """Return what became of a form whose draft is gone."""
    if any(key in change.detail for change in ground.audit()):
        return "Saved. That was before this page was loaded anew; the hole stands in the list."
    return "Nothing is being typed there any more: it was saved or put away."


@st.fragment
def hole_form(key: str) -> None:
    """Draw the part of the form that the page's address names, until the form is saved or put away."""
    ground = workspace().ground
    entry = opened(ground, key)
    if entry.done is not None:
        st.rerun()
    recorded = recorded_hole(ground, entry)
    with st.container(key="entry"):
        if CLASH in entry.content:
            clash_page(ground, entry, recorded)
            return
        order = marks(entry.content)
        part = st.query_params.get(PART, order[-1] if order else HEAD)
        part = part if part in (*order, END) else HEAD
        draw_part(entry, part)
        reading = read_form(ground, entry, recorded)
        if part in order:
            layer_part(ground, entry, part, reading)
        elif part == END:
            _end(ground, entry, reading)
        else:
            _head(ground, entry, reading)


def _head(ground: Ground, entry: Entry, reading: HoleReading) -> None:
    """Draw the questions about the hole as a whole that are asked first."""
    of = entry.text_of(OF)
    faults = reading.wrong | (reading.missing if entry.tried else {})
    st.html(f"<h1>{words(of) if of else 'A new hole'}</h1>")
    ways(ground, entry, HEAD)
    if of:
        st.html('<p class="cw-note">It keeps its name, so that bags and record go on belonging together.</p>')
    else:
        line(ground, entry, "name", "Name of the hole", faults, most=80)
    with st.container(key="entry-kind"):
        choice(ground, entry, "kind", title_of("kind"), choices_of("kind"), faults)
    with st.container():
        if entry.text_of("kind") == FACE:
            line(
                ground, entry, "facing", "Which way does it look?", faults, placeholder="SW, or 225", most=40
            )
            st.html('<p class="cw-note">Measure its layers down the face, from the top of it.</p>')
        if asks_for_care(entry.text_of("kind"), None):
            st.html(f'<p class="cw-caution">▲ {words(WALLS)}</p>')
    with st.container(key="entry-where"):
        line(
            ground, entry, "place", "Latitude and longitude", faults, placeholder="47.48 S, 122.93 W", most=60
        )
        with st.container(horizontal=True):
            line(ground, entry, "error", "Give or take (m)", faults, placeholder="5", most=20)
            line(ground, entry, "day", "Day", faults, placeholder="2026-05-31", most=20)
    say_how_it_reads(ground, entry, reading, HEAD)
    with st.container(horizontal=True, key="entry-end"):
        going_on = "Save and go on with the layers" if marks(entry.content) else "Save and first layer"
        button(ground, entry, going_on, f"{HEAD} next", go_on, HEAD, primary=True)
        button(ground, entry, "Save and close", f"{HEAD} save", finish)
        ways_out(ground, entry)


def _end(ground: Ground, entry: Entry, reading: HoleReading) -> None:
    """Draw the questions about the hole as a whole that are asked last."""
    unit = depth_unit(ground.settings.units)
    faults = reading.wrong | (reading.missing if entry.tried else {})
    how_deep = "How far down the face" if entry.text_of("kind") == FACE else "How deep it went"
    st.html(f'<p class="cw-place">{words(entry.text_of("name"))}</p><h1>The end of it</h1>')
    ways(ground, entry, END)
    with st.container(key="entry-stop"):
        choice(ground, entry, "stopped", title_of("stopped"), choices_of("stopped"), faults)
        line(ground, entry, "depth", f"{how_deep} ({unit})", faults, most=20)
        line(ground, entry, "water", f"Water met at ({unit})", faults, most=20)
        tick(ground, entry, "dry", "No water met")
        note(ground, entry, "note", "Note on the whole", faults)
    st.html(f'<p class="cw-caution">▲ {words(WALLS)}</p>')
    say_how_it_reads(ground, entry, reading, END)
    with st.container(horizontal=True, key="entry-end"):
        button(ground, entry, "Save and close", f"{END} save", finish, primary=True)
        button(ground, entry, "One more layer", f"{END} next", go_on, END)
        ways_out(ground, entry)

"""The form of a batch: one short line from the hole over buckets, screen and body to pots."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import streamlit as st

from prospect.records import Batch
from prospect.store import Ground
from prospect.ui.batch_reading import LABELS, MEASURES, batch_content, read_batch, yield_in_words
from prospect.ui.bench_book import book_of
from prospect.ui.bench_clash import clash_page
from prospect.ui.bench_dropping import offer_to_drop
from prospect.ui.bench_measures import asked_in
from prospect.ui.bench_reading import BenchReading
from prospect.ui.bench_saving import CLASH, OF, BenchForm, Item, begin, begin_change, read_form, save
from prospect.ui.entry import Entry, line, note, offer_to_save, opened, pick, say_faults, say_state
from prospect.ui.open_ground import workspace
from prospect.ui.reading import words
from prospect.ui.sample_reading import next_name

KIND = "batch"


def begin_batch(ground: Ground, hole: str = "") -> str:
    """Open a form for a new batch, with a free name and today; return its key."""
    names = [batch.batch_id for batch in reversed(book_of(ground).batches)]
    promised = {draft.content.get("name", "") for draft in ground.pending()}
    name = next_name({*names, *promised}, names or ["B0"])
    content = {"name": name, "day": date.today().isoformat(), "hole": hole}
    return begin(ground, BATCH, {field: text for field, text in content.items() if text})


def begin_batch_change(ground: Ground, name: str) -> str:
    """Open a form for a batch on record; return its key."""
    return begin_change(ground, BATCH, [name])


@st.fragment
def batch_form(key: str) -> None:
    """Draw the form until it is saved or put away."""
    ground = workspace().ground
    entry = opened(ground, key)
    if entry.done is not None:
        st.rerun()
    with st.container(key="entry"):
        if CLASH in entry.content:
            clash_page(ground, BATCH, entry)
        else:
            _fields(ground, entry)


def _fields(ground: Ground, entry: Entry) -> None:
    system, of = ground.settings.units, entry.text_of(OF)
    reading = read_form(ground, BATCH, entry)
    faults = reading.wrong | (reading.missing if entry.tried else {})
    holes = [hole.hole_id for hole in reversed(book_of(ground).holes)]
    st.html(f"<h1>{words(of) if of else 'A new batch'}</h1>")
    st.html('<p class="cw-note">Fill in what you know today, and the rest when it is there.</p>')
    with st.container(key="entry-where"):
        st.html("<h2>Dug</h2>")
        with st.container(horizontal=True):
            if not of:
                line(ground, entry, "name", LABELS["name"], faults, most=80)
            pick(ground, entry, "hole", LABELS["hole"], holes, faults, placeholder="choose or type")
        _row(ground, entry, ("day", "buckets", "wet"), faults, system)
    with st.container(key="entry-depth"):
        st.html("<h2>Through the screen</h2>")
        _row(ground, entry, ("dry", "mesh", "sieved"), faults, system)
        with st.container():
            batch = reading.items[0] if reading.items else None
            if isinstance(batch, Batch) and (share := yield_in_words(batch)):
                st.html(f'<p class="cw-reads">Yield: {words(share)}</p>')
        st.html(
            '<p class="cw-caution">▲ Dry clay makes dust that harms the lungs: screen it wet, and wipe up wet.</p>'
        )
    with st.container(key="entry-clay"):
        st.html("<h2>Made into</h2>")
        line(ground, entry, "body", LABELS["body"], faults, placeholder="80 % this, 20 % sand")
        _row(ground, entry, ("body kg", "pots"), faults, system)
    with st.container(key="entry-rest"):
        note(ground, entry, "note", LABELS["note"], faults)
    _end(ground, entry, faults)


def _row(
    ground: Ground, entry: Entry, names: tuple[str, ...], faults: Mapping[str, str], system: str
) -> None:
    with st.container(horizontal=True):
        for name in names:
            unit = asked_in(MEASURES[name][1], system) if name in MEASURES else ""
            label = f"{LABELS[name]} ({unit})" if unit in ("kg", "lb") else LABELS[name]
            line(ground, entry, name, label, faults, most=40)


def _end(ground: Ground, entry: Entry, faults: Mapping[str, str]) -> None:
    with st.container():  # what comes and goes here moves no button under a finger
        if entry.tried:
            say_faults(faults)
        say_state(entry)
    offer_to_save(ground, entry, save, (ground, BATCH, entry))
    offer_to_drop(ground, BATCH, entry)


def _read(content: Mapping[str, str], system: str, today: str, onto: Mapping[str, Item]) -> BenchReading:
    held = onto.get("")
    return read_batch(content, system, today, held if isinstance(held, Batch) else None)


def _content(item: Item, system: str) -> dict[str, str]:
    return batch_content(item, system) if isinstance(item, Batch) else {}


BATCH = BenchForm(
    KIND, "batch", "batch", "batches", _read, _content, lambda _content: [""],
    lambda name: LABELS.get(name, ""), lambda _name, text: text,
)  # fmt: skip

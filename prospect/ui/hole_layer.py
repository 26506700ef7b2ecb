"""The part of a hole's form that asks about one layer, in the order of the work at the hole."""

from __future__ import annotations

from collections.abc import Mapping

import streamlit as st

from prospect.clay.vocabulary import questions
from prospect.store import Ground
from prospect.ui.entry import Entry, choice, collect, keep, line, note, pick, put, tick
from prospect.ui.hole_cards import colour_shown
from prospect.ui.hole_reading import (
    BAG,
    ORDER,
    HoleReading,
    as_the_one_above,
    bagged,
    deeper,
    marks,
    of_layer,
)
from prospect.ui.hole_saving import BAGGED, HEAD, PART, bag_names, is_shown
from prospect.ui.hole_steps import button, go_on, go_to_end, say_how_it_reads, ways, ways_out
from prospect.ui.hole_words import choices_of, title_of
from prospect.ui.reading import words
from prospect.ui.sample_reading import depth_unit

_DEEPER = {"cm": (5, 10, 25), "in": (2, 4, 10)}
_EXAMPLES = {
    "moist colour": "10YR 5/4, or brown",
    "dry colour": "10YR 7/3, or pale brown",
    "stones": "5",
    "mottles": "rust spots, grey veins",
    "smell": "none, earthy, rotten eggs",
}


def layer_part(ground: Ground, entry: Entry, mark: str, reading: HoleReading) -> None:
    """Draw the questions about one layer; every one of them may stay open."""
    number = marks(entry.content).index(mark) + 1
    faults = {name: said for name, said in reading.wrong.items() if is_shown(name, mark)}
    st.html(f'<p class="cw-place">{words(entry.text_of("name"))}</p><h1>Layer {number}</h1>')
    ways(ground, entry, mark)
    _depths(ground, entry, mark, faults)
    with st.container(key="entry-first"):
        st.html("<h2>In the hand, before anything is carried home</h2>")
        for field in ("coil", "grit"):
            _choose(ground, entry, mark, field, faults)
        for caution in questions()["fizz"].cautions:
            st.html(f'<p class="cw-caution">▲ {words(caution)}</p>')
        _choose(ground, entry, mark, "fizz", faults)
        with st.container():
            if entry.text_of(of_layer(mark, "fizz")):
                _choose(ground, entry, mark, "fizz with", faults)
        _choose(ground, entry, mark, "roots", faults)
    with st.container(key="entry-clay"):
        st.html("<h2>What is it?</h2>")
        _kind_of_clay(ground, entry, mark, faults)
    with st.container(key="entry-bag"):
        _bag(ground, entry, mark)
    say_how_it_reads(ground, entry, reading, mark)
    with st.container(key="entry-go"):
        button(ground, entry, "Save and next layer", f"{mark} next", go_on, mark, primary=True)
    with st.container(horizontal=True, key="entry-end"):
        button(ground, entry, "Save, that was the last", f"{mark} last", go_to_end, mark)
        button(ground, entry, "Take this layer out", f"{mark} out", _take_out, mark)
        ways_out(ground, entry)


def _depths(ground: Ground, entry: Entry, mark: str, faults: Mapping[str, str]) -> None:
    unit = depth_unit(ground.settings.units)
    with st.container(key="entry-depth"):
        with st.container(horizontal=True, key="entry-span"):
            line(ground, entry, of_layer(mark, "top"), f"From ({unit})", faults, most=20)
            line(ground, entry, of_layer(mark, "bottom"), f"To ({unit})", faults, most=20)
        with st.container(horizontal=True, key="entry-quick"):
            for by in _DEEPER[unit]:
                button(ground, entry, f"+ {by} {unit}", f"{mark} + {by}", _deepen, mark, str(by))
            if as_the_one_above(entry.content, mark):
                button(ground, entry, "As the layer above", f"{mark} above", _copy, mark)


def _kind_of_clay(ground: Ground, entry: Entry, mark: str, faults: Mapping[str, str]) -> None:
    unit = depth_unit(ground.settings.units)
    pick(
        ground, entry, of_layer(mark, "texture"), title_of("texture"), list(choices_of("texture")), faults,
        placeholder="by feel",
    )  # fmt: skip
    line(
        ground, entry, of_layer(mark, "ribbon"), f"A ribbon breaks at ({unit})", faults,
        placeholder="4" if unit == "cm" else "1.5", most=20,
    )  # fmt: skip
    for field in ("moist colour", "dry colour"):
        _write(ground, entry, mark, field, faults)
        with st.container():
            if shown := colour_shown(entry.text_of(of_layer(mark, field))):
                st.html(shown)
    _choose(ground, entry, mark, "stickiness", faults)
    for field in ("stones", "mottles", "smell"):
        _write(ground, entry, mark, field, faults)
    _choose(ground, entry, mark, "usable", faults)
    note(ground, entry, of_layer(mark, "note"), "Note on this layer", faults)


def _write(ground: Ground, entry: Entry, mark: str, field: str, faults: Mapping[str, str]) -> None:
    line(ground, entry, of_layer(mark, field), title_of(field), faults, placeholder=_EXAMPLES[field])


def _choose(ground: Ground, entry: Entry, mark: str, field: str, faults: Mapping[str, str]) -> None:
    choice(ground, entry, of_layer(mark, field), title_of(field), choices_of(field), faults)


def _bag(ground: Ground, entry: Entry, mark: str) -> None:
    """Ask whether a bag of the layer goes home, and say what to write on it."""
    if name := entry.text_of(of_layer(mark, BAGGED)):
        st.html(f'<p class="cw-reads">● A bag of it is on record: <b>{words(name)}</b></p>')
        return
    tick(ground, entry, of_layer(mark, BAG), "A bag of it goes home")
    with st.container():
        if mark in bagged(entry.content):
            label = bag_names(ground, entry)[mark]
            st.html(f'<p class="cw-label">Write on the bag: <b>{words(label)}</b></p>')


def _deepen(ground: Ground, entry: Entry, mark: str, by: str) -> None:
    collect(entry)
    put(entry, deeper(entry.content, mark, float(by)))
    keep(ground, entry, of_layer(mark, "bottom"))


def _copy(ground: Ground, entry: Entry, mark: str) -> None:
    collect(entry)
    changes = as_the_one_above(entry.content, mark)
    put(entry, changes)
    keep(ground, entry, next(iter(changes), ""))


def _take_out(ground: Ground, entry: Entry, mark: str) -> None:
    """Take a layer out of the form; it leaves the record when the hole is saved."""
    collect(entry)
    order = marks(entry.content)
    if mark not in order:
        return  # a second tap on the same button
    place = order.index(mark)
    order.remove(mark)
    for name in [name for name in entry.content if name.startswith(f"{mark} ")]:
        del entry.content[name]
        st.session_state.pop(entry.widget(name), None)
    entry.names = {name for name in entry.names if not name.startswith(f"{mark} ")}
    put(entry, {ORDER: " ".join(order)})
    keep(ground, entry, ORDER)
    st.query_params[PART] = order[max(place - 1, 0)] if order else HEAD

"""What every part of a hole's form ends with: the ways to the other parts, how it reads, saving, leaving."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from prospect.errors import ProspectError
from prospect.pipeline import ground_grid
from prospect.records import Hole
from prospect.store import Ground
from prospect.ui.entry import Entry, clock, close, collect, keep, leave, put, say_state
from prospect.ui.hole_cards import noted_layers
from prospect.ui.hole_reading import HoleReading, bagged, layer_of, marks, with_layer_below
from prospect.ui.hole_saving import (
    END,
    HEAD,
    PART,
    is_shown,
    put_hole_away,
    read_form,
    recorded_hole,
    save_hole,
)
from prospect.ui.hole_words import OFF_THE_GROUND
from prospect.ui.reading import words
from prospect.ui.sample_reading import depth_unit


def ways(ground: Ground, entry: Entry, part: str) -> None:
    """Draw the ways to the parts of the form, and what was noted so far."""
    order = marks(entry.content)
    if not order:
        return
    with st.container(horizontal=True, key="entry-parts"):
        _way(ground, entry, HEAD, "The hole", part)
        for number, mark in enumerate(order, 1):
            st.button(
                f"Layer {number}", key=f"{entry.key} to {mark}", on_click=_open, args=(ground, entry, mark),
                disabled=mark == part,
            )  # fmt: skip
        _way(ground, entry, END, "The end", part)
    with st.container():
        above = order[: order.index(part)] if part in order else order if part == END else []
        if above:
            st.html(
                noted_layers(
                    [(n, layer_of(entry.content, mark)) for n, mark in enumerate(above, 1)],
                    depth_unit(ground.settings.units),
                )
            )


def _way(ground: Ground, entry: Entry, part: str, label: str, now: str) -> None:
    st.button(
        label, key=f"{entry.key} to {part}", on_click=_open, args=(ground, entry, part), disabled=part == now
    )


def button(
    ground: Ground,
    entry: Entry,
    label: str,
    key: str,
    then: Callable[..., None],
    *given: str,
    primary: bool = False,
) -> None:
    """Draw one of the ways on from here."""
    st.button(
        label,
        type="primary" if primary else "secondary",
        key=f"{entry.key} {key}",
        on_click=then,
        args=(ground, entry, *given),
        disabled=bool(ground.read_only),
    )


def ways_out(ground: Ground, entry: Entry) -> None:
    """Draw the ways to leave the form: for now, or for good."""
    st.button("Not now", key=f"{entry.key} later", on_click=_not_now, args=(ground, entry))
    st.button("Put it away", key=f"{entry.key} away", on_click=put_hole_away, args=(ground, entry))


def say_how_it_reads(ground: Ground, entry: Entry, reading: HoleReading, part: str) -> None:
    """Say how the hole reads, what keeps it off the record, and whether what was typed is kept."""
    with st.container():  # what comes and goes here moves no button under a finger
        for doubt in reading.doubts:
            st.html(f'<p class="cw-caution">▲ {words(doubt)}</p>')
        elsewhere = {name: said for name, said in reading.wrong.items() if not is_shown(name, part)}
        waits = [*elsewhere.values(), *(() if part == HEAD else reading.missing.values())]
        if waits:
            st.html(
                f'<p class="cw-caution">▲ Kept as a draft, not on record yet: {words(" ".join(waits))}</p>'
            )
        if entry.tried and any(is_shown(name, part) for name in reading.wrong | reading.missing):
            st.html('<p class="cw-fault" role="alert">■ Not saved: see above.</p>')
        recorded = recorded_hole(ground, entry)
        if reading.hole is not None and _is_off_the_ground(ground, reading.hole):
            st.html(f'<p class="cw-caution">▲ {words(OFF_THE_GROUND)}</p>')
        if (
            not entry.trouble
            and recorded is not None
            and reading.hole == recorded.hole
            and not bagged(entry.content)
        ):
            st.html(
                f'<p class="cw-note" role="status">● On record as it stands here: {words(recorded.hole.hole_id)}.</p>'
            )
        else:
            say_state(entry)


def _open(ground: Ground, entry: Entry, part: str) -> None:
    keep(ground, entry)
    entry.tried = False
    st.query_params[PART] = part


def go_on(ground: Ground, entry: Entry, part: str) -> None:
    """Save, and open the next layer down; whatever keeps the hole off the record stays in the draft."""
    if not save_hole(ground, entry, part):
        return
    order = marks(entry.content)
    below = order[order.index(part) + 1 :] if part in order else order if part == HEAD else []
    if below:
        st.query_params[PART] = below[0]
        return
    changes, new = with_layer_below(entry.content)
    put(entry, changes)
    keep(ground, entry)
    st.query_params[PART] = new


def go_to_end(ground: Ground, entry: Entry, mark: str) -> None:
    """Save, and open what is asked last."""
    if save_hole(ground, entry, mark):
        st.query_params[PART] = END


def finish(ground: Ground, entry: Entry) -> None:
    """Save and close; a hole that something is missing of stays open."""
    if not save_hole(ground, entry, ""):
        return
    recorded = recorded_hole(ground, entry)
    if recorded is not None and not entry.trouble:
        count = len(recorded.hole.layers)
        layers = "no layers" if not count else "1 layer" if count == 1 else f"{count} layers"
        close(ground, entry, f"Saved: {recorded.hole.hole_id}, {layers}, {clock()}.")


def _not_now(ground: Ground, entry: Entry) -> None:
    """Leave the form; when all of it is on record there is no draft to keep."""
    collect(entry)
    recorded = recorded_hole(ground, entry)
    if (
        recorded is not None
        and read_form(ground, entry, recorded).hole == recorded.hole
        and not bagged(entry.content)
    ):
        close(ground, entry, f"{recorded.hole.hole_id} is on record.")
        return
    leave(ground, entry)
    if recorded is not None and entry.done:
        entry.done = (
            f"{recorded.hole.hole_id} is on record as it was saved; what was typed since is kept as a draft."
        )


def _is_off_the_ground(ground: Ground, hole: Hole) -> bool:
    try:
        box = ground_grid(ground).lonlat_bounds()
    except ProspectError:
        return False
    return not (box.west <= hole.lon <= box.east and box.south <= hole.lat <= box.north)

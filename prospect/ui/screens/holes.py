"""The holes and faces on record: a list, the page of one, and the form by which they are noted layer by layer."""

from __future__ import annotations

import re

import streamlit as st

from prospect.errors import ProspectError
from prospect.pipeline.log_photos import photo_names
from prospect.records import Hole, Sample
from prospect.store import Ground
from prospect.ui.bring_in import PASTE, begin_paste, bring_in_page
from prospect.ui.entry import BLANK, closed, say
from prospect.ui.hole_cards import bag_row, deepest_of, hole_head, hole_page, hole_row, layer_row
from prospect.ui.hole_form import (
    begin_change,
    begin_new,
    begin_sample,
    hole_form,
    what_became,
)
from prospect.ui.hole_reading import FACE, samples_from
from prospect.ui.hole_saving import HEAD, KIND, PART, HoleOnRecord, on_record
from prospect.ui.hole_side_by_side import side_by_side
from prospect.ui.hole_words import WALLS, asks_for_care
from prospect.ui.open_ground import workspace
from prospect.ui.photo_cards import photo_row
from prospect.ui.photo_part import photo_part
from prospect.ui.reading import words
from prospect.ui.rooms import go_to
from prospect.ui.sample_cards import pending_card
from prospect.ui.screens.samples import NOTE as SAMPLE_NOTE
from prospect.ui.state import AppState, app_state

NOTE = "note"
"""Name of the argument in the page's address that holds which form is open."""
_ON_A_LEAF = 60
_PENDING_SHOWN = 5


def screen() -> None:
    """Draw the screen."""
    ground, state = workspace().ground, app_state()
    token = st.query_params.get(NOTE, "")
    if re.fullmatch(r"[0-9a-f]{12}", token):
        for kind, form in ((KIND, hole_form), (PASTE, bring_in_page)):
            key = f"{kind} {token}"
            said = closed(key)
            if said is None and ground.draft(key):
                form(key)
                return
            if said is not None:
                state.said = said
                break
        else:
            state.said = what_became(ground, token)
    for name in (NOTE, PART):
        if name in st.query_params:
            del st.query_params[name]
    if state.said:
        say(state.said)
        state.said = ""
    found = on_record(ground, state.hole) if state.hole else None
    if found is not None:
        _page(ground, state, found)
    else:
        _list(ground, state)


def _list(ground: Ground, state: AppState) -> None:
    book = ground.log_book()
    holes = list(reversed(book.holes))
    st.html("<h1>Holes and faces</h1>")
    if not ground.read_only:
        with st.container(horizontal=True, key="note-hole"):
            spot = " here" if state.spot else ""
            st.button(
                f"Note a hole{spot}", type="primary", key="new-hole", on_click=_begin, args=(ground, state)
            )
            st.button("Bring in a log you have", key="bring-in", on_click=_paste, args=(ground, state))
        if state.spot:
            st.html('<p class="cw-note">Its place will be the spot that is being read on the map.</p>')
        _unfinished(ground)
    if not holes:
        st.html(
            "<p>No hole is on record yet. Note what you find layer by layer, also where it is no clay – or a face "
            "where the ground lies open already: a bank, a cut, a trench.</p>"
        )
        return
    leaves = -(-len(holes) // _ON_A_LEAF)
    state.holes_leaf = min(state.holes_leaf, leaves - 1)
    first = state.holes_leaf * _ON_A_LEAF
    shown = holes[first : first + _ON_A_LEAF]
    count = f"{len(holes):,} holes and faces" if len(holes) != 1 else "1 hole"
    which = f", {first + 1} to {first + len(shown)} shown" if leaves > 1 else ""
    st.html(f'<p class="cw-note">{count}, the newest first{which}</p>')
    bags: dict[str, int] = {}
    for sample in book.samples:
        bags[sample.hole_id] = bags.get(sample.hole_id, 0) + 1
    units = ground.settings.units
    with st.container(key="rows"):
        st.html(hole_head())
        for number, hole in enumerate(shown, first + 1):
            with st.container(key=f"row-{number}"):
                st.html(hole_row(hole, units, bags.get(hole.hole_id, 0)))
                st.button(
                    f"Open hole {number} of the list",
                    key=f"open-{number}",
                    on_click=_open,
                    args=(state, hole.hole_id),
                )
    _leaves(state, leaves)
    with st.container(key="beside-each-other"):
        side_by_side(ground, holes, shown, book.samples)


def _leaves(state: AppState, leaves: int) -> None:
    if leaves > 1:
        with st.container(horizontal=True, key="leaves"):
            at = state.holes_leaf
            st.button("← Newer", key="newer", disabled=at == 0, on_click=_turn, args=(state, -1))
            st.button("Older →", key="older", disabled=at == leaves - 1, on_click=_turn, args=(state, 1))


def _unfinished(ground: Ground) -> None:
    kinds = (f"{KIND} ", f"{PASTE} ")
    pending = [
        draft for draft in ground.pending() if draft.key.startswith(kinds) and BLANK not in draft.content
    ]
    for number, draft in enumerate(pending[:_PENDING_SHOWN], 1):
        with st.container(key=f"pending-{number}", horizontal=True, vertical_alignment="center"):
            st.html(pending_card(draft))
            st.button("Go on with it", key=f"go-on-{number}", on_click=_go_on, args=(draft.key,))


def _page(ground: Ground, state: AppState, found: HoleOnRecord) -> None:
    hole, units = found.hole, ground.settings.units
    st.button("← All holes", key="back", on_click=_open, args=(state, ""))
    with st.container(key="entry"):
        st.html(hole_page(hole, units, ground.samples()))
        if asks_for_care(hole.kind, deepest_of(hole)):
            st.html(f'<p class="cw-caution">▲ {words(WALLS)}</p>')
        if state.asked == f"drop hole {hole.hole_id}":
            _ask_again(ground, state, found)
            return
        if photos := photo_row(ground.photos_folder, photo_names(hole), hole.hole_id):
            st.html(photos)
        photo_part(ground, "hole", [hole.hole_id], "Add photos of it")
        _layers(ground, hole, units)
        _bags(ground, state, hole, units)
        with st.container(horizontal=True, key="entry-end"):
            if not ground.read_only:
                st.button("Change it", type="primary", key="change", on_click=_change, args=(ground, hole))
            if st.button("Show it on the map", key="on-map"):
                state.go_to(hole.lon, hole.lat)
                go_to("ground")
            if not ground.read_only:
                st.button("Take it out …", key="drop", on_click=_ask_to_drop, args=(state, hole.hole_id))


def _layers(ground: Ground, hole: Hole, units: str) -> None:
    st.html("<h2>Down the face</h2>" if hole.kind == FACE else "<h2>From the top down</h2>")
    if not hole.layers:
        st.html("<p>No layer was noted.</p>")
    for number, layer in enumerate(hole.layers, 1):
        with st.container(key=f"layer-{number}"):
            st.html(layer_row(layer, number, units))
            if not ground.read_only and st.button(f"Note a sample from layer {number}", key=f"bag-{number}"):
                _note_sample(ground, hole, number - 1)


def _bags(ground: Ground, state: AppState, hole: Hole, units: str) -> None:
    bags: list[Sample] = samples_from(ground.samples(), hole.hole_id)
    st.html("<h2>Samples from it</h2>")
    if not bags:
        st.html("<p>None is on record.</p>")
    with st.container(key="rows"):
        for number, sample in enumerate(bags, 1):
            with st.container(key=f"row-bag-{number}"):
                st.html(bag_row(sample, units))
                if st.button(f"Open sample {number} of this hole", key=f"open-bag-{number}"):
                    state.sample = sample.sample_id
                    go_to("samples")
    if not ground.read_only and st.button("Note a sample from it", key="bag"):
        _note_sample(ground, hole, None)


def _note_sample(ground: Ground, hole: Hole, place: int | None) -> None:
    try:
        key = begin_sample(ground, hole, place)
    except ProspectError as error:
        st.html(f'<p class="cw-fault" role="alert">■ A sample cannot be noted now: {words(error)}</p>')
    else:
        go_to("samples", {SAMPLE_NOTE: key.split(" ")[1]})


def _ask_again(ground: Ground, state: AppState, found: HoleOnRecord) -> None:
    st.html(
        '<div class="cw-card" role="alert"><h2>Take this hole out?</h2><p>It will no longer count for anything; its '
        "samples stay. It can be taken back under “What was done”.</p></div>"
    )
    with st.container(horizontal=True):
        st.button("Yes, take it out", key="drop-yes", on_click=_drop, args=(ground, state, found))
        st.button("Leave it in", type="primary", key="drop-no", on_click=_ask_to_drop, args=(state, ""))


def _begin(ground: Ground, state: AppState) -> None:
    try:
        key = begin_new(ground, state.spot)
    except ProspectError as error:
        state.said = f"A new hole cannot be noted now: {error}"
    else:
        _go_on(key)


def _paste(ground: Ground, state: AppState) -> None:
    try:
        key = begin_paste(ground)
    except ProspectError as error:
        state.said = f"Nothing can be brought in now: {error}"
    else:
        _go_on(key)


def _change(ground: Ground, hole: Hole) -> None:
    try:
        key = begin_change(ground, hole.hole_id)
    except ProspectError as error:
        app_state().said = f"It cannot be changed now: {error}"
    else:
        _go_on(key)
        st.query_params[PART] = HEAD


def _go_on(key: str) -> None:
    st.query_params[NOTE] = key.split(" ")[1]


def _open(state: AppState, hole_id: str) -> None:
    state.hole, state.asked = hole_id, ""


def _turn(state: AppState, by: int) -> None:
    state.holes_leaf += by


def _ask_to_drop(state: AppState, hole_id: str) -> None:
    state.asked = f"drop hole {hole_id}" if hole_id else ""


def _drop(ground: Ground, state: AppState, found: HoleOnRecord) -> None:
    name = found.hole.hole_id
    state.asked = ""
    try:
        ground.drop_log(KIND, name, found.revision)
    except ProspectError as error:
        state.said = f"{name} was not taken out: {error}"
    else:
        state.hole, state.said = "", f"Taken out: {name}. It can be taken back under “What was done”."

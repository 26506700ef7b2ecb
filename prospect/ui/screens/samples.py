"""The samples on record: a list, the page of one, and the form by which they are noted and changed."""

from __future__ import annotations

import re

import streamlit as st

from prospect.errors import ProspectError
from prospect.store import Ground, Recorded
from prospect.ui.bench_part import bench_part
from prospect.ui.bench_rooms import open_form
from prospect.ui.clay_page import clay_part
from prospect.ui.entry import closed, say
from prospect.ui.hole_saving import on_record
from prospect.ui.label_field import label_field
from prospect.ui.open_ground import workspace
from prospect.ui.rooms import go_to
from prospect.ui.sample_cards import pending_card, sample_head, sample_page, sample_row
from prospect.ui.sample_form import KIND, begin_change, begin_new, is_blank, sample_form, what_became
from prospect.ui.state import AppState, app_state

NOTE = "note"
"""Name of the argument in the page's address that holds which form is open."""
_ON_A_LEAF = 60
_PENDING_SHOWN = 5


def screen() -> None:
    """Draw the screen."""
    ground, state = workspace().ground, app_state()
    bench, became = open_form(ground)
    if bench and became is None:
        return
    state.said = became or state.said
    token = st.query_params.get(NOTE, "")
    if re.fullmatch(r"[0-9a-f]{12}", token):
        key = f"{KIND} {token}"
        said = closed(key)
        if said is None and ground.draft(key):
            sample_form(key)
            return
        state.said = what_became(ground, key) if said is None else said
    if token:
        del st.query_params[NOTE]
    _say(state)
    recorded = ground.recorded(state.sample) if state.sample else None
    if recorded is not None:
        _page(ground, state, recorded)
    else:
        _list(ground, state)


def _say(state: AppState) -> None:
    if state.said:
        say(state.said)
        state.said = ""


def _list(ground: Ground, state: AppState) -> None:
    samples = list(reversed(ground.samples()))
    st.html("<h1>What was dug</h1>")
    if not ground.read_only:
        spot = " here" if state.spot else ""
        st.button(
            f"Note a sample{spot}", type="primary", key="note-sample", on_click=_begin, args=(ground, state)
        )
        if state.spot:
            st.html('<p class="cw-note">Its place will be the spot that is being read on the map.</p>')
        _unfinished(ground)
    label_field(ground, state)
    if not samples:
        st.html(
            "<p>No sample is on record yet. Note down where you looked and what you found – also where there "
            "was nothing – here or from a file under Layers.</p>"
        )
        return
    leaves = -(-len(samples) // _ON_A_LEAF)
    state.leaf = min(state.leaf, leaves - 1)
    first = state.leaf * _ON_A_LEAF
    shown = samples[first : first + _ON_A_LEAF]
    count = f"{len(samples):,} samples" if len(samples) != 1 else "1 sample"
    which = f", {first + 1} to {first + len(shown)} shown" if leaves > 1 else ""
    st.html(f'<p class="cw-note">{count}, the newest first{which}</p>')
    units = ground.settings.units
    with st.container(key="rows"):
        st.html(sample_head())
        for number, sample in enumerate(shown, first + 1):
            with st.container(key=f"row-{number}"):
                st.html(sample_row(sample, units))
                st.button(
                    f"Open sample {number} of the list",
                    key=f"open-{number}",
                    on_click=_open,
                    args=(state, sample.sample_id),
                )
    if leaves > 1:
        with st.container(horizontal=True, key="leaves"):
            st.button("← Newer", key="newer", disabled=state.leaf == 0, on_click=_turn, args=(state, -1))
            st.button(
                "Older →", key="older", disabled=state.leaf == leaves - 1, on_click=_turn, args=(state, 1)
            )


def _unfinished(ground: Ground) -> None:
    pending = [
        draft for draft in ground.pending() if draft.key.startswith(f"{KIND} ") and not is_blank(draft)
    ]
    for number, draft in enumerate(pending[:_PENDING_SHOWN], 1):
        with st.container(key=f"pending-{number}", horizontal=True, vertical_alignment="center"):
            st.html(pending_card(draft))
            st.button("Go on with it", key=f"go-on-{number}", on_click=_go_on, args=(draft.key,))


def _page(ground: Ground, state: AppState, recorded: Recorded) -> None:
    sample = recorded.sample
    st.button("← All samples", key="back", on_click=_open, args=(state, ""))
    with st.container(key="entry"):
        st.html(sample_page(sample, ground.settings.units))
        if state.asked == f"drop {sample.sample_id}":
            _ask_again(ground, state, recorded)
            return
        clay_part(ground, sample.sample_id)
        bench_part(ground, sample.sample_id)
        with st.container(horizontal=True):
            if not ground.read_only:
                st.button(
                    "Change it", type="primary", key="change", on_click=_change, args=(ground, recorded)
                )
            if on_record(ground, sample.hole_id) is not None and st.button("Open its hole", key="to-hole"):
                state.hole = sample.hole_id
                go_to("holes")
            if st.button("Show it on the map", key="on-map"):
                state.go_to(sample.lon, sample.lat)
                go_to("ground")
            if not ground.read_only:
                st.button("Take it out …", key="drop", on_click=_ask_to_drop, args=(state, sample.sample_id))


def _ask_again(ground: Ground, state: AppState, recorded: Recorded) -> None:
    st.html(
        '<div class="cw-card" role="alert"><h2>Take this sample out?</h2><p>It will no longer count for anything. '
        "It can be taken back under “What was done”.</p></div>"
    )
    with st.container(horizontal=True):
        st.button("Yes, take it out", key="drop-yes", on_click=_drop, args=(ground, state, recorded))
        st.button("Leave it in", type="primary", key="drop-no", on_click=_ask_to_drop, args=(state, ""))


def _begin(ground: Ground, state: AppState) -> None:
    try:
        key = begin_new(ground, state.spot)
    except ProspectError as error:
        state.said = f"A new sample cannot be noted now: {error}"
    else:
        _go_on(key)


def _change(ground: Ground, recorded: Recorded) -> None:
    try:
        key = begin_change(ground, recorded)
    except ProspectError as error:
        app_state().said = f"It cannot be changed now: {error}"
    else:
        _go_on(key)


def _go_on(key: str) -> None:
    st.query_params[NOTE] = key.split(" ")[1]


def _open(state: AppState, sample_id: str) -> None:
    state.sample, state.asked = sample_id, ""


def _turn(state: AppState, by: int) -> None:
    state.leaf += by


def _ask_to_drop(state: AppState, sample_id: str) -> None:
    state.asked = f"drop {sample_id}" if sample_id else ""


def _drop(ground: Ground, state: AppState, recorded: Recorded) -> None:
    name = recorded.sample.sample_id
    state.asked = ""
    try:
        ground.drop_sample(name, recorded.revision)
    except ProspectError as error:
        state.said = f"{name} was not taken out: {error}"
    else:
        state.sample, state.said = "", f"Taken out: {name}. It can be taken back under “What was done”."

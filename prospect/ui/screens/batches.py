"""The batches on record: a list, the page of one with its bars and tests, and its form."""

from __future__ import annotations

import streamlit as st

from prospect.records import Batch
from prospect.store import Ground
from prospect.ui.batch_form import KIND, begin_batch, begin_batch_change
from prospect.ui.bench_book import book_of
from prospect.ui.bench_cards import batch_page, batch_row
from prospect.ui.bench_part import begun, bench_part
from prospect.ui.bench_rooms import NOTE, leave_form, open_form, unfinished
from prospect.ui.bench_saving import what_became
from prospect.ui.bench_state import BenchState, bench_state
from prospect.ui.clay_page import clay_part
from prospect.ui.entry import say
from prospect.ui.find_label import find_label
from prospect.ui.open_ground import workspace
from prospect.ui.rooms import go_to
from prospect.ui.state import AppState, app_state

_ON_A_LEAF = 60


def screen() -> None:
    """Draw the screen."""
    ground, state, own = workspace().ground, app_state(), bench_state()
    key, said = open_form(ground)
    if key and said is None:
        return
    if token := st.query_params.get(NOTE, ""):
        state.said = what_became(ground, token)
        leave_form()
    if said := said or state.said:
        say(said)
        state.said = ""
    batch = next((one for one in book_of(ground).batches if own.batch and one.batch_id == own.batch), None)
    if batch is not None:
        _page(ground, state, own, batch)
    else:
        _list(ground, own)


def _list(ground: Ground, own: BenchState) -> None:
    batches = list(reversed(book_of(ground).batches))
    st.html("<h1>Batches</h1>")
    if not ground.read_only:
        st.button(
            "Note a batch",
            type="primary",
            key="note-sample",
            on_click=begun,
            args=(lambda: begin_batch(ground),),
        )
        unfinished(ground, (KIND,))
    if not batches:
        st.html(
            "<p>No batch is on record yet. What was dug to work with goes here in one short line: the hole, the "
            "buckets, what went through the screen, the body, the pots.</p>"
        )
        return
    leaves = -(-len(batches) // _ON_A_LEAF)
    own.batches_leaf = min(own.batches_leaf, leaves - 1)
    first = own.batches_leaf * _ON_A_LEAF
    count = f"{len(batches):,} batches, the newest first" if len(batches) != 1 else "1 batch"
    st.html(f'<p class="cw-note">{count}</p>')
    with st.container(key="rows"):
        for number, batch in enumerate(batches[first : first + _ON_A_LEAF], first + 1):
            with st.container(key=f"row-{number}"):
                st.html(batch_row(batch, ground.settings.units))
                st.button(
                    f"Open batch {number} of the list", key=f"open-{number}", on_click=_open,
                    args=(own, batch.batch_id),
                )  # fmt: skip
    if leaves > 1:
        with st.container(horizontal=True, key="leaves"):
            at = own.batches_leaf
            st.button("← Newer", key="newer", disabled=at == 0, on_click=_turn, args=(own, -1))
            st.button("Older →", key="older", disabled=at == leaves - 1, on_click=_turn, args=(own, 1))


def _page(ground: Ground, state: AppState, own: BenchState, batch: Batch) -> None:
    st.button("← All batches", key="back", on_click=_open, args=(own, ""))
    with st.container(key="entry"):
        st.html(batch_page(batch, ground.settings.units))
        clay_part(ground, batch.batch_id)
        bench_part(ground, batch.batch_id)
        with st.container(horizontal=True, key="entry-end"):
            if not ground.read_only:
                st.button(
                    "Change it", type="primary", key="change", on_click=begun,
                    args=(lambda: begin_batch_change(ground, batch.batch_id),),
                )  # fmt: skip
            spots = [one.spot for one in find_label(book_of(ground), batch.batch_id) if one.kind == "batch"]
            if spots and spots[0] and st.button("Show its hole on the map", key="on-map"):
                state.go_to(*spots[0])
                go_to("ground")


def _open(own: BenchState, batch_id: str) -> None:
    own.batch = batch_id


def _turn(own: BenchState, by: int) -> None:
    own.batches_leaf += by

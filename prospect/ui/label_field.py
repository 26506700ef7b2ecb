"""The field in which the label on a bag, a bucket or a bar is typed, and the ways to what goes by it."""

from __future__ import annotations

import streamlit as st

from prospect.store import Ground
from prospect.ui.bench_book import book_of
from prospect.ui.bench_state import bench_state
from prospect.ui.find_label import Labelled, find_label
from prospect.ui.reading import words
from prospect.ui.rooms import go_to
from prospect.ui.state import AppState

_MOST = 6


def label_field(ground: Ground, state: AppState) -> None:
    """Draw the field, and what goes by the label in it."""
    label = st.text_input(
        "Find a label", key="find-label", max_chars=80, placeholder="what stands on a bag, a bucket or a bar",
        autocomplete="off",
    )  # fmt: skip
    if not label.strip():
        return
    found = find_label(book_of(ground), label)
    if not found:
        st.html(f"<p>Nothing goes by “{words(label)}”.</p>")
    for number, one in enumerate(found[:_MOST], 1):
        with st.container(key=f"label-{number}", horizontal=True, vertical_alignment="center"):
            told = "" if one.spot else " No record leads to its place yet."
            st.html(f"<p><b>{words(one.name)}</b>, a {one.kind}.{told}</p>")
            if one.spot and st.button("Show it on the map", key=f"label-map-{number}"):
                state.go_to(*one.spot)
                go_to("ground")
            if one.kind != "bar" and st.button("Open it", key=f"label-open-{number}"):
                _open(state, one)


def _open(state: AppState, one: Labelled) -> None:
    if one.kind == "sample":
        state.sample = one.name
        st.rerun()
    if one.kind == "hole":
        state.hole = one.name
        go_to("holes")
    bench_state().batch = one.name
    go_to("batches")

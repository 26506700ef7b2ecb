"""The bench: what waits for drying, for the kiln, for boiling and for a last look, and the newest tests."""

from __future__ import annotations

from datetime import date

import streamlit as st

from prospect.store import Ground
from prospect.ui.bars_form import KIND as BARS
from prospect.ui.bars_form import begin_bars, begin_bars_again
from prospect.ui.bench_book import book_of
from prospect.ui.bench_cards import told_test_row, waiting_row
from prospect.ui.bench_form import KIND as TEST
from prospect.ui.bench_form import begin_test, begin_test_change
from prospect.ui.bench_part import begun
from prospect.ui.bench_rooms import NOTE, leave_form, open_form, unfinished
from prospect.ui.bench_saving import what_became
from prospect.ui.bench_state import BenchState, bench_state
from prospect.ui.bench_waiting import WAITS, Waiting, waiting
from prospect.ui.entry import say
from prospect.ui.open_ground import workspace
from prospect.ui.reading import words
from prospect.ui.state import app_state

_ON_A_LEAF = 40
_TESTS_SHOWN = 12


def screen() -> None:
    """Draw the screen."""
    ground, state = workspace().ground, app_state()
    key, said = open_form(ground)
    if key and said is None:
        return
    if token := st.query_params.get(NOTE, ""):
        state.said = what_became(ground, token)
        leave_form()
    if said := said or state.said:
        say(said)
        state.said = ""
    st.html("<h1>On the bench</h1>")
    if not ground.read_only:
        today = date.today().isoformat()
        with st.container(horizontal=True, key="bench-begin"):
            st.button(
                "Make bars", type="primary", key="make-bars", on_click=begun,
                args=(lambda: begin_bars(ground, "", today),),
            )  # fmt: skip
            st.button(
                "Add a test",
                key="add-test",
                on_click=begun,
                args=(lambda: begin_test(ground, "", "", today),),
            )
        unfinished(ground, (TEST, BARS))
    _waiting(ground, bench_state())
    _tests(ground)


def _waiting(ground: Ground, state: BenchState) -> None:
    found = waiting(book_of(ground).bars)
    if not found:
        st.html("<p>No bar waits for anything.</p>")
        return
    leaves = -(-len(found) // _ON_A_LEAF)
    state.bench_leaf = min(state.bench_leaf, leaves - 1)
    first = state.bench_leaf * _ON_A_LEAF
    shown = found[first : first + _ON_A_LEAF]
    for stage, title in WAITS.items():
        here = [(first + number, one) for number, one in enumerate(shown, 1) if one.stage == stage]
        if not here:
            continue
        of_all = sum(len(one.names) for one in found if one.stage == stage)
        st.html(
            f'<h2>Waiting for {words(title)}</h2><p class="cw-note">{of_all:,} bar{"s" if of_all > 1 else ""}</p>'
        )
        with st.container(key=f"rows-{stage}"):
            for number, one in here:
                with st.container(key=f"row-wait-{number}"):
                    st.html(waiting_row(one))
                    st.button(
                        f"Open set {number} of what waits", key=f"open-wait-{number}",
                        on_click=_open, args=(ground, one),
                    )  # fmt: skip
    if leaves > 1:
        with st.container(horizontal=True, key="leaves"):
            at = state.bench_leaf
            st.button("← Back", key="newer", disabled=at == 0, on_click=_turn, args=(state, -1))
            st.button("Further →", key="older", disabled=at == leaves - 1, on_click=_turn, args=(state, 1))


def _tests(ground: Ground) -> None:
    tests = list(reversed(book_of(ground).tests))[:_TESTS_SHOWN]
    if not tests:
        return
    st.html("<h2>The newest tests</h2>")
    with st.container(key="rows-bench"):
        for number, test in enumerate(tests, 1):
            with st.container(key=f"row-test-{number}"):
                st.html(told_test_row(test, ground.settings.units, named=True))
                st.button(
                    f"Open test {number}", key=f"open-test-{number}",
                    on_click=begun, args=(lambda name=test.test_id: begin_test_change(ground, name),),
                )  # fmt: skip


def _open(ground: Ground, one: Waiting) -> None:
    begun(lambda: begin_bars_again(ground, one.names), one.stage)


def _turn(state: BenchState, by: int) -> None:
    state.bench_leaf += by

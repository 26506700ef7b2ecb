"""The part of a sample's or batch's page that holds its tests and bars, and begins new ones."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import streamlit as st

from prospect.errors import ProspectError
from prospect.store import Ground
from prospect.ui.bars_form import begin_bars, begin_bars_again
from prospect.ui.bench_book import book_of
from prospect.ui.bench_cards import fired_colours, set_row, told_test_row
from prospect.ui.bench_form import begin_test, begin_test_change
from prospect.ui.bench_rooms import go_on
from prospect.ui.bench_waiting import WAITS, BarSet, next_stage, sets_of
from prospect.ui.photo_part import photo_part
from prospect.ui.state import app_state


def bench_part(ground: Ground, specimen: str) -> None:
    """Draw the tests and bars of a specimen."""
    book, system = book_of(ground), ground.settings.units
    tests = [test for test in book.tests if test.specimen == specimen]
    sets = sets_of(bar for bar in book.bars if bar.specimen == specimen)
    st.html("<h2>On the bench</h2>")
    if not tests and not sets:
        st.html("<p>Nothing was tried on it yet.</p>")
    with st.container(key="rows-bench"):
        for number, one in enumerate(sets, 1):
            with st.container(key=f"row-set-{number}"):
                st.html(set_row(one))
                st.button(
                    f"Open set {number} of bars",
                    key=f"open-set-{number}",
                    on_click=_again,
                    args=(ground, one),
                )
        for number, test in enumerate(reversed(tests), 1):
            with st.container(key=f"row-test-{number}"):
                st.html(told_test_row(test, system, named=False))
                st.button(
                    f"Open test {number}", key=f"open-test-{number}",
                    on_click=begun, args=(lambda name=test.test_id: begin_test_change(ground, name),),
                )  # fmt: skip
    bars = tuple(bar for one in sets for bar in one.bars)
    colours = fired_colours(bars, ground.photos_folder)
    if colours:
        st.html(f"<h3>Fired colours</h3>{colours}")
    fired = [bar.bar_id for bar in bars if (bar.cone or bar.fired_c is not None) and not bar.photo]
    photo_part(ground, "bar", fired, "Add a photo of a fired bar")
    if not ground.read_only:
        today = date.today().isoformat()
        with st.container(horizontal=True, key="bench-begin"):
            st.button(
                "Add a test", key="add-test", on_click=begun,
                args=(lambda: begin_test(ground, specimen, "", today),),
            )  # fmt: skip
            st.button(
                "Make bars",
                key="make-bars",
                on_click=begun,
                args=(lambda: begin_bars(ground, specimen, today),),
            )


def begun(begin: Callable[[], str], part: str = "") -> None:
    """Open a form; say why where that is not possible now."""
    try:
        key = begin()
    except ProspectError as error:
        app_state().said = f"That cannot be noted now: {error}"
    else:
        go_on(key, part)


def _again(ground: Ground, one: BarSet) -> None:
    """Open the bars of a set at the stage that they wait for."""
    stages = [stage for stage in WAITS if any(next_stage(bar) == stage for bar in one.bars)]
    begun(lambda: begin_bars_again(ground, one.names), stages[0] if stages else "looked")

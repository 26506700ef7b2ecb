"""Draws what the clay of a sample or batch says on its page, for the preparation that is chosen."""

from __future__ import annotations

from datetime import date

import streamlit as st

from prospect.clay import ClayReport
from prospect.clay.steps import Step
from prospect.clay.vocabulary import test_kind
from prospect.store import Ground
from prospect.ui.bars_form import begin_bars, begin_bars_again
from prospect.ui.bench_book import report_of
from prospect.ui.bench_form import begin_test
from prospect.ui.bench_part import begun
from prospect.ui.bench_waiting import sets_of
from prospect.ui.clay_cards import care, clay_reading, next_on_the_bench
from prospect.ui.clay_charts import clay_charts
from prospect.ui.rooms import go_to
from prospect.ui.state import app_state


def clay_part(ground: Ground, specimen: str) -> None:
    """Draw what the clay of a specimen says, what it is fit for, and what to do next."""
    report = report_of(ground, specimen)
    titles = {one.title: one for one in report.preparations}
    chosen = report.preparations[0]
    if len(titles) > 1:
        said = st.selectbox("What the clay went through before", list(titles), key="preparation")
        chosen = titles.get(said, chosen)
    st.html(next_on_the_bench(report))
    if report.next_step is not None and not ground.read_only:
        _way_to(ground, report, report.next_step, chosen.preparation)
    st.html(clay_reading(report, chosen))
    pictures = clay_charts(report, chosen, ground.settings.units)
    if pictures:
        st.html(pictures)
    st.html(care(report))


def _way_to(ground: Ground, report: ClayReport, step: Step, preparation: str) -> None:
    """Draw the button that leads to where the next step is noted."""
    specimen, today = report.specimen, date.today().isoformat()
    name = specimen.name
    bars = [bar for bar in specimen.bars if bar.preparation == preparation] or list(specimen.bars)
    if test_kind(step.key) is not None:
        label, begin, part = (
            "Note this test",
            lambda: begin_test(ground, name, step.key, today, preparation),
            "",
        )
    elif step.key in ("boiling", "hotter") and bars:
        newest = sets_of(bars)[0].names
        part = "boiled" if step.key == "boiling" else "fired"
        label, begin = "Open its bars", lambda: begin_bars_again(ground, newest)
    elif step.key in ("bars", "hotter"):
        label, begin, part = "Make bars for it", lambda: begin_bars(ground, name, today, preparation), ""
    else:
        if step.key == "hole" and specimen.hole is not None and st.button("Go to its hole", key="next-step"):
            app_state().hole = specimen.hole.hole_id
            go_to("holes")
        return
    st.button(label, type="primary", key="next-step", on_click=begun, args=(begin, part))

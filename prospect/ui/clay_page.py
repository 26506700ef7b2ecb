"""Draws what the clay of a sample or batch says on its page, for the preparation that is chosen."""

from __future__ import annotations

from datetime import date

import streamlit as st

from prospect.clay.vocabulary import test_kind
from prospect.store import Ground
from prospect.ui.bars_form import begin_bars
from prospect.ui.bench_book import report_of
from prospect.ui.bench_form import begin_test
from prospect.ui.bench_part import begun
from prospect.ui.clay_cards import care, clay_reading, next_on_the_bench
from prospect.ui.clay_charts import clay_charts


def clay_part(ground: Ground, specimen: str) -> None:
    """Draw what the clay of a specimen says, what it is fit for, and what to do next."""
    report = report_of(ground, specimen)
    titles = {one.title: one for one in report.preparations}
    chosen = report.preparations[0]
    if len(titles) > 1:
        said = st.selectbox("What the clay went through before", list(titles), key="preparation")
        chosen = titles.get(said, chosen)
    st.html(next_on_the_bench(report))
    following = report.next_test
    if following is not None and not ground.read_only:
        today = date.today().isoformat()
        if test_kind(following.key) is not None:
            st.button(
                "Note this test", type="primary", key="next-test", on_click=begun,
                args=(lambda: begin_test(ground, specimen, following.key, today, chosen.preparation),),
            )  # fmt: skip
        elif following.key == "bars":
            st.button(
                "Make bars for it", type="primary", key="next-test", on_click=begun,
                args=(lambda: begin_bars(ground, specimen, today, chosen.preparation),),
            )  # fmt: skip
    st.html(clay_reading(report, chosen))
    pictures = clay_charts(report, chosen, ground.settings.units)
    if pictures:
        st.html(pictures)
    st.html(care(report))

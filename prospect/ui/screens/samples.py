"""The samples on record, as a list."""

from __future__ import annotations

import streamlit as st

from prospect.cartography import place_in_words
from prospect.records import Sample
from prospect.ui.open_ground import workspace
from prospect.ui.reading import table

_USABLE = {"yes": "● yes", "no": "■ no", "unknown": "○ not known"}


def screen() -> None:
    """Draw the screen."""
    samples = workspace().samples()
    st.html("<h1>What was dug</h1>")
    if not samples:
        st.html(
            "<p>No sample is on record yet. Note down where you looked and what you found – also where there "
            "was nothing – and add it under Layers as samples or holes.</p>"
        )
        return
    header = ("sample", "hole", "where", "depth", "day", "usable", "note")
    st.html(table(header, [_row(sample) for sample in samples], f"{len(samples)} samples"))


def _row(sample: Sample) -> tuple[object, ...]:
    depth = "not known"
    if sample.top_cm is not None and sample.bottom_cm is not None:
        depth = f"{sample.top_cm:g} to {sample.bottom_cm:g} cm"
    return (
        sample.sample_id,
        sample.hole_id,
        place_in_words(sample.lon, sample.lat),
        depth,
        sample.date,
        _USABLE[sample.usable],
        sample.note,
    )

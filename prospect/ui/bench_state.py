"""What one visitor has chosen on the bench and among the batches, kept between runs of the screens."""

from __future__ import annotations

from dataclasses import dataclass

import streamlit as st

_KEY = "claywalk bench"


@dataclass(slots=True)
class BenchState:
    """Choices.

    Attributes
    ----------
    batch
        Name of the batch whose page is open; empty = the list.
    batches_leaf, bench_leaf
        Which leaf of the list of batches and of what waits is open, from 0.
    """

    batch: str = ""
    batches_leaf: int = 0
    bench_leaf: int = 0


def bench_state() -> BenchState:
    """Return this visitor's choices."""
    if _KEY not in st.session_state:
        st.session_state[_KEY] = BenchState()
    found: BenchState = st.session_state[_KEY]
    return found

"""Opens the forms of the bench in whichever room they were begun, by the word in the page's address."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

import streamlit as st

from prospect.store import Ground
from prospect.ui.bars_form import KIND as BARS
from prospect.ui.bars_form import PART, bars_form
from prospect.ui.batch_form import KIND as BATCH
from prospect.ui.batch_form import batch_form
from prospect.ui.bench_form import KIND as TEST
from prospect.ui.bench_form import test_form
from prospect.ui.entry import BLANK, closed
from prospect.ui.sample_cards import pending_card

NOTE = "note"
"""Name of the argument in the page's address that holds which form is open."""
FORMS: Mapping[str, Callable[[str], None]] = {TEST: test_form, BARS: bars_form, BATCH: batch_form}
_PENDING_SHOWN = 5


def open_form(ground: Ground) -> tuple[str, str | None]:
    """Draw the form of the bench that the page's address names.

    Returns
    -------
    tuple
        The key of the form, '' when the address names none of the bench; and what became of it, None while it is
        open and drawn.
    """
    token = st.query_params.get(NOTE, "")
    if not re.fullmatch(r"[0-9a-f]{12}", token):
        return "", None
    for kind, form in FORMS.items():
        key = f"{kind} {token}"
        said = closed(key)
        if said is not None:
            leave_form()
            return key, said
        if ground.draft(key):
            form(key)
            return key, None
    return "", None


def leave_form() -> None:
    """Take what names the form out of the page's address."""
    for name in (NOTE, PART):
        if name in st.query_params:
            del st.query_params[name]


def go_on(key: str, part: str = "") -> None:
    """Let the page's address name a form, and the stage of it."""
    st.query_params[NOTE] = key.split(" ")[1]
    if part:
        st.query_params[PART] = part
    elif PART in st.query_params:
        del st.query_params[PART]


def unfinished(ground: Ground, kinds: tuple[str, ...]) -> None:
    """Draw what is being typed and not saved yet, with the way back to it."""
    pending = [
        draft for draft in ground.pending() if draft.key.split(" ")[0] in kinds and BLANK not in draft.content
    ]
    for number, draft in enumerate(pending[:_PENDING_SHOWN], 1):
        with st.container(key=f"pending-{number}", horizontal=True, vertical_alignment="center"):
            st.html(pending_card(draft))
            st.button("Go on with it", key=f"go-on-{number}", on_click=go_on, args=(draft.key,))

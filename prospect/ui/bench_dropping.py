"""Takes a bar, a test or a batch out of the record from its own form, asked twice."""

from __future__ import annotations

import streamlit as st

from prospect.errors import ProspectError
from prospect.store import Ground
from prospect.ui.bars_reading import MARKS, marks
from prospect.ui.bench_saving import OF, REVISION, BenchForm, of_mark
from prospect.ui.entry import Entry, close, collect, keep, put
from prospect.ui.reading import words

_BACK = "It can be taken back under “What was done”."


def offer_to_drop(ground: Ground, form: BenchForm, entry: Entry, mark: str = "") -> None:
    """Draw the button that takes one record out, and the question before it is done."""
    name = entry.text_of(of_mark(mark, OF))
    if not name or ground.read_only:
        return
    asked = f"{entry.key} {mark} asked"
    with st.container(horizontal=True, key=f"drop-{mark or 'it'}"):
        if not st.session_state.get(asked):
            st.button("Take it out …", key=f"{entry.key} {mark} drop", on_click=_ask, args=(asked, True))
            return
        st.html(f'<p role="alert">Take {words(name)} out? {_BACK}</p>')
        st.button(
            "Yes, take it out",
            key=f"{entry.key} {mark} drop-yes",
            on_click=_drop,
            args=(ground, form, entry, mark),
        )
        st.button(
            "Leave it in",
            type="primary",
            key=f"{entry.key} {mark} drop-no",
            on_click=_ask,
            args=(asked, False),
        )


def _ask(asked: str, now: bool) -> None:
    st.session_state[asked] = now


def _drop(ground: Ground, form: BenchForm, entry: Entry, mark: str) -> None:
    name = entry.text_of(of_mark(mark, OF))
    collect(entry)
    try:
        ground.drop_log(form.record, name, int(entry.text_of(of_mark(mark, REVISION))))
    except ProspectError as error:
        entry.trouble = f"{name} was not taken out: {error}"
        return
    left = [one for one in marks(entry.content) if one != mark]
    if not left:
        close(ground, entry, f"Taken out: {name}. {_BACK}")
        return
    for field in [field for field in entry.content if field.split(" ")[0] == mark]:
        del entry.content[field]
        st.session_state.pop(entry.widget(field), None)
    entry.names = {field for field in entry.names if field.split(" ")[0] != mark}
    put(entry, {MARKS: " ".join(left)})
    keep(ground, entry)

"""Who gave leave for what: the parcels that were asked about, the ledger of each, and the form for an answer."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import streamlit as st

from prospect.errors import ProspectError
from prospect.land import reminders, standing
from prospect.pipeline.leave import keep_out_rules
from prospect.pipeline.letters import owner_view
from prospect.records import Permission
from prospect.share import Request, letter_sheet, slip_sheet
from prospect.share.paper import Sheet
from prospect.store import Ground
from prospect.ui.entry import closed, say
from prospect.ui.open_ground import workspace
from prospect.ui.permission_cards import (
    cautions_card,
    ledger_list,
    parcel_head,
    parcel_row,
    parcel_rows,
    reminders_card,
    standing_card,
)
from prospect.ui.permission_form import (
    KIND,
    begin_answer,
    owners_by_parcel,
    owners_of,
    parcel_ids,
    permission_form,
    what_became_of_answer,
)
from prospect.ui.reading import words
from prospect.ui.sample_cards import pending_card
from prospect.ui.sample_form import is_blank
from prospect.ui.state import AppState, app_state
from prospect.ui.visitor import Visitor, unnamed, who_is_looking

ANSWER = "answer"
"""Name of the argument in the page's address that holds which form is open."""
_ON_A_LEAF = 25
_PENDING_SHOWN = 5


def screen() -> None:
    """Draw the screen."""
    ground, state = workspace().ground, app_state()
    token = st.query_params.get(ANSWER, "")
    if re.fullmatch(r"[0-9a-f]{12}", token):
        key = f"{KIND} {token}"
        said = closed(key)
        if said is None and ground.draft(key):
            permission_form(key)
            return
        state.said = what_became_of_answer(ground) if said is None else said
    if token:
        del st.query_params[ANSWER]
    if state.said:
        say(state.said)
        state.said = ""
    visitor = who_is_looking()
    ledger = _fit(ground.permissions(), visitor)
    if state.parcel is not None:
        _parcel(ground, state, ledger, state.parcel, visitor)
    else:
        _list(ground, state, ledger, visitor)


def _fit(ledger: Sequence[Permission], visitor: Visitor) -> tuple[Permission, ...]:
    """Return the ledger with what the visitor may see."""
    if visitor.sees_owners:
        return tuple(ledger)
    people = {entry.person for entry in ledger}
    return tuple(
        replace(entry, person="", note="", conditions=unnamed(entry.conditions, people)) for entry in ledger
    )


def _list(ground: Ground, state: AppState, ledger: Sequence[Permission], visitor: Visitor) -> None:
    today = date.today().isoformat()
    st.html("<h1>Who gave leave for what</h1>")
    soon = reminders(ledger, ground.looked(), today, rules=keep_out_rules(ground))
    if soon:
        st.html(reminders_card(soon))
    if not ground.read_only:
        st.button(
            "Write down an answer", type="primary", key="record-answer", on_click=_begin, args=(ground, state)
        )
        _unfinished(ground, visitor)
    space = workspace()
    owners = owners_by_parcel(space, {entry.parcel_id for entry in ledger})
    rows = parcel_rows(ledger, today, owners)
    if not rows:
        st.html(
            "<p>Nobody is on record as asked yet. Ask before you go, also only to look; then write down here "
            "what was said, also a no.</p>"
        )
        st.html(cautions_card())
        return
    leaves = -(-len(rows) // _ON_A_LEAF)
    state.parcels_leaf = min(state.parcels_leaf, leaves - 1)
    first = state.parcels_leaf * _ON_A_LEAF
    with st.container(key="rows"):
        st.html(parcel_head())
        for number, row in enumerate(rows[first : first + _ON_A_LEAF], first + 1):
            with st.container(key=f"row-{number}"):
                st.html(parcel_row(row, names_people=visitor.sees_owners))
                st.button(
                    f"Open parcel {number} of the list",
                    key=f"open-{number}",
                    on_click=_open,
                    args=(state, row.parcel_id),
                )
    if leaves > 1:
        with st.container(horizontal=True, key="leaves"):
            st.button(
                "← Newer", key="newer", disabled=state.parcels_leaf == 0, on_click=_turn, args=(state, -1)
            )
            st.button(
                "Older →",
                key="older",
                disabled=state.parcels_leaf == leaves - 1,
                on_click=_turn,
                args=(state, 1),
            )
    with st.container(key="entry"):
        st.html(cautions_card())


def _parcel(
    ground: Ground, state: AppState, ledger: Sequence[Permission], parcel_id: str, visitor: Visitor
) -> None:
    today, space = date.today().isoformat(), workspace()
    st.button("← All parcels", key="back", on_click=_open, args=(state, None))
    entries = [entry for entry in ledger if entry.parcel_id == parcel_id]
    with st.container(key="entry"):
        known = owners_of(space, parcel_id)
        owners = known if visitor.sees_owners else ()
        named = f'<p class="cw-note">On the map: {words(", ".join(owners))}</p>' if owners else ""
        st.html(f"<h1>Parcel {words(parcel_id)}</h1>{named}")
        st.html(standing_card(ledger, parcel_id, today, known))
        if not ground.read_only:
            st.button(
                "Write down an answer",
                type="primary",
                key="record-answer",
                on_click=_begin,
                args=(ground, state, parcel_id, owners[0] if len(owners) == 1 else ""),
            )
        if entries:
            st.html("<h2>All that was said</h2>")
            st.html(ledger_list(entries, ground.settings.units, names_people=visitor.sees_owners))
        if visitor.here and visitor.sees_owners:
            _papers(ground, entries)
            _letters(ground, parcel_id, today)
        st.html(cautions_card())


def _papers(ground: Ground, entries: Sequence[Permission]) -> None:
    kept = [entry for entry in entries if entry.document]
    for number, entry in enumerate(reversed(kept), 1):
        path = ground.documents_folder / Path(entry.document).name
        if path.is_file():
            st.download_button(
                f"The paper of {entry.recorded[:10]}",
                path.read_bytes,
                file_name=path.name,
                mime="application/octet-stream",
                key=f"paper-{number}",
                on_click="ignore",
            )


def _letters(ground: Ground, parcel_id: str, today: str) -> None:
    st.html(
        "<h2>To ask in writing</h2><p>A letter of one page with a small map of this parcel and nothing beyond its "
        "line, and a slip to sign. What is not known yet is left as a line to fill in by hand. Have both looked "
        "over by somebody who knows the law of the place.</p>"
    )
    no_letter = _why_no_letter(ground, parcel_id, today)
    if no_letter:
        st.html(f'<p class="cw-note">{words(no_letter)}</p>')
        return
    with st.container(horizontal=True):
        for label, write in (("Letter (PDF)", letter_sheet), ("Slip to sign (PDF)", slip_sheet)):
            name = "letter.pdf" if write is letter_sheet else "slip.pdf"
            st.download_button(
                label,
                _printed(ground, parcel_id, today, write),
                file_name=name,
                mime="application/pdf",
                key=f"paper-{name}",
                on_click="ignore",
            )


def _why_no_letter(ground: Ground, parcel_id: str, today: str) -> str:
    word = standing(ground.permissions(), parcel_id, "dig", today)
    if word.word == "do not ask":
        return f"{word.sentence} No letter is written."
    if parcel_id not in parcel_ids(workspace()):
        return (
            "No parcel of that number is on the map of this ground, so there is nothing to draw in a letter."
        )
    return ""


def _printed(ground: Ground, parcel_id: str, today: str, write: Callable[..., Sheet]) -> Callable[[], bytes]:
    def pdf() -> bytes:
        view, _ = owner_view(ground, parcel_id, on=today)
        return write(view, Request(scope="dig"), units=ground.settings.units, made_on=today).pdf

    return pdf


def _unfinished(ground: Ground, visitor: Visitor) -> None:
    pending = [d for d in ground.pending() if d.key.startswith(f"{KIND} ") and not is_blank(d)]
    if (
        not visitor.sees_owners
    ):  # one that names a person is gone on with where it was begun, or on the machine
        pending = [draft for draft in pending if not draft.content.get("person")]
    for number, draft in enumerate(pending[:_PENDING_SHOWN], 1):
        with st.container(key=f"pending-{number}", horizontal=True, vertical_alignment="center"):
            st.html(pending_card(draft))
            st.button("Go on with it", key=f"go-on-{number}", on_click=_go_on, args=(draft.key,))


def _begin(ground: Ground, state: AppState, parcel_id: str = "", person: str = "") -> None:
    try:
        key = begin_answer(ground, parcel_id, person)
    except ProspectError as error:
        state.said = f"An answer cannot be written down now: {error}"
    else:
        _go_on(key)


def _go_on(key: str) -> None:
    st.query_params[ANSWER] = key.split(" ")[1]


def _open(state: AppState, parcel_id: str | None) -> None:
    state.parcel = parcel_id


def _turn(state: AppState, by: int) -> None:
    state.parcels_leaf += by

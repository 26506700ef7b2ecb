"""What was done: the last actions in plain words, and the way to take the last one back."""

from __future__ import annotations

import streamlit as st

from prospect.errors import ProspectError
from prospect.store import Ground
from prospect.ui.entry import say
from prospect.ui.history import Deed, in_words, last_deeds, next_to_take_back
from prospect.ui.open_ground import workspace
from prospect.ui.reading import words
from prospect.ui.sample_cards import pending_card
from prospect.ui.sample_form import is_blank
from prospect.ui.state import AppState, app_state
from prospect.ui.visitor import who_is_looking

_SHOWN = 10


def screen() -> None:
    """Draw the screen."""
    ground, state = workspace().ground, app_state()
    audit = ground.audit()
    people = who_is_looking().sees_owners
    if state.said:
        say(state.said)
        state.said = ""
    with st.container(key="entry"):
        st.html("<h1>What was done</h1>")
        last = next_to_take_back(audit)
        if ground.read_only:
            pass
        elif last is None:
            st.html('<p class="cw-note">There is nothing that could be taken back here.</p>')
        else:
            told = in_words(last, {change.revision: change for change in audit}, names_people=people)
            st.html(
                f'<div class="cw-card"><p class="cw-small">The last action</p><p><b>{words(told)}</b></p></div>'
            )
            st.button(
                "Take it back",
                type="primary",
                key="take-back",
                on_click=_take_back,
                args=(ground, state, audit[-1].revision, people),
            )
        deeds = last_deeds(audit, _SHOWN, names_people=people)
        st.html(
            '<ol class="cw-deeds" aria-label="The last actions, newest first">'
            + "".join(map(_deed, deeds))
            + "</ol>"
        )
        if len(audit) > len(deeds):
            st.html(
                f'<p class="cw-note">The last {len(deeds)} of {len(audit):,} actions. The records keep all of '
                "them.</p>"
            )
        _drafts(ground)


def _deed(deed: Deed) -> str:
    style = "cw-back" if deed.taken_back else "" if deed.by_us else "cw-outside"
    mark = "◌" if deed.taken_back else "●" if deed.by_us else "▲"
    back = '<span class="cw-small">taken back</span>' if deed.taken_back else ""
    return (
        f'<li class="{style}"><i aria-hidden="true">{mark}</i><div><p>{words(deed.words)}</p>'
        f'<span class="cw-small">{words(deed.when)}</span>{back}</div></li>'
    )


def _drafts(ground: Ground) -> None:
    pending = [draft for draft in ground.pending() if not is_blank(draft)]
    if pending:
        cards = "".join(pending_card(draft) for draft in pending)
        st.html(
            "<h2>Typed and not saved yet</h2><p>These stay until they are saved or put away, in the room where "
            f"they belong.</p>{cards}"
        )


def _take_back(ground: Ground, state: AppState, seen: int, people: bool) -> None:
    """Take back the action that was shown, unless something else was saved since."""
    try:
        audit = ground.audit()
        if audit[-1].revision != seen:
            state.said = "Something else was saved meanwhile, so nothing was taken back. Look again."
            return
        back = ground.undo()
    except ProspectError as error:
        state.said = f"It was not taken back: {error}"
    else:
        by_revision = {change.revision: change for change in audit}
        state.said = f"Taken back: {in_words(back, by_revision, names_people=people)}"

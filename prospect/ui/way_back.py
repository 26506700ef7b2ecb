"""What is shown when the records of a ground are damaged: why, the newest good backup, and two ways on."""

from __future__ import annotations

import streamlit as st

from prospect.errors import ProspectError
from prospect.store import Backup, Ground
from prospect.store.backups import newest_good
from prospect.store.entering import worked_on
from prospect.ui.entry import clock, say
from prospect.ui.reading import words
from prospect.ui.state import app_state
from prospect.ui.visitor import Visitor
from prospect.ui.workspace import Workspace

_ASKED = "bring the backup back"


def way_back(space: Workspace, error: ProspectError, visitor: Visitor) -> None:
    """Draw what can be done about damaged records; nothing is done before somebody says so twice."""
    if not visitor.may_change_settings:
        st.html(
            '<div class="cw-card" role="alert"><h1>The ground cannot be opened</h1>'
            "<p>What is wrong stands on the machine that holds it.</p></div>"
        )
        return
    state = app_state()
    backup = newest_good(worked_on(space.folder))
    with st.container(key="entry"):
        if state.said:
            say(state.said)
            state.said = ""
        st.html(
            '<section class="cw-land cw-iron" role="alert"><h1>■ The records of this ground are damaged</h1>'
            f"<p>{words(error)}</p></section><p>Nothing was changed. The layers are not touched by this.</p>"
        )
        if backup is None:
            st.html(
                "<p>There is no good backup. What can still be read of the records can be looked at, and "
                "<code>claywalk doctor</code> with the folder behind it says more.</p>"
            )
        else:
            st.html(
                '<div class="cw-card"><p class="cw-small">The newest good backup</p>'
                f"<p><b>{words(_day(backup))}</b></p>"
                "<p>What was saved later is not in it. The damaged records are kept beside it.</p></div>"
            )
        if backup is not None and state.asked == _ASKED:
            st.html(
                f'<p class="cw-caution">▲ Put the backup of {words(_day(backup))} in the records\' place?</p>'
            )
            with st.container(horizontal=True):
                st.button("Yes, bring it back", key="restore-yes", on_click=_restore, args=(space, backup))
                st.button("No, leave it", type="primary", key="restore-no", on_click=_ask, args=("",))
            return
        with st.container(horizontal=True):
            if backup is not None:
                st.button(
                    "Bring this backup back …", type="primary", key="restore", on_click=_ask, args=(_ASKED,)
                )
            st.button("Look at the last good copy only", key="look-only", on_click=_look, args=(space,))


def _ask(what: str) -> None:
    app_state().asked = what


def _look(space: Workspace) -> None:
    try:
        space.look_only()
    except ProspectError as error:
        app_state().said = f"There is nothing to look at: {error}"


def _restore(space: Workspace, backup: Backup) -> None:
    state = app_state()
    state.asked = ""
    try:
        Ground.restore(space.folder, backup.path)
    except ProspectError as error:
        state.said = f"It was not brought back: {error}"
    else:
        space.forget()
        state.said = f"Brought back at {clock()}: the backup of {_day(backup)}."


def _day(backup: Backup) -> str:
    return backup.at.astimezone().strftime("%Y-%m-%d, %H:%M")

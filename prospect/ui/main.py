"""The app's script: looks, rooms, and a calm word when there is no ground to show."""

from __future__ import annotations

import contextlib
import logging
import os
from pathlib import Path

import streamlit as st

from prospect.errors import ProspectError, fault_in_words
from prospect.store import Ground, RecordsDamaged
from prospect.ui.entry import keep_typing
from prospect.ui.open_ground import ground_folder, workspace
from prospect.ui.reading import words
from prospect.ui.rooms import lay_out
from prospect.ui.screens import (
    batches,
    bench,
    cautions,
    ground,
    history,
    holes,
    layers,
    permissions,
    samples,
)
from prospect.ui.visitor import Opening, Visitor, opening, who_is_looking
from prospect.ui.way_back import way_back

_LOOK = Path(__file__).parent / "assets" / "screen.css"


def main() -> None:
    """Draw whichever screen is asked for."""
    st.set_page_config(page_title="Claywalk", page_icon="🏺", layout="wide")
    st.html(_LOOK)
    keep_typing()
    rooms = [
        st.Page(ground.screen, title="Ground map", default=True),
        st.Page(layers.screen, title="Layers", url_path="layers"),
        st.Page(holes.screen, title="Holes", url_path="holes"),
        st.Page(samples.screen, title="Samples", url_path="samples"),
        st.Page(bench.screen, title="Bench", url_path="bench"),
        st.Page(batches.screen, title="Batches", url_path="batches"),
        st.Page(permissions.screen, title="Permissions", url_path="permissions"),
        st.Page(history.screen, title="What was done", url_path="history"),
        st.Page(cautions.screen, title="Before you dig", url_path="before-you-dig"),
    ]
    room = st.navigation(rooms, position="hidden")
    lay_out(rooms)
    with st.container(horizontal=True, key="rooms"):
        for page in rooms:
            # A narrow screen shows the room that is open first; the others are a swipe away.
            key = "room-here" if page.url_path == room.url_path else None
            with st.container(key=key, width="content") if key else contextlib.nullcontext():
                st.page_link(page, label=page.title, width="content")
    visitor, opened = who_is_looking(), opening()
    if opened is not None:
        with st.container(key="open"):
            st.html(f'<p role="note">{words(_how_open(opened, visitor))}</p>')
    try:
        opened_ground = workspace().ground
        name = opened_ground.settings.name
    except RecordsDamaged as error:
        way_back(workspace(), error, visitor)
        return
    except ProspectError as error:
        st.html(_no_ground(error, visitor))
        return
    st.html(f'<p class="cw-name">{words(name)}</p>')
    if opened_ground.read_only:
        st.html(f'<p class="cw-only-looking" role="note">{words(_only_looking(opened_ground, visitor))}</p>')
    try:
        room.run()
    except ProspectError as error:
        st.html(f'<div class="cw-card" role="alert"><h2>That did not work</h2><p>{words(error)}</p></div>')
    except Exception as error:
        debug = bool(os.environ.get("CLAYWALK_DEBUG"))
        logging.getLogger("claywalk").error("The screen failed: %s", fault_in_words(error), exc_info=debug)
        st.html(
            '<div class="cw-card" role="alert"><h2>The program itself failed</h2><p>Nothing of yours was changed. '
            "What went wrong stands in the window from which the app was started.</p></div>"
        )


def _how_open(opened: Opening, visitor: Visitor) -> str:
    """Return the line that stands on every screen while other devices can come in."""
    names = "see owners' names too" if opened.owners else "see no owners' names"
    if not visitor.here:
        mine = "owners' names too" if visitor.sees_owners else "no owners' names"
        return f"Open to this network, not encrypted. You look from another device and see {mine}."
    places = " and ".join(opened.addresses)
    return f"Open to this network at {places}, by passphrase, not encrypted. Other devices {names}."


def _only_looking(ground: Ground, visitor: Visitor) -> str:
    """Return the line that stands on every screen while nothing can be saved."""
    why = ground.read_only if visitor.here else "the reason stands on the machine that holds the ground."
    return f"Only for looking, nothing can be saved now: {why}"


def _no_ground(error: ProspectError, visitor: Visitor) -> str:
    """Return why there is nothing to show: no ground in the folder, or one that cannot be opened."""
    if not visitor.here:
        return (
            '<div class="cw-card" role="alert"><h1>The ground cannot be opened</h1>'
            "<p>What is wrong stands on the machine that holds it.</p></div>"
        )
    if Ground.is_ground(ground_folder()):
        return (
            f'<div class="cw-card" role="alert"><h1>This ground cannot be opened</h1><p>{words(error)}</p>'
            "<p>Nothing was changed. <code>claywalk doctor</code> with the folder behind it looks at everything in it, "
            "and says how to mend it or bring a backup back.</p></div>"
        )
    return (
        f'<div class="cw-card"><h1>No ground here</h1><p>{words(error)}</p>'
        "<p>Start one with <code>claywalk new</code>, or look at the invented one with "
        "<code>claywalk demo</code>.</p></div>"
    )


main()

"""The app's script: looks, rooms, and a calm word when there is no ground to show."""

from __future__ import annotations

import logging
from pathlib import Path

import streamlit as st

from prospect.errors import ProspectError
from prospect.ui.open_ground import workspace
from prospect.ui.reading import words
from prospect.ui.screens import cautions, ground, layers, samples

_LOOK = Path(__file__).parent / "assets" / "screen.css"


def main() -> None:
    """Draw whichever screen is asked for."""
    st.set_page_config(page_title="Claywalk", page_icon="🏺", layout="wide")
    st.html(_LOOK)
    rooms = [
        st.Page(ground.screen, title="Ground map", url_path="ground", default=True),
        st.Page(layers.screen, title="Layers", url_path="layers"),
        st.Page(samples.screen, title="Samples", url_path="samples"),
        st.Page(cautions.screen, title="Before you dig", url_path="before-you-dig"),
    ]
    room = st.navigation(rooms, position="hidden")
    with st.container(horizontal=True, key="rooms"):
        for page in rooms:
            st.page_link(page, label=page.title, width="content")
    try:
        name = workspace().ground.settings.name
    except ProspectError as error:
        st.html(
            f'<div class="cw-card"><h1>No ground here</h1><p>{words(error)}</p>'
            "<p>Start one with <code>claywalk new</code>, or look at the invented one with "
            "<code>claywalk demo</code>.</p></div>"
        )
        return
    st.html(f'<p class="cw-name">{words(name)}</p>')
    try:
        room.run()
    except ProspectError as error:
        st.html(f'<div class="cw-card" role="alert"><h2>That did not work</h2><p>{words(error)}</p></div>')
    except Exception:
        logging.getLogger("claywalk").exception("the screen failed")
        st.html(
            '<div class="cw-card" role="alert"><h2>The program itself failed</h2><p>Nothing of yours was changed. '
            "What went wrong stands in the window from which the app was started.</p></div>"
        )


main()

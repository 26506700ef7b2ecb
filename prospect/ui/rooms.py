"""Ways from one room of the app to another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NoReturn

import streamlit as st
from streamlit.navigation.page import StreamlitPage

DEFAULT = "ground"
"""Name of the room whose own address is that of the app."""
_ROOMS = "rooms"


def lay_out(pages: Sequence[StreamlitPage]) -> None:
    """Keep in mind the rooms of this visitor, each by the last part of its address."""
    st.session_state[_ROOMS] = {page.url_path or DEFAULT: page for page in pages}


def go_to(room: str, asked: Mapping[str, str] | None = None) -> NoReturn:
    """Go to another room, with what is asked for there in its address."""
    st.switch_page(st.session_state[_ROOMS][room], query_params=dict(asked or {}))

"""The part of a page that takes photos of one thing: a hole or face, or a fired bar."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Literal

import streamlit as st
from streamlit.runtime.uploaded_file_manager import UploadedFile

from prospect.errors import ProspectError
from prospect.pipeline.log_photos import Tie, attach_photos, read_log_photos
from prospect.store import Ground
from prospect.ui.state import app_state
from prospect.ui.uploads import laid_down
from prospect.ui.visitor import who_is_looking

KINDS_OF_PICTURE = ["jpg", "jpeg", "png"]
_ROUND = "photos taken in"


def photo_part(ground: Ground, kind: Literal["hole", "bar"], names: Sequence[str], label: str) -> None:
    """Draw where photos are given: of the one thing that is named, or of one of several.

    Nothing is drawn where nothing can be saved, or for a device that may not give files.
    """
    if ground.read_only or not names or not who_is_looking().may_import:
        return
    turn = st.session_state.setdefault(_ROUND, 0)
    with st.expander(label):
        name = names[0]
        if len(names) > 1:
            name = st.selectbox("Of which?", names, key=f"photos-of {turn}")
        files = st.file_uploader(
            "Photos (JPEG, PNG)", type=KINDS_OF_PICTURE, accept_multiple_files=True, key=f"photos {turn}"
        )
        st.button(
            "Keep them", key=f"keep-photos {turn}", disabled=not files, on_click=_keep,
            args=(ground, kind, name, files),
        )  # fmt: skip
        st.html(
            '<p class="cw-note">They are copied into this ground\'s folder as they are. Copies for others never hold '
            "them.</p>"
        )


def _keep(ground: Ground, kind: Literal["hole", "bar"], name: str, files: Sequence[UploadedFile]) -> None:
    state = app_state()
    try:
        with laid_down(files, as_folder=True) as folder:
            photos, log, _ = read_log_photos(ground, folder, today=date.today().isoformat())
            done = attach_photos(ground, folder, [Tie(photo, kind, name) for photo in photos])
    except ProspectError as error:
        state.said = f"Not kept: {error}"
        return
    refused = [issue.sentence() for issue in log.issues if issue.severity == "error"]
    more = [f"{len(refused) - 3} more were refused."] if len(refused) > 3 else []
    state.said = " ".join([*done.notes, *refused[:3], *more])
    st.session_state[_ROUND] += 1

"""What is on the shelf, what is missing and what that costs, and a way to add a file."""

from __future__ import annotations

import tempfile
from datetime import date
from pathlib import Path

import streamlit as st
from streamlit.runtime.uploaded_file_manager import UploadedFile

from prospect.errors import InputRefused, ProspectError
from prospect.pipeline import KINDS, Wording
from prospect.text import file_name
from prospect.ui.cards import layer_card, reading_report
from prospect.ui.open_ground import workspace
from prospect.ui.reading import words
from prospect.ui.visitor import who_is_looking
from prospect.ui.workspace import Workspace


def screen() -> None:
    """Draw the screen."""
    space = workspace()
    st.html("<h1>What is on the shelf</h1><p>The more lies here, the more of the ground can be weighed.</p>")
    left, right = st.columns([58, 42], gap="large")
    may_import = who_is_looking().may_import
    states = space.layer_states()
    with left:
        for state in (*(s for s in states if s.present), *(s for s in states if not s.present)):
            st.html(layer_card(state, noticed=may_import))
    with right, st.container(key="adding"):
        if may_import:
            _add(space, {state.kind: state.title for state in states})
        else:
            st.html("<p>Files are read in only on the machine that holds the ground.</p>")


def _add(space: Workspace, titles: dict[str, str]) -> None:
    st.html("<h2>Put a file on the shelf</h2>")
    with st.form("add", border=False):
        kind = st.selectbox("What it holds", KINDS, format_func=lambda key: titles.get(key, key.capitalize()))
        files = st.file_uploader(
            "The file (for a shapefile: all its parts, or a zip of them)", accept_multiple_files=True
        )
        crs = st.text_input(
            "Its coordinate system, only when the file does not say", placeholder="EPSG:4326", max_chars=40
        )
        again = st.checkbox("Put it in place of what is there instead of joining the two")
        sent = st.form_submit_button("Read it", type="primary")
    if sent and not files:
        st.html('<p role="alert">Choose a file first.</p>')
    elif sent:
        _read(space, kind, files, Wording(crs=crs.strip()), again)


def _read(
    space: Workspace, kind: str, files: list[UploadedFile], wording: Wording, replace_layer: bool
) -> None:
    with tempfile.TemporaryDirectory(prefix="claywalk-") as folder, st.spinner("Reading …"):
        path = _laid_down(Path(folder), files)
        try:
            intake = space.add(
                kind, path, wording, today=date.today().isoformat(), replace_layer=replace_layer
            )
        except InputRefused as error:
            st.html(_not_taken(error))
            if error.log is not None and len(error.log.issues) > 1:  # one alone has just been said
                st.html(reading_report(error.log))
        except ProspectError as error:
            st.html(_not_taken(error))
        else:
            notes = "".join(f"<li>{words(note)}</li>" for note in intake.notes)
            st.html(reading_report(intake.log) + (f"<ul>{notes}</ul>" if notes else ""))


def _not_taken(error: ProspectError) -> str:
    return (
        '<section class="cw-land cw-iron" role="alert"><h3><span aria-hidden="true">■</span> Not put on the shelf</h3>'
        f"<p>{words(error)}</p></section>"
    )


def _laid_down(folder: Path, files: list[UploadedFile]) -> Path:
    """Write the uploaded files side by side and return the one to read: a shapefile's `.shp`, else the first."""
    paths: list[Path] = []
    for upload in files:
        path = folder / file_name(upload.name)
        if path in paths:
            path = folder / file_name(f"{len(paths) + 1} {upload.name}")
        path.write_bytes(upload.getbuffer())
        paths.append(path)
    return next((path for path in paths if path.suffix.lower() == ".shp"), paths[0])

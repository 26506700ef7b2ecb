"""Brings in photos of a walk: which hole each belongs to and how sure that is, a choice where it is not, one save."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import streamlit as st

from prospect.errors import ProspectError
from prospect.issues import IssueLog
from prospect.pipeline.log_photos import (
    TAKEN_AS_THEY_ARE,
    Match,
    Tie,
    attach_photos,
    match_photos,
    photos_as_holes,
    read_log_photos,
)
from prospect.store import Ground
from prospect.ui.reading import table, words

_NOWHERE, _OWN_HOLE = "leave it out", "a new face there"
_ASKED_AT_ONCE = 12
_SURE = {"sure": "● sure", "likely": "◐ likely", "guess": "○ a guess", "none": "○ not known"}


def photos_in(ground: Ground, path: Path) -> tuple[tuple[Match, ...], IssueLog]:
    """Read photos and say where each belongs.

    Raises
    ------
    InputRefused
        When there is no photo that can be read.
    """
    photos, log, _ = read_log_photos(ground, path, today=date.today().isoformat())
    return match_photos(photos, ground.holes()), log


def ask_about_photos(ground: Ground, matches: Sequence[Match], key: str) -> tuple[Match, ...]:
    """Draw where each photo belongs; return the matches with what was chosen for those that are not sure.

    Parameters
    ----------
    ground
        Whose holes may be chosen.
    matches
        From `photos_in`.
    key
        Mark of the form, for its fields.

    Returns
    -------
    tuple of Match
        With an empty `hole_id` and no place where a photo is to be left out.
    """
    clear = [match for match in matches if match.sure in TAKEN_AS_THEY_ARE]
    open_ones = [match for match in matches if match.sure not in TAKEN_AS_THEY_ARE]
    if clear:
        rows = [(match.photo.name, match.hole_id, _SURE[match.sure], match.why) for match in clear]
        st.html(table(("photo", "hole", "how sure", "why"), rows, "Where they belong"))
    chosen = list(clear)
    if open_ones:
        st.html("<h3>Which hole do these belong to?</h3>")
    names = [hole.hole_id for hole in reversed(ground.holes())]
    for number, match in enumerate(open_ones[:_ASKED_AT_ONCE], 1):
        chosen.append(_ask(match, names, f"{key} photo {number}"))
    rest = len(open_ones) - _ASKED_AT_ONCE
    if rest > 0:
        st.html(
            f'<p class="cw-note">{rest:,} more are not sure. They are left out now; bring them in again afterwards.</p>'
        )
    return tuple(chosen)


def _ask(match: Match, names: Sequence[str], key: str) -> Match:
    likely = [name for name in (match.hole_id, *match.others) if name in names]
    choices = [_NOWHERE, *([_OWN_HOLE] if match.lon is not None else []), *dict.fromkeys([*likely, *names])]
    at = choices.index(likely[0]) if likely else 1 if _OWN_HOLE in choices else 0
    st.html(
        f'<p class="cw-asked"><b>{words(match.photo.name)}</b> <span class="cw-small">{words(_SURE[match.sure])}: '
        f"{words(match.why)}</span></p>"
    )
    picked = st.selectbox("It belongs to", choices, index=at, key=key)
    if picked == _NOWHERE:
        return replace(match, hole_id="", lon=None, lat=None)
    return replace(match, hole_id="" if picked == _OWN_HOLE else picked)


def save_photos(ground: Ground, origin: Path, chosen: Sequence[Match]) -> str:
    """Attach photos to the holes that were chosen and note new faces for the others; return what became of them.

    Raises
    ------
    InputRefused, GroundError
        As for `attach_photos`.
    """
    ties = [Tie(match.photo, "hole", match.hole_id) for match in chosen if match.hole_id]
    loose = [match for match in chosen if not match.hole_id and match.lon is not None]
    if not ties and not loose:
        return "Nothing was saved: every photo was left out."
    told = list(attach_photos(ground, origin, ties).notes) if ties else []
    try:
        told += photos_as_holes(ground, origin, loose, "face").notes if loose else ()
    except ProspectError as error:
        if not ties:
            raise
        told.append(f"The new faces are not saved: {error}")
    return " ".join(told)

"""Holes drawn side by side, each at its height on the ground where the ground's elevation says it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import streamlit as st

from prospect.charts import MOST_HOLES, hole_section
from prospect.errors import ProspectError
from prospect.layerfile import read_raster_layer
from prospect.records import Hole, Sample
from prospect.store import Ground

_HEIGHTS = "heights of holes"
_AT_FIRST = 6
"""Holes that are drawn until others are chosen (own judgement: what a desk screen shows without scrolling)."""


def section_of(
    holes: Sequence[Hole], samples: Sequence[Sample], units: str, heights_m: dict[str, float] | None = None
) -> str:
    """Return the layers of holes as a picture that scrolls sideways where it does not fit."""
    drawing = hole_section(holes, samples, heights_m, units)
    # Whatever scrolls can be reached and moved by keys.
    return f'<div class="cw-section" tabindex="0" role="group" aria-label="Layers, to scale">{drawing.picture()}</div>'


def side_by_side(
    ground: Ground, holes: Sequence[Hole], shown: Sequence[Hole], samples: Sequence[Sample]
) -> None:
    """Draw the holes that are chosen beside each other; at first those of the list that is shown.

    Parameters
    ----------
    holes
        All that may be chosen.
    shown
        Those that the list shows now.
    """
    if not st.toggle("Draw them side by side", key="side-by-side"):
        return
    by_name = {hole.hole_id: hole for hole in holes}
    chosen = st.multiselect(
        f"Which holes, at most {MOST_HOLES}",
        list(by_name),
        default=[hole.hole_id for hole in reversed(shown[:_AT_FIRST])],
        max_selections=MOST_HOLES,
        key="beside",
        placeholder="choose holes",
    )
    if chosen:
        picked = [by_name[name] for name in chosen]
        st.html(section_of(picked, samples, ground.settings.units, _heights(ground, picked)))


def _heights(ground: Ground, holes: Sequence[Hole]) -> dict[str, float]:
    """Return the height of the ground at each hole, m, where its elevation layer knows it."""
    kept: dict[tuple[str, float, float], float] = st.session_state.setdefault(_HEIGHTS, {})
    places = {hole.hole_id: (_age_of(ground), hole.lon, hole.lat) for hole in holes}
    if any(place not in kept for place in places.values()):
        try:
            elevation = read_raster_layer(ground.layers_folder, "elevation")
        except ProspectError:
            return {}
        for _, lon, lat in places.values():
            kept[_age_of(ground), lon, lat] = float(elevation.at(*elevation.grid.from_lonlat(lon, lat)))
    return {name: kept[place] for name, place in places.items() if math.isfinite(kept[place])}


def _age_of(ground: Ground) -> str:
    """Return what changes when another elevation is taken in."""
    return " ".join(
        f"{path.name} {path.stat().st_mtime_ns}" for path in sorted(ground.layers_folder.glob("elevation.*"))
    )

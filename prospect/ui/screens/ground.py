"""The ground on a map, the ranked sites beside it, and the page of whatever spot is pointed at."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any
from urllib.parse import quote

import streamlit as st

from prospect.cartography import read_place, rock_key
from prospect.errors import NothingToWorkWith, WrongUsage
from prospect.pipeline import Scored
from prospect.records import Site
from prospect.ui.cards import map_key, site_card, sites_as_text
from prospect.ui.map_content import map_state, offered_overlays
from prospect.ui.open_ground import workspace
from prospect.ui.reading import spot_page, words
from prospect.ui.show_map import show_map
from prospect.ui.state import GROUND_COLOURS, AppState, app_state
from prospect.ui.visitor import fit_for, who_is_looking
from prospect.ui.workspace import Workspace

PURPOSE_WORDS: dict[str, str] = {
    "any": "anything",
    "earthenware": "earthenware",
    "stoneware": "stoneware",
    "white": "white ware",
    "brick": "brick and tile",
    "unfired": "building, unfired",
    "slip": "slip and glaze",
}
_BEST_OF_ALL = "the best of every kind"


def screen() -> None:
    """Draw the screen."""
    space, state = workspace(), app_state()
    if state.purpose is None:
        state.purpose = space.ground.settings.purpose
    try:
        with st.spinner("Weighing the ground …"):
            scored = space.scored(state.purpose)
    except NothingToWorkWith as error:
        st.html(f'<div class="cw-card"><h2>An empty shelf</h2><p>{words(error)}</p></div>')
        return
    _choices(state, space, scored)
    sites = space.sites(scored, state.deposit)
    left, right = st.columns([62, 38], gap="medium")
    with left, st.container(key="map"):
        theme = "dark" if st.context.theme.type == "dark" else "light"
        click = show_map(map_state(state, space, scored, sites, theme), key="ground-map")
        hatched = "known" in state.overlays and state.colour_by == "worth"
        rocks = rock_key(space.rock_lineages()) if state.colour_by == "rocks" else ()
        st.html(map_key(state.colour_by, rocks, hatched))
    state.answer(click)
    showing = "list" if state.spot is None else f"spot-{state.site}-{state.moves}"
    with right, st.container(key=f"reading-{showing}"):
        if state.spot is None:
            _site_list(state, scored, sites, space.ground.settings.units)
        else:
            _page(state, space, scored, state.spot)


def _choices(state: AppState, space: Workspace, scored: Scored) -> None:
    """Ask what to look for; the answers stay when another screen was visited in between."""
    kinds = {"": _BEST_OF_ALL, **scored.titles}
    with st.container(key="choices", horizontal=True, vertical_alignment="bottom"):
        kind = _chosen(state, "Kind of ground", kinds, state.deposit, "kind")
        use = _chosen(state, "Clay for", PURPOSE_WORDS, state.purpose or "any", "use")
        with st.popover("What the map shows"):
            _shelf(state, space)
    if kind != state.deposit:
        state.deposit, state.site = kind, 0
    if use != state.purpose:
        state.purpose = use
        st.rerun()


def _chosen(state: AppState, label: str, options: Mapping[str, str], now: str, key: str) -> Any:
    keys = list(options)
    first = state.shown_first(key, now)
    place = keys.index(first) if first in keys else 0
    return st.selectbox(label, keys, place, format_func=lambda option: options[option], key=key)


def _shelf(state: AppState, space: Workspace) -> None:
    offered = {
        key: title
        for key, title in GROUND_COLOURS.items()
        if key != "rocks" or "geology" in space.ground.layers()
    }
    keys = list(offered)
    first = state.shown_first("colour", state.colour_by)
    state.colour_by = st.radio(
        "The colour of the ground says",
        keys,
        keys.index(first) if first in keys else 0,
        format_func=lambda option: offered[option],
        key="colour",
    )
    st.html('<p class="cw-note">Over it lie</p>')
    for key, title in offered_overlays(space).items():
        if st.checkbox(title, state.shown_first(f"over-{key}", key in state.overlays), key=f"over-{key}"):
            state.overlays.add(key)
        else:
            state.overlays.discard(key)


def _site_list(state: AppState, scored: Scored, sites: tuple[Site, ...], units: str) -> None:
    if not sites:
        st.html(
            "<h2>No place stands out</h2><p>Nothing here scores high enough over a large enough piece of "
            "ground. Choose another kind of ground, or point at the map to read any spot.</p>"
        )
    else:
        st.html(
            "<h2>Where to look first</h2><p>Ranked by how well worth a look the ground is. That is a comparison "
            "within this ground, not a promise of clay. Point at the map to read any other spot.</p>"
        )
    for site in sites:
        with st.container(key=f"site-{site.site}"):
            st.html(site_card(site, scored.titles.get(site.deposit, site.deposit), units, chosen=False))
            st.button(
                f"Read site {site.site}",
                key=f"read-{site.site}",
                on_click=state.choose_site,
                args=(site.site, site.lon, site.lat),
            )
    if scored.missing:
        items = "".join(f"<li>{words(sentence)}</li>" for sentence in scored.missing)
        st.html(
            f'<section class="cw-missing"><h3>Not on the shelf, and what that costs</h3><ul>{items}</ul></section>'
        )
    if sites:
        with st.expander("The same sites as a table"):
            st.html(sites_as_text(sites, scored.titles, units))
    with st.expander("Read a place by its numbers"), st.form("place", border=False):
        text = st.text_input("Latitude and longitude", placeholder="47.48 S, 122.93 W", max_chars=60)
        if st.form_submit_button("Read it"):
            _go(state, text)


def _go(state: AppState, text: str) -> None:
    try:
        lon, lat = read_place(text)
    except WrongUsage as error:
        st.html(f'<p role="alert">{words(error)}</p>')
        return
    state.go_to(lon, lat)
    st.rerun()


def _page(state: AppState, space: Workspace, scored: Scored, spot: tuple[float, float]) -> None:
    st.button("← Ranked sites", key="back", on_click=state.back_to_sites)
    try:
        report = space.report(scored, *spot, today=date.today().isoformat())
    except WrongUsage as error:
        st.html(f'<article class="cw-page"><h2>Off the map</h2><p>{words(error)}</p></article>')
        return
    shown = fit_for(who_is_looking(), report, space.people())
    st.html(spot_page(shown, state.site, state.deposit))
    # Drawn anew for every spot, so that it runs again.
    place = f"{spot[0]:.6f} {spot[1]:.6f} {state.moves}"
    st.html(
        f'<script src="./assets/claywalk/into-sight.js?{quote(place)}"></script>',
        unsafe_allow_javascript=True,
    )

"""The ground on a map, the ranked sites beside it, and the page of whatever spot is pointed at."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any
from urllib.parse import quote

import streamlit as st

from prospect.cartography import place_in_words, read_place, rock_key
from prospect.errors import NothingToWorkWith, ProspectError, WrongUsage
from prospect.pipeline import Scored
from prospect.pipeline.leave import ground_ledger, keep_out_rules
from prospect.records import GroundReport, Site
from prospect.store import Ground
from prospect.ui.cards import map_key, site_card, sites_as_text
from prospect.ui.entry import closed, say
from prospect.ui.looked_form import KIND, begin_looked, looked_form, spot_of
from prospect.ui.map_content import map_state, offered_overlays
from prospect.ui.on_site import OnSpot, Topic, on_spot, on_spot_list, topics, without_the_list
from prospect.ui.open_ground import workspace
from prospect.ui.permission_form import begin_answer, owners_of
from prospect.ui.reading import spot_page, words
from prospect.ui.rooms import go_to
from prospect.ui.sample_form import begin_new
from prospect.ui.screens.permissions import ANSWER
from prospect.ui.screens.samples import NOTE
from prospect.ui.show_map import show_map
from prospect.ui.state import GROUND_COLOURS, AppState, app_state
from prospect.ui.visitor import Visitor, fit_for, names_at, unnamed, who_is_looking
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
LOOKED = "looked"
"""Name of the argument in the page's address that holds which form is open."""
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
    form = _open_form(state, space)
    _choices(state, space, scored)
    sites = space.sites(scored, state.deposit)
    left, right = st.columns([62, 38], gap="medium")
    with left, st.container(key="map"):
        theme = "dark" if st.context.theme.type == "dark" else "light"
        click = show_map(map_state(state, space, scored, sites, theme), key="ground-map")
        hatched = "known" in state.overlays and state.colour_by == "worth"
        rocks = rock_key(space.rock_lineages()) if state.colour_by == "rocks" else ()
        st.html(map_key(state.colour_by, rocks, hatched))
    if state.answer(click) and form:
        del st.query_params[LOOKED]
        form = ""
    showing = form or ("list" if state.spot is None else f"spot-{state.site}-{state.moves}")
    with right, st.container(key=f"reading-{showing}"):
        if state.said:
            say(state.said)
            state.said = ""
        if form:
            looked_form(form)
        elif state.spot is None:
            _site_list(state, scored, sites, space.ground.settings.units)
        else:
            _page(state, space, scored, state.spot)


def _open_form(state: AppState, space: Workspace) -> str:
    """Return the key of the form that the page's address names, when it is open; the map then shows its spot."""
    token = st.query_params.get(LOOKED, "")
    if not token:
        return ""
    if re.fullmatch(r"[0-9a-f]{12}", token):
        key = f"{KIND} {token}"
        said, content = closed(key), space.ground.draft(key)
        if said is None and content:
            state.spot = state.spot or spot_of(content)
            return key
        state.said = "It was saved or put away." if said is None else said
    del st.query_params[LOOKED]
    return ""


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
    ground, today, visitor = space.ground, date.today().isoformat(), who_is_looking()
    with st.container(horizontal=True, key="what-next"):
        st.button("← Ranked sites", key="back", on_click=state.back_to_sites)
        writing = None if ground.read_only else st.popover("Write something down here")
    try:
        report = space.report(scored, *spot, today=today)
    except WrongUsage:
        st.html(_off_the_map(spot, scored))
        return
    shown = fit_for(visitor, report, space.people())
    found = _on_spot(ground, scored, report, today)
    if writing is not None:
        with writing:
            _write(state, space, report, found, visitor)
    shown = replace(shown, land=without_the_list(shown.land, found))
    if not visitor.sees_owners:  # people write names into what they saw
        names = names_at(report, space.people())
        found = tuple(replace(one, told=unnamed(one.told, names)) for one in found)
    st.html(spot_page(shown, state.site, state.deposit, ground.settings.units, on_spot_list(found)))
    # Drawn anew for every spot, so that it runs again.
    place = f"{spot[0]:.6f} {spot[1]:.6f} {state.moves}"
    st.html(
        f'<script src="./assets/claywalk/into-sight.js?{quote(place)}"></script>',
        unsafe_allow_javascript=True,
    )


def _off_the_map(spot: tuple[float, float], scored: Scored) -> str:
    west, south, east, north = scored.grid.lonlat_bounds()
    corners = f"{place_in_words(west, south)} to {place_in_words(east, north)}"
    told = f"{place_in_words(*spot)} is not on this ground, which reaches from {corners}."
    return f'<article class="cw-page"><h2>Off the map</h2><p>{words(told)}</p></article>'


def _on_spot(ground: Ground, scored: Scored, report: GroundReport, today: str) -> tuple[OnSpot, ...]:
    asked = topics(keep_out_rules(ground), ground.layers())
    looked = ground_ledger(ground, scored.grid).looked
    return on_spot(asked, looked, report.easting, report.northing, today)


def _write(
    state: AppState, space: Workspace, report: GroundReport, found: Sequence[OnSpot], visitor: Visitor
) -> None:
    """Offer what can be noted about the spot that is being read."""
    spot = (report.lon, report.lat)
    if st.button("A sample from here", key="write-sample", type="primary"):
        go_to("samples", {NOTE: begin_new(space.ground, spot).split(" ")[1]})
    for number, parcel_id in enumerate(dict.fromkeys(hit.parcel_id for hit in report.land.parcels), 1):
        if not parcel_id:
            continue
        owners = owners_of(space, parcel_id) if visitor.sees_owners else ()
        st.html(
            f'<p class="cw-note">Parcel {words(parcel_id)} {words("· " + ", ".join(owners) if owners else "")}</p>'
        )
        with st.container(horizontal=True):
            if st.button("Write down an answer", key=f"write-answer-{number}"):
                person = owners[0] if len(owners) == 1 else ""
                go_to("permissions", {ANSWER: begin_answer(space.ground, parcel_id, person).split(" ")[1]})
            if st.button("Open its permissions", key=f"open-answers-{number}"):
                state.parcel = parcel_id
                go_to("permissions")
    st.html('<p class="cw-note">To be looked for on the spot</p>')
    for number, one in enumerate(found, 1):
        with st.container(horizontal=True, vertical_alignment="center", key=f"look-{number}"):
            st.html(f"<p>{words(one.topic.title)}</p>")
            st.button(
                "I looked", key=f"write-looked-{number}", on_click=_look, args=(state, space, one.topic, spot)
            )


def _look(state: AppState, space: Workspace, topic: Topic, spot: tuple[float, float]) -> None:
    try:
        st.query_params[LOOKED] = begin_looked(space.ground, topic, spot).split(" ")[1]
    except ProspectError as error:
        state.said = f"It cannot be written down now: {error}"

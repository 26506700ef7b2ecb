"""Decides what the map shows for what was chosen: pictures, view layers, marks and the box to look at."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import quote, urlencode

from prospect.palette import Surfaces, colours
from prospect.pipeline import Scored
from prospect.records import Site
from prospect.types import Bounds
from prospect.ui.routes import BEST, KNOWN, OPENER, RELIEF
from prospect.ui.show_map import MapState, Rank, TileSheet, ViewLayer, as_target
from prospect.ui.state import AppState
from prospect.ui.workspace import SIDES, Workspace

_AROUND_DEG = 0.006
_ROOT = "../.."  # the map's frame lies two steps below the app


@dataclass(frozen=True, slots=True)
class Overlay:
    """Lines or marks that can be laid over the ground's colour.

    Attributes
    ----------
    title
        What people call it.
    colour
        Name of a surface colour.
    style
        Path options beside the colour.
    label
        Properties shown under the pointer.
    from_zoom
        Shown from this zoom on.
    """

    title: str
    colour: str
    style: dict[str, object]
    label: tuple[str, ...] = ()
    from_zoom: int = 10


_PAPER, _SLATE = colours().light.paper, colours().light.slate
_LINE: dict[str, object] = {"weight": 1.6, "fill": False, "opacity": 0.95}
_AREA: dict[str, object] = {"weight": 1.2, "fillOpacity": 0.0, "opacity": 0.9}
_DOT: dict[str, object] = {"radius": 5, "weight": 2, "fillOpacity": 0.85, "fillColor": _PAPER}

OVERLAYS: dict[str, Overlay] = {
    "water": Overlay("Creeks and ponds", "glaze", {**_LINE, "weight": 1.4}, ("name", "kind"), 9),
    "parcels": Overlay("Parcel lines", "slate", {**_AREA, "dashArray": "7 4"}, ("parcel_id", "owner"), 12),
    SIDES: Overlay(
        "Where the side of a parcel line is not certain",
        "glaze",
        {"weight": 0.4, "opacity": 0.5, "fillOpacity": 0.2},
        (),
        12,
    ),
    "soil": Overlay(
        "Soil outlines", "faded", {**_AREA, "dashArray": "1 4", "weight": 1.8}, ("name", "musym"), 12
    ),
    "keepouts": Overlay("Keep-outs", "iron", {**_AREA, "weight": 2.4, "fillOpacity": 0.12}, ("kind", "name")),
    "wetlands": Overlay("Wetlands", "reed", {**_AREA, "fillOpacity": 0.15}, ("kind", "name"), 11),
    "roads": Overlay("Roads", "faded", {**_LINE, "weight": 1.2}, ("name", "kind"), 11),
    "structures": Overlay("Faults, dykes and beds", "iron", {**_LINE, "dashArray": "10 4"}, ("kind", "name")),
    "faces": Overlay("Open faces", "iron", _DOT, ("kind", "name")),
    "leads": Overlay("Leads", "reed", _DOT, ("kind", "note")),
    "samples": Overlay("Samples", "slate", _DOT, ("sample", "usable")),
    "outline": Overlay("Outline of the ground", "slate", _AREA),
}


def map_state(
    state: AppState, space: Workspace, scored: Scored, sites: tuple[Site, ...], theme: str
) -> MapState:
    """Return everything the map shows."""
    ground = space.ground
    surfaces = colours().dark if theme == "dark" else colours().light
    whole = scored.grid.lonlat_bounds()
    chosen = next((site for site in sites if site.site == state.site), None)
    target = as_target(f"{space.folder.name}-{scored.grid.crs}-{state.moves}", whole)
    if chosen is not None:
        box = space.site_bounds(scored, state.deposit, chosen.site)
        target = as_target(f"{space.folder.name}-site-{chosen.site}-{state.moves}", box or whole)
    elif state.went_to is not None:
        lon, lat = state.went_to
        target = as_target(
            f"{space.folder.name}-spot-{state.moves}", Bounds(lon, lat, lon, lat).padded(_AROUND_DEG)
        )
    return MapState(
        target=target,
        tiles=_tiles(state, scored),
        views=_views(state, space, scored, surfaces),
        ranks=tuple(Rank(site.site, site.lon, site.lat, site.site == state.site) for site in sites)
        if "sites" in state.overlays
        else (),
        spot=None if chosen else state.spot,
        theme=theme,
        units=ground.settings.units,
    )


def offered_overlays(space: Workspace) -> dict[str, str]:
    """Return the overlays this ground can show, key to title, the two of our own first."""
    there = {*space.ground.layers(), "samples"} if space.samples() else set(space.ground.layers())
    if "parcels" in there:
        there.add(SIDES)
    own = {"sites": "Ranked sites", "known": "Strokes where little is known"}
    return own | {key: overlay.title for key, overlay in OVERLAYS.items() if key in there}


def _tiles(state: AppState, scored: Scored) -> tuple[TileSheet, ...]:
    box = tuple(scored.grid.lonlat_bounds())

    def sheet(layer: str, pane: str, opacity: float) -> TileSheet:
        url = f"{_ROOT}/tiles/{quote(layer, safe='')}/{quote(scored.revision, safe='')}/{{z}}/{{x}}/{{y}}.png"
        return TileSheet(url, pane, opacity, box)

    sheets = []
    if state.colour_by == "worth":
        sheets.append(sheet(state.deposit or BEST, "colour", 0.9))
    if scored.hillshade is not None:
        sheets.append(sheet(RELIEF, "relief", 0.6 if state.colour_by == "worth" else 0.9))
    if "known" in state.overlays and state.colour_by == "worth":
        sheets.append(sheet(KNOWN, "doubt", 1.0))
    return tuple(sheets)


def _views(state: AppState, space: Workspace, scored: Scored, surfaces: Surfaces) -> tuple[ViewLayer, ...]:
    views = []
    if state.colour_by == "rocks":
        views.append(
            ViewLayer(
                _data_url(space, "geology", v=space.layer_stamp("geology")),
                "Rocks",
                "fills",
                {"color": surfaces.slate, "weight": 0.6, "opacity": 0.6, "fillOpacity": 0.78},
                ("name", "age", "read_as"),
                8,
            )
        )
    offered = offered_overlays(space)
    for key, overlay in OVERLAYS.items():
        if key in state.overlays and key in offered:
            style = {**overlay.style, "color": getattr(surfaces, overlay.colour)}
            url = _data_url(space, key, v=space.layer_stamp(key))
            views.append(ViewLayer(url, overlay.title, "lines", style, overlay.label, overlay.from_zoom))
    if "sites" in state.overlays:
        url = _data_url(space, "sites", revision=scored.revision, deposit=state.deposit)
        style = {"color": _PAPER, "casing": _SLATE, "weight": 1.6, "fillOpacity": 0.0}
        views.append(ViewLayer(url, "Sites", "lines", style, (), 3, state.site))
    return tuple(views)


def _data_url(space: Workspace, layer: str, **asked: object) -> str:
    return f"{_ROOT}/data/{layer}.geojson?{urlencode({**asked, OPENER: space.token})}"

"""The map on a screen: the only place where the app touches the map library."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import folium
import streamlit_folium
from branca.element import MacroElement
from folium.template import Template

from prospect.text import escape_script
from prospect.types import Bounds

_ASSETS = "../../assets"  # from inside the map's frame, so that a base path in front of the app survives
_HEIGHT_PX = 640


@dataclass(frozen=True, slots=True)
class TileSheet:
    """A tiled picture: address pattern, pane (`colour`, `relief`, `doubt`), opacity, and its box in degrees."""

    url: str
    pane: str
    opacity: float
    bounds: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class ViewLayer:
    """A layer fetched for each view.

    Attributes
    ----------
    url
        Address without `bbox` and `z`.
    title
        What people call it.
    pane
        `fills` (patterned areas) or `lines`.
    style
        Path options of the map library.
    label
        Properties shown under the pointer, one a line.
    from_zoom
        Not fetched farther out than this.
    chosen
        Value of the property `site` to draw heavier.
    """

    url: str
    title: str
    pane: str
    style: Mapping[str, object]
    label: tuple[str, ...] = ()
    from_zoom: int = 10
    chosen: int = -1


@dataclass(frozen=True, slots=True)
class Rank:
    """A numbered mark at a site's best spot."""

    site: int
    lon: float
    lat: float
    chosen: bool = False


@dataclass(frozen=True, slots=True)
class Target:
    """Where the map should look; it moves only when `nonce` changes, so that a person's own view is kept."""

    nonce: str
    bounds: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class MapState:
    """Everything the map shows at one moment."""

    target: Target
    tiles: tuple[TileSheet, ...] = ()
    views: tuple[ViewLayer, ...] = ()
    ranks: tuple[Rank, ...] = ()
    spot: tuple[float, float] | None = None
    theme: str = "light"
    units: str = "metric"


@dataclass(frozen=True, slots=True)
class Click:
    """A place on the map that somebody asked about, WGS 84 degrees."""

    lon: float
    lat: float


class LocalMap(folium.Map):
    """A map whose every file comes from the app itself."""

    default_js = [  # noqa: RUF012
        ("leaflet", f"{_ASSETS}/leaflet/leaflet.js"),
        ("claywalk", f"{_ASSETS}/claywalk/map.js"),
    ]
    default_css = [  # noqa: RUF012
        ("leaflet_css", f"{_ASSETS}/leaflet/leaflet.css"),
        ("claywalk_css", f"{_ASSETS}/claywalk/map.css"),
    ]


class _Hand(MacroElement):
    """Calls one function of `map.js` on the map with plain data, encoded so that nothing in it can run."""

    _template = Template(
        "{% macro script(this, kwargs) %}"
        "window.claywalk.{{ this.function }}({{ this.map_name }}, {{ this.data }});"
        "{% endmacro %}"
    )

    def __init__(self, function: str, map_name: str, data: Mapping[str, object]) -> None:
        super().__init__()
        self._name = "Hand"
        self.function = function
        self.map_name = map_name
        self.data = escape_script(data)


def show_map(state: MapState, *, key: str) -> Click | None:
    """Draw the map and return the place last clicked, or None.

    The map itself is made once; what it shows goes in beside it, so that neither a switched layer nor a chosen
    site loads it anew.
    """
    canvas = build_map(state)
    answer = streamlit_folium.st_folium(
        canvas,
        key=key,
        height=_HEIGHT_PX,
        use_container_width=True,
        feature_group_to_add=build_content(state),
        returned_objects=["last_clicked"],
    )
    return as_click(answer)


def build_map(state: MapState) -> LocalMap:
    """Return the empty map, the same text for every state of one ground."""
    canvas = LocalMap(
        location=[0, 0],
        zoom_start=2,
        tiles=None,
        prefer_canvas=True,
        zoom_control=True,
        attributionControl=False,
        control_scale=False,
        zoomSnap=0.25,
        zoomDelta=0.5,
    )
    canvas.add_child(_Hand("start", "map_div", {"units": state.units, "theme": state.theme}))
    return canvas


def build_content(state: MapState) -> folium.FeatureGroup:
    """Return what the map shows as one group that is put on a map already drawn."""
    group = folium.FeatureGroup(name="content")
    group.add_child(_Hand("show", "map_div", asdict(state)))
    return group


def as_click(answer: Mapping[str, Any] | None) -> Click | None:
    """Return the click in the map's answer when it is a place on Earth."""
    clicked = (answer or {}).get("last_clicked") or {}
    lon, lat = clicked.get("lng"), clicked.get("lat")
    if not (isinstance(lon, (int, float)) and isinstance(lat, (int, float))):
        return None
    if not (math.isfinite(lon) and math.isfinite(lat) and abs(lat) <= 90 and abs(lon) <= 180):
        return None
    return Click(float(lon), float(lat))


def as_target(nonce: str, bounds: Bounds) -> Target:
    """Return a target from a box in degrees."""
    return Target(nonce, (bounds.west, bounds.south, bounds.east, bounds.north))

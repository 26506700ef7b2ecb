"""Serves map pictures, view-clipped layers and the map's own files on the app's port, to our own screens only."""

from __future__ import annotations

import math
from functools import lru_cache, partial
from pathlib import Path
from secrets import compare_digest
from typing import Any

from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles
from xstatic.pkg import jquery, leaflet

from prospect.cartography import (
    Picture,
    clip_features,
    render_hatch,
    render_hillshade,
    render_png,
    tile,
)
from prospect.grid import Raster
from prospect.pipeline import Scored
from prospect.types import Bounds
from prospect.ui.rooms import DEFAULT
from prospect.ui.visitor import HEADER, visitor_marked
from prospect.ui.workspace import SIDES, VIEW_LAYERS, Workspace

BEST, KNOWN, RELIEF = "best", "known", "relief"
OPENER = "t"
"""Name of the argument that holds the workspace's token."""
# No other page may lay the answer into itself, and no browser may guess that it is something to run.
_OURS = {"Cross-Origin-Resource-Policy": "same-origin", "X-Content-Type-Options": "nosniff"}
_LONG = {"Cache-Control": "private, max-age=604800, immutable", **_OURS}
_NEVER = {"Cache-Control": "no-store", **_OURS}
# Kept, but asked about each time, so that a new version is seen at once.
_CHECKED = {"Cache-Control": "no-cache", **_OURS}
_OWN_SITE = ("", "none", "same-origin")
_LONGEST_ARGUMENT = 200
_MOST_DIGITS = 9
_DEEPEST_ZOOM = 22

SHOWN_COLUMNS: dict[str, tuple[str, ...]] = {
    "geology": ("unit", "name", "age", "read_as", "colour", "pattern"),
    "soil": ("musym", "name"),
    "parcels": ("parcel_id", "owner"),
    "outline": (),
    SIDES: (),
    "samples": ("sample", "usable"),
    "sites": ("site",),
    "leads": ("kind", "note"),
    "faces": ("kind", "name"),
}
"""Properties that travel to the map; every other layer sends `kind` and `name`."""
PERSONAL = ("owner", "person")
"""Properties that travel only to visitors who may see owners."""


def routes(workspace: Workspace) -> list[BaseRoute]:
    """Return the routes that go beside the screens; nothing can be sent to them.

    Notes
    -----
    Data routes answer only to the workspace's token, and pictures only to the revision that our screens show
    (a hash of everything the ground holds), so that another page in the same browser does not read owners'
    names by knowing the port. A program that opens the app itself sees what the app shows. Which properties travel
    is decided by who asks, never by what is asked.
    """
    own = Path(__file__).parent / "assets"
    return [
        Mount("/assets/leaflet", _Files(directory=leaflet.BASE_DIR)),
        Mount("/assets/jquery", _Files(directory=jquery.BASE_DIR)),
        Mount("/assets/claywalk", _Files(directory=own)),
        Route(
            "/tiles/{layer}/{revision}/{z}/{x}/{y}.png", partial(_tile, _Pictures(workspace)), methods=["GET"]
        ),
        Route("/data/{layer}.geojson", partial(_features, workspace), methods=["GET"]),
        Route(f"/{DEFAULT}", _to_the_map, methods=["GET"]),
    ]


class _Files(StaticFiles):
    """Files of ours in one folder; links that lead out of it are not followed."""

    def file_response(self, *args: Any, **named: Any) -> Response:
        """Return a file with the headers of everything we serve."""
        response = super().file_response(*args, **named)
        response.headers.update(_CHECKED)
        return response


class _Pictures:
    """Tiles of one workspace, the most recent ones kept."""

    def __init__(self, workspace: Workspace) -> None:
        self._workspace = workspace
        self.tile = lru_cache(maxsize=2048)(self._tile)

    def _tile(self, layer: str, revision: str, z: int, x: int, y: int) -> bytes | None:
        scored = self._workspace.at_revision(revision)
        raster = None if scored is None else _raster(scored, layer)
        if raster is None:
            raise LookupError(layer)
        pictures: dict[str, Picture] = {KNOWN: render_hatch, RELIEF: render_hillshade}
        return tile(raster.values, raster.grid, z, x, y, pictures.get(layer, render_png))


def _raster(scored: Scored, layer: str) -> Raster | None:
    named = {BEST: scored.best, KNOWN: scored.completeness, RELIEF: scored.hillshade}
    return named[layer] if layer in named else scored.favourability.get(layer)


def _tile(pictures: _Pictures, request: Request) -> Response:
    if not _from_our_screens(request):
        return _refused("this is only for the app's own screens", 403)
    at = request.path_params
    try:
        z, x, y = (_number(at[name]) for name in "zxy")
        picture = pictures.tile(at["layer"], at["revision"], z, x, y)
    except LookupError:
        return _refused("no such layer", 404)
    except ValueError:
        return _refused("no such tile", 400)
    if picture is None:
        return Response(status_code=204, headers=_LONG)
    return Response(picture, media_type="image/png", headers=_LONG)


def _features(workspace: Workspace, request: Request) -> Response:
    layer, asked = request.path_params["layer"], request.query_params
    told = asked.get(OPENER, "").encode()
    if not (_from_our_screens(request) and compare_digest(told, workspace.token.encode())):
        return _refused("this is only for the app's own screens", 403)
    if any(len(value) > _LONGEST_ARGUMENT for value in asked.values()):
        return _refused("an argument is too long", 400)
    try:
        view = _view(asked.get("bbox", ""))
        zoom = _zoom(asked.get("z", ""))
    except ValueError:
        return _refused(f"bbox must be west,south,east,north in degrees, z 0 to {_DEEPEST_ZOOM}", 400)
    if layer == "sites":
        frame = workspace.site_frame(asked.get("revision", ""), asked.get("deposit", ""))
    else:
        frame = workspace.frame(layer) if layer in VIEW_LAYERS else None
    if frame is None:
        return _refused("no such layer", 404)
    wanted = SHOWN_COLUMNS.get(layer, ("kind", "name"))
    hidden = () if visitor_marked(request.headers.get(HEADER)).sees_owners else PERSONAL
    columns = [name for name in wanted if name in frame.columns and name not in hidden]
    text = clip_features(frame, view, zoom, columns=columns)
    return Response(text, media_type="application/geo+json", headers=_NEVER)


def _to_the_map(request: Request) -> Response:
    """Send whoever types the map's name after the address to the map, with what stood behind it."""
    asked = f"?{request.url.query}" if request.url.query else ""
    return RedirectResponse(f"/{asked}", 307, _NEVER)


def _from_our_screens(request: Request) -> bool:
    """Whether the browser says that one of our own pages asks, or says nothing (W3C Fetch Metadata)."""
    return request.headers.get("sec-fetch-site", "") in _OWN_SITE


def _refused(words: str, status: int) -> Response:
    """Answer in plain words that repeat nothing of what was asked."""
    return PlainTextResponse(words, status_code=status, headers=_NEVER)


def _number(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= _MOST_DIGITS):
        raise ValueError("not a number of a tile")
    return int(text)


def _view(text: str) -> Bounds:
    parts = text.split(",")
    if len(parts) != 4:
        raise ValueError("not four numbers")
    west, south, east, north = (float(part) for part in parts)
    box = Bounds(west, south, east, north)
    if west < -540 or east > 540 or south < -90 or north > 90:
        raise ValueError("not on Earth")
    return box


def _zoom(text: str) -> float:
    zoom = float(text)
    if not (math.isfinite(zoom) and 0 <= zoom <= _DEEPEST_ZOOM):
        raise ValueError("no such zoom")
    return zoom

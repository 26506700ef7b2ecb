"""Serves map pictures, view-clipped layers and the map's own files on the app's port."""

from __future__ import annotations

import math
from functools import lru_cache, partial
from pathlib import Path

from starlette.requests import Request
from starlette.responses import Response
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
from prospect.ui.workspace import VIEW_LAYERS, Workspace

BEST, KNOWN, RELIEF = "best", "known", "relief"
_LONG = {"Cache-Control": "private, max-age=604800, immutable"}
_NEVER = {"Cache-Control": "no-store"}
_DEEPEST_ZOOM = 22

SHOWN_COLUMNS: dict[str, tuple[str, ...]] = {
    "geology": ("unit", "name", "age", "read_as", "colour", "pattern"),
    "soil": ("musym", "name"),
    "parcels": ("parcel_id", "owner"),
    "outline": (),
    "samples": ("sample", "usable"),
    "sites": ("site",),
    "leads": ("kind", "note"),
    "faces": ("kind", "name"),
}
"""Properties that travel to the map; every other layer sends `kind` and `name`."""


def routes(workspace: Workspace) -> list[BaseRoute]:
    """Return the routes that go beside the screens."""
    own = Path(__file__).parent / "assets"
    return [
        Mount("/assets/leaflet", StaticFiles(directory=leaflet.BASE_DIR)),
        Mount("/assets/jquery", StaticFiles(directory=jquery.BASE_DIR)),
        Mount("/assets/claywalk", StaticFiles(directory=own)),
        Route("/tiles/{layer}/{revision}/{z:int}/{x:int}/{y:int}.png", partial(_tile, _Pictures(workspace))),
        Route("/data/{layer}.geojson", partial(_features, workspace)),
    ]


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
    at = request.path_params
    try:
        picture = pictures.tile(at["layer"], at["revision"], at["z"], at["x"], at["y"])
    except LookupError:
        return Response("no such layer", status_code=404, headers=_NEVER)
    except ValueError as error:
        return Response(str(error), status_code=400, headers=_NEVER)
    if picture is None:
        return Response(status_code=204, headers=_LONG)
    return Response(picture, media_type="image/png", headers=_LONG)


def _features(workspace: Workspace, request: Request) -> Response:
    layer = request.path_params["layer"]
    try:
        view = _view(request.query_params.get("bbox", ""))
        zoom = _zoom(request.query_params.get("z", ""))
    except ValueError as error:
        return Response(str(error), status_code=400, headers=_NEVER)
    if layer == "sites":
        asked = request.query_params
        frame = workspace.site_frame(asked.get("revision", ""), asked.get("deposit", ""))
    else:
        frame = workspace.frame(layer) if layer in VIEW_LAYERS else None
    if frame is None:
        return Response("no such layer", status_code=404, headers=_NEVER)
    wanted = SHOWN_COLUMNS.get(layer, ("kind", "name"))
    columns = [name for name in wanted if name in frame.columns]
    text = clip_features(frame, view, zoom, columns=columns)
    return Response(text, media_type="application/geo+json", headers=_NEVER)


def _view(text: str) -> Bounds:
    parts = text.split(",")
    if len(parts) != 4:
        raise ValueError("bbox must be west,south,east,north in degrees")
    west, south, east, north = (float(part) for part in parts)
    box = Bounds(west, south, east, north)
    if west < -540 or east > 540 or south < -90 or north > 90:
        raise ValueError("bbox must be west,south,east,north in degrees")
    return box


def _zoom(text: str) -> float:
    zoom = float(text)
    if not (math.isfinite(zoom) and 0 <= zoom <= _DEEPEST_ZOOM):
        raise ValueError(f"z must be 0 to {_DEEPEST_ZOOM}")
    return zoom

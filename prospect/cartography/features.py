"""Cuts a layer down to what one view can show and writes it as GeoJSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from prospect.cartography.tiles import degrees_per_pixel
from prospect.text import escape_script, plain
from prospect.types import Bounds, IntArray

Shapes = NDArray[Any]

MOST_FEATURES = 4000
DECIMALS = 6
_MARGIN = 0.15  # of the view's size, so that a small pan finds the ground already drawn


def clip_features(
    frame: gpd.GeoDataFrame,
    bbox: Bounds,
    zoom: float,
    *,
    columns: Sequence[str] | None = None,
    most: int = MOST_FEATURES,
) -> str:
    """Return what a view shows of a layer as GeoJSON text, safe inside a script and a page template.

    Parameters
    ----------
    frame
        Any vector layer in EPSG:4326.
    bbox
        The view, degrees.
    zoom
        Web map zoom; shapes are simplified to half a pixel and cut to a little more than the view.
    columns
        Properties to keep; all but the geometry when not given. Text loses control characters, numbers that
        are not finite become null.
    most
        The largest shapes are kept when there are more than this; the collection's own members `shown` and
        `left_out` say how many.

    Raises
    ------
    ValueError
        When the frame is not in EPSG:4326 (an empty frame may have no CRS).
    """
    if len(frame) and (frame.crs is None or frame.crs.to_epsg() != 4326):
        raise ValueError(f"A layer for a view must be in EPSG:4326, not {frame.crs}.")
    pixel = degrees_per_pixel(zoom)
    view = bbox.padded(_MARGIN * max(bbox.width, bbox.height, pixel))
    rows = np.sort(frame.sindex.intersection(tuple(view))) if len(frame) else np.array([], dtype=np.intp)
    shapes = frame.geometry.to_numpy()[rows]
    rows, shapes, left_out = _largest(rows, shapes, most)
    shapes = _cut(shapes, view)
    drawn = ~shapely.is_empty(shapes)
    rows, shapes = (
        rows[drawn],
        _simplified(shapes[drawn], pixel * math.cos(math.radians((bbox.south + bbox.north) / 2))),
    )
    kept = list(columns) if columns is not None else [c for c in frame.columns if c != frame.geometry.name]
    table = frame.iloc[rows][kept]
    features = [
        f'{{"type": "Feature", "id": {int(row)}, "properties": {_properties(kept, record)},'
        f' "geometry": {outline} }}'
        for row, record, outline in zip(
            rows, table.itertuples(index=False, name=None), shapely.to_geojson(shapes), strict=True
        )
    ]
    return (
        f'{{"type": "FeatureCollection", "shown": {len(features)}, "left_out": {left_out},'
        f' "features": [{", ".join(features)}] }}'
    )


def _largest(rows: IntArray, shapes: Shapes, most: int) -> tuple[IntArray, Shapes, int]:
    if len(rows) <= most:
        return rows, shapes, 0
    west, south, east, north = shapely.bounds(shapes).T
    size = (east - west) + (north - south)
    largest = np.sort(np.argsort(-size, kind="stable")[:most])
    return rows[largest], shapes[largest], len(rows) - most


def _cut(shapes: Shapes, view: Bounds) -> Shapes:
    """Cut to the view only the shapes that reach far beyond it: cutting is dearer than drawing."""
    west, south, east, north = shapely.bounds(shapes).T if len(shapes) else np.empty((4, 0))
    far = (east - west > view.width) | (north - south > view.height)
    if far.any():
        shapes = shapes.copy()
        valid = shapely.make_valid(shapes[far])
        shapes[far] = shapely.clip_by_rect(valid, *view)
    return shapes


def _simplified(shapes: Shapes, pixel: float) -> Shapes:
    simple = shapely.simplify(shapes, pixel / 2, preserve_topology=True)
    return shapely.transform(shapely.force_2d(simple), lambda xy: np.round(xy, DECIMALS))


def _properties(columns: Sequence[str], record: tuple[object, ...]) -> str:
    return escape_script({name: _plain_value(value) for name, value in zip(columns, record, strict=True)})


def _plain_value(value: object) -> object:
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, np.generic):
        return _plain_value(value.item())
    if isinstance(value, (int, float)):
        return value if math.isfinite(value) else None
    return plain(value, most=2000)

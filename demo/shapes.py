"""Turns a picture of classes into map polygons whose shared edges are smooth and fit each other exactly."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from rasterio.features import shapes, sieve

from .frame import CELL_LAT, CELL_LON, Frame

Ints = NDArray[np.int32]


def polygons(frame: Frame, classes: Ints, least_cells: int, keep_every: int = 3) -> gpd.GeoDataFrame:
    """Return columns `code, geometry` (lon/lat) of the classes, margins cut off; -1 is left out.

    Patches smaller than `least_cells` join their largest neighbour. Steps between cells are smoothed by
    moving every corner that two polygons share, so no gap and no overlap can open.
    """
    picture = sieve(frame.crop(classes).astype(np.int32), least_cells, connectivity=4)
    drawn = [(shapely.geometry.shape(g), int(v)) for g, v in shapes(picture, connectivity=4) if v >= 0]
    rings = shapely.segmentize(np.array([g for g, _ in drawn]), 1.0)
    corners, crossings = _smooth_corners(picture)
    keep = crossings | (np.add.outer(*map(np.arange, crossings.shape)) % keep_every == 0)
    made = [_redraw(frame, polygon, corners, keep) for polygon in rings]
    table = gpd.GeoDataFrame({"code": [v for _, v in drawn]}, geometry=made, crs="EPSG:4326")
    wrong = ~table.is_valid
    table.loc[wrong, "geometry"] = table.geometry[wrong].buffer(0)
    return table[~table.is_empty].explode(ignore_index=True)


def _smooth_corners(picture: Ints) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return smoothed (col, row) of every cell corner, and which corners must stay in every polygon."""
    rows, cols = picture.shape
    padded = np.pad(picture, 1, constant_values=-9)
    down = np.zeros((rows + 2, cols + 1), dtype=bool)
    down[1:-1] = padded[1:-1, :-1] != padded[1:-1, 1:]
    across = np.zeros((rows + 1, cols + 2), dtype=bool)
    across[:, 1:-1] = padded[:-1, 1:-1] != padded[1:, 1:-1]
    up, below = down[:-1], down[1:]
    left, right = across[:, :-1], across[:, 1:]
    degree = up.astype(np.int8) + below + left + right
    on = np.argwhere(degree > 0)
    number = np.full(degree.shape, -1)
    number[tuple(on.T)] = np.arange(len(on))
    links = np.full((len(on), 4), -1)
    for k, (present, (dr, dc)) in enumerate(
        ((up, (-1, 0)), (below, (1, 0)), (left, (0, -1)), (right, (0, 1)))
    ):
        has = present[tuple(on.T)]
        links[has, k] = number[tuple((on[has] + (dr, dc)).T)]
    edge = (on[:, 0] == 0) | (on[:, 0] == rows) | (on[:, 1] == 0) | (on[:, 1] == cols)
    place = on[:, ::-1].astype(np.float64)
    linked = (links >= 0)[:, :, None]
    free = (~edge & (degree[tuple(on.T)] == 2))[:, None]
    for _ in range(9):
        mean = (place[links] * linked).sum(axis=1) / linked.sum(axis=1)
        place = np.where(free, 0.4 * place + 0.6 * mean, place)
    grid = np.zeros((*degree.shape, 2))
    grid[tuple(on.T)] = place
    corner = np.zeros(degree.shape, dtype=bool)
    corner[tuple(on[edge].T)] = True
    return grid, corner | (degree > 2)


def _redraw(
    frame: Frame, polygon: shapely.Polygon, corners: NDArray[np.float64], keep: NDArray[np.bool_]
) -> shapely.Polygon:
    rings = [
        _ring(frame, shapely.get_coordinates(ring), corners, keep)
        for ring in (polygon.exterior, *polygon.interiors)
    ]
    return shapely.Polygon(rings[0], [ring for ring in rings[1:] if len(ring) >= 4])


def _ring(
    frame: Frame, ring: NDArray[np.float64], corners: NDArray[np.float64], keep: NDArray[np.bool_]
) -> NDArray[np.float64]:
    col, row = np.round(ring[:-1]).astype(np.int64).T
    wanted = keep[row, col]
    if wanted.sum() < 4:
        wanted[:] = True
    place = corners[row[wanted], col[wanted]]
    place = np.vstack([place, place[:1]])
    lon = frame.west + place[:, 0] * CELL_LON
    lat = frame.north - place[:, 1] * CELL_LAT
    return np.round(np.column_stack([lon, lat]), 7)

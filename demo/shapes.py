"""Turns a picture of classes into map polygons whose shared edges are smooth and fit each other exactly."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray
from rasterio.features import sieve

from .frame import CELL_LAT, CELL_LON, Frame

Ints = NDArray[np.int32]
Mask = NDArray[np.bool_]


def polygons(frame: Frame, classes: Ints, least_cells: int, keep_every: int = 3) -> gpd.GeoDataFrame:
    """Return columns `code, geometry` (lon/lat) of the classes, margins cut off.

    Patches smaller than `least_cells` join their largest neighbour. Steps between cells are smoothed by
    moving every corner that two polygons share, so no gap and no overlap can open.
    """
    picture = sieve(frame.crop(classes).astype(np.int32), least_cells, connectivity=4)
    down, across = _edges(picture)
    drawn = _cell_polygons(down, across)
    inside = shapely.get_coordinates(shapely.point_on_surface(drawn)).astype(np.int64)
    corners, crossings = _smooth_corners(down, across)
    keep = crossings | (np.add.outer(*map(np.arange, crossings.shape)) % keep_every == 0)
    made = [_redraw(frame, polygon, corners, keep) for polygon in drawn]
    codes = picture[inside[:, 1], inside[:, 0]]
    table = gpd.GeoDataFrame({"code": codes}, geometry=made, crs="EPSG:4326")
    wrong = ~table.is_valid
    table.loc[wrong, "geometry"] = table.geometry[wrong].buffer(0)
    return table[~table.is_empty].explode(ignore_index=True)


def _edges(picture: Ints) -> tuple[Mask, Mask]:
    """Return where a line runs down from a corner's row above it, and where one runs across to it.

    Both have one row or column more than the corners on each side: `down[r, c]` is the piece from corner
    (r - 1, c) to (r, c), `across[r, c]` the piece from corner (r, c - 1) to (r, c).
    """
    rows, cols = picture.shape
    padded = np.pad(picture, 1, constant_values=-9)
    down = np.zeros((rows + 2, cols + 1), dtype=bool)
    down[1:-1] = padded[1:-1, :-1] != padded[1:-1, 1:]
    across = np.zeros((rows + 1, cols + 2), dtype=bool)
    across[:, 1:-1] = padded[:-1, 1:-1] != padded[1:, 1:-1]
    return down, across


def _cell_polygons(down: Mask, across: Mask) -> NDArray[np.object_]:
    """Return the patches as polygons in (col, row) corners, one vertex for every cell side."""
    r, c = np.nonzero(down)
    upright = np.stack([np.column_stack([c, r - 1]), np.column_stack([c, r])], axis=1)
    r, c = np.nonzero(across)
    level = np.stack([np.column_stack([c - 1, r]), np.column_stack([c, r])], axis=1)
    pieces = shapely.linestrings(np.vstack([upright, level]).astype(np.float64))
    return shapely.segmentize(shapely.get_parts(shapely.polygonize(pieces)), 1.0)


def _smooth_corners(down: Mask, across: Mask) -> tuple[NDArray[np.float64], Mask]:
    """Return smoothed (col, row) of every cell corner, and which corners must stay in every polygon."""
    up, below, left, right = down[:-1], down[1:], across[:, :-1], across[:, 1:]
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
    last_row, last_col = np.array(degree.shape) - 1
    edge = (on[:, 0] == 0) | (on[:, 0] == last_row) | (on[:, 1] == 0) | (on[:, 1] == last_col)
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
    frame: Frame, polygon: shapely.Polygon, corners: NDArray[np.float64], keep: Mask
) -> shapely.Polygon:
    rings = [
        _ring(frame, shapely.get_coordinates(ring), corners, keep)
        for ring in (polygon.exterior, *polygon.interiors)
    ]
    return shapely.Polygon(rings[0], [ring for ring in rings[1:] if len(ring) >= 4])


def _ring(
    frame: Frame, ring: NDArray[np.float64], corners: NDArray[np.float64], keep: Mask
) -> NDArray[np.float64]:
    col, row = np.round(ring[:-1]).astype(np.int64).T
    wanted = keep[row, col]
    if wanted.sum() < 4:
        wanted[:] = True
    place = corners[row[wanted], col[wanted]]
    place = np.vstack([place, place[:1]])
    lon = frame.west + place[:, 0] * CELL_LON
    lat = frame.north - place[:, 1] * CELL_LAT
    return np.round(np.column_stack([lon, lat]), 7).astype(np.float64)

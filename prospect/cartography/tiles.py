"""Looks up which grid cell lies under each pixel of a web map tile."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np
from pyproj import Transformer

from prospect.cartography.picture import render_png
from prospect.grid import Grid
from prospect.types import Bounds, FloatArray, IntArray

TILE_PX = 256
DEEPEST_ZOOM = 22
_EARTH_HALF_M = math.pi * 6378137.0  # half the side of the web-mercator square (EPSG:3857), m
_LATTICE = 33
_LATTICE_FROM_ZOOM = 8

Picture = Callable[[FloatArray], bytes]


def tile(
    values: FloatArray,
    grid: Grid,
    z: int,
    x: int,
    y: int,
    picture: Picture = render_png,
) -> bytes | None:
    """Return one web-mercator tile of a raster as PNG, or None where the raster does not reach.

    Parameters
    ----------
    values
        (rows, cols) on `grid`; NaN is drawn clear.
    grid
        Where the cells are.
    z, x, y
        Tile address in the common scheme: zoom, column from the west, row from the north.
    picture
        Turns the (256, 256) array of the tile into a PNG; nothing is drawn between cells, each pixel takes
        the value of the cell under its middle.

    Raises
    ------
    ValueError
        For an address that does not exist.
    """
    under = tile_values(values, grid, z, x, y)
    return None if under is None else picture(under)


def tile_values(values: FloatArray, grid: Grid, z: int, x: int, y: int) -> FloatArray | None:
    """Return the (256, 256) values under a tile's pixels, NaN outside; None when no pixel has data."""
    cells = cells_under_tile(grid, z, x, y)
    if cells is None:
        return None
    under = np.where(cells >= 0, values.ravel()[np.maximum(cells, 0)], np.float32(np.nan))
    return under if np.isfinite(under).any() else None


@lru_cache(maxsize=256)
def cells_under_tile(grid: Grid, z: int, x: int, y: int) -> IntArray | None:
    """Return the flat cell number under each pixel's middle, (256, 256) int32, -1 outside; None if all are."""
    if not (0 <= z <= DEEPEST_ZOOM and 0 <= x < 2**z and 0 <= y < 2**z):
        raise ValueError(f"There is no tile {z}/{x}/{y}.")
    east, north = _middles(grid.crs, z, x, y)
    with np.errstate(invalid="ignore"):
        cols = np.floor((east - grid.west) / grid.cell_m)
        rows = np.floor((grid.north - north) / grid.cell_m)
        inside = (rows >= 0) & (rows < grid.rows) & (cols >= 0) & (cols < grid.cols)
    if not inside.any():
        return None
    flat = np.where(inside, rows * grid.cols + cols, -1).astype(np.int32)
    flat.setflags(write=False)
    return flat


def tile_bounds(z: int, x: int, y: int) -> Bounds:
    """Return the edges of a tile, m, in web mercator (EPSG:3857)."""
    side = 2 * _EARTH_HALF_M / 2**z
    west, north = -_EARTH_HALF_M + x * side, _EARTH_HALF_M - y * side
    return Bounds(west, north - side, west + side, north)


def degrees_per_pixel(z: float) -> float:
    """Return how many degrees of longitude one pixel of a web map spans."""
    return 360.0 / (TILE_PX * 2.0**z)


def _middles(crs: str, z: int, x: int, y: int) -> tuple[FloatArray, FloatArray]:
    box = tile_bounds(z, x, y)
    # Between two projections a tile is so nearly flat that a lattice of exact points, joined by straight
    # lines, stays within a hundredth of a pixel; far out it is not, and every pixel is asked for.
    count = _LATTICE if z >= _LATTICE_FROM_ZOOM else TILE_PX
    step = box.width / TILE_PX
    across = np.linspace(box.west + step / 2, box.east - step / 2, count)
    down = np.linspace(box.north - step / 2, box.south + step / 2, count)
    xs, ys = np.meshgrid(across, down)
    east, north = _to_grid(crs).transform(xs, ys)
    if count == TILE_PX:
        return east, north
    return _between(east), _between(north)


@lru_cache(maxsize=8)
def _to_grid(crs: str) -> Transformer:
    return Transformer.from_crs("EPSG:3857", crs, always_xy=True)


def _between(lattice: FloatArray) -> FloatArray:
    place = np.linspace(0, _LATTICE - 1, TILE_PX)
    low = np.minimum(place.astype(np.intp), _LATTICE - 2)
    share = place - low
    rows = lattice[low] * (1 - share)[:, None] + lattice[low + 1] * share[:, None]
    return rows[:, low] * (1 - share)[None, :] + rows[:, low + 1] * share[None, :]

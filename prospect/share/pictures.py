"""Rasters as small pictures in web mercator, for a map that carries everything in one file."""

from __future__ import annotations

import base64
import math
from dataclasses import dataclass

import numpy as np
from pyproj import Transformer
from rasterio.enums import Resampling
from rasterio.transform import from_bounds
from rasterio.warp import reproject

from prospect.cartography import indexed_png
from prospect.cartography.picture import HATCH_STEPS
from prospect.grid import Raster
from prospect.palette import ramp
from prospect.types import FloatArray, IntArray

_INK, _LIGHT = (43, 51, 54), (255, 253, 248)
_FLAT_GROUND = 255 * math.sin(math.radians(45))  # shade of level ground under a light 45° high
_RELIEF_LEVELS = 9  # on either side of level ground
_SHADE_STRENGTH, _LIGHT_STRENGTH = 0.5, 0.26


@dataclass(frozen=True, slots=True)
class Picture:
    """One embedded picture.

    Attributes
    ----------
    png
        Indexed PNG.
    corners
        South, west, north, east, degrees (WGS 84); between them the picture is evenly spaced in web mercator.
    colours
        Colour of each class, red, green, blue.
    values
        What each class stands for: the middle of its range.
    """

    png: bytes
    corners: tuple[float, float, float, float]
    colours: tuple[tuple[int, int, int], ...]
    values: tuple[float, ...]

    def as_data(self) -> dict[str, object]:
        """Return it as plain values for the page."""
        return {
            "uri": f"data:image/png;base64,{base64.b64encode(self.png).decode('ascii')}",
            "corners": list(self.corners),
            "colours": [list(colour) for colour in self.colours],
            "values": list(self.values),
        }


def favourability_picture(raster: Raster, classes: int, most_px: int) -> Picture:
    """Return favourability 0..1 in `classes` even steps of the ramp; unknown is clear."""
    values, corners = in_mercator(raster, most_px)
    known = np.isfinite(values)
    step = np.clip(np.floor(np.where(known, values, 0.0) * classes), 0, classes - 1)
    middles = (np.arange(classes) + 0.5) / classes
    table = np.array([ramp().rgb(float(middle)) for middle in middles], dtype=np.uint8)
    return _picture(np.where(known, step + 1, 0), table, corners, middles)


def completeness_picture(raster: Raster, most_px: int) -> Picture:
    """Return the steps of the hatch that says how much is known, as classes; class k has k strokes."""
    values, corners = in_mercator(raster, most_px)
    strokes = np.full(values.shape, HATCH_STEPS[-1][1])
    for floor, count in reversed(HATCH_STEPS):
        strokes[np.nan_to_num(values, nan=-1.0) >= floor] = count
    counts = np.arange(len(HATCH_STEPS))
    table = np.stack([counts * 60 + 20] * 3, axis=1).astype(np.uint8)
    return _picture(np.where(np.isfinite(values), strokes + 1, 0), table, corners, counts.astype(float))


def relief_picture(raster: Raster, most_px: int) -> Picture:
    """Return a hillshade (0 dark .. 255 lit) as ink on the shaded side and light on the lit side.

    Level ground stays clear, so that the colours over it keep the meaning that the key gives them.
    """
    values, corners = in_mercator(raster, most_px)
    known = np.isfinite(values)
    shade = np.clip(np.where(known, values, _FLAT_GROUND), 0.0, 255.0)
    turned = np.where(
        shade < _FLAT_GROUND, shade / _FLAT_GROUND - 1.0, (shade - _FLAT_GROUND) / (255.0 - _FLAT_GROUND)
    )
    level = np.rint(turned * _RELIEF_LEVELS) + _RELIEF_LEVELS
    steps = np.linspace(-1.0, 1.0, 2 * _RELIEF_LEVELS + 1)
    table = np.where(steps[:, None] < 0, np.array(_INK), np.array(_LIGHT)).astype(np.uint8)
    opacity = np.where(steps < 0, -steps * _SHADE_STRENGTH, steps * _LIGHT_STRENGTH)
    png = indexed_png(np.where(known, level + 1, 0).astype(np.uint8), table, opacity=opacity)
    return Picture(png, corners, (), ())


def in_mercator(raster: Raster, most_px: int) -> tuple[FloatArray, tuple[float, float, float, float]]:
    """Warp a raster to web mercator.

    Parameters
    ----------
    raster
        On its grid.
    most_px
        Longest side of the result; it is never finer than about a cell.

    Returns
    -------
    values : (n, m) float32
        NaN where unknown: the cell under the pixel's middle, or the mean where a pixel covers several.
    corners
        South, west, north, east of its outer edges, degrees.
    """
    grid = raster.grid
    box = grid.bounds
    to_mercator = Transformer.from_crs(grid.crs, "EPSG:3857", always_xy=True)
    west, south, east, north = to_mercator.transform_bounds(
        box.west, box.south, box.east, box.north, densify_pts=21
    )
    longest = max(grid.rows, grid.cols)
    shrink = min(1.0, most_px / longest)
    side = max(east - west, north - south) / max(1, round(longest * shrink))
    cols, rows = max(1, round((east - west) / side)), max(1, round((north - south) / side))
    values = np.full((rows, cols), np.nan, dtype=np.float32)
    reproject(
        np.where(raster.mask, np.float32(np.nan), raster.values).astype(np.float32),
        values,
        src_transform=grid.transform,
        src_crs=grid.crs,
        src_nodata=np.nan,
        dst_transform=from_bounds(west, south, east, north, cols, rows),
        dst_crs="EPSG:3857",
        dst_nodata=np.nan,
        resampling=Resampling.average if shrink < 0.9 else Resampling.nearest,
    )
    to_degrees = Transformer.from_crs("EPSG:3857", "EPSG:4326", always_xy=True)
    (left, right), (bottom, top) = to_degrees.transform([west, east], [south, north])
    return values, (bottom, left, top, right)


def _picture(
    indices: FloatArray, table: IntArray, corners: tuple[float, float, float, float], middles: FloatArray
) -> Picture:
    colours = tuple((int(r), int(g), int(b)) for r, g, b in table)
    png = indexed_png(indices.astype(np.uint8), table)
    return Picture(png, corners, colours, tuple(round(float(value), 4) for value in middles))

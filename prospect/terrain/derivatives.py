"""Slope, aspect, curvature and shade of an elevation grid, each from a window of three by three cells."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from prospect.terrain import _kernels as kernels
from prospect.types import FloatArray

AZIMUTH_DEG = 315.0
ALTITUDE_DEG = 45.0
"""The lamp of a shaded map: high in the north-west (common practice)."""


@dataclass(frozen=True, slots=True)
class Surface:
    """What one pass over an elevation grid gives; every array is ``(rows, cols)`` float32, NaN = unknown.

    Attributes
    ----------
    slope_pct : rise over run in per cent (Horn 1981).
    aspect_deg : compass bearing that the slope faces, 0 north, 90 east; NaN on level ground.
    profile_curvature : bend along the line of fall, 1/m, positive = convex; NaN on level ground.
    plan_curvature : bend across the line of fall, 1/m, positive = convex (a spur); NaN on level ground.
    hillshade : brightness under one lamp in the north-west, 0..255 (see `hillshade`).
    """

    slope_pct: FloatArray
    aspect_deg: FloatArray
    profile_curvature: FloatArray
    plan_curvature: FloatArray
    hillshade: FloatArray


def as_elevation(elevation: FloatArray) -> FloatArray:
    """Return a contiguous float32 copy or view of a ``(rows, cols)`` grid, anything not finite as NaN.

    Raises
    ------
    ValueError
        If the array does not have two dimensions.
    """
    given = np.asarray(elevation)
    if given.ndim != 2:
        raise ValueError(
            f"Invalid elevation of {given.ndim} dimensions. It must be a grid of rows and columns."
        )
    grid = np.ascontiguousarray(given, dtype=np.float32)
    endless = np.isinf(grid)
    return np.where(endless, np.float32(np.nan), grid) if endless.any() else grid


def check_cell(cell_m: float) -> float:
    """Return the cell size as a float, or raise ValueError when it is not a positive length."""
    if not (math.isfinite(cell_m) and cell_m > 0):
        raise ValueError(f"Invalid cell size '{cell_m}'. It must be a positive number of metres.")
    return float(cell_m)


def slope_pct(elevation: FloatArray, cell_m: float) -> FloatArray:
    """Return the slope in per cent after Horn (1981).

    Parameters
    ----------
    elevation : array, shape (rows, cols), metres
        Row 0 is north; NaN is unknown.
    cell_m : float
        Side of a square cell in metres.

    Returns
    -------
    array, shape (rows, cols), float32
        NaN where the cell or one of its eight neighbours is unknown, and so on the outermost ring.
    """
    return _slope(elevation, cell_m, degrees=False)


def slope_deg(elevation: FloatArray, cell_m: float) -> FloatArray:
    """Return the slope in degrees after Horn (1981); see `slope_pct`."""
    return _slope(elevation, cell_m, degrees=True)


def aspect_deg(elevation: FloatArray, cell_m: float) -> FloatArray:
    """Return the compass bearing that the slope faces (downhill), 0 north, 90 east; NaN on level ground."""
    return surface(elevation, cell_m).aspect_deg


def profile_curvature(elevation: FloatArray, cell_m: float) -> FloatArray:
    """Return the curvature along the line of fall in 1/m, positive = convex; see `surface`."""
    return surface(elevation, cell_m).profile_curvature


def plan_curvature(elevation: FloatArray, cell_m: float) -> FloatArray:
    """Return the curvature across the line of fall in 1/m, positive = convex; see `surface`."""
    return surface(elevation, cell_m).plan_curvature


def surface(elevation: FloatArray, cell_m: float) -> Surface:
    """Return slope, aspect, both curvatures and shade from one pass over the grid.

    Parameters
    ----------
    elevation : array, shape (rows, cols), metres
        Row 0 is north; NaN is unknown.
    cell_m : float
        Side of a square cell in metres.

    Notes
    -----
    Slope and aspect follow Horn (1981), the curvatures Zevenbergen and Thorne (1987) with
    ``D, E, F, G, H`` of their partial quartic: profile ``-2 (D G^2 + E H^2 + F G H) / (G^2 + H^2)``, plan
    ``-2 (D H^2 + E G^2 - F G H) / (G^2 + H^2)``. Their plan formula has the opposite sign; here both are
    positive where the ground is convex, so that they add up to ``-2 (D + E)``.
    All need eight known neighbours; elsewhere, and on the outermost ring, they are NaN.
    """
    z, cell = as_elevation(elevation), check_cell(cell_m)
    slope, aspect, profile, plan, shade = (_unknown(z.shape) for _ in range(5))
    kernels.surface_rows(z, cell, _light(AZIMUTH_DEG, ALTITUDE_DEG), slope, aspect, profile, plan, shade)
    return Surface(slope, aspect, profile, plan, shade)


def hillshade(
    elevation: FloatArray, cell_m: float, azimuth_deg: float = AZIMUTH_DEG, altitude_deg: float = ALTITUDE_DEG
) -> FloatArray:
    """Return the brightness of the ground under one lamp, 0 (dark) to 255, float32, NaN = unknown.

    Parameters
    ----------
    elevation : array, shape (rows, cols), metres
    cell_m : float
        Side of a square cell in metres.
    azimuth_deg : float
        Compass bearing of the lamp.
    altitude_deg : float
        Height of the lamp above the horizon.

    Notes
    -----
    255 times the cosine of the angle between the normal of the ground (Horn's gradients) and the light
    (Lambert's law), nothing below nought; cast shadows are not drawn.
    """
    z, cell = as_elevation(elevation), check_cell(cell_m)
    out = _unknown(z.shape)
    kernels.shade_rows(z, cell, _light(azimuth_deg, altitude_deg), out)
    return out


def _light(azimuth_deg: float, altitude_deg: float) -> tuple[float, float, float]:
    """Return the lamp's direction as parts eastward, northward and upward."""
    azimuth, altitude = math.radians(azimuth_deg), math.radians(altitude_deg)
    level = math.cos(altitude)
    return level * math.sin(azimuth), level * math.cos(azimuth), math.sin(altitude)


def _slope(elevation: FloatArray, cell_m: float, *, degrees: bool) -> FloatArray:
    z, cell = as_elevation(elevation), check_cell(cell_m)
    out = _unknown(z.shape)
    kernels.slope_rows(z, cell, degrees, out)
    return out


def _unknown(shape: tuple[int, ...]) -> FloatArray:
    return np.full(shape, np.nan, dtype=np.float32)

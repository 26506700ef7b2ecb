"""How sure a measured position is, and the exact chance that it lies inside a shape."""

from __future__ import annotations

import math

import numpy as np
import shapely
from scipy.special import ndtri, owens_t
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from prospect.errors import WrongUsage
from prospect.types import FloatArray

_TOUCHING = 1e-12


def circular_radius(sigma_m: float, share: float) -> float:
    """Return the radius (m) that holds `share` (0..1) of the positions of a circular normal error.

    Parameters
    ----------
    sigma_m
        Standard deviation along one axis, m.
    share
        0 ≤ share < 1.

    Notes
    -----
    R = σ·√(−2·ln(1 − share)), the quantile of the Rayleigh distribution.
    """
    if not 0.0 <= share < 1.0:
        raise WrongUsage(f"Invalid share {share}: it must be at least 0 and below 1.")
    return sigma_m * math.sqrt(-2.0 * math.log1p(-share))


def sigma_of_radius(radius_m: float, share: float = 0.68) -> float:
    """Return the one-axis standard deviation (m) of a position whose `share` radius is `radius_m`.

    Phones report a 68 % radius, which is the default.
    """
    if not math.isfinite(radius_m) or radius_m < 0:
        raise WrongUsage(f"Invalid position error {radius_m} m: it must be a number, zero or more.")
    unit = circular_radius(1.0, share)
    if unit == 0.0:
        raise WrongUsage("A radius that holds nothing says nothing about the error.")
    return radius_m / unit


def averaged_sigma(sigma_m: float, fixes: int, correlation: float) -> float:
    """Return the standard deviation (m) of the mean of equally correlated fixes: σ·√((1+(n−1)ρ)/n)."""
    if fixes < 1 or not 0.0 <= correlation <= 1.0:
        raise WrongUsage(
            f"Invalid {fixes} fixes with correlation {correlation}: at least one fix, correlation 0..1."
        )
    return sigma_m * math.sqrt((1.0 + (fixes - 1) * correlation) / fixes)


def line_setback(position_sigma_m: float, line_sigma_m: float, confidence: float) -> float:
    """Return how far (m) from a mapped line to stay to be on the right side with one-sided `confidence`.

    Setbacks that law or prudence ask for come on top of it, not in quadrature.
    """
    if not 0.5 <= confidence < 1.0:
        raise WrongUsage(f"Invalid confidence {confidence}: it must be at least 0.5 and below 1.")
    return float(ndtri(confidence)) * math.hypot(position_sigma_m, line_sigma_m)


def chance_inside(shape: BaseGeometry, x: float, y: float, sigma_m: float) -> float:
    """Return the exact probability that the true position lies inside a polygon or multipolygon.

    Parameters
    ----------
    shape
        Polygon or MultiPolygon in a metric CRS; holes count as outside. An invalid one is mended first.
        Lines, points and empty shapes hold nothing: 0.
    x, y
        Measured position, m, same CRS.
    sigma_m
        Standard deviation of the circular normal error along one axis, m. Zero means a sure position
        (on the line itself: one half).

    Returns
    -------
    float
        0..1.

    Notes
    -----
    Integrating the circular normal density in polar coordinates about the measured point and applying Green's
    theorem gives P = (1/2π)·∮(1 − exp(−r²/2σ²)) dθ round the boundary. Along a straight edge at distance h
    (in σ) between the tangents x1 and x2 of its end directions that integral is
    sign·[(atan x2 − atan x1)/2π − (T(h, x2) − T(h, x1))] with T the function of D. B. Owen, "Tables for
    computing bivariate normal probabilities", Annals of Mathematical Statistics 27 (1956) 1075–1090.
    """
    if not (math.isfinite(x) and math.isfinite(y)):
        raise WrongUsage(f"Invalid position {x}, {y}: both must be finite numbers.")
    if not math.isfinite(sigma_m) or sigma_m < 0:
        raise WrongUsage(f"Invalid standard deviation {sigma_m} m: it must be a number, zero or more.")
    polygons = polygons_of(shape)
    if not polygons:
        return 0.0
    if sigma_m == 0.0:
        return _sure_position(polygons, x, y)
    origin = np.array([x, y])
    total = 0.0
    for polygon in polygons:
        ordered = shapely.geometry.polygon.orient(polygon, sign=1.0)
        for ring in (ordered.exterior, *ordered.interiors):
            total += _ring_share((shapely.get_coordinates(ring) - origin) / sigma_m)
    return min(max(total, 0.0), 1.0)


def polygons_of(shape: BaseGeometry | None) -> tuple[Polygon, ...]:
    """Return the polygons in a shape, mended when invalid; nothing for lines, points and empty shapes."""
    if shape is None or shape.is_empty or shapely.get_dimensions(shape) < 2:
        return ()
    if not shape.is_valid:
        shape = shapely.make_valid(shape)
    if isinstance(shape, Polygon):
        return (shape,)
    if isinstance(shape, MultiPolygon):
        return tuple(shape.geoms)
    parts = getattr(shape, "geoms", ())
    return tuple(polygon for part in parts for polygon in polygons_of(part))


def _ring_share(corners: FloatArray) -> float:
    """Signed probability enclosed by a closed ring, (n, 2) corners relative to the position, in σ."""
    a, b = corners[:-1], corners[1:]
    edge = b - a
    length = np.hypot(edge[:, 0], edge[:, 1])
    kept = length > 0.0
    a, b, edge, length = a[kept], b[kept], edge[kept], length[kept]
    cross = (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) / length
    height = np.abs(cross)
    # Seen from a point on its own line an edge spans no angle, or a half turn at distance nought: both give 0.
    kept = height > _TOUCHING
    a, b, edge, length = a[kept], b[kept], edge[kept], length[kept]
    cross, height = cross[kept], height[kept]
    first = (a * edge).sum(axis=1) / (length * height)
    last = (b * edge).sum(axis=1) / (length * height)
    turned = (np.arctan(last) - np.arctan(first)) / (2.0 * np.pi)
    missed = owens_t(height, last) - owens_t(height, first)
    return float((np.sign(cross) * (turned - missed)).sum())


def _sure_position(polygons: tuple[Polygon, ...], x: float, y: float) -> float:
    point = shapely.Point(x, y)
    if any(polygon.contains(point) for polygon in polygons):
        return 1.0
    return 0.5 if any(polygon.intersects(point) for polygon in polygons) else 0.0

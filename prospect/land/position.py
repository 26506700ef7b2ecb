"""How sure a measured position is, and the exact chance that it lies inside a shape."""

from __future__ import annotations

import math

import numpy as np
from scipy.special import ndtri
from shapely.geometry.base import BaseGeometry

from prospect.errors import WrongUsage
from prospect.land.inside import EdgeTable, areas_of, shares_of


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
    The closed form is that of `prospect.land.inside.shares_of`.
    """
    if not (math.isfinite(x) and math.isfinite(y)):
        raise WrongUsage(f"Invalid position {x}, {y}: both must be finite numbers.")
    if not math.isfinite(sigma_m) or sigma_m < 0:
        raise WrongUsage(f"Invalid standard deviation {sigma_m} m: it must be a number, zero or more.")
    edges = EdgeTable.of(areas_of([shape]))
    one = np.array([x]), np.array([y]), np.array([sigma_m], float)
    return float(shares_of(edges, np.zeros(1, np.intp), *one).chance[0])

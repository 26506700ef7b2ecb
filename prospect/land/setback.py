"""How far from a mapped line to stay, and where it is not certain which side of it one is on."""

from __future__ import annotations

import math

import geopandas as gpd
import numpy as np
import shapely
from scipy.special import ndtri

from prospect.errors import WrongUsage
from prospect.land.inside import areas_of, halves, side_by_side
from prospect.land.parcels import line_errors, trimmed
from prospect.land.position import line_setback, sigma_of_radius
from prospect.records import Setback
from prospect.types import IntArray

CONFIDENCES = (0.90, 0.95, 0.99)
"""What advice is given for."""
_ARC_SEGMENTS = 4


def setback(
    gps_error_m: float,
    line_error_m: float,
    confidence: float = 0.95,
    *,
    own_m: float = 0.0,
    legal_m: float = 0.0,
) -> Setback:
    """Return how far from a mapped line to stay.

    Parameters
    ----------
    gps_error_m
        68 % radius of the position, m.
    line_error_m
        Standard deviation of the mapped line, m.
    confidence
        One-sided, 0.5 to below 1.
    own_m, legal_m
        Distances to keep for one's own reasons and by law, m.

    Notes
    -----
    The errors of receiver and line are independent and add in quadrature: z·√(σ_receiver² + σ_line²), z the
    one-sided normal quantile. Distances to keep are no errors: they come on top.
    """
    for name, value in (("own", own_m), ("legal", legal_m), ("line", line_error_m)):
        if not math.isfinite(value) or value < 0:
            raise WrongUsage(f"Invalid {name} distance {value} m: it must be a number, zero or more.")
    error_m = line_setback(sigma_of_radius(gps_error_m), line_error_m, confidence)
    return Setback(confidence, error_m, own_m, legal_m)


def uncertain_band(
    parcels: gpd.GeoDataFrame, gps_error_m: float, line_error_m: float, confidence: float = 0.95
) -> gpd.GeoDataFrame:
    """Return the band along parcel lines in which it is not certain which side one is on.

    Parameters
    ----------
    parcels
        Polygons in a metric CRS, with `line_error_m` where known.
    gps_error_m, line_error_m
        As for `setback`; `line_error_m` for parcels that do not bring their own.
    confidence
        Outside the band one is on the drawn side of a straight line with at least this one-sided confidence.

    Returns
    -------
    GeoDataFrame
        One shape per parcel: its lines widened by z·√(σ_receiver² + σ_line²) on both sides; columns
        `parcel_id, half_width_m, confidence`. Bands of neighbours lie on each other.
    """
    if not 0.5 <= confidence < 1.0:
        raise WrongUsage(f"Invalid confidence {confidence}: it must be at least 0.5 and below 1.")
    half = float(ndtri(confidence)) * np.hypot(
        sigma_of_radius(gps_error_m), line_errors(parcels, line_error_m)
    )
    lines = shapely.boundary(areas_of(parcels.geometry.to_numpy()))
    bands = np.empty(len(lines), object)

    def widen(chunk: IntArray) -> None:
        bands[chunk] = shapely.buffer(lines[chunk], half[chunk], quad_segs=_ARC_SEGMENTS)

    side_by_side(widen, halves(len(lines)))
    columns = {"parcel_id": trimmed(parcels, "parcel_id"), "half_width_m": half, "confidence": confidence}
    return gpd.GeoDataFrame(columns, geometry=bands, crs=parcels.crs)

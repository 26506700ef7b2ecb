"""Which parcels may hold a measured position, and with what chance."""

from __future__ import annotations

import math
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from prospect.land.position import chance_inside, polygons_of, sigma_of_radius
from prospect.records import ParcelHit

LIKELY_ENOUGH = 0.05
"""A parcel at least this likely has a say (own judgement: the usual one-sided 95 %)."""
WORTH_NAMING = 0.001
"""A parcel less likely than this is not named (own judgement)."""
_REACH_SIGMAS = 8.0


@dataclass(frozen=True, slots=True)
class ParcelReading:
    """Every parcel that may hold a position, and the chance that none of the mapped ones does."""

    hits: tuple[ParcelHit, ...]
    chance_unmapped: float


def parcels_at(
    parcels: gpd.GeoDataFrame,
    easting: float,
    northing: float,
    gps_error_m: float,
    line_error_m: float,
) -> tuple[ParcelHit, ...]:
    """Return the parcels that may hold a position, the likeliest first.

    Parameters
    ----------
    parcels
        Polygons in a metric CRS with the columns `parcel_id`, and where known `owner` and `line_error_m`.
        Several owners of one parcel are several rows and stay several hits; several pieces of one parcel
        (same identifier and owner) count as one.
    easting, northing
        Measured position, m, same CRS.
    gps_error_m
        68 % radius of the position, m.
    line_error_m
        Standard deviation of the mapped lines, m, for parcels that do not bring their own.
    """
    return read_parcels_at(parcels, easting, northing, gps_error_m, line_error_m).hits


def read_parcels_at(
    parcels: gpd.GeoDataFrame,
    easting: float,
    northing: float,
    gps_error_m: float,
    line_error_m: float,
) -> ParcelReading:
    """Return the same parcels with the chance that the position lies on no mapped parcel at all."""
    sigma = sigma_of_radius(gps_error_m)
    errors = _line_errors(parcels, line_error_m)
    reach = _REACH_SIGMAS * math.hypot(sigma, max(errors.max(initial=0.0), line_error_m)) + 1.0
    near = np.sort(parcels.sindex.query(shapely.Point(easting, northing).buffer(reach)))
    hits: list[ParcelHit] = []
    for parcel_id, owner, rows in _pieces(parcels, near):
        shape = shapely.union_all([_mended(parcels.geometry.iloc[row]) for row in rows])
        total = math.hypot(sigma, float(max(errors[row] for row in rows)))
        chance = chance_inside(shape, easting, northing, total)
        inside = shape.intersects(shapely.Point(easting, northing))
        if chance >= WORTH_NAMING or inside:
            hits.append(ParcelHit(parcel_id, owner, chance, _signed_distance(shape, easting, northing)))
    hits.sort(key=lambda hit: (-hit.chance_inside, hit.parcel_id, hit.owner))
    mapped = shapely.union_all([_mended(parcels.geometry.iloc[row]) for row in near])
    total = math.hypot(sigma, float(errors[near].max(initial=0.0)))
    return ParcelReading(tuple(hits), 1.0 - chance_inside(mapped, easting, northing, total))


def parcels_touching(parcels: gpd.GeoDataFrame, shape: BaseGeometry) -> tuple[str, ...]:
    """Return the identifiers of the parcels that share ground with a shape (same CRS), each once, sorted."""
    near = parcels.sindex.query(shape, predicate="intersects")
    named = parcels["parcel_id"].iloc[near]
    return tuple(sorted({str(name) for name in named if str(name)}))


def _line_errors(parcels: gpd.GeoDataFrame, fallback: float) -> np.ndarray:
    if "line_error_m" not in parcels.columns:
        return np.full(len(parcels), float(fallback))
    own = parcels["line_error_m"].astype(float).to_numpy()
    return np.where(np.isfinite(own) & (own >= 0), own, float(fallback))


def _pieces(parcels: gpd.GeoDataFrame, rows: np.ndarray) -> list[tuple[str, str, list[int]]]:
    """Group rows of one parcel and owner; a row without identifier stays alone."""
    ids = parcels["parcel_id"].iloc[rows]
    owners = parcels["owner"].iloc[rows] if "owner" in parcels.columns else [""] * len(rows)
    groups: dict[tuple[str, str, int], list[int]] = {}
    for row, raw_id, raw_owner in zip(rows.tolist(), ids, owners, strict=True):
        parcel_id, owner = _text(raw_id), _text(raw_owner)
        key = (parcel_id, owner, -1 if parcel_id else row)
        groups.setdefault(key, []).append(row)
    return [(parcel_id, owner, members) for (parcel_id, owner, _), members in groups.items()]


def _text(value: object) -> str:
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    return str(value).strip()


def _mended(shape: BaseGeometry) -> BaseGeometry:
    return shapely.MultiPolygon(polygons_of(shape)) if not shape.is_valid else shape


def _signed_distance(shape: BaseGeometry, easting: float, northing: float) -> float:
    point = shapely.Point(easting, northing)
    distance = float(shape.boundary.distance(point))
    return distance if shape.contains(point) else -distance

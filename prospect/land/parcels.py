"""Which parcels may hold measured positions, and with what chance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely.geometry.base import BaseGeometry

from prospect.land.inside import REACH_SIGMAS, EdgeTable, Shares, areas_of, halves, shares_of, side_by_side
from prospect.land.position import sigma_of_radius
from prospect.records import ParcelHit
from prospect.types import BoolArray, FloatArray, IntArray

WORTH_NAMING = 0.001
"""A parcel less likely than this is not named (own judgement)."""
_NO_AREA_M2 = 1e-6
"""Neighbours that share less than this touch; their coordinates were rounded."""


@dataclass(frozen=True, slots=True)
class ParcelReading:
    """Every parcel that may hold a position, and the chance that none of the mapped ones does."""

    hits: tuple[ParcelHit, ...]
    chance_unmapped: float


@dataclass(frozen=True, slots=True)
class Holdings:
    """Parcels as the check sees them: the pieces of one parcel and owner are one, several owners are several.

    Attributes
    ----------
    parcel_ids, owners
        Text, trimmed; empty when not known.
    shapes
        Valid polygons or multipolygons, m.
    line_error_m
        Standard deviation of the mapped lines, m.
    shape_code
        The same number for the same shape.
    alone
        What each adds to the ground of those before it, so that stacked and overlapping ground counts once; the
        shape itself where nothing lies on it.
    adds
        Whether it adds its whole shape.
    """

    parcel_ids: list[str]
    owners: list[str]
    shapes: np.ndarray
    line_error_m: FloatArray
    shape_code: IntArray
    alone: np.ndarray
    adds: BoolArray

    @classmethod
    def of(cls, rows: gpd.GeoDataFrame, line_error_m: float) -> Holdings:
        """Return the holdings of a parcel layer, or of some of its rows."""
        ids, owners = trimmed(rows, "parcel_id"), trimmed(rows, "owner")
        shapes, errors = areas_of(rows.geometry.to_numpy()), line_errors(rows, line_error_m)
        # A row without identifier stays alone.
        nameless = np.where(ids == "", np.arange(len(ids)) + 1, 0)
        id_code, owner_code = pd.factorize(ids)[0], pd.factorize(owners)[0]
        together = id_code.astype(np.int64) * (len(ids) + 1) + np.where(
            nameless > 0, nameless - 1, owner_code
        )
        group, _ = pd.factorize(together)
        count = int(group.max(initial=-1)) + 1
        leader = np.full(count, -1, np.intp)
        leader[group[::-1]] = np.arange(len(group))[::-1]
        joined, worst = shapes[leader], np.zeros(count)
        np.maximum.at(worst, group, errors)
        pieces = np.bincount(group, minlength=count)
        in_order = np.split(np.argsort(group, kind="stable"), np.cumsum(pieces)[:-1])
        for number in np.flatnonzero(pieces > 1):
            joined[number] = shapely.union_all(shapes[in_order[number]])
        code, _ = pd.factorize(pd.Series(shapely.to_wkb(shapely.normalize(joined)), dtype=object))
        alone, adds = _counted_once(joined, code)
        return cls(list(ids[leader]), list(owners[leader]), joined, worst, code, alone, adds)


@dataclass(frozen=True, slots=True)
class ParcelReadings:
    """The parcels that may hold each of many positions.

    Attributes
    ----------
    holdings
        The parcels near any of them.
    spot, holding
        (hits,) which position and which holding; sorted by position, the likeliest first.
    chance, line_distance_m
        (hits,) as in `ParcelHit`.
    sigma_m
        (hits,) joint error of position and line along one axis, m.
    chance_unnamed
        (positions,) chances of the parcels that are too unlikely to be named, added up.
    chance_unmapped
        (positions,) probability that no mapped parcel holds the position.
    """

    holdings: Holdings
    spot: IntArray
    holding: IntArray
    chance: FloatArray
    line_distance_m: FloatArray
    sigma_m: FloatArray
    chance_unnamed: FloatArray
    chance_unmapped: FloatArray

    def at(self, number: int) -> ParcelReading:
        """Return the reading of one position."""
        low, high = np.searchsorted(self.spot, [number, number + 1])
        hits = tuple(
            ParcelHit(
                self.holdings.parcel_ids[holding],
                self.holdings.owners[holding],
                float(self.chance[hit]),
                float(self.line_distance_m[hit]),
            )
            for hit, holding in enumerate(self.holding[low:high].tolist(), start=int(low))
        )
        return ParcelReading(hits, float(self.chance_unmapped[number]))


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
    one = np.array([easting], float), np.array([northing], float)
    return read_parcels(parcels, *one, np.array([sigma_of_radius(gps_error_m)]), line_error_m).at(0)


def read_parcels(
    parcels: gpd.GeoDataFrame,
    eastings: FloatArray,
    northings: FloatArray,
    sigma_m: FloatArray,
    line_error_m: float,
) -> ParcelReadings:
    """Return the parcels that may hold each of many positions.

    Parameters
    ----------
    parcels, line_error_m
        As for `parcels_at`.
    eastings, northings, sigma_m
        (positions,) m; `sigma_m` is the standard deviation of each position along one axis.

    Notes
    -----
    Only parcels within seven joint standard deviations are looked at; what is left out holds at most 2.3e-11 of
    the chance. Where parcels bring different line errors, the chance of lying on no parcel is taken with the
    largest error nearby.
    """
    errors = line_errors(parcels, line_error_m)
    reach = REACH_SIGMAS * np.hypot(sigma_m, max(errors.max(initial=0.0), line_error_m)) + 1.0
    boxes = shapely.box(eastings - reach, northings - reach, eastings + reach, northings + reach)
    rows = np.unique(parcels.sindex.query(boxes)[1])
    near = parcels.iloc[_with_their_pieces(parcels, rows)]
    holdings = Holdings.of(near, line_error_m)
    spot, holding = shapely.STRtree(holdings.shapes).query(boxes)
    total = np.hypot(sigma_m[spot], holdings.line_error_m[holding])
    edges = EdgeTable.of(holdings.shapes)
    shares = shares_of(edges, holding, eastings[spot], northings[spot], total)
    mapped = _mapped(holdings, spot, holding, shares.chance, eastings, northings, sigma_m)
    named = (shares.chance >= WORTH_NAMING) | shares.inside
    unnamed = totals(spot[~named], shares.chance[~named], len(eastings))
    kept = np.flatnonzero(named)
    kept = kept[_likeliest_first(holdings, spot[kept], holding[kept], shares, kept)]
    return ParcelReadings(
        holdings,
        spot[kept],
        holding[kept],
        shares.chance[kept],
        shares.line_distance_m[kept],
        total[kept],
        unnamed,
        np.clip(1.0 - mapped, 0.0, 1.0),
    )


def totals(spot: IntArray, values: FloatArray, count: int) -> FloatArray:
    """Return the sum of the values of each of `count` positions."""
    return np.bincount(spot, weights=values, minlength=count).astype(float)


def parcels_touching(parcels: gpd.GeoDataFrame, shape: BaseGeometry) -> tuple[str, ...]:
    """Return the identifiers of the parcels that share ground with a shape (same CRS), each once, sorted."""
    near = parcels.sindex.query(shape, predicate="intersects")
    named = trimmed(parcels.iloc[near], "parcel_id")
    return tuple(sorted({str(name) for name in named if name}))


def nameless_touching(parcels: gpd.GeoDataFrame, shape: BaseGeometry) -> bool:
    """Whether a parcel without identifier shares ground with a shape (same CRS)."""
    near = parcels.sindex.query(shape, predicate="intersects")
    return bool((trimmed(parcels.iloc[near], "parcel_id") == "").any())


def parcel_names(parcels: gpd.GeoDataFrame) -> tuple[str, ...]:
    """Return every identifier on a parcel map, each once, sorted."""
    return tuple(sorted(set(trimmed(parcels, "parcel_id")) - {""}))


def owners_of(parcels: gpd.GeoDataFrame, parcel_ids: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """Return the owners that a parcel map names for each of some parcels."""
    ids, owners = trimmed(parcels, "parcel_id"), trimmed(parcels, "owner")
    return {one: tuple(dict.fromkeys(owners[ids == one])) for one in parcel_ids}


def trimmed(rows: gpd.GeoDataFrame, column: str) -> np.ndarray:
    """Return a column as text without blanks at its ends; empty where there is none or nothing in it."""
    if column not in rows.columns:
        return np.full(len(rows), "", dtype=object)
    values = rows[column]
    text = values.astype(object).where(values.notna(), "")
    return text.map(lambda value: str(value).strip()).to_numpy(dtype=object)


def line_errors(parcels: gpd.GeoDataFrame, fallback: float) -> FloatArray:
    """Return the standard deviation (m) of each parcel's lines: its own, else the fallback."""
    if "line_error_m" not in parcels.columns:
        return np.full(len(parcels), float(fallback))
    own = parcels["line_error_m"].astype(float).to_numpy()
    return np.where(np.isfinite(own) & (own >= 0), own, float(fallback))


def _with_their_pieces(parcels: gpd.GeoDataFrame, rows: IntArray) -> IntArray:
    """Add the other rows of the same parcels, so that a parcel is whole whichever spot asks for it."""
    ids = trimmed(parcels, "parcel_id")
    wanted = pd.Index(np.unique(ids[rows]))
    same = np.flatnonzero((wanted.get_indexer(ids) >= 0) & (ids != ""))
    return np.union1d(rows, same)


def _counted_once(shapes: np.ndarray, code: IntArray) -> tuple[np.ndarray, BoolArray]:
    """Return what each shape adds to the ground of those before it, and whether that is all of it."""
    alone, adds = shapes.copy(), np.ones(len(shapes), bool)
    stacked = pd.Series(code).duplicated().to_numpy()
    alone[stacked], adds[stacked] = shapely.Polygon(), False
    first, second = shapely.STRtree(alone).query(alone)
    box = shapely.bounds(alone)
    shared_low, shared_high = np.maximum(box[first], box[second]), np.minimum(box[first], box[second])
    pair = (first < second) & (shared_low[:, :2] < shared_high[:, 2:]).all(axis=1)
    first, second = first[pair], second[pair]
    shapely.prepare(alone)
    sharing = np.empty(len(first), bool)

    def part(chunk: IntArray) -> None:
        sharing[chunk] = ~shapely.touches(alone[first[chunk]], alone[second[chunk]])

    side_by_side(part, halves(len(first)))
    first, second = first[sharing], second[sharing]
    shared = shapely.area(shapely.intersection(alone[first], alone[second])) > _NO_AREA_M2
    first, second = first[shared], second[shared]
    order = np.argsort(second, kind="stable")
    places, begins = np.unique(second[order], return_index=True)
    if len(places):
        before = [shapely.union_all(alone[others]) for others in np.split(first[order], begins[1:])]
        alone[places] = areas_of(shapely.difference(shapes[places], np.array(before, object)))
        adds[places] = False
    return alone, adds


def _mapped(
    holdings: Holdings,
    spot: IntArray,
    holding: IntArray,
    chance: FloatArray,
    eastings: FloatArray,
    northings: FloatArray,
    sigma_m: FloatArray,
) -> FloatArray:
    """Return the chance of lying on mapped ground, every piece of ground counted once and with one line error."""
    error = np.zeros(len(eastings))
    np.maximum.at(error, spot, holdings.line_error_m[holding])
    again = np.flatnonzero(~holdings.adds[holding] | (holdings.line_error_m[holding] != error[spot]))
    counted = chance.copy()
    if len(again):
        where, what = spot[again], holding[again]
        total = np.hypot(sigma_m[where], error[where])
        asked, which = np.unique(what, return_inverse=True)
        edges = EdgeTable.of(holdings.alone[asked])
        counted[again] = shares_of(edges, which, eastings[where], northings[where], total).chance
    return totals(spot, counted, len(eastings))


def _likeliest_first(
    holdings: Holdings, spot: IntArray, holding: IntArray, shares: Shares, kept: IntArray
) -> IntArray:
    names = pd.Series(holdings.parcel_ids, dtype=object), pd.Series(holdings.owners, dtype=object)
    by_name = np.empty(len(names[0]), np.intp)
    by_name[np.lexsort([pd.factorize(column, sort=True)[0] for column in reversed(names)])] = np.arange(
        len(by_name)
    )
    return np.lexsort((by_name[holding], -shares.chance[kept], spot))

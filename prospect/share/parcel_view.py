"""One parcel with what its owner may be shown of it: nothing beyond its line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import geopandas as gpd
import shapely
from pyproj import CRS, Transformer
from shapely.geometry.base import BaseGeometry

from prospect.errors import NothingToWorkWith, WrongUsage
from prospect.layerfile import LayerSource
from prospect.text import plain

MOST_SPOTS = 24
"""Spots that can still be told apart on a small map."""


@dataclass(frozen=True, slots=True)
class ParcelView:
    """What a letter or a slip shows of a parcel; lengths in m, in a plane laid over the parcel, north up.

    Attributes
    ----------
    parcel_id
        As in the parcel layer.
    owners
        Names on record for this parcel and no other; personal data of the person the paper is for.
    shape
        Its polygons.
    spots
        Planned spots inside it, in the order of their numbers.
    water, roads
        Lines and areas, cut off at the parcel's line.
    source
        Whom to name for the map of parcels; empty when the layer does not say.
    """

    parcel_id: str
    owners: tuple[str, ...]
    shape: BaseGeometry
    spots: tuple[tuple[float, float], ...] = ()
    water: tuple[BaseGeometry, ...] = ()
    roads: tuple[BaseGeometry, ...] = ()
    source: str = ""

    @property
    def area_ha(self) -> float:
        """Area on the map, ha."""
        return float(self.shape.area) / 10_000


def parcel_rows(parcels: gpd.GeoDataFrame | None, parcel_id: str) -> gpd.GeoDataFrame:
    """Return a parcel's rows; raise `NothingToWorkWith` when there is no such parcel or no parcel layer."""
    if parcels is None:
        raise NothingToWorkWith("This ground has no layer 'parcels': a letter to an owner needs one.")
    rows = parcels[parcels["parcel_id"].astype(str) == parcel_id]
    if rows.empty:
        raise NothingToWorkWith(f"There is no parcel '{parcel_id}' on this ground.")
    return rows


def parcel_view(
    parcels: gpd.GeoDataFrame | None,
    parcel_id: str,
    spots: Sequence[tuple[float, float]] = (),
    *,
    water: gpd.GeoDataFrame | None = None,
    roads: gpd.GeoDataFrame | None = None,
    source: LayerSource | None = None,
) -> ParcelView:
    """Cut everything down to one parcel.

    Parameters
    ----------
    parcels
        Normal form (`parcel_id`, `owner`), any CRS.
    parcel_id
        Which one.
    spots
        Longitude and latitude, degrees (WGS 84).
    water, roads
        For orientation, any CRS; only their shapes are taken, never their names.
    source
        Of the parcel layer; its file is not named.

    Raises
    ------
    NothingToWorkWith
        When the parcel is not there or has no shape.
    WrongUsage
        When there are more than `MOST_SPOTS` spots, or one lies outside the parcel.
    """
    rows = parcel_rows(parcels, parcel_id)
    in_degrees = _areas(shapely.union_all(shapely.make_valid(_there(rows.to_crs("EPSG:4326")))))
    if in_degrees.is_empty:
        raise NothingToWorkWith(f"Parcel '{parcel_id}' has no shape in the parcel layer.")
    plane = _plane_over(in_degrees)
    shape = _areas(shapely.union_all(shapely.make_valid(_there(rows.to_crs(plane)))))
    return ParcelView(
        parcel_id=parcel_id,
        owners=_owners(rows),
        shape=shape,
        spots=_spots(spots, shape, plane, parcel_id),
        water=_inside(water, shape, plane),
        roads=_inside(roads, shape, plane),
        source=_source_words(source),
    )


def _plane_over(shape: BaseGeometry) -> CRS:
    """Return a transverse Mercator plane with its middle in the shape: true to scale, north up."""
    middle = shape.representative_point()
    return CRS.from_proj4(f"+proj=tmerc +lat_0={middle.y!r} +lon_0={middle.x!r} +k=1 +datum=WGS84 +units=m")


def _there(frame: gpd.GeoDataFrame) -> Sequence[BaseGeometry]:
    shapes = frame.geometry
    return shapes[shapes.notna() & ~shapes.is_empty].to_numpy()


def _areas(shape: BaseGeometry) -> BaseGeometry:
    parts = [part for part in shapely.get_parts(shape) if part.geom_type in ("Polygon", "MultiPolygon")]
    return shapely.union_all(parts)


def _owners(rows: gpd.GeoDataFrame) -> tuple[str, ...]:
    if "owner" not in rows.columns:
        return ()
    names = (plain(name, 200) for name in rows["owner"] if isinstance(name, str))
    return tuple(dict.fromkeys(name for name in names if name))


def _spots(
    spots: Sequence[tuple[float, float]], shape: BaseGeometry, plane: CRS, parcel_id: str
) -> tuple[tuple[float, float], ...]:
    if len(spots) > MOST_SPOTS:
        raise WrongUsage(f"{len(spots)} spots are too many for the small map; at most {MOST_SPOTS} fit.")
    to_plane = Transformer.from_crs("EPSG:4326", plane, always_xy=True)
    placed = []
    for lon, lat in spots:
        x, y = to_plane.transform(lon, lat)
        if not (math.isfinite(x) and math.isfinite(y) and shape.covers(shapely.Point(x, y))):
            raise WrongUsage(
                f"The spot {lon:g}, {lat:g} does not lie on parcel {parcel_id}. Longitude comes first."
            )
        placed.append((x, y))
    return tuple(placed)


def _inside(frame: gpd.GeoDataFrame | None, shape: BaseGeometry, plane: CRS) -> tuple[BaseGeometry, ...]:
    if frame is None:
        return ()
    near = frame.iloc[frame.sindex.query(_box_in(shape, plane, frame.crs))]
    cut = shapely.intersection(shapely.make_valid(_there(near.to_crs(plane))), shape)
    parts = shapely.get_parts(shapely.get_parts(cut))
    return tuple(part for part in parts if part.geom_type in ("LineString", "Polygon") and not part.is_empty)


def _box_in(shape: BaseGeometry, plane: CRS, crs: CRS) -> BaseGeometry:
    bounds = Transformer.from_crs(plane, crs, always_xy=True).transform_bounds(*shape.bounds)
    return shapely.box(*bounds)


def _source_words(source: LayerSource | None) -> str:
    if source is None:
        return ""
    return plain(
        ", ".join(word for word in (source.attribution, source.vintage, source.licence) if word), 160
    )

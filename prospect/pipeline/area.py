"""Where a ground is: its CRS, its outline and its grid of cells."""

from __future__ import annotations

import math

from pyproj import Transformer
from pyproj.exceptions import CRSError

from prospect.errors import NothingToWorkWith, WrongUsage
from prospect.grid import Grid, is_metric, read_geotiff_grid, utm_for
from prospect.records import GroundSettings
from prospect.sources.coordinates import is_used_at
from prospect.store import Ground
from prospect.text import plain
from prospect.types import Bounds

CELL_WITHOUT_ELEVATION_M = 25.0
FINEST_CELL_M = 2.0
MOST_CELLS = 60_000_000
"""Cells that one ground may have; above it the memory of one laptop is at risk (own judgement)."""


def ground_grid(ground: Ground) -> Grid:
    """Return the ground's grid: the elevation's own, else the area at the set cell, else at 25 m.

    Raises
    ------
    NothingToWorkWith
        When the ground has no area yet.
    """
    elevation = ground.layers_folder / "elevation.tif"
    if elevation.is_file():
        return read_geotiff_grid(elevation)
    settings = ground.settings
    area = settings_area(settings)
    if area is None:
        raise NothingToWorkWith(
            "This ground has no area yet. Add elevation, geology or soil (claywalk add DIR KIND FILE), "
            "or start it with --bbox or --around."
        )
    return grid_over(area, settings.cell_m or CELL_WITHOUT_ELEVATION_M, settings.crs)


def ground_lonlat(ground: Ground, around_m: float = 0.0) -> Bounds | None:
    """Return the ground's area in degrees, with so much around it; None while it has none."""
    settings = ground.settings
    area = settings_area(settings)
    if area is None:
        return None
    turn = Transformer.from_crs(settings.crs, "EPSG:4326", always_xy=True)
    return Bounds(*turn.transform_bounds(*area.padded(around_m)))


def grid_over(area: Bounds, cell_m: float, crs: str) -> Grid:
    """Return a grid over an area, refusing one that no laptop can hold."""
    if cell_m < FINEST_CELL_M:
        raise WrongUsage(
            f"A cell of {cell_m:g} m is finer than {FINEST_CELL_M:g} m; set cell_m to at least that."
        )
    cells = area.width / cell_m * area.height / cell_m
    if cells > MOST_CELLS:
        coarser = math.ceil(math.sqrt(area.width * area.height / MOST_CELLS))
        raise WrongUsage(
            f"The area of {area.width / 1000:.1f} × {area.height / 1000:.1f} km at {cell_m:g} m is "
            f"{cells / 1e6:.0f} million cells. Set cell_m={coarser} or take a smaller area (--bbox)."
        )
    return Grid.covering(area, cell_m, crs)


def settings_area(settings: GroundSettings) -> Bounds | None:
    """Return the ground's area in its CRS; None while unknown."""
    edges = (settings.west, settings.south, settings.east, settings.north)
    if not settings.crs or any(edge is None for edge in edges):
        return None
    return Bounds(*(float(edge) for edge in edges if edge is not None))


def working_crs(crs: str, lonlat: Bounds) -> str:
    """Return the CRS to work in: the given one when it is metric, else the UTM zone of the area's middle.

    Raises
    ------
    WrongUsage
        When there is no such CRS.
    """
    try:
        if crs and is_metric(crs):
            return crs
    except CRSError:
        raise WrongUsage(f"There is no CRS '{plain(crs, 60)}'; give one such as EPSG:32611.") from None
    return utm_for((lonlat.west + lonlat.east) / 2, (lonlat.south + lonlat.north) / 2)


def area_from_lonlat(lonlat: Bounds, crs: str = "") -> tuple[str, Bounds]:
    """Return the working CRS and the box around an area given in degrees."""
    if not (lonlat.west >= -180 and lonlat.east <= 180 and lonlat.south >= -90 and lonlat.north <= 90):
        raise WrongUsage(
            f"{lonlat.west:g},{lonlat.south:g},{lonlat.east:g},{lonlat.north:g} are not degrees west,south,east,north."
        )
    target = working_crs(crs, lonlat)
    box = Transformer.from_crs("EPSG:4326", target, always_xy=True).transform_bounds(*lonlat)
    if not all(math.isfinite(edge) for edge in box) or box[0] > box[2] or box[1] > box[3]:
        raise WrongUsage(f"{plain(target, 60)} has no place for that area; give another CRS, or none.")
    _refuse_far(target, (lonlat.west + lonlat.east) / 2, (lonlat.south + lonlat.north) / 2)
    return target, Bounds(*box)


def area_around(lon: float, lat: float, radius_km: float, crs: str = "") -> tuple[str, Bounds]:
    """Return the working CRS and the square around a spot."""
    if not (-180 <= lon <= 180 and -90 <= lat <= 90):
        raise WrongUsage(f"{lon:g}, {lat:g} are not a longitude and a latitude in degrees.")
    if not 0 < radius_km <= 200:
        raise WrongUsage(f"A radius of {radius_km:g} km makes no sense here; give 0.1 to 200.")
    target = working_crs(crs, Bounds(lon, lat, lon, lat))
    easting, northing = Transformer.from_crs("EPSG:4326", target, always_xy=True).transform(lon, lat)
    if not (math.isfinite(easting) and math.isfinite(northing)):
        raise WrongUsage(f"{plain(target, 60)} has no place for that spot; give another CRS, or none.")
    _refuse_far(target, lon, lat)
    return target, Bounds(easting, northing, easting, northing).padded(radius_km * 1000)


def _refuse_far(crs: str, lon: float, lat: float) -> None:
    """Refuse a CRS far from where it is used: lengths and areas are wrong there."""
    if not is_used_at(crs, lon, lat):
        raise WrongUsage(f"{plain(crs, 60)} is not used there; give another CRS, or none.")

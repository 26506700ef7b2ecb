"""The one common grid, an immutable value, and everything that puts data on it."""

from prospect.grid.geotiff import raster_drivers, read_geotiff, read_geotiff_grid, write_geotiff
from prospect.grid.geotiff_windows import geotiff_shape, read_geotiff_window, write_geotiff_by_bands
from prospect.grid.grid import Grid, is_metric, utm_for
from prospect.grid.place import (
    NONE_CODE,
    burn_mask,
    distance_to,
    outline_classes,
    rasterize_classes,
    reproject_to,
    sample_at,
    zonal_statistics,
)
from prospect.grid.raster import Raster

__all__ = [
    "NONE_CODE",
    "Grid",
    "Raster",
    "burn_mask",
    "distance_to",
    "geotiff_shape",
    "is_metric",
    "outline_classes",
    "raster_drivers",
    "rasterize_classes",
    "read_geotiff",
    "read_geotiff_grid",
    "read_geotiff_window",
    "reproject_to",
    "sample_at",
    "utm_for",
    "write_geotiff",
    "write_geotiff_by_bands",
    "zonal_statistics",
]

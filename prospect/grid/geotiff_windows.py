"""Parts of a GeoTIFF of our own making, so that a raster need not fit in memory."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import rasterio

from prospect.grid.geotiff import BAND_ROWS, opened_geotiff, whole_geotiff
from prospect.grid.grid import Grid
from prospect.types import FloatArray

CACHE_MB = 64
"""What the reader may keep of a file; it would take a twentieth of the machine's memory otherwise."""


def geotiff_shape(path: Path) -> tuple[int, int]:
    """Return rows and columns of a raster that `write_geotiff` wrote; raise as `read_geotiff`."""
    with opened_geotiff(path) as source:
        return (int(source.height), int(source.width))


def read_geotiff_window(path: Path, row0: int, row1: int, col0: int, col1: int) -> FloatArray:
    """Return part of a raster that `write_geotiff` wrote, float32, NaN = no data; raise as `read_geotiff`."""
    with rasterio.Env(GDAL_CACHEMAX=CACHE_MB), opened_geotiff(path) as source:
        values = source.read(1, window=((row0, row1), (col0, col1)))
        return values.astype(np.float32, copy=False)


def write_geotiff_by_bands(
    read_rows: Callable[[int, int], FloatArray], grid: Grid, unit: str, source: str, path: Path
) -> None:
    """Write a raster as `write_geotiff` does, a band of rows at a time.

    Parameters
    ----------
    read_rows
        From the first row of a band and the first after it to the values, NaN = no data.
    grid, unit, source
        As in `Raster`.
    path
        Target file, replaced only when the new one is whole.
    """
    with rasterio.Env(GDAL_CACHEMAX=CACHE_MB), whole_geotiff(path, grid) as target:
        for start in range(0, grid.rows, BAND_ROWS):
            stop = min(start + BAND_ROWS, grid.rows)
            values = np.asarray(read_rows(start, stop), dtype=np.float32)
            target.write(
                np.where(np.isfinite(values), values, np.float32(np.nan)),
                1,
                window=((start, stop), (0, grid.cols)),
            )
        target.units = (unit,)
        target.update_tags(source=source)

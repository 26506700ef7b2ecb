"""Rasters to and from GeoTIFF files of our own making."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import rasterio
from pyproj import CRS
from rasterio.errors import RasterioError

from prospect.errors import InputRefused
from prospect.grid.grid import Grid
from prospect.grid.raster import Raster

BAND_ROWS = 256


def write_geotiff(raster: Raster, path: Path) -> None:
    """Write a raster as a tiled float32 GeoTIFF, replacing the file only when the new one is whole.

    Parameters
    ----------
    raster
        The values; no data is written as NaN and declared so.
    path
        Target file. A temporary file in the same folder takes its place in one step.
    """
    with whole_geotiff(path, raster.grid) as target:
        # By bands, so that a raster on disk is never copied whole.
        for start in range(0, raster.grid.rows, BAND_ROWS):
            band = slice(start, min(start + BAND_ROWS, raster.grid.rows))
            values = np.where(raster.mask[band], np.float32(np.nan), raster.values[band])
            target.write(
                values.astype(np.float32), 1, window=((band.start, band.stop), (0, raster.grid.cols))
            )
        target.units = (raster.unit,)
        target.update_tags(source=raster.source)


@contextlib.contextmanager
def whole_geotiff(path: Path, grid: Grid) -> Iterator[rasterio.io.DatasetWriter]:
    """Yield a float32 GeoTIFF to write to, which takes the place of `path` in one step when the block ends well."""
    part = path.with_name(f".{path.name}.part")
    profile = {
        "driver": "GTiff",
        "dtype": "float32",
        "count": 1,
        "height": grid.rows,
        "width": grid.cols,
        "transform": grid.transform,
        "crs": grid.crs,
        "nodata": float("nan"),
        "tiled": True,
        "blockxsize": 256,
        "blockysize": 256,
        "compress": "deflate",
        "predictor": 3,
        "zlevel": 1,
        "num_threads": 2,
    }
    try:
        with rasterio.open(part, "w", **profile) as target:
            yield target
        with part.open("rb+") as handle:
            os.fsync(handle.fileno())
        part.replace(path)
    finally:
        with contextlib.suppress(FileNotFoundError):
            part.unlink()


def read_geotiff(path: Path) -> Raster:
    """Read a raster that `write_geotiff` wrote.

    Raises
    ------
    InputRefused
        When the file is damaged or not one of ours (bands, squareness, CRS).
    """
    with opened_geotiff(path) as source:
        grid = _grid_of(source, path.name)
        values = source.read(1).astype(np.float32, copy=False)
        unit = source.units[0] or ""
        origin = source.tags().get("source", "")
    return Raster.of(values, grid, unit, origin)


def read_geotiff_grid(path: Path) -> Grid:
    """Return only the grid of a raster that `write_geotiff` wrote; raise as `read_geotiff`."""
    with opened_geotiff(path) as source:
        return _grid_of(source, path.name)


@contextlib.contextmanager
def opened_geotiff(path: Path) -> Iterator[rasterio.DatasetReader]:
    """Yield an open raster that `write_geotiff` wrote; raise as `read_geotiff`."""
    try:
        with rasterio.open(path, driver="GTiff") as source:
            yield source
    except RasterioError as error:
        raise InputRefused(
            f"{path.name} is damaged or not a layer of this ground: remove it and add the source again."
        ) from error


def raster_drivers() -> tuple[str, ...]:
    """Return the names of the raster drivers that are switched on, sorted."""
    with rasterio.Env() as environment:
        return tuple(sorted(environment.drivers()))


def _grid_of(source: rasterio.DatasetReader, name: str) -> Grid:
    transform = source.transform
    square = (
        abs(transform.a + transform.e) < 1e-6 * abs(transform.a) and transform.b == 0 and transform.d == 0
    )
    if source.count != 1 or not square or source.crs is None:
        raise InputRefused(f"{name} is not a layer of this ground: remove it and add the source again.")
    code = CRS.from_wkt(source.crs.to_wkt()).to_epsg()
    crs = f"EPSG:{code}" if code else source.crs.to_wkt()
    return Grid(source.height, source.width, transform.c, transform.f, transform.a, crs)

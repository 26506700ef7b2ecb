"""Puts outside data on the grid: warping, burning shapes, reading points and zones."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

import numpy as np
import pandas as pd
from affine import Affine
from rasterio.enums import Resampling
from rasterio.features import rasterize, shapes
from rasterio.warp import reproject
from shapely.geometry import shape as as_shape
from shapely.ops import unary_union

from prospect.grid.grid import Grid
from prospect.grid.raster import Raster
from prospect.types import BoolArray, FloatArray, IntArray

NONE_CODE = -1


def reproject_to(
    values: FloatArray,
    transform: Affine,
    crs: str,
    grid: Grid,
    *,
    resampling: Literal["bilinear", "nearest", "average"] = "bilinear",
) -> FloatArray:
    """Warp an array onto the grid.

    Parameters
    ----------
    values : (n, m) float32
        Source values, NaN = no data; a NaN never bleeds into a neighbour's value.
    transform
        Affine of the source, from (col, row) to its x, y.
    crs
        CRS of the source.
    grid
        Target.
    resampling
        `bilinear` for elevation, `average` when the source is much finer, `nearest` for classes.

    Returns
    -------
    (rows, cols) float32
        NaN where the source has no data.
    """
    target = np.full(grid.shape, np.nan, dtype=np.float32)
    reproject(
        np.asarray(values, dtype=np.float32),
        target,
        src_transform=transform,
        src_crs=crs,
        src_nodata=np.nan,
        dst_transform=grid.transform,
        dst_crs=grid.crs,
        dst_nodata=np.nan,
        resampling=Resampling[resampling],
        num_threads=2,
    )
    return target


def rasterize_classes(
    geometries: Sequence[Any], codes: Sequence[int], grid: Grid, *, all_touched: bool = False
) -> IntArray:
    """Burn shapes into the grid by cell centre; where shapes overlap the later one wins.

    Parameters
    ----------
    geometries
        Shapely geometries in the grid's CRS; empty ones are passed over.
    codes
        One whole number ≥ 0 for each geometry.
    grid
        Target.
    all_touched
        Burn every cell that is touched (for lines and points), not only those whose centre is covered.

    Returns
    -------
    (rows, cols) int32
        The code of each cell, -1 where no shape is.
    """
    shapes = [
        (shape, int(code))
        for shape, code in zip(geometries, codes, strict=True)
        if shape is not None and not shape.is_empty
    ]
    if not shapes:
        return np.full(grid.shape, NONE_CODE, dtype=np.int32)
    return rasterize(
        shapes,
        out_shape=grid.shape,
        transform=grid.transform,
        fill=NONE_CODE,
        dtype="int32",
        all_touched=all_touched,
    )


def burn_mask(geometries: Sequence[Any], grid: Grid) -> BoolArray:
    """Return (rows, cols) bool, True in every cell that any of the shapes touches."""
    return rasterize_classes(geometries, [1] * len(geometries), grid, all_touched=True) == 1


def outline_classes(codes: IntArray, grid: Grid) -> dict[int, Any]:
    """Return the outline of each code ≥ 0 as one shapely (multi)polygon in the grid's CRS, along the cells' edges.

    Parameters
    ----------
    codes : (rows, cols) int32
        -1 = none. Cells of one code that touch at a corner belong to one outline.
    grid
        Where the cells are.
    """
    pieces: dict[int, list[Any]] = {}
    for outline, code in shapes(
        codes.astype(np.int32), mask=codes >= 0, connectivity=8, transform=grid.transform
    ):
        pieces.setdefault(int(code), []).append(as_shape(outline))
    return {code: unary_union([piece.buffer(0) for piece in parts]) for code, parts in sorted(pieces.items())}


def distance_to(mask: BoolArray, grid: Grid) -> FloatArray:
    """Return the distance (m) from each cell's centre to the nearest True cell's; infinite when none is."""
    if not mask.any():
        return np.full(grid.shape, np.inf, dtype=np.float32)
    # Takes a fifth of the time to load the readers, which need none of it.
    from scipy import ndimage

    return ndimage.distance_transform_edt(~mask, sampling=grid.cell_m).astype(np.float32)


def sample_at(raster: Raster, eastings: FloatArray, northings: FloatArray) -> FloatArray:
    """Return the values of the cells that hold the points, (n,) float64; NaN outside the grid."""
    grid = raster.grid
    eastings, northings = np.asarray(eastings, float), np.asarray(northings, float)
    with np.errstate(invalid="ignore"):
        cols = np.floor((eastings - grid.west) / grid.cell_m)
        rows = np.floor((grid.north - northings) / grid.cell_m)
        inside = (rows >= 0) & (rows < grid.rows) & (cols >= 0) & (cols < grid.cols)
    result = np.full(eastings.shape, np.nan)
    result[inside] = raster.values[rows[inside].astype(np.int64), cols[inside].astype(np.int64)]
    return result


def zonal_statistics(zones: IntArray, values: FloatArray, count: int) -> pd.DataFrame:
    """Return `cells, mean, minimum, maximum` of `values` in zones 0..count-1; NaN values are left out.

    Parameters
    ----------
    zones : (rows, cols) int32
        Zone of each cell, -1 = none.
    values : (rows, cols) float32
        NaN = no data.
    count
        Number of zones; a zone without any value has cells 0 and NaN elsewhere.
    """
    known = (zones >= 0) & np.isfinite(values)
    index = zones[known].astype(np.int64)
    picked = values[known].astype(np.float64)
    cells = np.bincount(index, minlength=count)[:count]
    total = np.bincount(index, weights=picked, minlength=count)[:count]
    low = np.full(count, np.inf)
    high = np.full(count, -np.inf)
    np.minimum.at(low, index, picked)
    np.maximum.at(high, index, picked)
    empty = cells == 0
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = total / cells
    return pd.DataFrame(
        {
            "cells": cells,
            "mean": np.where(empty, np.nan, mean),
            "minimum": np.where(empty, np.nan, low),
            "maximum": np.where(empty, np.nan, high),
        }
    )

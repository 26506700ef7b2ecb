"""Lays elevation on the ground's cells: as it is where it can be, warped where it must be, joined to what is there."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from pyproj import Transformer

from prospect.grid import Grid, Raster, is_metric, reproject_to
from prospect.pipeline.area import FINEST_CELL_M, grid_over, working_crs
from prospect.sources.elevation import ElevationSource
from prospect.types import Bounds, FloatArray


@dataclass(frozen=True, slots=True)
class Laid:
    """Elevation on a grid: (rows, cols) float32 metres with NaN outside, and what deserves a word."""

    values: FloatArray
    grid: Grid
    notes: tuple[str, ...]

    def over(self, area: Bounds) -> Laid:
        """Return the part over an area, on the same cells."""
        grid = _snapped(self.grid, area)
        return Laid(_copied(self.values, self.grid, grid), grid, self.notes)


def lay_elevation(
    content: ElevationSource, there: Raster | None, area: Bounds | None, crs: str, cell_m: float | None
) -> Laid:
    """Put elevation on cells.

    Parameters
    ----------
    content
        What was read.
    there
        The ground's elevation so far; its cells stay, and where both have values its values stay.
    area
        Box to crop to, in `crs`; None = everything.
    crs
        The ground's CRS; empty = the source's own when it is metric, else the UTM zone of its middle.
    cell_m
        Side of a cell; None = the source's own.
    """
    native = _own_grid(content)
    if there is not None:
        grid = _grown(there.grid, box_in(content, there.grid.crs)) if area is None else there.grid
    else:
        grid = _first_grid(content, native, area, crs, cell_m)
    notes: tuple[str, ...] = ()
    if native is not None and _aligned(native, grid):
        values = _copied(content.values, native, grid)
    else:
        values = reproject_to(content.values, content.transform, content.crs, grid)
        notes = (
            f"Placed on cells of {grid.cell_m:g} m in {grid.crs} (bilinear); the source is in {content.crs}.",
        )
    if there is not None:
        older = _copied(there.values, there.grid, grid)
        overlap = int(np.count_nonzero(np.isfinite(older) & np.isfinite(values)))
        values = np.where(np.isfinite(older), older, values)
        both = f"; in {overlap} cells both have values, the older stay" if overlap else ""
        notes += (f"Joined to the elevation that was there{both}.",)
        if grid.shape != there.grid.shape:
            notes += ("The ground has grown: add its other layers again to fill the new part.",)
    return Laid(values, grid, notes)


def _first_grid(
    content: ElevationSource, native: Grid | None, area: Bounds | None, crs: str, cell_m: float | None
) -> Grid:
    own = native is not None and crs in ("", native.crs) and cell_m in (None, native.cell_m)
    if native is not None and own:
        return native if area is None else _snapped(native, area)
    target = working_crs(crs or content.crs, lonlat_of(content))
    return grid_over(area or box_in(content, target), cell_m or _cell_m(content, target), target)


def _grown(there: Grid, new: Bounds) -> Grid:
    old = there.bounds
    return _snapped(
        there,
        Bounds(
            min(old.west, new.west),
            min(old.south, new.south),
            max(old.east, new.east),
            max(old.north, new.north),
        ),
    )


def _own_grid(content: ElevationSource) -> Grid | None:
    """Return the source's own grid when it is square, north up and metric; else None."""
    transform = content.transform
    square = (
        transform.b == 0 and transform.d == 0 and abs(transform.a + transform.e) < 1e-6 * abs(transform.a)
    )
    if not square or not is_metric(content.crs) or transform.a < FINEST_CELL_M:
        return None
    rows, cols = content.values.shape
    return Grid(rows, cols, transform.c, transform.f, transform.a, content.crs)


def _aligned(native: Grid, grid: Grid) -> bool:
    if native.crs != grid.crs or not math.isclose(native.cell_m, grid.cell_m):
        return False
    shift = ((grid.west - native.west) / grid.cell_m, (native.north - grid.north) / grid.cell_m)
    return all(abs(part - round(part)) < 1e-6 for part in shift)


def _snapped(native: Grid, area: Bounds) -> Grid:
    cell = native.cell_m
    col0 = math.floor((area.west - native.west) / cell + 1e-9)
    col1 = math.ceil((area.east - native.west) / cell - 1e-9)
    row0 = math.floor((native.north - area.north) / cell + 1e-9)
    row1 = math.ceil((native.north - area.south) / cell - 1e-9)
    return Grid(
        max(row1 - row0, 1),
        max(col1 - col0, 1),
        native.west + col0 * cell,
        native.north - row0 * cell,
        cell,
        native.crs,
    )


def _copied(source: FloatArray, native: Grid, grid: Grid) -> FloatArray:
    values = np.full(grid.shape, np.nan, np.float32)
    row = round((native.north - grid.north) / grid.cell_m)
    col = round((grid.west - native.west) / grid.cell_m)
    row0, row1 = max(row, 0), min(row + grid.rows, native.rows)
    col0, col1 = max(col, 0), min(col + grid.cols, native.cols)
    if row0 < row1 and col0 < col1:
        values[row0 - row : row1 - row, col0 - col : col1 - col] = source[row0:row1, col0:col1]
    return values


def box_in(content: ElevationSource, crs: str) -> Bounds:
    """Return the source's outline as a box in a CRS."""
    rows, cols = content.values.shape
    transform = content.transform
    corners = [transform * corner for corner in ((0, 0), (cols, 0), (0, rows), (cols, rows))]
    xs, ys = [corner[0] for corner in corners], [corner[1] for corner in corners]
    moved = Transformer.from_crs(content.crs, crs, always_xy=True).transform_bounds(
        min(xs), min(ys), max(xs), max(ys)
    )
    return Bounds(*moved)


def lonlat_of(content: ElevationSource) -> Bounds:
    """Return the source's outline in degrees."""
    return box_in(content, "EPSG:4326")


def _cell_m(content: ElevationSource, crs: str) -> float:
    """Return the source's own cell size in metres, to three figures."""
    rows, cols = content.values.shape
    area = box_in(content, crs)
    side = math.sqrt((area.width / cols) * (area.height / rows))
    return max(float(f"{side:.2g}"), FINEST_CELL_M)

"""Elevation from beyond the ground's edge, kept so that water which comes from there is right inside."""

from __future__ import annotations

import contextlib

import numpy as np

from prospect.errors import NothingToWorkWith
from prospect.grid import Grid, Raster
from prospect.layerfile import LayerSource, delete_layer, read_raster_layer, write_layer
from prospect.store import Ground

AROUND_M = 2000.0
"""How far around a ground its shapes and its elevation are kept (own judgement)."""
_FOLDER, _NAME = "around", "elevation"


def elevation_around(ground: Ground, grid: Grid) -> Raster:
    """Return the ground's elevation with what is known around it; only its own where nothing is.

    Parameters
    ----------
    ground
        The ground.
    grid
        Its grid; what is returned covers it and lies on the same cells.
    """
    wide = surroundings(ground)
    if wide is None or not _holds(wide.grid, grid):
        return read_raster_layer(ground.layers_folder, "elevation")
    return wide


def surroundings(ground: Ground) -> Raster | None:
    """Return the elevation kept with what lies around the ground; None where there is none."""
    try:
        return read_raster_layer(ground.layers_folder / _FOLDER, _NAME)
    except NothingToWorkWith:
        return None


def keep_surroundings(ground: Ground, wide: Raster, grid: Grid, source: LayerSource) -> bool:
    """Keep elevation that reaches beyond the ground's grid; return whether there was any to keep."""
    beyond = np.isfinite(wide.values)
    beyond[cells_of(grid, wide.grid)] = False
    if not beyond.any():
        forget_surroundings(ground)
        return False
    write_layer(ground.layers_folder / _FOLDER, _NAME, wide, source)
    return True


def forget_surroundings(ground: Ground) -> None:
    """Delete what was kept of the elevation around the ground."""
    with contextlib.suppress(NothingToWorkWith):
        delete_layer(ground.layers_folder / _FOLDER, _NAME)


def cells_of(grid: Grid, wide: Grid) -> tuple[slice, slice]:
    """Return the rows and columns of a wider grid on which a grid lies."""
    row = round((wide.north - grid.north) / grid.cell_m)
    col = round((grid.west - wide.west) / grid.cell_m)
    return slice(row, row + grid.rows), slice(col, col + grid.cols)


def _holds(wide: Grid, grid: Grid) -> bool:
    """Whether a grid lies on cells of a wider one, so that a part of it can be cut out."""
    if wide.crs != grid.crs or abs(wide.cell_m - grid.cell_m) > 1e-9:
        return False
    rows, cols = cells_of(grid, wide)
    corner = wide.west + cols.start * wide.cell_m, wide.north - rows.start * wide.cell_m
    shift = max(abs(corner[0] - grid.west), abs(corner[1] - grid.north))
    inside = min(rows.start, cols.start) >= 0 and rows.stop <= wide.rows and cols.stop <= wide.cols
    return inside and shift < 1e-6 * wide.cell_m

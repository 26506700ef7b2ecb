"""Reads elevation: one GeoTIFF, a height tile, or a folder or archive of tiles, as metres with NaN outside."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NoReturn

import numpy as np
from affine import Affine

from prospect.errors import InputRefused, ReaderFault
from prospect.guard.archive import open_archive
from prospect.guard.folder import files_below
from prospect.guard.inspection import RASTER_FORMS, file_name, inspect_file
from prospect.guard.refusal import refuse_file
from prospect.issues import Issue, IssueLog
from prospect.layerfile import LayerSource
from prospect.sources.elevation_tile import MOST_CELLS, ElevationSource, read_tile
from prospect.types import Bounds, FloatArray

__all__ = ["ElevationSource", "read_elevation"]

MOST_TILES = 64
_LOOK_FROM, _MOST_UNPACKED = 25_000_000, 500
"""From so many cells on, tiles that unpack to so many times their size hold nothing but no data (own judgement)."""

_ENDINGS = (".tif", ".tiff", ".gtiff", ".hgt")


@dataclass(frozen=True, slots=True)
class _Corner:
    """Where a tile starts on the mosaic, in whole cells."""

    row: int
    col: int


def read_elevation(
    path: Path, *, crs: str = "", vertical_unit: str = "", bounds: Bounds | None = None
) -> tuple[ElevationSource, IssueLog, LayerSource]:
    """Read elevation.

    Parameters
    ----------
    path
        GeoTIFF, SRTM height tile (`N35W084.hgt`), or a folder or zip archive of such tiles.
    crs
        `EPSG:n` when the file does not say.
    vertical_unit
        `m`, `ft` or `us-ft` when the file does not say.
    bounds
        The ground, longitudes and latitudes; only the part around it is read.

    Returns
    -------
    ElevationSource
        float32 metres in the file's own CRS and cells, NaN where there is no data.
    IssueLog
        One item for each tile.
    LayerSource

    Raises
    ------
    InputRefused
        When nothing can be used; the log says why.
    """
    log = IssueLog(file_name(path), "elevation")
    form = inspect_file(path, "elevation", RASTER_FORMS).form
    if form == "zip archive":
        with open_archive(path, "elevation") as folder:
            tiles = _read_tiles(_tile_paths(folder, log), crs, vertical_unit, bounds, log)
    elif form == "folder":
        tiles = _read_tiles(_tile_paths(path, log), crs, vertical_unit, bounds, log)
    else:
        tiles = _read_tiles([path], crs, vertical_unit, bounds, log)
    content = tiles[0] if len(tiles) == 1 else _mosaic(tiles, log)
    notes = list(content.notes)
    if len(tiles) > 1:
        notes.append(f"Joined from {len(tiles)} tiles; where they overlap the first one stays.")
    rows, cols = content.values.shape
    source = LayerSource(
        kind="elevation",
        origin=file_name(path),
        imported="",
        crs=content.crs,
        counts={"read": log.read, "kept": log.kept, "repaired": log.repaired, "refused": log.refused},
        notes=(*notes, f"{rows} × {cols} cells."),
    )
    return content, log.add_up(), source


def _tile_paths(folder: Path, log: IssueLog) -> list[Path]:
    found = [path for path in files_below(folder, log) if path.suffix.lower() in _ENDINGS]
    if not found:
        refuse_file(log, "no elevation file in it", "GeoTIFF or height tiles", "Check the folder.")
    if len(found) > MOST_TILES:
        action = "Give only the tiles that touch your ground."
        refuse_file(log, f"{len(found)} tiles", f"at most {MOST_TILES}", action)
    return found


def _read_tiles(
    paths: Sequence[Path], crs: str, vertical_unit: str, bounds: Bounds | None, log: IssueLog
) -> list[ElevationSource]:
    """Read each tile; with several, one that cannot be used is refused by itself."""
    tiles: list[ElevationSource] = []
    several = len(paths) > 1
    cells = size = 0
    for path in paths:
        own = IssueLog(path.name, "elevation")
        try:
            tile = read_tile(path, crs, vertical_unit, bounds, own)
        except ReaderFault:
            raise
        except InputRefused as refused:
            problems = (refused.log or own).issues
            log.refuse(*_placed(problems, log.file, path.name, several))
            if not several:
                raise InputRefused(str(refused), log) from None
            continue
        problems = _placed(own.issues, log.file, path.name, several)
        if any(issue.severity == "warning" for issue in problems):
            log.repair(*problems)
        else:
            log.keep()
            log.issues.extend(problems)
        tiles.append(tile)
        cells, size = cells + tile.values.size, size + path.stat().st_size
        if several and (cells > MOST_CELLS or (cells > _LOOK_FROM and 4 * cells > _MOST_UNPACKED * size)):
            action = "Start the ground with --bbox first, or give only the tiles that touch it."
            found = f"{cells:,} cells in {size / 1e6:,.1f} MB of tiles"
            expected = f"at most {MOST_CELLS:,} cells, and something in them"
            _refuse_all(log, found, expected, action, "cells")
    if not tiles:
        raise InputRefused(f"{log.file}: none of the {len(paths)} tiles can be used.", log)
    return tiles


def _placed(problems: Sequence[Issue], file: str, tile: str, several: bool) -> list[Issue]:
    place = f"tile {tile}" if several else ""
    return [replace(issue, file=file, place=issue.place or place) for issue in problems]


def _refuse_all(log: IssueLog, found: str, expected: str, action: str, field: str) -> NoReturn:
    """Refuse tiles that can be read one by one but not together; all of them count as refused."""
    log.kept, log.repaired, log.refused = 0, 0, log.read
    refuse_file(log, found, expected, action, field=field)


def _mosaic(tiles: Sequence[ElevationSource], log: IssueLog) -> ElevationSource:
    """Put tiles of one CRS and cell size beside each other; whatever else is there is refused."""
    first = tiles[0]
    step_x, step_y = first.transform.a, first.transform.e
    corners: list[_Corner] = []
    for tile in tiles:
        same = (
            tile.crs == first.crs
            and math.isclose(tile.transform.a, step_x, rel_tol=1e-6)
            and math.isclose(tile.transform.e, step_y, rel_tol=1e-6)
            and tile.transform.b == first.transform.b == tile.transform.d == first.transform.d == 0
        )
        if not same:
            action = "Add the tiles one after the other: each is then placed on the ground's own cells."
            _refuse_all(log, "tiles of different CRS or cell size", "tiles of one set", action, "crs")
        corners.append(
            _Corner(
                round((tile.transform.f - first.transform.f) / step_y),
                round((tile.transform.c - first.transform.c) / step_x),
            )
        )
    top, left = min(c.row for c in corners), min(c.col for c in corners)
    rows = max(c.row + t.values.shape[0] for c, t in zip(corners, tiles, strict=True)) - top
    cols = max(c.col + t.values.shape[1] for c, t in zip(corners, tiles, strict=True)) - left
    if rows * cols > MOST_CELLS:
        action = "Start the ground with --bbox first, or give only the tiles that touch it."
        found = f"{rows:,} × {cols:,} cells in all"
        _refuse_all(log, found, f"at most {MOST_CELLS:,} cells", action, "cells")
    values: FloatArray = np.full((rows, cols), np.nan, dtype=np.float32)
    for corner, tile in zip(corners, tiles, strict=True):
        row, col = corner.row - top, corner.col - left
        part = values[row : row + tile.values.shape[0], col : col + tile.values.shape[1]]
        np.copyto(part, tile.values, where=np.isnan(part))
    transform = first.transform * Affine.translation(left, top)
    notes = tuple(dict.fromkeys(note for tile in tiles for note in tile.notes))
    return ElevationSource(values, transform, first.crs, first.unit, notes)

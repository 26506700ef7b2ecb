"""Everything about water that an elevation grid on disk can tell, tile by tile and equal to the whole bit for bit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from prospect.cache import content_key
from prospect.errors import GridMismatch, WrongUsage
from prospect.grid import Grid, write_geotiff_by_bands
from prospect.hydrology.accumulation import weight_unit
from prospect.hydrology.indices import specific_catchment_m, topographic_wetness_index
from prospect.hydrology.tiles import _kernels as kernels
from prospect.hydrology.tiles.directions import direct_tiles
from prospect.hydrology.tiles.filling import fill_tiles
from prospect.hydrology.tiles.gathering import TileFlow, in_steps, inflows, largest, with_inflow
from prospect.hydrology.tiles.heights import Heights
from prospect.hydrology.tiles.streams import follow_tiles, order_tiles
from prospect.hydrology.tiles.weights import Layer, Marked, Ones, SharePart, Weight
from prospect.types import FloatArray
from prospect.windows import (
    Engine,
    Source,
    Tiling,
    Window,
    WorkFolder,
    open_array,
    raster_source,
    read_window,
    write_window,
)

ALGORITHM = 1
PARTS: tuple[Literal["weighted", "known", "all"], ...] = ("weighted", "known", "all")
TILE_CELLS = 1024
"""Side of a tile: about 60 MB for each thread at work."""


@dataclass(frozen=True, slots=True)
class Share:
    """A property whose mean over the catchment of each cell is wanted (`prospect.hydrology.upstream_share`).

    Attributes
    ----------
    property, importance
        The property, and how much each cell counts (None = all alike); NaN = unknown.
    least_known
        NaN where less than this share of the catchment is known.
    unknown_at_edge
        NaN where the catchment touches the edge of the data.
    """

    property: Source
    importance: Source | None = None
    least_known: float = 0.0
    unknown_at_edge: bool = False


@dataclass(frozen=True, slots=True)
class WaterTiles:
    """What `water_tiles` found, as .npy files of the grid's shape.

    Attributes
    ----------
    shape
        (rows, cols).
    paths
        By name: `filled` (float32), `direction` (int8, see `direct_tiles`), `edge` (bool), `upstream_cells` (int32,
        -1 = unknown), `area_km2` (float32), `touches_edge`, `channel` (bool), `reached` (flat index of the channel
        cell, -1 = none), `height_above_drainage_m`, `distance_to_channel_m`, `wetness_index`, `depression_depth_m`
        (float32, NaN = unknown), `strahler` (int8, -1 = unknown), `sum-NAME` (float64) and `share-NAME` (float32).
    """

    shape: tuple[int, int]
    paths: Mapping[str, Path]

    def array(self, name: str) -> NDArray[Any]:
        """Return one of them, read from disk where it is looked at."""
        return open_array(self.paths[name])

    def write_geotiff(self, name: str, grid: Grid, unit: str, source: str, path: Path) -> None:
        """Write one of them as a GeoTIFF (float32, NaN = no data), a band of rows at a time.

        Parameters
        ----------
        name
            Any of `paths`; of whole numbers, those below 0 are no data.
        grid
            Where the cells are, of this shape.
        unit, source
            As in `prospect.grid.Raster`.
        path
            Target file, replaced only when the new one is whole.
        """
        if grid.shape != self.shape:
            raise GridMismatch(f"Results of {self.shape} on a grid of {grid.shape}.")
        values = self.array(name)

        def rows(start: int, stop: int) -> FloatArray:
            part = values[start:stop].astype(np.float32)
            return np.where(part < 0, np.float32(np.nan), part) if values.dtype.kind == "i" else part

        write_geotiff_by_bands(rows, grid, unit, source, path)


def water_tiles(
    elevation: Source,
    folder: Path,
    cell_m: float,
    channel_area_km2: float,
    *,
    streams: Source | None = None,
    slope_pct: Source | None = None,
    weights: Mapping[str, Source] = MappingProxyType({}),
    shares: Mapping[str, Share] = MappingProxyType({}),
    tile_cells: int = TILE_CELLS,
    engine: Engine | None = None,
) -> WaterTiles:
    """Return where the water of a grid on disk goes and what follows from it; the same numbers as `water` gives.

    Parameters
    ----------
    elevation : Source
        Metres, row 0 north; anything not finite is unknown. See `prospect.windows.raster_source`.
    folder : Path
        Where the results go. A run that was cut is gone on with; another input or other settings begin anew.
    cell_m : float
        Side of a square cell, m.
    channel_area_km2 : float
        Upstream area at which a stream begins.
    streams : Source, optional
        Mapped streams (not nought), followed before the elevation model.
    slope_pct : Source, optional
        Slope for the wetness index; the fall along the flow when left out.
    weights : mapping of Source, optional
        More to sum along the flow, by name (`prospect.hydrology.flow_accumulation`).
    shares : mapping of Share, optional
        Means over the catchment, by name.
    tile_cells : int
        Side of a tile. It and the number of threads set the memory.
    engine : Engine, optional
        Who does the work, who watches, who may stop it.

    Raises
    ------
    GridMismatch
        When a source has another shape than the elevation.
    Stopped
        When the engine's `stopped` says so.
    """
    if not (cell_m > 0 and channel_area_km2 > 0):
        raise WrongUsage(
            f"Invalid cell of {cell_m} m or stream from {channel_area_km2} km². Both must be above 0."
        )
    engine, weights, shares = engine or Engine(), dict(weights), dict(shares)
    tiling = Tiling(elevation.shape, tile_cells, tile_cells)
    others = [streams, slope_pct, *weights.values()]
    others += [source for share in shares.values() for source in (share.property, share.importance)]
    given = [source for source in others if source is not None]
    for source in given:
        if source.shape != tiling.shape:
            raise GridMismatch(f"A grid of {source.shape} was given for an elevation of {tiling.shape}.")
    settings = (cell_m, channel_area_km2, tile_cells, list(weights), _words(shares))
    keys = [None if source is None else source.key for source in (elevation, *others)]
    work = WorkFolder(folder, content_key("water", ALGORITHM, settings, keys), engine)
    if not work.is_finished:
        ground = Heights(elevation)
        filled = fill_tiles("filled", ground, tiling, work)
        routed = filled
        if streams is not None:
            routed = fill_tiles("routed", Heights(elevation, streams), tiling, work)
        directions, edge = direct_tiles(Heights(raster_source(routed)), tiling, work)
        gathered = _gathered(directions, edge, streams, weights, shares)
        _gather(directions, gathered, shares, cell_m, channel_area_km2, tiling, work)
        channels = work.path("channel")
        follow_tiles(directions, channels, filled, cell_m, tiling, work)
        order_tiles(directions, channels, tiling, work)
        _indices(elevation, slope_pct, cell_m, tiling, work)
        work.finish()
    return WaterTiles(tiling.shape, work.paths)


def _words(shares: Mapping[str, Share]) -> list[object]:
    return [
        (name, share.least_known, share.unknown_at_edge, share.importance is None)
        for name, share in shares.items()
    ]


def _gathered(
    directions: Path,
    edge: Path,
    streams: Source | None,
    weights: Mapping[str, Source],
    shares: Mapping[str, Share],
) -> dict[str, Weight]:
    """Return all that is summed along the flow, by a name of its own."""
    found: dict[str, Weight] = {"cells": Ones(), "edge": Marked(raster_source(edge))}
    if streams is not None:
        found["streams"] = Marked(streams)
    found |= {f"sum-{name}": Layer(source) for name, source in weights.items()}
    for name, share in shares.items():
        for part in PARTS if share.least_known > 0 else PARTS[:2]:
            found[f"share-{name}-{part}"] = SharePart(share.property, share.importance, directions, part)
    return found


def _gather(
    directions: Path,
    gathered: Mapping[str, Weight],
    shares: Mapping[str, Share],
    cell_m: float,
    channel_area_km2: float,
    tiling: Tiling,
    work: WorkFolder,
) -> None:
    rough = {name: weight for name, weight in gathered.items() if not weight.is_whole}
    most = largest("largest-weights", rough, tiling, work)
    cells = tiling.shape[0] * tiling.shape[1]
    units = {name: weight_unit(most[name], cells) if name in most else 0.0 for name in gathered}
    coming = inflows("sums", directions, list(gathered.values()), list(units.values()), tiling, work)
    kinds = {
        "upstream_cells": np.int32,
        "area_km2": np.float32,
        "touches_edge": np.bool_,
        "channel": np.bool_,
    }
    kinds |= {name: np.float64 for name in gathered if name.startswith("sum-")}
    kinds |= {f"share-{name}": np.float32 for name in shares}
    paths = {name: work.array(name, tiling.shape, kind) for name, kind in kinds.items()}
    jobs = {
        number: (
            directions,
            gathered,
            units,
            shares,
            (cell_m, channel_area_km2),
            tiling[number],
            coming[number],
            paths,
        )
        for number in range(len(tiling))
    }
    work.stage("gather", _gather_tile, jobs)


def _gather_tile(
    directions: Path,
    gathered: Mapping[str, Weight],
    units: Mapping[str, float],
    shares: Mapping[str, Share],
    limits: tuple[float, float],
    window: Window,
    coming: FloatArray,
    paths: Mapping[str, Path],
) -> None:
    """Write the sums of a tile and what follows from them at once."""
    flow = TileFlow(directions, window)
    unknown = flow.codes == -2
    cell_m, channel_area_km2 = limits
    inflow = dict(zip(gathered, coming.T, strict=True))

    def summed(name: str) -> FloatArray:
        values = with_inflow(flow, in_steps(gathered[name].read(window), units[name]), inflow[name])
        values[unknown] = np.nan
        return values

    cells = summed("cells")
    write_window(paths["upstream_cells"], window, np.where(unknown, -1, np.nan_to_num(cells)))
    area = (cells * (cell_m**2 / 1.0e6)).astype(np.float32)
    write_window(paths["area_km2"], window, area)
    channel = area >= channel_area_km2
    if "streams" in gathered:
        channel |= summed("streams") > 0
    write_window(paths["channel"], window, channel)
    touches_edge = summed("edge") > 0
    write_window(paths["touches_edge"], window, touches_edge)
    for name in gathered:
        if name.startswith("sum-"):
            write_window(paths[name], window, summed(name))
    for name, share in shares.items():
        above, below = summed(f"share-{name}-weighted"), summed(f"share-{name}-known")
        usable = below > 0
        if share.least_known > 0:
            usable &= below >= share.least_known * summed(f"share-{name}-all")
        if share.unknown_at_edge:
            usable &= ~touches_edge
        out = np.full(window.shape, np.nan, dtype=np.float32)
        out[usable] = above[usable] / below[usable]
        write_window(paths[f"share-{name}"], window, out)


def _indices(
    elevation: Source, slope_pct: Source | None, cell_m: float, tiling: Tiling, work: WorkFolder
) -> None:
    paths = {
        name: work.array(name, tiling.shape, np.float32) for name in ("wetness_index", "depression_depth_m")
    }
    read = {name: work.path(name) for name in ("filled", "direction", "area_km2")}
    jobs = {
        number: (elevation, slope_pct, cell_m, tiling[number], tiling.shape, read, paths)
        for number in range(len(tiling))
    }
    work.stage("indices", _indices_tile, jobs)


def _indices_tile(
    elevation: Source,
    slope_pct: Source | None,
    cell_m: float,
    window: Window,
    shape: tuple[int, int],
    read: Mapping[str, Path],
    paths: Mapping[str, Path],
) -> None:
    near = window.grown(1, shape)
    filled = read_window(read["filled"], near)
    gradient: FloatArray
    if slope_pct is None:
        gradient = np.empty(filled.shape, dtype=np.float32)
        kernels.fall_ahead(read_window(read["direction"], near), filled, 1, cell_m, gradient)
        gradient = gradient[window.within(near)]
    else:
        gradient = np.asarray(slope_pct.read(window)) / 100.0
    specific = specific_catchment_m(read_window(read["area_km2"], window), cell_m)
    write_window(paths["wetness_index"], window, topographic_wetness_index(specific, gradient))
    depth = filled[window.within(near)] - np.asarray(elevation.read(window), dtype=np.float32)
    write_window(paths["depression_depth_m"], window, depth)

"""What is computed from a cell's surroundings is the same by windows as over the whole."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from prospect.grid import Grid, Raster, geotiff_shape, read_geotiff, write_geotiff, write_geotiff_by_bands
from prospect.terrain import geomorphons, hillshade, slope_deg, slope_pct, surface, topographic_position_index
from prospect.types import FloatArray
from prospect.windows import Engine, Tiling, WorkFolder, open_array, over_windows, raster_source

CELL = 10.0


def ground(rows: int = 61, cols: int = 83) -> FloatArray:
    rng = np.random.default_rng(3)
    z = np.cumsum(np.cumsum(rng.normal(size=(rows, cols)), axis=0), axis=1).astype(np.float32)
    z[20:33, 30:45] = np.nan
    z[rng.random(z.shape) < 0.01] = np.nan
    z[40:50, 5:15] = 12.0
    return z


def of_surface(z: FloatArray) -> Mapping[str, FloatArray]:
    return asdict(surface(z, CELL))


def forms(z: FloatArray) -> Mapping[str, FloatArray]:
    return {"it": geomorphons(z, CELL, 60.0)[0]}


def one(function: Callable[..., FloatArray], *arguments: object) -> Callable[..., Mapping[str, FloatArray]]:
    return partial(_call, function, arguments)


def _call(
    function: Callable[..., FloatArray], arguments: tuple[object, ...], z: FloatArray
) -> Mapping[str, FloatArray]:
    return {"it": function(z, CELL, *arguments)}


def position(z: FloatArray, window: str) -> Mapping[str, FloatArray]:
    return {"it": topographic_position_index(z, CELL, 50.0, window=window)}  # type: ignore[arg-type]


STENCILS = {
    "surface": (of_surface, 1),
    "slope in per cent": (one(slope_pct), 1),
    "slope in degrees": (one(slope_deg), 1),
    "shade": (one(hillshade, 100.0, 30.0), 1),
    "landforms": (forms, 6),
    "position in a square": (partial(position, window="square"), 5),
    "position in a disk": (partial(position, window="disk"), 5),
}


@pytest.mark.parametrize("name", STENCILS)
@pytest.mark.parametrize("tile", [(7, 7), (60, 82), (200, 200), (1, 83), (61, 4)])
def test_by_windows_is_the_whole(name: str, tile: tuple[int, int], tmp_path: Path) -> None:
    z = ground()
    np.save(tmp_path / "z.npy", z)
    function, reach = STENCILS[name]
    whole = function(z)
    work = WorkFolder(tmp_path / "work", "", Engine())
    paths = over_windows(
        "stencil",
        function,
        (raster_source(tmp_path / "z.npy"),),
        Tiling(z.shape, *tile),
        reach,
        work,
        {key: values.dtype for key, values in whole.items()},
    )
    for key, values in whole.items():
        np.testing.assert_array_equal(open_array(paths[key]), values)


def test_a_geotiff_is_read_and_written_by_parts(tmp_path: Path) -> None:
    z = ground(300, 280)
    raster = Raster.of(z, Grid(300, 280, 500_000.0, 4_700_000.0, CELL, "EPSG:32633"), "m", "a source of ours")
    write_geotiff(raster, tmp_path / "z.tif")
    source = raster_source(tmp_path / "z.tif")
    assert source.shape == geotiff_shape(tmp_path / "z.tif") == (300, 280)
    tiling = Tiling(z.shape, 128, 100)
    for number in range(len(tiling)):
        np.testing.assert_array_equal(source.read(tiling[number]), z[tiling[number].slices])
    write_geotiff_by_bands(
        lambda start, stop: z[start:stop], raster.grid, "m", raster.source, tmp_path / "again.tif"
    )
    again = read_geotiff(tmp_path / "again.tif")
    np.testing.assert_array_equal(again.values, raster.values)
    assert (again.grid, again.unit, again.source) == (raster.grid, raster.unit, raster.source)

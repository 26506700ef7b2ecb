"""Everything about water from tiles is what the whole grid gives, bit for bit, however the grid is cut."""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prospect.errors import GridMismatch, Stopped, WrongUsage
from prospect.grid import Grid, Raster, read_geotiff, write_geotiff
from prospect.hydrology import (
    FlowNetwork,
    burn_streams,
    channel_mask,
    depression_depth,
    drainage,
    fill_depressions,
    flow_accumulation,
    flow_direction,
    reach_gradient,
    specific_catchment_m,
    strahler_order,
    topographic_wetness_index,
    upstream_area_km2,
    upstream_share,
    value_at_channel,
)
from prospect.hydrology.depressions import edge_cells
from prospect.hydrology.tiles import Share, WaterTiles, value_at_channel_tiles, water_tiles
from prospect.terrain import slope_pct
from prospect.types import BoolArray, FloatArray, IntArray
from prospect.windows import Engine, Source, Tiling, WorkFolder, raster_source

CELL = 10.0
AREA_KM2 = 0.003
"""Thirty cells: streams enough on small ground."""
STEPS = np.array([(0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1), (-1, 0), (-1, 1)])


def rough(rows: int, cols: int, seed: int = 5) -> FloatArray:
    """Spectral noise on a tilt, a quarter of it in hollows."""
    rng = np.random.default_rng(seed)
    frequency = np.hypot(np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(cols)[None, :])
    frequency[0, 0] = np.inf
    noise = np.fft.irfft2(frequency**-1.8 * np.exp(2j * np.pi * rng.random(frequency.shape)), s=(rows, cols))
    tilt = 0.1 * (np.arange(rows)[::-1, None] + np.arange(cols)[None, :])
    return (20.0 * noise / noise.std() + tilt).astype(np.float32)


def plateau() -> FloatArray:
    """Level ground behind a rim with one way out."""
    z = np.full((40, 46), 10.0, np.float32)
    z[[0, -1]] = z[:, [0, -1]] = 20.0
    z[-1, 23] = 5.0
    return z


def bowl() -> FloatArray:
    """A round hollow that spills in one place, far larger than a tile."""
    row, col = np.mgrid[0:44, 0:50]
    z = np.minimum(0.05 * ((row - 20.0) ** 2 + (col - 26.0) ** 2), 15.0).astype(np.float32)
    z[30, 40:] = 8.0
    return z


def winding() -> FloatArray:
    """A level ditch between walls that runs to and fro over all tiles to its one end."""
    z = np.full((31, 34), 9.0, np.float32)
    z[1:-1:2, 1:-1] = 3.0
    for turn, row in enumerate(range(2, 29, 2)):
        z[row, 1 if turn % 2 else -2] = 3.0
    z[1, 0] = 1.0
    return z


def riddled() -> FloatArray:
    """A tenth of the cells unknown one by one, and a square of two tiles' side."""
    z = rough(50, 46)
    z[np.random.default_rng(2).random(z.shape) < 0.02] = np.nan
    z[13:39, 13:39] = np.nan
    return z


def terraces() -> FloatArray:
    """Whole steps of a metre, mostly level."""
    return np.round(rough(45, 52) / 8.0).astype(np.float32)


MODELS: dict[str, Callable[[], FloatArray]] = {
    "rough": lambda: rough(53, 61),
    "plateau": plateau,
    "bowl": bowl,
    "terraces": terraces,
    "winding": winding,
    "riddled": riddled,
    "level": lambda: np.zeros((30, 33), np.float32),
    "nothing known": lambda: np.full((9, 11), np.nan, np.float32),
    "one row": lambda: rough(1, 40),
}


def on_disk(folder: Path, name: str, values: np.ndarray) -> Source:
    np.save(folder / f"{name}.npy", values)
    return raster_source(folder / f"{name}.npy")


def codes_of(network: FlowNetwork) -> IntArray:
    cols = network.shape[1]
    cell = np.flatnonzero(network.downstream >= 0)
    below = network.downstream[cell]
    step = np.column_stack([below // cols - cell // cols, below % cols - cell % cols])
    codes = np.full(network.mask.size, -1, np.int8)
    codes[cell] = (step[:, None, :] == STEPS[None]).all(axis=2).argmax(axis=1)
    codes[network.mask.ravel()] = -2
    return codes.reshape(network.shape)


def layers_for(z: FloatArray, seed: int = 1) -> tuple[FloatArray, FloatArray, BoolArray]:
    """A property with gaps, how much each cell counts, and a few mapped streams."""
    rng = np.random.default_rng(seed)
    share = rng.random(z.shape).astype(np.float32)
    share[rng.random(z.shape) < 0.2] = np.nan
    counts = rng.random(z.shape).astype(np.float32) ** 4
    return share, counts, rng.random(z.shape) < 0.01


def by_tiles(
    folder: Path, z: FloatArray, tile: int, streams: bool, engine: Engine | None = None
) -> WaterTiles:
    share, counts, mapped = layers_for(z)
    folder.mkdir(exist_ok=True)
    share_file, counts_file = on_disk(folder, "share", share), on_disk(folder, "counts", counts)
    return water_tiles(
        on_disk(folder, "z", z),
        folder / "water",
        CELL,
        AREA_KM2,
        streams=on_disk(folder, "streams", mapped) if streams else None,
        weights={"counts": counts_file, "share": share_file},
        shares={
            "plain": Share(share_file),
            "weighted": Share(share_file, counts_file, least_known=0.6, unknown_at_edge=True),
        },
        tile_cells=tile,
        engine=engine,
    )


def whole(z: FloatArray, streams: bool) -> dict[str, np.ndarray]:
    share, counts, mapped = layers_for(z)
    filled = fill_depressions(z)
    network = flow_direction(fill_depressions(burn_streams(z, mapped)) if streams else filled, CELL)
    cells = flow_accumulation(network)
    area = upstream_area_km2(network)
    channels = channel_mask(network, area, AREA_KM2, mapped if streams else None)
    height, distance = drainage(filled, network, channels)
    return {
        "filled": filled,
        "direction": codes_of(network),
        "edge": edge_cells(~network.mask),
        "upstream_cells": np.where(network.mask, -1, np.nan_to_num(cells)).astype(np.int32),
        "area_km2": area,
        "touches_edge": network.touches_edge,
        "channel": channels,
        "height_above_drainage_m": height,
        "distance_to_channel_m": distance,
        "wetness_index": topographic_wetness_index(
            specific_catchment_m(area, CELL), reach_gradient(filled, network)
        ),
        "depression_depth_m": depression_depth(z, filled),
        "strahler": strahler_order(network, channels),
        "sum-counts": flow_accumulation(network, counts),
        "sum-share": flow_accumulation(network, share),
        "share-plain": upstream_share(network, share),
        "share-weighted": upstream_share(network, share, counts, least_known=0.6, unknown_at_edge=True),
        "area_of_stream": value_at_channel(area, network, channels),
    }


def assert_equal(tiles: WaterTiles, expected: dict[str, np.ndarray]) -> None:
    for name, values in expected.items():
        if name == "area_of_stream":
            continue
        got = tiles.array(name)
        assert got.dtype == values.dtype, name
        np.testing.assert_array_equal(got, values, err_msg=name)


@pytest.mark.parametrize("streams", [False, True], ids=["", "with streams"])
@pytest.mark.parametrize("name", MODELS)
def test_tiles_are_the_whole(name: str, streams: bool, tmp_path: Path) -> None:
    z = MODELS[name]()
    expected = whole(z, streams)
    # One tile larger than the grid; remainders of one row or column; tiles wholly unknown; many small ones.
    for tile in (200, z.shape[0] - 1 or 1, 13):
        tiles = by_tiles(tmp_path / str(tile), z, tile, streams)
        assert_equal(tiles, expected)
        work = WorkFolder(tmp_path / str(tile) / "more", "", Engine())
        at = value_at_channel_tiles(
            "it", tiles.paths["area_km2"], tiles.paths["reached"], Tiling(z.shape, tile, tile), work
        )
        np.testing.assert_array_equal(np.load(at), expected["area_of_stream"])


@settings(max_examples=12, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    rows=st.integers(1, 14),
    cols=st.integers(1, 14),
    tile=st.integers(3, 7),
    heights=st.sampled_from([3, 8, 100_000]),
    unknown=st.sampled_from([0.0, 0.03, 0.3]),
    streams=st.booleans(),
)
def test_tiny_tiles_of_small_grounds_are_the_whole(
    seed: int,
    rows: int,
    cols: int,
    tile: int,
    heights: int,
    unknown: float,
    streams: bool,
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    rng = np.random.default_rng(seed)
    z = rng.integers(0, heights, (rows, cols)).astype(np.float32)
    z[rng.random(z.shape) < unknown] = np.nan
    tiles = by_tiles(tmp_path_factory.mktemp("tiny"), z, tile, streams)
    assert_equal(tiles, whole(z, streams))


@pytest.mark.parametrize("cut_every", [3, 23])
def test_a_run_cut_again_and_again_comes_to_the_same_end(cut_every: int, tmp_path: Path) -> None:
    z = terraces()[:36, :36]
    cuts, left = 0, cut_every

    def now() -> bool:
        nonlocal left
        left -= 1
        return left <= 0

    while True:
        left = cut_every
        try:
            tiles = by_tiles(tmp_path / "cut", z, 17, True, Engine(2, stopped=now))
        except Stopped:
            cuts += 1
        else:
            break
    assert cuts > 3
    assert_equal(tiles, whole(z, True))


PROGRAM = """
import os, signal, sys
from pathlib import Path
from prospect.hydrology.tiles import water_tiles
from prospect.windows import Engine, raster_source

folder, after, how = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
seen = []

def told(*stage):
    seen.append(stage)
    if len(seen) == after:
        os.kill(os.getpid(), how)

water_tiles(raster_source(folder / "z.npy"), folder / "water", 10.0, 0.003, tile_cells=11, engine=Engine(progress=told))
"""


@pytest.mark.parametrize(
    ("after", "how"), [(40, signal.SIGKILL), (90, signal.SIGINT)], ids=["kill", "Ctrl+C"]
)
def test_a_killed_program_is_gone_on_with(after: int, how: signal.Signals, tmp_path: Path) -> None:
    z = terraces()[:36, :36]
    source = on_disk(tmp_path, "z", z)
    ended = subprocess.run(
        [sys.executable, "-c", PROGRAM, tmp_path, str(after), str(int(how))], capture_output=True, text=True
    )
    assert ended.returncode != 0
    assert (how == signal.SIGKILL) or "KeyboardInterrupt" in ended.stderr
    seen: list[tuple[str, int, int]] = []
    engine = Engine(progress=lambda *told: seen.append(told))
    tiles = water_tiles(source, tmp_path / "water", CELL, AREA_KM2, tile_cells=11, engine=engine)
    assert seen[0][1:] == (16, 16), "the first stage was done before"
    uncut = water_tiles(source, tmp_path / "uncut", CELL, AREA_KM2)
    assert set(uncut.paths) == set(tiles.paths)
    for name in uncut.paths:
        np.testing.assert_array_equal(tiles.array(name), uncut.array(name), err_msg=name)


def test_a_finished_run_is_not_done_again_and_a_changed_input_is(tmp_path: Path) -> None:
    told: list[str] = []
    engine = Engine(progress=lambda stage, done, of: told.append(stage))
    z = rough(30, 30)
    by_tiles(tmp_path / "w", z, 16, False, engine)
    stages = len(told)
    assert stages > 20
    by_tiles(tmp_path / "w", z, 16, False, engine)
    assert len(told) == stages
    z[3, 3] += 1.0
    again = by_tiles(tmp_path / "w", z, 16, False, engine)
    assert_equal(again, whole(z, False))
    assert len(told) > stages


def test_the_slope_of_the_ground_serves_the_wetness_index(tmp_path: Path) -> None:
    z = rough(40, 40)
    slope = slope_pct(z, CELL)
    tiles = water_tiles(
        on_disk(tmp_path, "z", z),
        tmp_path / "water",
        CELL,
        AREA_KM2,
        slope_pct=on_disk(tmp_path, "slope", slope),
        tile_cells=13,
    )
    expected = topographic_wetness_index(specific_catchment_m(tiles.array("area_km2"), CELL), slope / 100.0)
    np.testing.assert_array_equal(tiles.array("wetness_index"), expected)


def test_a_geotiff_comes_in_and_goes_out(tmp_path: Path) -> None:
    z = riddled()
    grid = Grid(*z.shape, 500_000.0, 4_700_000.0, CELL, "EPSG:32633")
    write_geotiff(Raster.of(z, grid, "m", "invented ground"), tmp_path / "z.tif")
    tiles = water_tiles(raster_source(tmp_path / "z.tif"), tmp_path / "water", CELL, AREA_KM2, tile_cells=21)
    np.testing.assert_array_equal(tiles.array("filled"), fill_depressions(z))
    for name in ("filled", "strahler", "channel"):
        tiles.write_geotiff(name, grid, "1", "tiles", tmp_path / "out.tif")
        expected = tiles.array(name).astype(np.float32)
        expected[~np.isfinite(z) & (name == "strahler")] = np.nan
        np.testing.assert_array_equal(read_geotiff(tmp_path / "out.tif").values, expected)
    with pytest.raises(GridMismatch, match="Results of"):
        tiles.write_geotiff("filled", grid.window(0, 5, 0, 5), "m", "tiles", tmp_path / "out.tif")


def test_what_makes_no_sense_is_refused(tmp_path: Path) -> None:
    z, small = on_disk(tmp_path, "z", rough(9, 9)), on_disk(tmp_path, "small", rough(8, 9))
    with pytest.raises(GridMismatch, match=r"\(8, 9\)"):
        water_tiles(z, tmp_path / "water", CELL, AREA_KM2, streams=small)
    with pytest.raises(WrongUsage, match="above 0"):
        water_tiles(z, tmp_path / "water", CELL, 0.0)

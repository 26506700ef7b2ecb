"""Elevation around a ground: water that comes from beyond its edge is right inside, and what is cut off says so."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from pyproj import Transformer

from prospect.grid import Grid, Raster, read_geotiff, write_geotiff
from prospect.hydrology import fill_depressions, flow_direction, upstream_area_km2
from prospect.pipeline import (
    Wording,
    add_layer,
    build_landscape,
    choose,
    ground_grid,
    ground_report,
    remove_layer,
    score,
)
from prospect.pipeline.surroundings import AROUND_M, cells_of, elevation_around, surroundings
from prospect.records import GroundSettings
from prospect.store import Ground
from prospect.types import Bounds

TODAY = "2026-11-26"
CRS = "EPSG:32709"
WIDE = Grid(420, 400, 500_000.0, 4_708_400.0, 20.0, CRS)
MIDDLE = Bounds(503_000.0, 4_703_000.0, 505_000.0, 4_705_400.0)


def _valleys() -> np.ndarray:
    """Return rough invented ground that falls to the south over 8 km."""
    rng = np.random.default_rng(11)
    frequency = np.hypot(np.fft.fftfreq(WIDE.rows)[:, None], np.fft.rfftfreq(WIDE.cols)[None, :])
    frequency[0, 0] = np.inf
    noise = np.fft.irfft2(frequency**-1.9 * np.exp(2j * np.pi * rng.random(frequency.shape)), s=WIDE.shape)
    fall = np.arange(WIDE.rows)[::-1, None] * 0.5
    return (300.0 + 20.0 * noise / noise.std() + fall).astype(np.float32)


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("wide") / "wide.tif"
    write_geotiff(Raster.of(_valleys(), WIDE, "m", "invented"), path)
    return path


@pytest.fixture
def ground(tmp_path: Path, file: Path) -> Ground:
    ground = Ground.create(tmp_path / "ground", GroundSettings())
    ground.change_settings(
        crs=CRS, west=MIDDLE.west, south=MIDDLE.south, east=MIDDLE.east, north=MIDDLE.north,
        area_set_by="you", channel_area_km2=0.05,
    )  # fmt: skip
    add_layer(ground, "elevation", file, Wording(), today=TODAY)
    return ground


def test_the_ground_keeps_its_area_and_elevation_around_it(ground: Ground) -> None:
    grid = ground_grid(ground)
    assert grid.bounds == MIDDLE
    assert ground.layers() == ("elevation",)
    wide = elevation_around(ground, grid)
    assert wide.grid.bounds == MIDDLE.padded(AROUND_M)
    own = read_geotiff(ground.layers_folder / "elevation.tif").values
    assert np.array_equal(wide.values[cells_of(grid, wide.grid)], own)


def test_water_from_beyond_the_edge_is_what_the_wider_ground_says(ground: Ground) -> None:
    # The same engine over the wider piece is what is right; a ground computed by itself is not.
    grid = ground_grid(ground)
    wide = elevation_around(ground, grid)
    network = flow_direction(fill_depressions(wide.values), 20.0)
    here = cells_of(grid, wide.grid)
    factors = build_landscape(ground).factors.rasters
    cut = network.touches_edge[here].mean()
    alone = flow_direction(fill_depressions(wide.values[here]), 20.0).touches_edge.mean()
    assert cut < 0.6 * alone
    slope = factors["slope_pct"]
    assert not slope.mask.any(), "with elevation around it the outermost ring is known too"
    area = upstream_area_km2(network)[here]
    channel = (area >= 0.05) & ~network.touches_edge[here]
    assert channel.sum() > 100
    np.testing.assert_allclose(factors["upstream_area_km2"].values[channel], area[channel], rtol=1e-6)


def test_where_the_catchment_is_cut_off_the_reading_says_so(ground: Ground) -> None:
    scored = score(ground, choose(ground))
    cut = build_landscape(ground).factors.rasters["catchment_cut"]
    assert any("leaves the elevation data" in sentence for sentence in scored.missing)
    row, col = np.argwhere((cut.values == 1) & ~cut.mask)[0]
    back = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
    lon, lat = back.transform(*cut.grid.xy(row, col))
    report = ground_report(ground, scored, lon, lat)
    assert any("leaves the elevation data" in fact.value for fact in report.facts)
    valley = next(model for model in report.models if model.deposit == "valley_fill")
    upstream = next(reading for reading in valley.criteria if "pstream" in reading.title)
    assert upstream.membership is None
    assert "catchment leaves the elevation data" in upstream.note


def test_a_second_file_joins_around_the_ground_as_well(tmp_path: Path, file: Path) -> None:
    halves = []
    with rasterio.open(file) as whole:
        values = whole.read(1)
    for name, first, last in (("west", 0, 200), ("east", 200, 400)):
        part = WIDE.window(0, WIDE.rows, first, last)
        halves.append(tmp_path / f"{name}.tif")
        write_geotiff(Raster.of(values[:, first:last], part, "m", "invented"), halves[-1])
    ground = Ground.create(tmp_path / "ground", GroundSettings())
    ground.change_settings(
        crs=CRS, west=MIDDLE.west, south=MIDDLE.south, east=MIDDLE.east, north=MIDDLE.north, area_set_by="you"
    )
    for half in halves:
        add_layer(ground, "elevation", half, Wording(), today=TODAY)
    wide = elevation_around(ground, ground_grid(ground))
    assert wide.grid.bounds == MIDDLE.padded(AROUND_M)
    assert np.array_equal(wide.values, values[cells_of(wide.grid, WIDE)])


def test_what_lies_around_goes_with_the_elevation(ground: Ground) -> None:
    assert surroundings(ground) is not None
    remove_layer(ground, "elevation")
    assert surroundings(ground) is None


def test_an_area_that_the_elevation_set_has_nothing_around_it(tmp_path: Path, file: Path) -> None:
    ground = Ground.create(tmp_path / "ground", GroundSettings())
    add_layer(ground, "elevation", file, Wording(), today=TODAY)
    assert ground_grid(ground) == WIDE
    assert surroundings(ground) is None

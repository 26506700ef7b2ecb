"""Tiles against the published tile scheme and an independent warper."""

import io

import numpy as np
import pytest
import rasterio.warp
from PIL import Image
from rasterio.transform import from_bounds

from prospect.cartography import cells_under_tile, degrees_per_pixel, tile, tile_bounds, tile_values
from prospect.grid import Grid

GRID = Grid(300, 400, 560_000.0, 4_230_000.0, 25.0, "EPSG:32616")


def address(lon, lat, z):
    """Tile that holds a place; the usual formula of the spherical mercator tile scheme, common practice."""
    n = 2**z
    x = int((lon + 180) / 360 * n)
    y = int((1 - np.arcsinh(np.tan(np.radians(lat))) / np.pi) / 2 * n)
    return z, x, y


def middle(z):
    return address(*GRID.to_lonlat(*GRID.xy(GRID.rows / 2, GRID.cols / 2)), z)


def numbers():
    return np.arange(GRID.cells, dtype=np.float32).reshape(GRID.shape)


def test_tile_edges_are_those_of_the_standard():
    # OGC Two Dimensional Tile Matrix Set (17-083r4), WebMercatorQuad: pointOfOrigin ∓20037508.3427892,
    # cell size 156543.033928041 m at 0, halved at each step.
    box = tile_bounds(0, 0, 0)
    assert box.west == pytest.approx(-20037508.3427892)
    assert box.north == pytest.approx(20037508.3427892)
    assert box.width / 256 == pytest.approx(156543.033928041)
    assert tile_bounds(3, 7, 0).east == pytest.approx(20037508.3427892)
    assert degrees_per_pixel(0) == 360 / 256


@pytest.mark.parametrize("zoom", [9, 12, 14, 16])
def test_each_pixel_takes_the_cell_under_its_middle(zoom):
    # Independent: every pixel middle through GDAL's point transformer (rasterio), one by one.
    z, x, y = middle(zoom)
    box = tile_bounds(z, x, y)
    step = box.width / 256
    xs, ys = np.meshgrid(box.west + (np.arange(256) + 0.5) * step, box.north - (np.arange(256) + 0.5) * step)
    east, north = rasterio.warp.transform("EPSG:3857", GRID.crs, xs.ravel(), ys.ravel())
    cells = [GRID.rowcol(e, n) for e, n in zip(east, north, strict=True)]
    flat = np.array([-1 if cell is None else cell[0] * GRID.cols + cell[1] for cell in cells]).reshape(
        256, 256
    )
    assert (cells_under_tile(GRID, z, x, y) == flat).mean() > 0.9999


@pytest.mark.parametrize("zoom", [12, 14])
def test_a_tile_agrees_with_a_warped_raster(zoom):
    # Independent: GDAL's warper, nearest neighbour; it bends its path by up to an eighth of a cell, so a few
    # pixels beside an edge between two cells may differ.
    z, x, y = middle(zoom)
    expected = np.full((256, 256), np.nan, dtype=np.float32)
    rasterio.warp.reproject(
        numbers(),
        expected,
        src_transform=GRID.transform,
        src_crs=GRID.crs,
        dst_transform=from_bounds(*tile_bounds(z, x, y), 256, 256),
        dst_crs="EPSG:3857",
        resampling=rasterio.warp.Resampling.nearest,
        dst_nodata=np.nan,
    )
    got = tile_values(numbers(), GRID, z, x, y)
    same = (got == expected) | (np.isnan(got) & np.isnan(expected))
    assert same.mean() > 0.97


def test_far_out_every_pixel_is_asked_for():
    z, x, y = middle(5)
    cells = cells_under_tile(GRID, z, x, y)
    assert 1 <= (cells >= 0).sum() <= 60  # 10 km × 7.5 km at 3.9 km a pixel on the ground


def test_outside_there_is_no_tile():
    assert tile(numbers(), GRID, *address(10.0, 50.0, 12)) is None
    assert tile(np.full(GRID.shape, np.nan, np.float32), GRID, *middle(12)) is None


@pytest.mark.parametrize("bad", [(-1, 0, 0), (3, 8, 0), (3, 0, -1), (99, 0, 0)])
def test_an_address_that_does_not_exist_is_refused(bad):
    with pytest.raises(ValueError, match="There is no tile"):
        tile(numbers(), GRID, *bad)


def test_a_tile_is_a_small_picture():
    picture = tile(np.clip(numbers() / GRID.cells, 0, 1), GRID, *middle(12))
    assert Image.open(io.BytesIO(picture)).size == (256, 256)

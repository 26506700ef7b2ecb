"""Elevation on cells: untouched where it can be, warped where it must be, joined without losing a cell."""

from __future__ import annotations

import numpy as np
import pytest
from affine import Affine

from prospect.grid import Grid, Raster
from prospect.pipeline.lay_elevation import lay_elevation
from prospect.sources.elevation import ElevationSource
from prospect.types import Bounds

UTM = "EPSG:32709"


def source(
    values: np.ndarray, west: float, north: float, cell: float = 10.0, crs: str = UTM
) -> ElevationSource:
    return ElevationSource(values.astype(np.float32), Affine(cell, 0, west, 0, -cell, north), crs, "m")


def test_a_metric_source_is_taken_cell_for_cell() -> None:
    values = np.arange(12).reshape(3, 4)
    laid = lay_elevation(source(values, 500_003.0, 4_737_001.0), None, None, "", None)
    np.testing.assert_array_equal(laid.values, values)
    assert (laid.grid.west, laid.grid.north, laid.grid.cell_m) == (500_003.0, 4_737_001.0, 10.0)
    assert laid.notes == ()


def test_an_area_crops_on_the_source_cells_and_pads_with_nothing() -> None:
    values = np.arange(100).reshape(10, 10)
    area = Bounds(500_052.0, 4_736_915.0, 500_123.0, 4_736_968.0)
    laid = lay_elevation(source(values, 500_000.0, 4_737_000.0), None, area, UTM, None)
    assert laid.grid.bounds.west == 500_050.0
    assert laid.grid.bounds.east == 500_130.0
    np.testing.assert_array_equal(laid.values[:, :5], values[3:9, 5:10])
    assert np.isnan(laid.values[:, 5:]).all()


def test_degrees_are_warped_and_said(tmp_path: object) -> None:
    _, lon = np.mgrid[0:60, 0:60]
    values = 100.0 + lon
    cell = 1 / 10_800
    content = source(values, -127.0, -47.5, cell, "EPSG:4326")
    laid = lay_elevation(content, None, None, "", None)
    assert laid.grid.crs == "EPSG:32709"
    assert 7.0 <= laid.grid.cell_m <= 10.0, (
        "a third of an arc-second is 10.3 m north-south and 7 m east-west here"
    )
    assert "EPSG:4326" in laid.notes[0]
    assert np.nanmin(laid.values) >= 100.0
    assert np.nanmax(laid.values) <= 159.0


def test_tiles_join_and_the_older_value_stays() -> None:
    grid = Grid(2, 3, 500_000.0, 4_737_000.0, 10.0, UTM)
    there = Raster.of(np.full((2, 3), 5.0), grid, "m", "first")
    laid = lay_elevation(source(np.full((2, 3), 7.0), 500_020.0, 4_737_000.0), there, None, UTM, None)
    np.testing.assert_array_equal(laid.values, [[5, 5, 5, 7, 7], [5, 5, 5, 7, 7]])
    assert "2 cells both have values" in laid.notes[0]
    assert "grown" in laid.notes[1]


@pytest.mark.parametrize("cell_m", [30.0, 25.0])
def test_a_set_cell_size_is_kept(cell_m: float) -> None:
    laid = lay_elevation(source(np.ones((30, 30)), 500_000.0, 4_737_000.0), None, None, "", cell_m)
    assert laid.grid.cell_m == cell_m
    assert np.nanmax(np.abs(laid.values - 1.0)) < 1e-6

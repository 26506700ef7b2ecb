"""A road fill across a valley: filled up behind it, or led through where the ground's setting says so."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from prospect.grid import Grid, Raster, write_geotiff
from prospect.pipeline import Wording, add_layer, build_landscape
from prospect.records import GroundSettings
from prospect.settings import parse_setting
from prospect.store import Ground

GRID = Grid(80, 61, 500_000.0, 4_700_800.0, 10.0, "EPSG:32709")
DAM_ROW = 40


@pytest.fixture
def ground(tmp_path: Path) -> Ground:
    row, col = np.mgrid[0 : GRID.rows, 0 : GRID.cols]
    z = 80.0 - 0.2 * row + 0.8 * np.abs(col - 30)
    z[DAM_ROW] = np.maximum(z[DAM_ROW], z[DAM_ROW, 30] + 4.0)
    write_geotiff(Raster.of(z.astype(np.float32), GRID, "m", "invented"), tmp_path / "z.tif")
    ground = Ground.create(tmp_path / "ground", GroundSettings(channel_area_km2=0.02))
    add_layer(ground, "elevation", tmp_path / "z.tif", Wording(), today="2026-11-26")
    return ground


def _pond(ground: Ground) -> float:
    depth = build_landscape(ground).factors.rasters["depression_depth_m"].values
    return float(np.nanmax(depth[DAM_ROW - 12 : DAM_ROW, 20:41]))


def test_water_stands_behind_a_road_fill_unless_it_is_led_through(ground: Ground) -> None:
    assert _pond(ground) > 2.0
    ground.change_settings(**dict([parse_setting("cut_dams=yes")]))
    assert _pond(ground) < 0.2

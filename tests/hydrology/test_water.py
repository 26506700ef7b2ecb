"""The whole of the water in one call: known valleys, mapped streams, unknown ground, real ground in time."""

from __future__ import annotations

import time

import numpy as np
import pytest
import rasterio

from prospect.hydrology import Water, cross_valley_position, valley_floor, water
from prospect.terrain import (
    geomorphons,
    hillshade,
    hillslope_position,
    slope_pct,
    standardise,
    surface,
    topographic_position_index,
)
from prospect.testing import bowl, v_valley

FIELDS = (
    "filled",
    "area_km2",
    "height_above_drainage_m",
    "distance_to_channel_m",
    "wetness_index",
    "depression_depth_m",
)


def test_a_straight_valley():
    z = v_valley((60, 41), 10.0, 20.0, 2.0)
    found = water(z, 10.0, 0.01, slope_pct=slope_pct(z, 10.0))
    assert isinstance(found, Water)
    assert found.channels[5:, 20].all()
    assert found.height_above_drainage_m[30, 10] == pytest.approx(20.0, abs=1e-3)
    assert found.distance_to_channel_m[30, 10] == pytest.approx(100.0)
    assert found.area_km2[30, 20] == pytest.approx(41 * 31 * 1e-4, rel=0.02)
    assert (found.depression_depth_m == 0).all()
    assert found.wetness_index[30, 20] > found.wetness_index[30, 10]
    assert found.touches_edge[30, 20]
    for name in FIELDS:
        assert getattr(found, name).dtype == np.float32


def test_a_mapped_stream_leads_the_water_and_leaves_the_ground_alone():
    z = v_valley((40, 41), 10.0, 2.0, 2.0)
    z[20] += 3.0  # a road dam across the valley
    streams = np.zeros(z.shape, bool)
    streams[:, 25] = True
    plain, led = water(z, 10.0, 0.02), water(z, 10.0, 0.02, streams)
    assert not plain.channels[:, 25].all()
    assert led.channels[:, 25].all()
    assert led.distance_to_channel_m[30, 20] == pytest.approx(50.0, abs=25)
    assert np.array_equal(led.filled, plain.filled)
    assert np.array_equal(led.depression_depth_m, plain.depression_depth_m)
    assert (led.height_above_drainage_m[np.isfinite(led.height_above_drainage_m)] >= 0).all()


def test_a_closed_basin_keeps_its_depth():
    found = water(bowl((41, 41), 10, 30, 20), 10, 0.05)
    assert found.depression_depth_m[20, 20] == 20


@pytest.mark.parametrize("shape", [(1, 1), (2, 2), (0, 0), (3, 1)])
def test_small_and_unknown_grids(shape):
    for z in (np.zeros(shape), np.full(shape, np.nan)):
        found = water(z, 10.0, 0.1, np.zeros(shape, bool))
        for name in FIELDS:
            assert getattr(found, name).shape == shape
        assert np.array_equal(np.isnan(found.area_km2), np.isnan(z))
        assert not found.channels.any()


def test_unknown_ground_stays_unknown():
    z = v_valley((40, 41), 10.0, 20.0, 2.0)
    z[10:15, 5:9] = np.nan
    found = water(z, 10.0, 0.02)
    for name in FIELDS:
        assert np.isnan(getattr(found, name)[10:15, 5:9]).all()
    assert not found.channels[10:15, 5:9].any()
    # the ground below the hole may receive more than is known
    assert found.touches_edge[12, 9:21].all()


def _everything(z, cell_m):
    shape = surface(z, cell_m)
    hillshade(z, cell_m)
    topographic_position_index(z, cell_m, 100.0)
    large = standardise(topographic_position_index(z, cell_m, 1000.0))
    forms, _ = geomorphons(z, cell_m, 15 * cell_m)
    found = water(z, cell_m, 0.3, slope_pct=shape.slope_pct)
    hillslope_position(large, shape.slope_pct, found.height_above_drainage_m, forms, shape.profile_curvature)
    floor = valley_floor(found.height_above_drainage_m, shape.slope_pct, found.channels)
    cross_valley_position(found.channels, floor, ~found.network.mask)
    return found


@pytest.mark.slow
def test_real_mountains_in_a_few_seconds(real_data):
    # SRTM, San Gabriel Mountains, 0.77 million cells of 30 m (public domain).
    with rasterio.open(real_data("dem-bigtujunga") / "srtm_bigtujunga30m_utm11.tif") as file:
        z, cell_m = file.read(1).astype(np.float32), file.transform.a
    _everything(z[:50, :50], cell_m)
    start = time.process_time()
    found = _everything(z, cell_m)
    assert time.process_time() - start < 3.0
    ends = found.network.downstream.reshape(z.shape) < 0
    assert found.area_km2[ends].sum(dtype=float) == pytest.approx(z.size * cell_m**2 / 1e6, rel=1e-5)
    assert (found.filled >= z).all()
    assert np.nanmin(found.height_above_drainage_m) == 0
    assert np.isfinite(found.height_above_drainage_m).mean() > 0.9

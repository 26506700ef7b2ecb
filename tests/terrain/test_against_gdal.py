"""Slope, aspect and shade beside GDAL's own terrain functions, memory to memory, away from the edges."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from prospect.terrain import aspect_deg, hillshade, slope_deg, surface

_PATH = Path(__file__).parents[1] / "gdal_terrain.py"
_SPEC = importlib.util.spec_from_file_location("gdal_terrain", _PATH)
gdal_terrain = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(gdal_terrain)

pytestmark = pytest.mark.skipif(
    gdal_terrain.library() is None, reason="pyogrio uses a GDAL of the system's here"
)


def _rough(side: int, height_m: float) -> np.ndarray:
    """Return rough ground with unknown patches, in steps of 1/64 m, whose sums single precision holds exactly."""
    rng = np.random.default_rng(3)
    frequency = np.hypot(np.fft.fftfreq(side)[:, None], np.fft.rfftfreq(side)[None, :])
    frequency[0, 0] = np.inf
    noise = np.fft.irfft2(frequency**-1.9 * np.exp(2j * np.pi * rng.random(frequency.shape)), s=(side, side))
    z = (np.round((noise / noise.std() * height_m + 800.0) * 64.0) / 64.0).astype(np.float32)
    z[40:60, 50:90] = np.nan
    z[rng.random(z.shape) < 0.002] = np.nan
    return z


@pytest.mark.parametrize(("height_m", "cell_m"), [(5.0, 10.0), (60.0, 10.0), (60.0, 2.0), (300.0, 90.0)])
def test_slope_is_gdals_to_a_few_ten_thousandths_of_a_degree(height_m, cell_m):
    z = _rough(300, height_m)
    theirs, ours = gdal_terrain.InMemory(z, cell_m).array("slope"), slope_deg(z, cell_m)
    both = np.isfinite(theirs) & np.isfinite(ours)
    assert both.sum() > 0.9 * (z.size - 1200)
    assert not np.isfinite(ours[~both]).any(), "a slope where GDAL knows none"
    # On heights that are no such steps their sums are rounded to single precision, and up to 2e-3 degrees go astray.
    assert np.abs(theirs - ours)[both].max() <= 2e-4
    east, south = _horn(z.astype(np.float64), cell_m)
    exact = np.degrees(np.arctan(np.hypot(east, south)))
    assert np.nanmax(np.abs(ours[1:-1, 1:-1] - exact)) <= 1e-5


def test_aspect_is_gdals():
    z = _rough(300, 60.0)
    theirs, ours = gdal_terrain.InMemory(z, 10.0).array("aspect"), aspect_deg(z, 10.0)
    both = np.isfinite(theirs) & np.isfinite(ours) & (slope_deg(z, 10.0) > 1.0)
    apart = np.abs(theirs - ours)[both]
    assert np.minimum(apart, 360.0 - apart).max() <= 0.02


@pytest.mark.parametrize(("azimuth", "altitude"), [(315.0, 45.0), (30.0, 70.0)])
def test_shade_is_gdals_within_one_of_255(azimuth, altitude):
    z = _rough(300, 60.0)
    lamp = ("-az", str(azimuth), "-alt", str(altitude))
    theirs = gdal_terrain.InMemory(z, 10.0).array("hillshade", *lamp)
    ours = hillshade(z, 10.0, azimuth, altitude)
    lit = np.isfinite(ours) & (theirs > 0)
    assert lit.sum() > 0.9 * (z.size - 1200)
    # They write 1 + 254 times the cosine, keeping 0 for unknown; ours is 255 times it.
    assert np.abs((theirs - 1.0) * (255.0 / 254.0) - ours)[lit].max() <= 1.0
    assert not np.isfinite(ours[theirs == 0]).any()


def test_one_pass_gives_what_each_gives_alone():
    z = _rough(200, 60.0)
    whole = surface(z, 10.0)
    assert np.array_equal(whole.hillshade, hillshade(z, 10.0), equal_nan=True)
    apart = np.degrees(np.arctan(whole.slope_pct / 100.0)) - slope_deg(z, 10.0)
    assert np.nanmax(np.abs(apart)) < 1e-5


def _horn(z: np.ndarray, cell_m: float) -> tuple[np.ndarray, np.ndarray]:
    a, b, c = z[:-2, :-2], z[:-2, 1:-1], z[:-2, 2:]
    d, f = z[1:-1, :-2], z[1:-1, 2:]
    g, h, i = z[2:, :-2], z[2:, 1:-1], z[2:, 2:]
    hole = 0.0 * z[1:-1, 1:-1]
    return ((c + 2 * f + i) - (a + 2 * d + g)) / (8 * cell_m) + hole, ((g + 2 * h + i) - (a + 2 * b + c)) / (
        8 * cell_m
    )

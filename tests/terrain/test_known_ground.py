"""The surfaces with known answers are what they say."""

from __future__ import annotations

import numpy as np
import pytest

from prospect.terrain import smoothed
from prospect.testing import bowl, cone, plane, v_valley


def test_a_plane_falls_towards_its_aspect():
    z = plane((5, 7), 10.0, 10.0, 90.0, base_m=50.0)
    assert z[2, 3] == 50.0
    assert z[0] == pytest.approx(50 - np.arange(-3, 4))


def test_a_cone_falls_away_from_its_top():
    z = cone((9, 9), 10.0, 50.0, top_m=200.0)
    assert z[4, 4] == z.max() == 200.0
    assert z[4, 8] == z[0, 4] == 180.0


def test_a_bowl_has_a_rim_and_one_notch():
    z = bowl((21, 31), 10.0, rim_m=30, spill_m=20, bottom_m=5)
    assert z[10, 15] == z.min() == 5
    ring = np.concatenate([z[0], z[-1], z[:, 0], z[:, -1]])
    assert (ring == 20).sum() == 1
    assert (ring[ring != 20] == 30).all()
    with pytest.raises(ValueError, match="bottom < spill < rim"):
        bowl((9, 9), 10.0, rim_m=10, spill_m=10)


def test_a_valley_rises_from_its_stream():
    z = v_valley((10, 11), 10.0, 20.0, 1.0)
    assert (z.argmin(axis=1) == 5).all()
    assert z[3, 8] - z[3, 5] == pytest.approx(6.0)
    assert z[2, 5] - z[3, 5] == pytest.approx(0.1)


def test_smoothing_keeps_planes_and_the_unknown():
    z = plane((20, 20), 1.0, 10.0, 30.0)
    z[4, 4] = np.nan
    out = smoothed(z, 1.0, 5.0)
    assert out.dtype == np.float32
    assert np.isnan(out).sum() == 1
    assert out[10:-3, 10:-3] == pytest.approx(z[10:-3, 10:-3], abs=1e-4)
    assert np.array_equal(smoothed(z, 10.0, 10.0), z.astype(np.float32), equal_nan=True)
    rough = z + np.random.default_rng(1).normal(0, 0.3, z.shape)
    assert np.nanstd(smoothed(rough, 1.0, 9.0) - z) < 0.1


@pytest.mark.parametrize("shape", [(1, 1), (2, 2), (0, 0)])
def test_smoothing_small_and_empty_grids(shape):
    assert np.array_equal(smoothed(np.ones(shape), 1.0, 9.0), np.ones(shape))
    assert np.isnan(smoothed(np.full(shape, np.nan), 1.0, 9.0)).all()

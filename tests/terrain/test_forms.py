"""Landforms from lines of sight on simple shapes, and against a plain reading of the rule."""

from __future__ import annotations

import math

import numpy as np
import pytest

from prospect.terrain import GEOMORPHON_NAMES, form_from_counts, geomorphons
from prospect.testing import cone, plane, v_valley

STEPS = [(0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1), (-1, 0), (-1, 1)]


def _name(codes, place):
    return GEOMORPHON_NAMES[codes[place]]


def _slow(z, cell, search, flat_deg):
    rows, cols = z.shape
    out = np.full(z.shape, -1)
    for i, j in zip(*np.nonzero(np.isfinite(z)), strict=True):
        lower = higher = seen = 0
        for di, dj in STEPS:
            run = cell * math.hypot(di, dj)
            angles = []
            for step in range(1, int(search / run + 1e-9) + 1):
                r, c = i + di * step, j + dj * step
                if 0 <= r < rows and 0 <= c < cols and np.isfinite(z[r, c]):
                    angles.append(math.degrees(math.atan((z[r, c] - z[i, j]) / (run * step))))
            if angles:
                seen += 1
                both = max(angles) + min(angles)
                higher += both > flat_deg
                lower += both < -flat_deg
        if seen == 8:
            out[i, j] = GEOMORPHON_NAMES.index(form_from_counts(lower, higher))
    return out


@pytest.mark.parametrize(("search", "flat"), [(15, 1.0), (60, 1.0), (60, 12.0), (200, 0.3)])
def test_agrees_with_a_plain_reading_of_the_rule(search, flat):
    rng = np.random.default_rng(11)
    z = (100 + rng.normal(0, 8, (19, 23)).cumsum(0)).astype(np.float32)
    z[rng.random(z.shape) < 0.1] = np.nan
    z[5:9, 3:9] = np.nan
    codes, names = geomorphons(z, 10.0, search, flat)
    assert names == GEOMORPHON_NAMES
    assert codes.dtype == np.int8
    assert np.array_equal(codes, _slow(z, 10.0, search, flat))


def test_simple_shapes_have_their_names():
    hill = cone((41, 41), 10, 40)
    centre = (20, 20)
    assert _name(geomorphons(hill, 10, 100)[0], centre) == "peak"
    assert _name(geomorphons(-hill, 10, 100)[0], centre) == "pit"
    assert _name(geomorphons(np.full((41, 41), 3.0), 10, 100)[0], centre) == "flat"
    # six directions off the contour, two along it
    assert _name(geomorphons(plane((41, 41), 10, 20, 90), 10, 100)[0], centre) == "slope"
    valley = v_valley((41, 41), 10, 30, 0.01)
    assert _name(geomorphons(valley, 10, 100)[0], centre) == "valley"
    assert _name(geomorphons(-valley, 10, 100)[0], centre) == "ridge"


def test_the_flat_angle_decides_what_is_level():
    gentle = plane((21, 21), 10, 1.0, 90)
    assert _name(geomorphons(gentle, 10, 100, 1.2)[0], (10, 10)) == "flat"
    assert _name(geomorphons(gentle, 10, 100, 0.5)[0], (10, 10)) == "slope"


@pytest.mark.parametrize("shape", [(1, 1), (2, 2), (0, 0), (1, 7)])
def test_cells_that_cannot_see_all_round_are_unknown(shape):
    assert (geomorphons(np.zeros(shape), 10, 50)[0] == -1).all()
    assert (geomorphons(np.full((5, 5), np.nan), 10, 50)[0] == -1).all()


def test_the_outermost_ring_is_unknown_and_nothing_else():
    codes, _ = geomorphons(plane((6, 7), 10, 20, 90), 10, 500)
    assert (codes[1:-1, 1:-1] >= 0).all()
    assert (codes == -1).sum() == 6 * 7 - 4 * 5


@pytest.mark.parametrize(
    ("search", "flat", "word"), [(10, 1, "search"), (np.nan, 1, "search"), (50, -1, "flat")]
)
def test_senseless_settings_are_refused(search, flat, word):
    with pytest.raises(ValueError, match=word):
        geomorphons(np.zeros((5, 5)), 10, search, flat)


@pytest.mark.parametrize(("lower", "higher"), [(-1, 0), (5, 4), (0, 9)])
def test_impossible_counts_are_refused(lower, higher):
    with pytest.raises(ValueError, match="counts"):
        form_from_counts(lower, higher)

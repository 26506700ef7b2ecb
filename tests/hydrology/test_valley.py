"""The valley floor and the place across it."""

from __future__ import annotations

import numpy as np
import pytest

from prospect.hydrology import cross_valley_position, valley_floor


@pytest.fixture
def trough():
    """Return channels and floor: a stream in column 15 of a floor from column 10 to 20, 31 columns wide."""
    channels = np.zeros((40, 31), bool)
    channels[:, 15] = True
    floor = np.zeros((40, 31), bool)
    floor[:, 10:21] = True
    return channels, floor


def test_from_the_bank_to_the_foot_of_the_slope(trough):
    position = cross_valley_position(*trough)
    row = position[20]
    # half-width five cells and a half: 5.5 = d + e everywhere on the floor
    assert row[15:21] == pytest.approx(np.arange(6) / 5.5)
    assert row[10:16] == pytest.approx(np.arange(5, -1, -1) / 5.5)
    # beyond the floor: the half-width of the nearest floor
    assert row[21:24] == pytest.approx(np.array([6, 7, 8]) / 5.5)
    assert position.dtype == np.float32


def test_a_floor_that_runs_into_the_edge_has_no_known_width(trough):
    channels, floor = trough
    floor[:, 20:] = True
    row = cross_valley_position(channels, floor)[20]
    assert np.isnan(row[24:]).all()
    assert np.isfinite(row[10:15]).all()
    known = np.ones(floor.shape, bool)
    known[:, 25:] = False
    row = cross_valley_position(channels, floor, known)[20]
    assert np.isnan(row[20:]).all()


def test_without_a_channel_nothing_is_said(trough):
    _, floor = trough
    assert np.isnan(cross_valley_position(np.zeros_like(floor), floor)).all()


def test_floor_is_low_level_and_joined_to_a_channel():
    height = np.full((5, 12), 2.0)
    slope = np.full((5, 12), 1.0)
    channels = np.zeros((5, 12), bool)
    channels[:, 2] = True
    slope[:, 6] = 9.0
    height[:, 1] = np.nan
    slope[0, 2] = 50.0
    floor = valley_floor(height, slope, channels)
    assert floor[:, 2:6].all()
    assert not floor[:, 6:].any()
    assert not floor[:, :2].any()
    assert not valley_floor(height, slope, np.zeros_like(channels)).any()


def test_each_side_of_a_stream_has_its_own_width(trough):
    channels, floor = np.zeros((40, 31), bool), trough[1]
    channels[:, 12] = True
    row = cross_valley_position(channels, floor)[20]
    # Two cells and a half of floor on the left, eight and a half on the right.
    assert row[10:13] == pytest.approx(np.array([2, 1, 0]) / 2.5)
    assert row[12:21] == pytest.approx(np.arange(9) / 8.5)


def test_a_slanting_valley_is_measured_across():
    i, j = np.mgrid[:80, :80]
    channels, floor = i == j, np.abs(i - j) <= 12
    position = cross_valley_position(channels, floor)
    # Across the diagonal the floor ends 12 to 13 side steps out; a step is a half diagonal.
    assert position[40, 46] == pytest.approx(6 / 12.5, abs=0.06)
    assert position[46, 40] == position[40, 46]
    assert position[36, 48] == pytest.approx(12 / 12.5, abs=0.06)


def test_mirrored_valleys_are_measured_alike():
    rng = np.random.default_rng(3)
    floor = rng.random((40, 50)) < 0.95
    known = rng.random(floor.shape) < 0.995
    # One cell of channel, so that no cell has two nearest banks and the lines go in all directions.
    channels = np.zeros_like(floor)
    channels[18, 22] = True
    position = cross_valley_position(channels, floor, known)
    assert 0.02 < np.isnan(position[floor]).mean() < 0.9
    for turn in (np.fliplr, np.flipud, np.transpose):
        turned = cross_valley_position(*(turn(a).copy() for a in (channels, floor, known)))
        assert np.array_equal(turn(turned)[floor], position[floor], equal_nan=True)

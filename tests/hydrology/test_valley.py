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
    position = cross_valley_position(*trough, 10.0)
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
    row = cross_valley_position(channels, floor, 10.0)[20]
    assert np.isnan(row[24:]).all()
    assert np.isfinite(row[10:15]).all()
    known = np.ones(floor.shape, bool)
    known[:, 25:] = False
    row = cross_valley_position(channels, floor, 10.0, known)[20]
    assert np.isnan(row[20:]).all()


def test_without_a_channel_nothing_is_said(trough):
    _, floor = trough
    assert np.isnan(cross_valley_position(np.zeros_like(floor), floor, 10.0)).all()


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

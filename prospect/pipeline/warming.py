"""Has the compiled loops ready before anybody waits for them."""

from __future__ import annotations

import numpy as np

from prospect.hydrology import cross_valley_position, upstream_share, valley_floor, value_at_channel, water
from prospect.terrain import geomorphons, surface, topographic_position_index

_SIDE, _CELL_M = 24, 10.0


def warm_up() -> None:
    """Run everything that a ground's elevation goes through once, on a few cells.

    The first run on a machine compiles (about half a minute) and keeps the result on disk; any later one loads it. Call
    it beside other work: nothing comes back and nothing is written but what is kept of the compiling.
    """
    row, col = np.mgrid[0:_SIDE, 0:_SIDE].astype(np.float32)
    # A slope with a hollow and a hole in the data, so that no loop is passed by.
    z = 40.0 - row + 0.5 * np.hypot(row - 9.0, col - 9.0)
    z[2:4, 18:20] = np.nan
    streams = np.zeros(z.shape, dtype=np.bool_)
    streams[_SIDE // 2 :, _SIDE // 2] = True
    shape = surface(z, _CELL_M)
    topographic_position_index(z, _CELL_M, 3 * _CELL_M)
    topographic_position_index(z, _CELL_M, 3 * _CELL_M, window="disk")
    geomorphons(z, _CELL_M, 3 * _CELL_M)
    wet = water(z, _CELL_M, 0.002, streams, shape.slope_pct)
    share = upstream_share(wet.network, streams)
    value_at_channel(share, wet.network, wet.channels)
    floor = valley_floor(wet.height_above_drainage_m, shape.slope_pct, wet.channels)
    cross_valley_position(wet.channels, floor, ~wet.network.mask)

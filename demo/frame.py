"""Where the invented ground lies: a rectangle of open ocean, on a grid in degrees."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from rasterio.transform import Affine

Floats = NDArray[np.float64]

CENTRE_LON, CENTRE_LAT = -123.0, -47.5
"""South Pacific, some 2 500 km from the nearest island, near the spot of the sea farthest from any land."""

PROJECTED = "EPSG:32710"
"""The metric CRS that a surveyor would use there: UTM zone 10 south."""

CELL_LON, CELL_LAT = 1 / 7200, 1 / 10800
"""Half and a third of an arc-second: about 10.5 × 10.3 m at this latitude."""

METRES_PER_LON, METRES_PER_LAT = 75_344.0, 111_173.0
"""Length of a degree at 47.5° S on the WGS 84 ellipsoid, m."""


@dataclass(frozen=True)
class Frame:
    """A grid in degrees with a margin around it that is made but not handed out.

    Attributes
    ----------
    rows, cols
        Size of what is handed out; both, with the margins, divide by 16.
    margin
        Cells on each side in which rivers may begin before they enter.
    """

    rows: int = 976
    cols: int = 1152
    margin: int = 80

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns with the margins."""
        return self.rows + 2 * self.margin, self.cols + 2 * self.margin

    @property
    def west(self) -> float:
        """Longitude of the west edge, without the margin."""
        return CENTRE_LON - self.cols / 2 * CELL_LON

    @property
    def north(self) -> float:
        """Latitude of the north edge, without the margin."""
        return CENTRE_LAT + self.rows / 2 * CELL_LAT

    @property
    def transform(self) -> Affine:
        """Cell to lon/lat of what is handed out."""
        return Affine(CELL_LON, 0.0, self.west, 0.0, -CELL_LAT, self.north)

    @cached_property
    def km(self) -> tuple[Floats, Floats]:
        """Kilometres east and south of the north-west corner at every cell centre, margins included."""
        rows, cols = self.shape
        east = (np.arange(cols) - self.margin + 0.5) * CELL_LON * METRES_PER_LON / 1000
        south = (np.arange(rows) - self.margin + 0.5) * CELL_LAT * METRES_PER_LAT / 1000
        return np.broadcast_to(east, (rows, cols)), np.broadcast_to(south[:, None], (rows, cols))

    @property
    def cell_m(self) -> float:
        """Mean side of a cell, m."""
        return (CELL_LON * METRES_PER_LON + CELL_LAT * METRES_PER_LAT) / 2

    def crop(self, field: NDArray) -> NDArray:
        """Return a field without its margins."""
        m = self.margin
        return np.ascontiguousarray(field[m:-m, m:-m])

    def lonlat(self, east_km: Floats, south_km: Floats) -> tuple[Floats, Floats]:
        """Return lon and lat of positions in kilometres from the north-west corner."""
        lon = self.west + np.asarray(east_km) * 1000 / METRES_PER_LON
        lat = self.north - np.asarray(south_km) * 1000 / METRES_PER_LAT
        return lon, lat

    def cell(self, east_km: Floats, south_km: Floats) -> tuple[NDArray, NDArray]:
        """Return fractional row and column (margins included) of positions in kilometres."""
        row = np.asarray(south_km) * 1000 / (CELL_LAT * METRES_PER_LAT) + self.margin - 0.5
        col = np.asarray(east_km) * 1000 / (CELL_LON * METRES_PER_LON) + self.margin - 0.5
        return row, col

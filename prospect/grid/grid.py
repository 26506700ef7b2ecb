"""The one common grid as an immutable value: square metric cells, north up."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from affine import Affine
from pyproj import CRS, Transformer

from prospect.errors import GridMismatch, WrongUsage
from prospect.types import Bounds, FloatArray

MOST_CELLS = 400_000_000


@lru_cache(maxsize=64)
def _transformer(source: str, target: str) -> Transformer:
    return Transformer.from_crs(source, target, always_xy=True)


@dataclass(frozen=True, slots=True)
class Grid:
    """Where the cells are.

    Attributes
    ----------
    rows, cols
        Number of cells down and across; row 0 is the northernmost.
    west, north
        Outer corner of cell (0, 0), m, in `crs`.
    cell_m
        Side of a cell, m.
    crs
        A projected CRS in metres, as text that pyproj reads (`EPSG:32610`).

    Raises
    ------
    WrongUsage
        When the grid is empty, too large, not in metres, or a number is not finite.
    """

    rows: int
    cols: int
    west: float
    north: float
    cell_m: float
    crs: str

    def __post_init__(self) -> None:
        if self.rows < 1 or self.cols < 1:
            raise WrongUsage(f"A grid needs at least one cell, got {self.rows} rows × {self.cols} columns.")
        if self.rows * self.cols > MOST_CELLS:
            raise WrongUsage(
                f"A grid of {self.rows} × {self.cols} cells is more than {MOST_CELLS:,}: "
                "choose a smaller area or larger cells."
            )
        if not all(math.isfinite(v) for v in (self.west, self.north, self.cell_m)) or self.cell_m <= 0:
            raise WrongUsage(
                f"Invalid grid corner or cell size {(self.west, self.north, self.cell_m)}: "
                "they must be finite and the cell larger than zero."
            )
        if not is_metric(self.crs):
            raise WrongUsage(f"Invalid grid CRS '{self.crs}': it must be projected, in metres.")

    @classmethod
    def covering(cls, bounds: Bounds, cell_m: float, crs: str) -> Grid:
        """Return the grid whose cells snap to multiples of `cell_m` and cover `bounds` (in `crs`, m)."""
        west = math.floor(bounds.west / cell_m + 1e-9) * cell_m
        north = math.ceil(bounds.north / cell_m - 1e-9) * cell_m
        cols = max(1, math.ceil((bounds.east - west) / cell_m - 1e-9))
        rows = max(1, math.ceil((north - bounds.south) / cell_m - 1e-9))
        return cls(rows, cols, west, north, float(cell_m), crs)

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, cols)."""
        return (self.rows, self.cols)

    @property
    def cells(self) -> int:
        """Number of cells."""
        return self.rows * self.cols

    @property
    def cell_area_ha(self) -> float:
        """Area of one cell, ha."""
        return self.cell_m**2 / 10_000

    @property
    def bounds(self) -> Bounds:
        """Outer edges, m, in the grid's CRS."""
        return Bounds(
            self.west,
            self.north - self.rows * self.cell_m,
            self.west + self.cols * self.cell_m,
            self.north,
        )

    @property
    def transform(self) -> Affine:
        """Affine from (col, row) to (easting, northing)."""
        return Affine(self.cell_m, 0.0, self.west, 0.0, -self.cell_m, self.north)

    def xy(self, row: float, col: float) -> tuple[float, float]:
        """Return easting and northing of the middle of a cell."""
        return (self.west + (col + 0.5) * self.cell_m, self.north - (row + 0.5) * self.cell_m)

    def rowcol(self, easting: float, northing: float) -> tuple[int, int] | None:
        """Return the cell that holds a point, or None outside the grid."""
        if not (math.isfinite(easting) and math.isfinite(northing)):
            return None
        col = math.floor((easting - self.west) / self.cell_m)
        row = math.floor((self.north - northing) / self.cell_m)
        inside = 0 <= row < self.rows and 0 <= col < self.cols
        return (row, col) if inside else None

    def eastings(self) -> FloatArray:
        """Cell-centre eastings, (cols,), m."""
        return self.west + (np.arange(self.cols) + 0.5) * self.cell_m

    def northings(self) -> FloatArray:
        """Cell-centre northings, (rows,), m, falling."""
        return self.north - (np.arange(self.rows) + 0.5) * self.cell_m

    def window(self, row0: int, row1: int, col0: int, col1: int) -> Grid:
        """Return the part of the grid from `row0` up to but not including `row1`, columns likewise."""
        return Grid(
            row1 - row0,
            col1 - col0,
            self.west + col0 * self.cell_m,
            self.north - row0 * self.cell_m,
            self.cell_m,
            self.crs,
        )

    def to_lonlat(self, easting: float, northing: float) -> tuple[float, float]:
        """Return longitude and latitude (WGS 84, degrees) of a point on the grid."""
        lon, lat = _transformer(self.crs, "EPSG:4326").transform(easting, northing)
        return float(lon), float(lat)

    def from_lonlat(self, lon: float, lat: float) -> tuple[float, float]:
        """Return easting and northing (m) of a longitude and latitude (WGS 84, degrees)."""
        easting, northing = _transformer("EPSG:4326", self.crs).transform(lon, lat)
        return float(easting), float(northing)

    def lonlat_bounds(self) -> Bounds:
        """Return the box in WGS 84 degrees that holds the whole grid."""
        box = _transformer(self.crs, "EPSG:4326").transform_bounds(*self.bounds)
        return Bounds(*box)

    def require_same(self, other: Grid) -> None:
        """Raise `GridMismatch` naming the first field that differs."""
        for name in ("crs", "cell_m", "west", "north", "rows", "cols"):
            ours, theirs = getattr(self, name), getattr(other, name)
            if ours != theirs:
                raise GridMismatch(f"Two grids differ in {name}: {ours} and {theirs}.\n{self}\n{other}")


def is_metric(crs: str) -> bool:
    """Whether a CRS is projected with metres on both axes."""
    system = CRS.from_user_input(crs)
    return system.is_projected and all(
        abs(axis.unit_conversion_factor - 1.0) < 1e-12 for axis in system.axis_info[:2]
    )


def utm_for(lon: float, lat: float) -> str:
    """Return the EPSG code of the UTM zone (WGS 84) of a place; polar stereographic beyond 84° N, 80° S."""
    if not (-180 <= lon <= 180 and -90 <= lat <= 90):
        raise WrongUsage(f"Invalid place {lon}, {lat}: longitude is -180..180 and latitude -90..90.")
    if lat > 84:
        return "EPSG:32661"
    if lat < -80:
        return "EPSG:32761"
    zone = min(int((lon + 180) // 6) + 1, 60)
    return f"EPSG:{(32600 if lat >= 0 else 32700) + zone}"

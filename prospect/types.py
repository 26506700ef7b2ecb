"""Array aliases and the bounding box that every room shares."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.floating[Any]]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.integer[Any]]


@dataclass(frozen=True, slots=True)
class Bounds:
    """A box west, south, east, north, in the units of whatever CRS goes with it."""

    west: float
    south: float
    east: float
    north: float

    def __post_init__(self) -> None:
        values = (self.west, self.south, self.east, self.north)
        if not all(math.isfinite(value) for value in values):
            raise ValueError(f"bounds must be finite numbers, got {values}")
        if self.west > self.east or self.south > self.north:
            raise ValueError(f"bounds must be west, south, east, north, got {values}")

    def __iter__(self) -> Any:
        return iter((self.west, self.south, self.east, self.north))

    @property
    def width(self) -> float:
        """East minus west."""
        return self.east - self.west

    @property
    def height(self) -> float:
        """North minus south."""
        return self.north - self.south

    def overlaps(self, other: Bounds) -> bool:
        """Whether the two boxes share any ground."""
        return not (
            other.west > self.east
            or other.east < self.west
            or other.south > self.north
            or other.north < self.south
        )

    def contains(self, x: float, y: float) -> bool:
        """Whether a point lies in the box or on its edge."""
        return self.west <= x <= self.east and self.south <= y <= self.north

    def padded(self, distance: float) -> Bounds:
        """Return the box widened by `distance` on every side."""
        return Bounds(
            self.west - distance, self.south - distance, self.east + distance, self.north + distance
        )

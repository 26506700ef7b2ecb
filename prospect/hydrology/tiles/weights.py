"""What is summed along the flow, read a window at a time."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal, Protocol

import numpy as np

from prospect.types import FloatArray
from prospect.windows import Source, Window, read_window


class Weight(Protocol):
    """One number for each cell; small enough to be sent to whoever reads it."""

    @property
    def is_whole(self) -> bool:
        """Whether all numbers are whole, so that sums are exact as they are."""

    def read(self, window: Window) -> FloatArray:
        """Return the numbers of a window, float64."""


@dataclass(frozen=True, slots=True)
class Ones:
    """One for each cell."""

    is_whole = True

    def read(self, window: Window) -> FloatArray:
        """Return ones."""
        return np.ones(window.shape)


@dataclass(frozen=True, slots=True)
class Marked:
    """One where a grid is not nought."""

    source: Source
    is_whole = True

    def read(self, window: Window) -> FloatArray:
        """Return 1 or 0."""
        return (self.source.read(window) != 0).astype(np.float64)


@dataclass(frozen=True, slots=True)
class Layer:
    """The values of a grid."""

    source: Source
    is_whole = False

    def read(self, window: Window) -> FloatArray:
        """Return the values, NaN = unknown."""
        return self.source.read(window).astype(np.float64)


@dataclass(frozen=True, slots=True)
class SharePart:
    """One of the three sums that an upstream share is made of (`prospect.hydrology.upstream_share`).

    Attributes
    ----------
    share, importance
        The property and how much each cell counts (None = all alike).
    directions
        Where the flow goes, for where there is no data.
    part
        `weighted` = property times importance, `known` = importance where the property is known, `all` = importance.
    """

    share: Source
    importance: Source | None
    directions: Path
    part: Literal["weighted", "known", "all"]
    is_whole = False

    def read(self, window: Window) -> FloatArray:
        """Return the numbers to sum, nought where nothing is known."""
        wanted = self.share.read(window).astype(np.float64)
        counts = (
            np.ones(window.shape)
            if self.importance is None
            else self.importance.read(window).astype(np.float64)
        )
        if (counts < 0).any():
            raise ValueError("Invalid importance below 0. It must be 0 or more.")
        counts[~np.isfinite(counts) | (read_window(self.directions, window) == -2)] = 0.0
        if self.part == "all":
            return counts
        known = np.isfinite(wanted) & (counts > 0)
        return np.where(known, wanted * counts if self.part == "weighted" else counts, 0.0)

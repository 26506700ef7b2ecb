"""Elevation as the tiles read it: from disk, with unknown cells marked and mapped streams cut in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from prospect.hydrology.depressions import burn_streams, edge_cells
from prospect.types import BoolArray, FloatArray
from prospect.windows import Source, Window


@dataclass(frozen=True, slots=True)
class Heights:
    """Where elevation is read from.

    Attributes
    ----------
    elevation
        Metres; anything not finite is unknown.
    streams
        Mapped streams (not nought) that are cut into it; None = none.
    """

    elevation: Source
    streams: Source | None = None

    def read(self, window: Window) -> tuple[FloatArray, BoolArray]:
        """Return float32 heights, 0 where unknown, and where they are known."""
        z = np.ascontiguousarray(self.elevation.read(window), dtype=np.float32)
        if self.streams is not None:
            z = burn_streams(z, self.streams.read(window) != 0)
        known = np.isfinite(z)
        return np.where(known, z, np.float32(0.0)), known


def read_with_edge(
    heights: Heights, window: Window, shape: tuple[int, int]
) -> tuple[FloatArray, BoolArray, BoolArray]:
    """Return heights, where they are known, and which known cells lie at the edge of the data."""
    outer = window.grown(1, shape)
    z, known = heights.read(outer)
    inside = window.within(outer)
    return (
        np.ascontiguousarray(z[inside]),
        np.ascontiguousarray(known[inside]),
        np.ascontiguousarray(edge_cells(known)[inside]),
    )

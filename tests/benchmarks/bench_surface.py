"""Print how fast slope, shade, position and landforms are beside GDAL, scipy and a copy of the grid.

Run ``python tests/benchmarks/bench_surface.py [SIDE ...]`` (1000 and 4000 when left out); a part of the ground is
unknown, the competitors take turns, the median of five counts. GDAL works memory to memory.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
from measure import CELL_M, added_peak_bytes, alternate, fractal_ground
from scipy.ndimage import uniform_filter
from scipy.signal import oaconvolve

sys.path.append(str(Path(__file__).parents[1]))
import gdal_terrain

from prospect.terrain import geomorphons, hillshade, slope_deg, surface, topographic_position_index

GOALS = {
    ("GDAL slope", "slope"): 5.0,
    ("GDAL hillshade", "hillshade"): 1.0,
    ("scipy square of 11", "square of 11"): 1.3,
    ("scipy square of 101", "square of 101"): 1.3,
    ("scipy disk, radius 5", "disk, radius 5"): 3.0,
    ("scipy disk, radius 10", "disk, radius 10"): 3.0,
    ("scipy disk, radius 50", "disk, radius 50"): 0.0,
}
"""Theirs, ours, and how many times as fast ours should be at 16 million cells; 0 = no claim."""


def scipy_square(z: np.ndarray, reach: int) -> np.ndarray:
    """Return height less the mean of the known cells in a square, in single precision throughout."""
    known = np.isfinite(z)
    side = 2 * reach + 1
    mean = uniform_filter(np.where(known, z, np.float32(0)), side, mode="constant")
    share = uniform_filter(known.astype(np.float32), side, mode="constant")
    return z - mean / np.maximum(share, np.float32(1e-6))


def scipy_disk(z: np.ndarray, reach: int) -> np.ndarray:
    """Return height less the mean of the known cells in a disk, by overlap-and-add in single precision."""
    known = np.isfinite(z)
    offset = np.arange(-reach, reach + 1)
    disk = (offset[:, None] ** 2 + offset**2 <= reach**2).astype(np.float32)
    total = oaconvolve(np.where(known, z, np.float32(0)), disk, mode="same")
    return z - total / np.maximum(oaconvolve(known.astype(np.float32), disk, mode="same"), 1)


def position(z: np.ndarray, reach: int, window: str) -> Callable[[], object]:
    """Return the call of ours for a reach in cells."""
    return lambda: topographic_position_index(z, CELL_M, CELL_M * reach, window=window)


def main(side: int) -> None:
    """Time everything on a square of `side` cells and print medians, ratios and added memory."""
    z = fractal_ground(side)
    target = np.empty_like(z)
    tasks: dict[str, Callable[[], object]] = {
        "copy of the grid": lambda: np.copyto(target, z),
        "slope": lambda: slope_deg(z, CELL_M),
        "hillshade": lambda: hillshade(z, CELL_M),
        "slope, aspect, curvatures, shade": lambda: surface(z, CELL_M),
        "landforms, 300 m": lambda: geomorphons(z, CELL_M, 300.0),
    }
    if gdal_terrain.library() is not None:
        held = gdal_terrain.InMemory(z, CELL_M)
        tasks["GDAL slope"] = lambda: held.spend("slope")
        tasks["GDAL hillshade"] = lambda: held.spend("hillshade")
    for reach in (5, 50):
        tasks[f"square of {2 * reach + 1}"] = position(z, reach, "square")
        tasks[f"scipy square of {2 * reach + 1}"] = lambda reach=reach: scipy_square(z, reach)
    for reach in (5, 10, 50):
        tasks[f"disk, radius {reach}"] = position(z, reach, "disk")
        tasks[f"scipy disk, radius {reach}"] = lambda reach=reach: scipy_disk(z, reach)
    seconds = alternate(tasks)
    print(
        f"{z.size / 1e6:.2f} million cells, {np.isnan(z).mean():.1%} unknown, GDAL {gdal_terrain.version()}"
    )
    for name, taken in seconds.items():
        per_cell = added_peak_bytes(tasks[name]) / z.size
        copies = taken / seconds["copy of the grid"]
        print(f"  {name:34s} {taken:8.3f} s {copies:7.1f} copies {per_cell:6.1f} bytes a cell")
    for (theirs, ours), goal in GOALS.items():
        if theirs in seconds:
            ratio = seconds[theirs] / seconds[ours]
            print(f"  {theirs} takes {ratio:.1f} times as long" + (f" (goal {goal:g})" if goal else ""))


if __name__ == "__main__":
    for given in sys.argv[1:] or ("1000", "4000"):
        main(int(given))

"""Print how fast water is beside pyflwdir, what memory it adds for each cell, and how both grow with the ground.

Run ``python tests/benchmarks/bench_water.py [SIDE ...]`` (1000 and 4000 when left out; pyflwdir takes part up to 4000).
A part of the ground is unknown, the competitors take turns, the median of five counts. Height above and distance to
the stream run interpreted in pyflwdir 0.5.12; here its loops are compiled, so that it is the methods that are compared.
"""

from __future__ import annotations

import math
import sys
import time

import numpy as np
from measure import CELL_M, added_peak_bytes, alternate, fractal_ground
from numba import njit

from prospect.hydrology import (
    drainage,
    fill_depressions,
    flow_accumulation,
    flow_direction,
    strahler_order,
)

CHANNEL_CELLS = 2500
MOST_BESIDE = 4000
GOAL_TIMES, GOAL_BYTES = 3.0, 40.0


def ours(z: np.ndarray, weights: np.ndarray) -> tuple[np.ndarray, ...]:
    """Fill, directions, plain and weighted accumulation, height, distance and order."""
    filled = fill_depressions(z)
    network = flow_direction(filled, CELL_M)
    cells = flow_accumulation(network)
    weighted = flow_accumulation(network, weights)
    channels = cells >= CHANNEL_CELLS
    height, distance = drainage(filled, network, channels)
    order = strahler_order(network, channels)
    return filled, network.downstream, network.order, cells, weighted, height, distance, order


@njit(cache=True)
def compiled_height(below, sequence, drain, z):  # type: ignore[no-untyped-def]
    """Do what pyflwdir's height above the nearest drain does."""
    height = np.full(drain.size, -9999.0)
    height[sequence] = 0.0
    for cell in sequence:
        if not drain[cell]:
            height[cell] = height[below[cell]] + (z[cell] - z[below[cell]])
    return height


@njit(cache=True)
def compiled_distance(below, sequence, cols, drain, cell_m):  # type: ignore[no-untyped-def]
    """Do what pyflwdir's distance to the stream does."""
    distance = np.full(drain.size, np.float32(-9999.0), dtype=np.float32)
    distance[sequence] = 0.0
    for cell in sequence:
        next_cell = below[cell]
        if next_cell == cell or drain[cell]:
            continue
        slanted = cell // cols != next_cell // cols and cell % cols != next_cell % cols
        distance[cell] = distance[next_cell] + (cell_m * math.sqrt(2.0) if slanted else cell_m)
    return distance


def theirs(z: np.ndarray, weights: np.ndarray) -> tuple[np.ndarray, ...]:
    """Do the same with pyflwdir, its interpreted loops compiled."""
    import pyflwdir

    known = np.where(np.isfinite(z), z, np.float32(-9999.0))
    network = pyflwdir.from_dem(known)
    cells = network.upstream_area("cell")
    weighted = network.accuflux(weights)
    channels = cells >= CHANNEL_CELLS
    drain = channels.ravel()
    height = compiled_height(network.idxs_ds, network.idxs_seq, drain, known.ravel())
    distance = compiled_distance(network.idxs_ds, network.idxs_seq, z.shape[1], drain, CELL_M)
    order = network.stream_order(mask=channels)
    return known, cells, weighted, height, distance, order


def main(side: int) -> float:
    """Time everything on a square of `side` cells, print it, and return our seconds for a million cells."""
    z = fractal_ground(side)
    weights = np.where(np.isfinite(z), np.float32(0.5), np.float32(0.0))
    tasks = {
        "fill + directions": lambda: flow_direction(fill_depressions(z), CELL_M),
        "whole chain": lambda: ours(z, weights),
    }
    beside = side <= MOST_BESIDE
    if beside:
        import pyflwdir

        known = np.where(np.isfinite(z), z, np.float32(-9999.0))
        tasks["pyflwdir fill + directions"] = lambda: pyflwdir.from_dem(known)
        tasks["pyflwdir whole chain"] = lambda: theirs(z, weights)
    small = fractal_ground(64)
    ours(small, np.ones(small.shape, np.float32))
    seconds = alternate(tasks) if beside else {name: once(task) for name, task in tasks.items()}
    print(f"{z.size / 1e6:.2f} million cells, {np.isnan(z).mean():.1%} unknown")
    for name, taken in seconds.items():
        print(f"  {name:28s} {taken:8.3f} s {taken / z.size * 1e9:7.0f} ns a cell")
    per_cell = added_peak_bytes(tasks["whole chain"]) / z.size
    print(f"  whole chain adds at most {per_cell:.1f} bytes a cell, results included (goal {GOAL_BYTES:g})")
    if beside:
        per_cell = added_peak_bytes(tasks["pyflwdir whole chain"]) / z.size
        print(f"  pyflwdir adds at most {per_cell:.1f} bytes a cell")
        for name in ("fill + directions", "whole chain"):
            ratio = seconds[f"pyflwdir {name}"] / seconds[name]
            print(f"  pyflwdir {name} takes {ratio:.1f} times as long (goal {GOAL_TIMES:g})")
    return seconds["whole chain"] / z.size * 1e6


def once(task: object) -> float:
    """Return the seconds of one run, for what takes long."""
    start = time.perf_counter()
    task()  # type: ignore[operator]
    return time.perf_counter() - start


if __name__ == "__main__":
    sides = [int(given) for given in sys.argv[1:]] or [1000, 4000]
    per_million = [main(side) for side in sides]
    steps = ", ".join(f"{side}²: {taken:.3f} s" for side, taken in zip(sides, per_million, strict=True))
    print(f"seconds for a million cells: {steps}")

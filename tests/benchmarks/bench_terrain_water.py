"""Print how fast terrain and water are beside the machine's copy speed and pyflwdir.

Run ``python tests/benchmarks/bench_terrain_water.py [SIDE]``; competitors alternate, the median of three counts.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable

import numpy as np

from prospect.hydrology import fill_depressions, flow_accumulation, flow_direction, water
from prospect.terrain import geomorphons, hillshade, slope_deg, slope_pct, surface, topographic_position_index

CELL_M = 10.0
REPEATS = 3


def fractal_ground(side: int, seed: int = 7) -> np.ndarray:
    """Return rough invented ground: spectral noise, amplitude ~ f^-1.8, on a gentle tilt."""
    rng = np.random.default_rng(seed)
    frequency = np.hypot(np.fft.fftfreq(side)[:, None], np.fft.rfftfreq(side)[None, :])
    frequency[0, 0] = np.inf
    spectrum = frequency**-1.8 * np.exp(2j * np.pi * rng.random(frequency.shape))
    z = np.fft.irfft2(spectrum, s=(side, side))
    z *= 60.0 * (side / 1000.0) ** 0.8 / z.std()
    z += np.arange(side)[::-1, None] * CELL_M * 0.008 + np.arange(side)[None, ::-1] * CELL_M * 0.004
    return (z - z.min()).astype(np.float32)


def timed(call: Callable[[], object]) -> float:
    """Return the processor seconds of one call; a busy machine blurs them less than the clock."""
    start = time.process_time()
    call()
    return time.process_time() - start


def main(side: int) -> None:
    """Time everything on a square of `side` cells and print medians and ratios."""
    z = fractal_ground(side)
    target = np.empty_like(z)
    tasks: dict[str, Callable[[], object]] = {
        "copy of the grid": lambda: np.copyto(target, z),
        "slope, per cent": lambda: slope_pct(z, CELL_M),
        "slope, degrees": lambda: slope_deg(z, CELL_M),
        "hillshade": lambda: hillshade(z, CELL_M),
        "slope, aspect, curvatures": lambda: surface(z, CELL_M),
        "position index, 1000 m square": lambda: topographic_position_index(z, CELL_M, 1000.0),
        "landforms, 150 m": lambda: geomorphons(z, CELL_M, 150.0),
        "fill + directions": lambda: flow_direction(fill_depressions(z), CELL_M),
        "all of water": lambda: water(z, CELL_M, 0.3),
    }
    network = flow_direction(fill_depressions(z), CELL_M)
    tasks["accumulation"] = lambda: flow_accumulation(network)
    try:
        import pyflwdir
    except ImportError:
        print("pyflwdir is not installed: no comparison")
    else:
        theirs = pyflwdir.from_dem(z)
        theirs.upstream_area("cell")
        tasks["pyflwdir fill + directions"] = lambda: pyflwdir.from_dem(z)
        tasks["pyflwdir accumulation"] = lambda: theirs.upstream_area("cell")
    for task in tasks.values():
        task()
    runs = {name: [] for name in tasks}
    for _ in range(REPEATS):
        for name, task in tasks.items():
            runs[name].append(timed(task))
    seconds = {name: statistics.median(taken) for name, taken in runs.items()}
    copy = seconds["copy of the grid"]
    print(f"{z.size / 1e6:.2f} million cells")
    for name, taken in seconds.items():
        print(f"{name:32s} {taken:8.3f} s   {taken / copy:8.1f} copies")
    for name in ("fill + directions", "accumulation"):
        if f"pyflwdir {name}" in seconds:
            print(f"{name}: pyflwdir takes {seconds[f'pyflwdir {name}'] / seconds[name]:.1f} times as long")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)

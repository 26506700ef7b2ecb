"""What the benchmarks share: rough ground to work on, competitors in turn, and the memory that a call adds."""

from __future__ import annotations

import ctypes
import gc
import statistics
import time
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np

CELL_M = 10.0
REPEATS = 5


def fractal_ground(side: int, *, unknown: bool = True, seed: int = 7) -> np.ndarray:
    """Return rough invented ground, float32 metres: spectral noise, amplitude ~ f^-1.8, on a gentle tilt.

    About a quarter of it lies in hollows, more than on most real ground. With `unknown`, round patches and a slanting
    strip of it, some 3 % in all, are NaN.
    """
    rng = np.random.default_rng(seed)
    frequency = np.hypot(
        np.fft.fftfreq(side).astype(np.float32)[:, None], np.fft.rfftfreq(side).astype(np.float32)[None, :]
    )
    frequency[0, 0] = np.inf
    spectrum = frequency**-1.8 * np.exp(2j * np.pi * rng.random(frequency.shape, dtype=np.float32))
    z = np.fft.irfft2(spectrum, s=(side, side)).astype(np.float32)
    del spectrum, frequency
    z *= np.float32(60.0 * (side / 1000.0) ** 0.8 / z.std(dtype=np.float64))
    row, col = np.arange(side, dtype=np.float32)[:, None], np.arange(side, dtype=np.float32)[None, :]
    z += row[::-1] * np.float32(CELL_M * 0.008) + col[:, ::-1] * np.float32(CELL_M * 0.004)
    z -= z.min()
    if unknown:
        for _ in range(12):
            y, x, r = rng.random(3)
            reach = max(1, int(side * (0.01 + 0.03 * r)))
            i, j = int(y * side), int(x * side)
            rows, cols = slice(max(0, i - reach), i + reach), slice(max(0, j - reach), j + reach)
            z[rows, cols][(row[rows] - i) ** 2 + (col[:, cols] - j) ** 2 < reach**2] = np.nan
        for i in range(side // 3, side // 2):
            z[i, i // 2 : i // 2 + max(1, side // 300)] = np.nan
    return z


def alternate(tasks: Mapping[str, Callable[[], object]], repeats: int = REPEATS) -> dict[str, float]:
    """Return the median seconds of each task; they take turns, after one turn that does not count."""
    taken: dict[str, list[float]] = {name: [] for name in tasks}
    for turn in range(repeats + 1):
        for name, task in tasks.items():
            gc.collect()
            start = time.perf_counter()
            task()
            if turn:
                taken[name].append(time.perf_counter() - start)
    return {name: statistics.median(seconds) for name, seconds in taken.items()}


def added_peak_bytes(call: Callable[[], object]) -> int:
    """Return by how much the resident memory rises above what it was while a call runs, its result held (Linux).

    Call it once before on a small grid, so that what is compiled and loaded does not count.
    """
    # Arrays of any size go back to the system when they are freed, so that the next one counts (M_MMAP_THRESHOLD).
    ctypes.CDLL(None).mallopt(-3, 65536)
    gc.collect()
    Path("/proc/self/clear_refs").write_text("5")  # forgets the highest mark so far
    before = _status("VmRSS")
    result = call()
    highest = _status("VmHWM")
    del result
    return highest - before


def _status(key: str) -> int:
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith(f"{key}:"):
            return int(line.split()[1]) * 1024
    raise OSError(f"no {key} in /proc/self/status")

"""Scores of a large ground in memory and kept on disk: seconds, peak memory, and whether they are equal.

Run ``python tests/benchmarks/bench_scores.py [SIDE]``; 4,000 cells a side (16 million) when left out. Every factor of
the ground is a .npy file that is mapped; the run that keeps its scores on disk may have 2,000 MB of data (RLIMIT_DATA).
"""

from __future__ import annotations

import json
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from measure import _status

from prospect.criteria import Factors, factor_list, shipped_models
from prospect.criteria.factors import place_of
from prospect.favourability import assess_model, assess_on_disk, best_model
from prospect.grid import Grid, Raster
from prospect.windows import Engine, WorkFolder, open_array

LIMIT_MB = 2000


def place(side: int) -> Path:
    return Path(tempfile.gettempdir()) / f"claywalk-scores-{side}"


def make(side: int) -> None:
    folder = place(side)
    folder.mkdir(exist_ok=True)
    rng = np.random.default_rng(3)
    for name, factor in factor_list().items():
        if place_of(name) == "cell" and not (folder / f"{name}.npy").is_file():
            values = rng.random((side, side), dtype=np.float32) * np.float32(len(factor.classes) or 60)
            values = np.floor(values) if factor.classes else values
            values[: side // 5] = np.nan
            np.save(folder / f"{name}.npy", values)
            np.save(folder / f"{name}-mask.npy", np.isnan(values))


def ground(side: int) -> Factors:
    folder, grid = place(side), Grid(side, side, 500_000, 4_000_000, 10, "EPSG:32610")
    names = [name for name in factor_list() if place_of(name) == "cell"]
    rasters = {
        name: Raster(
            open_array(folder / f"{name}.npy"), open_array(folder / f"{name}-mask.npy"), grid, "1", "invented"
        )
        for name in names
    }
    return Factors(grid, rasters, None, None, {"reach_m": 1.5}, {})


def disk(side: int) -> None:
    resource.setrlimit(resource.RLIMIT_DATA, (LIMIT_MB * 2**20, LIMIT_MB * 2**20))
    shutil.rmtree(place(side) / "scores", ignore_errors=True)
    start = time.perf_counter()
    assess_on_disk(shipped_models(), ground(side), "any", WorkFolder(place(side) / "scores", "k", Engine()))
    print(
        json.dumps(
            {
                "seconds": time.perf_counter() - start,
                "data_mb": _status("VmData") / 1e6,
                "peak_mb": _status("VmHWM") / 1e6,
            }
        )
    )


def memory(side: int) -> None:
    start = time.perf_counter()
    results = [assess_model(model, ground(side)) for model in shipped_models()]
    headline = best_model(results)
    seconds, peak = time.perf_counter() - start, _status("VmHWM") / 1e6
    expected = {f"favourability-{r.deposit}": np.where(r.can_lead, r.value.values, np.nan) for r in results}
    expected |= {
        "best": headline.value.values,
        "completeness": headline.completeness.values,
        "deposit": headline.deposit,
    }
    equal = {
        name: bool(np.array_equal(open_array(place(side) / "scores" / f"{name}.npy"), values, equal_nan=True))
        for name, values in expected.items()
    }
    print(json.dumps({"seconds": seconds, "peak_mb": peak, "equal": equal}))


def _child(*arguments: object) -> dict[str, object]:
    command = [sys.executable, __file__, *map(str, arguments)]
    done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True)
    return json.loads(done.stdout) if done.stdout else {}


def main(side: int = 4000) -> int:
    """Print the figures and return 1 when anything differs."""
    _child("make", side)
    on_disk, in_memory = _child("disk", side), _child("memory", side)
    print(f"{side * side / 1e6:.0f} million cells, {len(shipped_models())} models")
    print(f"on disk: {on_disk['seconds']:.1f} s, resident at most {on_disk['peak_mb']:.0f} MB")
    print(f"in memory, one model at a time: {in_memory['seconds']:.1f} s, {in_memory['peak_mb']:.0f} MB")
    for name, equal in in_memory["equal"].items():  # type: ignore[attr-defined]
        print(f"{name}: {'equal' if equal else 'NOT EQUAL'}")
    return 0 if all(in_memory["equal"].values()) else 1  # type: ignore[attr-defined]


if __name__ == "__main__":
    given = sys.argv[1:]
    if given and given[0] in ("make", "disk", "memory"):
        {"make": make, "disk": disk, "memory": memory}[given[0]](int(given[1]))
    else:
        sys.exit(main(*map(int, given)))

"""Water of a grid on disk under a limit of 2,000 MB, and whether it is what the whole in memory gives.

Run ``python tests/benchmarks/bench_tiles.py [SIDE] [TILE] [THREADS]``; 8,000 cells a side when left out.

The limit is the kernel's on a process's data (RLIMIT_DATA): all that a process has of its own and could write to,
resident or not, so that passing it is impossible rather than noticed. Files mapped to be read or written are not part
of it: their pages go back to the system when it wants them. The highest mark of everything resident (VmHWM), files
included, is printed beside it.
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
from measure import CELL_M, _status, fractal_ground

LIMIT_MB = 2000
CHANNEL_KM2 = 0.25


def place(side: int) -> Path:
    return Path(tempfile.gettempdir()) / f"claywalk-tiles-{side}"


def make(side: int) -> None:
    """Write the ground and a property of it, unless they are there."""
    folder = place(side)
    folder.mkdir(exist_ok=True)
    if not (folder / "share.npy").is_file():
        np.save(folder / "elevation.npy", fractal_ground(side))
        share = np.random.default_rng(1).random((side, side), dtype=np.float32)
        share[side // 5 : side // 4, side // 3 : side // 2] = np.nan
        np.save(folder / "share.npy", share)


def tiles(side: int, tile: int, threads: int) -> None:
    """Compute the water by tiles, under the limit."""
    resource.setrlimit(resource.RLIMIT_DATA, (LIMIT_MB * 2**20, LIMIT_MB * 2**20))
    from prospect.hydrology.tiles import Share, water_tiles
    from prospect.windows import Engine, raster_source

    folder = place(side)
    shutil.rmtree(folder / "tiles", ignore_errors=True)
    taken: dict[str, float] = {}
    last = [time.perf_counter()]

    def told(stage: str, done: int, of: int) -> None:
        now = time.perf_counter()
        name = stage.rstrip("0123456789").rstrip("-")
        taken[name] = taken.get(name, 0.0) + now - last[0]
        last[0] = now

    start = time.perf_counter()
    water_tiles(
        raster_source(folder / "elevation.npy"),
        folder / "tiles",
        CELL_M,
        CHANNEL_KM2,
        weights={"share": raster_source(folder / "share.npy")},
        shares={"share": Share(raster_source(folder / "share.npy"), least_known=0.5, unknown_at_edge=True)},
        tile_cells=tile,
        engine=Engine(threads, progress=told),
    )
    seconds = time.perf_counter() - start
    figures = {
        "seconds": seconds,
        "peak_mb": _status("VmHWM") / 1e6,
        "data_mb": _status("VmData") / 1e6,
        "stages": taken,
    }
    print(json.dumps(figures))


def whole(side: int) -> None:
    """Compute the same in memory and compare."""
    from prospect.hydrology import flow_accumulation, strahler_order, upstream_share, water

    folder = place(side)
    z, share = np.load(folder / "elevation.npy"), np.load(folder / "share.npy")
    start = time.perf_counter()
    found = water(z, CELL_M, CHANNEL_KM2)
    network = found.network
    results = {
        "filled": found.filled,
        "area_km2": found.area_km2,
        "touches_edge": found.touches_edge,
        "channel": found.channels,
        "height_above_drainage_m": found.height_above_drainage_m,
        "distance_to_channel_m": found.distance_to_channel_m,
        "wetness_index": found.wetness_index,
        "depression_depth_m": found.depression_depth_m,
        "strahler": strahler_order(network, found.channels),
        "sum-share": flow_accumulation(network, share),
        "share-share": upstream_share(network, share, least_known=0.5, unknown_at_edge=True),
    }
    seconds = time.perf_counter() - start
    equal = {"direction": _same_ways(network.downstream, folder / "tiles" / "direction.npy")}
    for name, values in results.items():
        by_tiles = np.load(folder / "tiles" / f"{name}.npy", mmap_mode="r")
        equal[name] = all(
            np.array_equal(by_tiles[i : i + 500], values[i : i + 500], equal_nan=values.dtype.kind == "f")
            for i in range(0, side, 500)
        )
    print(json.dumps({"seconds": seconds, "peak_mb": _status("VmHWM") / 1e6, "equal": equal}))


def _same_ways(downstream: np.ndarray, path: Path) -> bool:
    down, right = np.array([0, 1, 1, 1, 0, -1, -1, -1, 0, 0]), np.array([1, 1, 0, -1, -1, -1, 0, 1, 0, 0])
    codes = np.load(path, mmap_mode="r")
    rows, cols = codes.shape
    for i in range(0, rows, 500):
        part = np.array(codes[i : i + 500])
        cell = np.arange(i * cols, i * cols + part.size)
        ways = cell + down[part.ravel()] * cols + right[part.ravel()]
        if not np.array_equal(np.where(part.ravel() < 0, -1, ways), downstream[cell]):
            return False
    return True


def _child(*arguments: object) -> dict[str, object]:
    command = [sys.executable, __file__, *map(str, arguments)]
    done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True)
    return json.loads(done.stdout) if done.stdout else {}


def main(side: int = 8000, tile: int = 1024, threads: int = 2) -> int:
    """Print the figures and return 1 when anything differs."""
    _child("make", side)
    by_tiles = _child("tiles", side, tile, threads)
    in_memory = _child("whole", side)
    print(f"{side * side / 1e6:.0f} million cells, tiles of {tile}, {threads} threads")
    print(f"tiles: {by_tiles['seconds']:.1f} s, resident at most {by_tiles['peak_mb']:.0f} MB,")
    print(f"  of data {by_tiles['data_mb']:.0f} MB at the end, never more than {LIMIT_MB} MB")
    print(f"whole: {in_memory['seconds']:.1f} s, resident at most {in_memory['peak_mb']:.0f} MB")
    for stage, seconds in by_tiles["stages"].items():  # type: ignore[attr-defined]
        print(f"  {stage}: {seconds:.1f} s")
    for name, equal in in_memory["equal"].items():  # type: ignore[attr-defined]
        print(f"{name}: {'equal' if equal else 'NOT EQUAL'}")
    return 0 if all(in_memory["equal"].values()) else 1  # type: ignore[attr-defined]


if __name__ == "__main__":
    given = sys.argv[1:]
    if given and given[0] in ("make", "tiles", "whole"):
        {"make": make, "tiles": tiles, "whole": whole}[given[0]](*map(int, given[1:]))
    else:
        sys.exit(main(*map(int, given)))

"""Print how fast many spots are checked beside one at a time and beside a plain point-in-polygon join.

Run ``python tests/benchmarks/bench_land.py [SPOTS [PARCELS]]``; competitors alternate, the median of three counts.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable

import geopandas as gpd
import numpy as np
import shapely

from prospect.land import LandLayers, Ledger, Seen, Spot, check_spot, check_spots
from prospect.records import Looked, Permission

REPEATS = 3
ONE_BY_ONE = 100
"""Spots of the slow competitor; its time is scaled up."""
LOT_M = 90.0
CRS = "EPSG:32709"
ORIGIN = np.array([500_000.0, 4_700_000.0])
TODAY = "2026-05-20"
KINDS = {
    "keepouts": (
        "cemetery",
        "well",
        "gas line",
        "septic",
        "landslide",
        "nature reserve",
        "old orchard",
        "AE",
    ),
    "water": ("stream", "lake or pond"),
    "wetlands": ("freshwater marsh",),
    "roads": ("lane",),
}


def invented_land(
    parcels: int = 50_000, shapes: int = 5_000, entries: int = 2_000, looked: int = 500, seed: int = 5
) -> tuple[LandLayers, Ledger, float]:
    """Return crooked parcels on open ocean with everything around them, and the side of the square they fill."""
    rng = np.random.default_rng(seed)
    side = int(np.ceil(np.sqrt(parcels)))
    corner = np.stack(np.meshgrid(np.arange(side + 1.0), np.arange(side + 1.0)), axis=-1) * LOT_M
    corner += rng.uniform(-0.3, 0.3, corner.shape) * LOT_M + ORIGIN
    a, b, c, d = corner[:-1, :-1], corner[:-1, 1:], corner[1:, 1:], corner[1:, :-1]
    # Every second lot has corners of its own in the middle of its sides, as surveys do.
    rings = np.stack([a, (a + b) / 2, b, (b + c) / 2, c, (c + d) / 2, d, (d + a) / 2, a], axis=2)
    lots = shapely.polygons(rings.reshape(-1, 9, 2))[:parcels]
    ids = [f"{number:06d}" for number in range(len(lots))]
    owners = [f"Owner {number}" for number in rng.integers(0, parcels, len(lots))]
    # One lot in fifty is stacked (two owners), one in a hundred overlaps its neighbour.
    twice = rng.choice(len(lots), len(lots) // 50, replace=False)
    wide = rng.choice(len(lots), len(lots) // 100, replace=False)
    lots[wide] = shapely.buffer(lots[wide], 3.0, join_style="mitre")
    frame = gpd.GeoDataFrame(
        {
            "parcel_id": ids + [ids[number] for number in twice],
            "owner": owners + [f"Partner {number}" for number in twice],
        },
        geometry=[*lots, *lots[twice]],
        crs=CRS,
    )
    extent = side * LOT_M
    counts = {"keepouts": shapes // 2, "water": shapes // 5, "wetlands": shapes // 10}
    counts["roads"] = shapes - sum(counts.values())
    others = {name: _strewn(rng, name, count, extent) for name, count in counts.items()}
    permissions = [
        Permission(
            ids[number],
            str(rng.choice(["granted", "granted", "granted", "asked", "refused"])),
            scope="dig",
            person=owners[number],
            valid_until=str(rng.choice(["", "2026-12-31", "2026-01-31"])),
            recorded="2026-01-01",
        )
        for number in rng.choice(len(lots), entries, replace=False)
    ]
    keys = ("utility_lines", "well_or_septic", "unmarked_grave", "unstable_bank", "field_drains")
    records = [
        Seen(
            Looked(
                str(rng.choice(keys)), 0.0, 0.0, clear=bool(rng.random() < 0.9), seen_on=TODAY, ticket="4471"
            ),
            ORIGIN[0] + rng.uniform(0, extent),
            ORIGIN[1] + rng.uniform(0, extent),
        )
        for _ in range(looked)
    ]
    return LandLayers(frame, **others), Ledger(permissions, records), extent


def _strewn(rng: np.random.Generator, name: str, count: int, extent: float) -> gpd.GeoDataFrame:
    places = rng.uniform(0, extent, (count, 2)) + ORIGIN
    if name in ("water", "roads"):
        steps = np.cumsum(rng.normal(0, 60.0, (count, 20, 2)), axis=1)
        geometry = shapely.linestrings(places[:, None, :] + steps)
    else:
        geometry = shapely.buffer(shapely.points(places), rng.uniform(5, 60, count), quad_segs=4)
    kinds = rng.choice(KINDS[name], count)
    return gpd.GeoDataFrame(
        {"kind": kinds, "name": [f"{name} {k}" for k in range(count)]}, geometry=geometry, crs=CRS
    )


def strewn_spots(count: int, extent: float, seed: int = 6) -> np.ndarray:
    """Return (count, 2) positions over the land."""
    rng = np.random.default_rng(seed)
    return rng.uniform(0, extent, (count, 2)) + ORIGIN


def timed(call: Callable[[], object]) -> float:
    """Return the seconds of one call by the clock: two cores are part of the claim."""
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def main(spots: int, parcels: int) -> None:
    """Time everything and print medians and ratios."""
    layers, ledger, extent = invented_land(parcels)
    at = strewn_spots(spots, extent)
    points = gpd.GeoDataFrame(geometry=gpd.points_from_xy(at[:, 0], at[:, 1]), crs=CRS)

    def many() -> object:
        return check_spots(at[:, 0], at[:, 1], layers, ledger=ledger, on=TODAY).verdicts()

    def one_by_one() -> object:
        return [check_spot(Spot(x, y), layers, ledger=ledger, on=TODAY) for x, y in at[:ONE_BY_ONE]]

    tasks = {
        "many spots at once": many,
        "plain point-in-polygon join": lambda: gpd.sjoin(points, layers.parcels, predicate="within"),
        f"one at a time ({ONE_BY_ONE} spots)": one_by_one,
    }
    runs: dict[str, list[float]] = {name: [] for name in tasks}
    for call in tasks.values():
        call()
    for _ in range(REPEATS):
        for name, call in tasks.items():
            runs[name].append(timed(call))
    seconds = {name: statistics.median(taken) for name, taken in runs.items()}
    print(
        f"{spots:,} spots, {len(layers.parcels):,} parcels, 5,000 other shapes, 2,000 ledger entries, 500 records"
    )
    for name, taken in seconds.items():
        print(f"{name:36s} {taken:8.3f} s")
    fast, join, slow = seconds.values()
    print(f"many at once is {slow / ONE_BY_ONE * spots / fast:.0f} times as fast as one at a time")
    print(
        f"many at once takes {fast / join:.0f} times as long as the join, which knows no errors and no rules"
    )


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:3]]
    main(*given, *(10_000, 50_000)[len(given) :])

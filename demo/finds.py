"""What the invented diggers found: auger holes with clay and without, waypoints, and a careless list."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from .frame import Frame
from .noise import Floats, noise
from .soil_series import SERIES
from .soil_units import SOIL_UNITS

WORTH = {
    "OmB": 0.80, "OqC": 0.62, "QdE": 0.12, "VeC": 0.45, "VdE": 0.22, "SkB": 0.55, "ShD": 0.30, "RuD": 0.06,
    "PmC": 0.28, "WyC": 0.85, "DuC": 0.34, "CmC": 0.46, "TkA": 0.04, "OsA": 0.42, "SaA": 0.72, "TfA": 0.68,
    "LmA": 0.80, "MrA": 0.12, "BkB": 0.25, "TrD": 0.2, "W": 0.0, "NOTCOM": 0.0,
}  # fmt: skip
"""How good the invented clay is, on the whole, under each soil map unit (0..1; own choice)."""

COLOURS = {
    "kaolinitic": "white to buff",
    "halloysitic": "white",
    "illitic": "grey",
    "smectitic": "olive brown",
}


@dataclass(frozen=True)
class Truth:
    """What nobody in the valley knows: how good the clay is at every cell, 0..1."""

    worth: Floats
    soil: NDArray[np.int32]


def hidden_truth(frame: Frame, soil: NDArray[np.int32], rng: np.random.Generator) -> Truth:
    """Return the clay's worth: what the soil promises, better and worse in patches that no map shows."""
    promise = np.array([WORTH[unit.symbol] for unit in SOIL_UNITS])[soil]
    patches = 0.22 * noise(rng, frame.shape, 130, 2) - 0.06
    return Truth(np.clip(promise + patches * (promise > 0.02), 0, 1), soil)


def choose_spots(
    frame: Frame, truth: Truth, near_road: Floats, count: int, rng: np.random.Generator
) -> NDArray[np.int64]:
    """Return (row, col) of holes: mostly on promising ground not far from a road, never two together."""
    promise = np.array([WORTH[unit.symbol] for unit in SOIL_UNITS])[truth.soil]
    weight = (0.12 + promise) * np.exp(-near_road / 0.35) * (promise > 0)
    m = frame.margin
    weight[:m], weight[-m:], weight[:, :m], weight[:, -m:] = 0, 0, 0, 0
    share = np.cumsum(weight.ravel())
    spots: list[NDArray[np.int64]] = []
    while len(spots) < count:
        spot = np.array(np.divmod(np.searchsorted(share, rng.uniform(0, share[-1])), frame.shape[1]))
        if all(np.hypot(*(spot - other)) > 14 for other in spots):
            spots.append(spot)
    return np.array(spots)


def write_samples(
    path: Path, frame: Frame, truth: Truth, spots: NDArray[np.int64], rng: np.random.Generator
) -> None:
    """Write one row for each hole, with the bench figures that some of the clays were given."""
    rows = [_sample(frame, truth, spot, f"H{n:02d}", rng) for n, spot in enumerate(spots, 1)]
    columns = list(dict.fromkeys(key for row in rows for key in row))
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, columns, restval="", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    path.write_bytes(text.getvalue().encode())


def _sample(
    frame: Frame, truth: Truth, spot: NDArray[np.int64], name: str, rng: np.random.Generator
) -> dict[str, str]:
    worth = float(truth.worth[tuple(spot)])
    quality = float(np.clip(worth + rng.normal(0, 0.07), 0.02, 0.98))
    unit = SOIL_UNITS[int(truth.soil[tuple(spot)])]
    series = next((s for s in SERIES if s.name == unit.components[0][0]), SERIES[0])
    best = max(series.layers, key=lambda layer: layer[4])
    lon, lat = _lonlat(frame, spot)
    good = quality > 0.5
    row = {
        "sample_id": f"{name}-1",
        "hole_id": name,
        "lon": f"{lon:.6f}",
        "lat": f"{lat:.6f}",
        "position_error_m": f"{rng.uniform(3, 9):.0f}",
        "top_cm": f"{best[1]}",
        "bottom_cm": f"{min(best[2], 120)}",
        "date": f"2025-{int(rng.integers(3, 11)):02d}-{int(rng.integers(1, 29)):02d}",
        "usable": "unknown" if 0.46 < quality < 0.52 else ("yes" if good else "no"),
        "quality": f"{quality:.2f}",
        "ribbon_cm": f"{max(0.0, best[4] / 9 + rng.normal(0, 0.4)):.1f}",
        "fizz": "strong" if best[6] > 10 else "slight" if best[6] > 2 else "none",
        "moist_colour": COLOURS.get(series.minerals, "yellow brown"),
        "note": _remark(unit.symbol, good),
    }
    if good and rng.uniform() < 0.55:
        row |= _bench(best[4], series.plastic, series.swell, rng)
    return row


def _bench(clay: int, plastic: float, swell: float, rng: np.random.Generator) -> dict[str, str]:
    index = plastic * (clay - 8) + rng.normal(0, 1.5)
    limit = index / 0.73 + 18
    drying = 2.2 + 38 * swell + rng.normal(0, 0.3)
    return {
        "liquid_limit_pct": f"{limit:.0f}",
        "plastic_limit_pct": f"{limit - index:.0f}",
        "water_of_plasticity_pct": f"{16 + 0.28 * clay + rng.normal(0, 1.5):.0f}",
        "drying_shrinkage_pct": f"{drying:.1f}",
        "firing_shrinkage_pct": f"{3.2 + rng.normal(0, 0.6):.1f}",
        "absorption_pct": f"{9 + rng.normal(0, 2):.1f}",
        "fired_to_cone": "04",
    }


def _remark(symbol: str, good: bool) -> str:
    if good:
        return {
            "OmB": "short when fresh, better after a week of soaking; sieve out the quartz",
            "OqC": "sandy, washes to a white slip",
            "WyC": "smooth, pale, slakes in an hour",
            "SaA": "sticky, grey, roots to 40 cm",
            "LmA": "laminated, very plastic, yellow above and grey below",
            "TfA": "red-yellow, throws well",
        }.get(symbol, "worth a second bucket")
    return {
        "TkA": "sand all the way",
        "RuD": "stone at half a metre",
        "QdE": "auger stopped on rock",
        "DuC": "cracks while drying, swells again in rain",
        "MrA": "fizzes hard, white specks",
    }.get(symbol, "lean, does not hold a coil")


def write_waypoints(path: Path, frame: Frame, spots: NDArray[np.int64]) -> None:
    """Write a GPX 1.1 file of waypoints that a hand-held receiver would have kept."""
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<gpx version="1.1" creator="invented receiver" xmlns="http://www.topografix.com/GPX/1/1">',
    ]
    for n, spot in enumerate(spots, 1):
        lon, lat = _lonlat(frame, spot)
        words = (
            "clay in the bank, not dug",
            "molehills grey and sticky",
            "wet spot on the slope",
            "white streak",
        )
        lines += [
            f'  <wpt lat="{lat:.6f}" lon="{lon:.6f}">',
            f"    <time>2025-04-{n + 3:02d}T09:{n * 7 % 60:02d}:00Z</time>",
            f"    <name>W{n:02d}</name>",
            f"    <desc>{words[n % len(words)]}</desc>",
            "  </wpt>",
        ]
    path.write_bytes(("\n".join([*lines, "</gpx>"]) + "\n").encode())


def write_careless_list(path: Path, frame: Frame, spots: NDArray[np.int64]) -> None:
    """Write a list with two rows that cannot be right: a latitude of 147° and a depth upside down."""
    rows = ["id;latitude;longitude;from_cm;to_cm;usable;remarks"]
    for n, spot in enumerate(spots, 1):
        lon, lat = _lonlat(frame, spot)
        shown_lat, top, bottom = f"{lat:.5f}", 30, 80
        if n == 2:
            shown_lat = f"{lat - 100:.5f}"
        if n == 5:
            top, bottom = 90, 20
        rows.append(f"N{n};{shown_lat};{lon:.5f};{top};{bottom};{'yes' if n % 3 else 'no'};by torchlight")
    path.write_bytes(("\r\n".join(rows) + "\r\n").encode())


def _lonlat(frame: Frame, spot: NDArray[np.int64]) -> tuple[float, float]:
    t = frame.transform
    col, row = spot[1] - frame.margin + 0.5, spot[0] - frame.margin + 0.5
    return float(t.c + col * t.a), float(t.f + row * t.e)

"""Cuts the invented valley into parcels and gives them to invented owners, flaws included."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely
from pyproj import Transformer
from shapely.ops import split

from .frame import PROJECTED, Frame
from .landscape import Landscape
from .noise import Floats, at
from .waters import line_of

FIRST = [
    "Anwith",
    "Berol",
    "Corvane",
    "Dessa",
    "Elmund",
    "Fenwith",
    "Garrole",
    "Hesk",
    "Immery",
    "Jorvan",
    "Keldra",
    "Lunet",
    "Merrol",
    "Nyssa",
    "Orlic",
    "Pellan",
    "Quorin",
    "Rovert",
    "Sabeth",
    "Tavith",
    "Ulmer",
    "Vessa",
    "Wennor",
    "Ysolt",
]
LAST = [
    "Ashgarrow",
    "Brovane",
    "Cattermoor",
    "Dunsedge",
    "Emberlode",
    "Fallowick",
    "Garthmere",
    "Hollinrake",
    "Inkerdale",
    "Keswold",
    "Loamsby",
    "Marrowfen",
    "Nethercrag",
    "Ormcroft",
    "Pellidar",
    "Quillmere",
    "Rushgarth",
    "Sundrake",
    "Tesselby",
    "Varrowly",
]
COMMONS = "Ommerdale Grazing Commons"


def write_parcels(
    path: Path, frame: Frame, land: Landscape, roads: gpd.GeoDataFrame, rng: np.random.Generator
) -> gpd.GeoDataFrame:
    """Write the parcels as a shapefile in metres and return them."""
    pieces = _cut_up(frame, land, roads, rng)
    owners = [f"{f} {last}" for f in FIRST for last in LAST]
    pool = rng.choice(owners, 90, replace=False)
    holder = [str(pool[int(min(rng.exponential(26), 89))]) for _ in pieces]
    holder = [COMMONS if piece.area > 1.05e6 else name for piece, name in zip(pieces, holder, strict=True)]
    table = gpd.GeoDataFrame(
        {
            "PARCEL_ID": [f"{n:04d}-{n * 37 % 90 + 10:02d}" for n in range(1, len(pieces) + 1)],
            "OWNER": holder,
            "ACRES": np.round(shapely.area(np.array(pieces)) / 4046.8564224, 2),
            "LANDUSE": ["pasture" if piece.area > 3e5 else "field" for piece in pieces],
        },
        geometry=pieces,
        crs=PROJECTED,
    )
    table = _with_flaws(table)
    pyogrio.write_dataframe(table, path, driver="ESRI Shapefile")
    return table


def _cut_up(
    frame: Frame, land: Landscape, roads: gpd.GeoDataFrame, rng: np.random.Generator
) -> list[shapely.Polygon]:
    """Halve the ground again and again until every piece is as large as its neighbourhood makes parcels."""
    t = frame.transform
    inset = 0.0002
    box = shapely.box(
        t.c + inset, t.f + frame.rows * t.e + inset, t.c + frame.cols * t.a - inset, t.f - inset
    )
    lonlat = gpd.GeoSeries([box, line_of(frame, land.river_path)], crs="EPSG:4326").to_crs(PROJECTED)
    ways = roads.geometry[roads["kind"] != "vehicle trail"].buffer(7, quad_segs=2)
    free = lonlat[0].difference(lonlat[1].buffer(16, quad_segs=2)).difference(shapely.union_all(ways.values))
    to_lonlat = Transformer.from_crs(PROJECTED, "EPSG:4326", always_xy=True)
    waiting = [piece.simplify(2) for piece in shapely.get_parts(free)]
    done: list[shapely.Polygon] = []
    while waiting:
        piece = waiting.pop()
        if piece.area < _wanted_m2(frame, land, piece, to_lonlat) * rng.uniform(0.75, 1.6):
            if piece.area > 4000:
                done.append(piece)
            continue
        waiting += _halves(piece, rng)
    return sorted(done, key=lambda piece: (-round(piece.centroid.y, -3), piece.centroid.x))


def _wanted_m2(frame: Frame, land: Landscape, piece: shapely.Polygon, to_lonlat: Transformer) -> float:
    """Return a parcel's size there: small fields on the valley floor, wide grazing on the upland."""
    lon, lat = to_lonlat.transform(*piece.representative_point().coords[0])
    t = frame.transform
    row = np.array([(lat - t.f) / t.e + frame.margin])
    col = np.array([(lon - t.c) / t.a + frame.margin])
    height = float(at(land.height, row, col)[0])
    return float(np.interp(height, [50, 70, 110, 180, 270], [9e4, 1.4e5, 2.4e5, 4.2e5, 8.5e5]))


def _halves(piece: shapely.Polygon, rng: np.random.Generator) -> list[shapely.Polygon]:
    corners = shapely.get_coordinates(piece.minimum_rotated_rectangle)[:4]
    sides = np.diff(np.vstack([corners, corners[:1]]), axis=0)
    long = sides[int(np.argmax(np.hypot(*sides.T)))]
    turn = np.arctan2(long[1], long[0]) + np.pi / 2 + rng.normal(0, 0.12)
    reach = float(np.hypot(*long)) * 2
    through = np.array(piece.centroid.coords[0]) + long * rng.uniform(-0.12, 0.12)
    ray = np.array([np.cos(turn), np.sin(turn)])
    kink = rng.normal(0, 0.04, 2) * np.hypot(*long)
    line: Floats = np.vstack([through - reach * ray, through + kink, through + reach * ray])
    parts = [part for part in split(piece, shapely.linestrings(line)).geoms if part.area > 1]
    return parts if len(parts) > 1 else [piece.buffer(-0.5)]


def _with_flaws(table: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Leave one parcel out, give one a second owner on the same outline, and knot the ring of another."""
    middle = len(table) // 2
    shared = table.iloc[[middle + 4]].assign(OWNER="Estate of Hesk Nethercrag")
    knotted = table.index[middle - 9]
    table.loc[knotted, "geometry"] = _knot(table.geometry[knotted])
    kept = table.drop(index=table.index[middle + 15])
    return gpd.GeoDataFrame(pd.concat([kept, shared], ignore_index=True), crs=PROJECTED)


def _knot(piece: shapely.Polygon) -> shapely.Polygon:
    """Return the parcel with a small loop in its longest side, as careless digitising leaves it."""
    ring = shapely.get_coordinates(piece.exterior)
    steps = np.diff(ring, axis=0)
    k = int(np.argmax(np.hypot(*steps.T)))
    along = steps[k]
    out = np.array([along[1], -along[0]]) / np.hypot(*along) * 3.0
    loop = [
        ring[k] + 0.45 * along,
        ring[k] + 0.46 * along + out,
        ring[k] + 0.45 * along + out,
        ring[k] + 0.46 * along,
    ]
    return shapely.Polygon(np.vstack([ring[: k + 1], loop, ring[k + 1 :]]))

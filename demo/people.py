"""What invented people put into the valley: roads, wells, graves, lines, pits, and what they noticed."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import shapely

from .frame import PROJECTED, Frame
from .lines import curve

Points = tuple[tuple[float, float], ...]

ROADS: tuple[tuple[str, str, Points], ...] = (
    (
        "secondary road",
        "Tesk Road",
        (
            (-0.2, 6.9),
            (1.3, 7.05),
            (2.9, 6.85),
            (4.3, 6.35),
            (5.6, 6.5),
            (7.0, 7.05),
            (8.9, 7.15),
            (10.7, 6.85),
            (12.3, 7.35),
        ),
    ),
    (
        "local road",
        "Ommer Hill Road",
        (
            (5.6, 6.5),
            (5.75, 5.5),
            (5.45, 4.5),
            (5.05, 3.5),
            (3.7, 2.7),
            (2.3, 2.35),
            (1.0, 1.75),
            (-0.2, 1.6),
        ),
    ),
    (
        "local road",
        "Lowmere Lane",
        ((7.0, 7.05), (7.35, 5.8), (8.1, 4.9), (8.75, 3.7), (8.55, 2.4), (8.7, 1.2), (9.5, -0.2)),
    ),
    (
        "local road",
        "Cinder Lane",
        ((6.2, 6.75), (6.4, 7.8), (7.3, 8.5), (8.4, 8.75), (9.7, 9.3), (10.3, 10.2)),
    ),
    ("vehicle trail", "Pelling Track", ((2.9, 6.85), (2.75, 7.9), (3.6, 8.9), (3.4, 10.2))),
    ("vehicle trail", "Upland Track", ((3.7, 2.7), (3.6, 1.6), (4.2, 0.7), (4.0, -0.2))),
)
"""Kind, name and points in kilometres east and south of the north-west corner."""

KEEPOUTS: tuple[tuple[str, str, str, float, Points], ...] = (
    ("well", "Osmer Well, protection zone", "Town water; no digging inside the fence", 140.0, ((3.55, 6.9),)),
    (
        "cemetery",
        "Wendle graveyard",
        "Two rows of stones; older graves may lie outside the wall",
        55.0,
        ((6.35, 7.1),),
    ),
    (
        "power line",
        "Line along Lowmere Lane",
        "",
        0.0,
        ((7.15, 7.05), (7.5, 5.8), (8.25, 4.9), (8.9, 3.7), (8.7, 2.4)),
    ),
    (
        "water main",
        "Main from Osmer Well to Wendle",
        "Position from memory, never surveyed",
        0.0,
        ((3.55, 6.9), (4.7, 6.6), (6.3, 7.0)),
    ),
    ("nature reserve", "Lowmere Fen", "Birds nest from March to July", 260.0, ((9.55, 2.2),)),
    ("mine opening", "Old Cinder adit", "Undermined for some 60 m; air unsafe", 30.0, ((8.35, 9.05),)),
    ("historic site", "Ruined kiln at Pelling Bridge", "Listed by the parish", 25.0, ((3.95, 7.15),)),
)
"""Kind, name, note, width of the zone (m; 0 = the line itself) and points."""

LEADS: tuple[tuple[str, str, str, Points], ...] = (
    (
        "old pit",
        "2024-05-11",
        "Hollow with rushes; the farmer says his grandfather took white clay here",
        ((4.75, 3.3),),
    ),
    ("road cut", "2024-06-02", "White and pink streaks under half a metre of brown loam", ((5.5, 4.6),)),
    ("creek bank", "2024-06-02", "Blue-grey band, sticky, below yellow silt", ((8.95, 6.35),)),
    ("place name", "2023-11-20", "Field called Pot Acre on the parish plan", ((9.3, 2.6),)),
    ("brickyard", "2023-11-20", "Brick rubble and a level floor; worked until about 1910", ((1.7, 6.75),)),
    ("neighbour's memory", "2025-02-08", "Pond that never leaked, dug without a liner", ((7.6, 8.3),)),
)
"""Kind, date, note and point."""

FACES: tuple[tuple[str, str, str, str, str, Points], ...] = (
    (
        "road cut",
        "Ommer Hill cut",
        "late winter, when it is bare",
        "from the verge",
        "0-40 brown loam; 40-190 white clay with quartz",
        ((5.12, 3.62),),
    ),
    (
        "creek bank",
        "Cinder Brook bend",
        "late summer, low water",
        "from the stream bed, with leave",
        "0-60 silt; 60-95 lignite; 95-160 grey clay",
        ((8.25, 8.7),),
    ),
    (
        "river bank",
        "Tesk cutbank",
        "late summer, low water",
        "from the far bank",
        "0-70 silt; 70-240 grey clay",
        ((6.75, 6.35),),
    ),
    (
        "quarry overburden",
        "Ruddenfell quarry",
        "any",
        "from the gate",
        "0-120 pale tuff clay; 120-400 sandstone",
        ((4.45, 7.75),),
    ),
)
"""Kind, name, season, access, layers seen and point."""


def write_roads(path: Path, frame: Frame) -> gpd.GeoDataFrame:
    """Write the roads and return them in the metric CRS."""
    table = gpd.GeoDataFrame(
        {"kind": [r[0] for r in ROADS], "name": [r[1] for r in ROADS], "source": "Invented road map"},
        geometry=[_shape(frame, r[2], smooth=True) for r in ROADS],
        crs="EPSG:4326",
    )
    table = table.clip(_box(frame)).sort_index()
    pyogrio.write_dataframe(table, path, layer="roads", driver="GPKG", promote_to_multi=True)
    return table.to_crs(PROJECTED)


def write_keepouts(path: Path, frame: Frame) -> None:
    """Write wells, graves, lines, reserves and openings."""
    table = gpd.GeoDataFrame(
        {
            "kind": [k[0] for k in KEEPOUTS],
            "name": [k[1] for k in KEEPOUTS],
            "note": [k[2] for k in KEEPOUTS],
            "source": "Invented parish records",
        },
        geometry=[_shape(frame, k[4]) for k in KEEPOUTS],
        crs="EPSG:4326",
    ).to_crs(PROJECTED)
    wide = [shape.buffer(k[3]) if k[3] else shape for shape, k in zip(table.geometry, KEEPOUTS, strict=True)]
    _write_geojson(table.set_geometry(wide, crs=PROJECTED), path)


def write_leads(path: Path, frame: Frame) -> None:
    """Write what people saw or remember."""
    table = gpd.GeoDataFrame(
        {
            "kind": [lead[0] for lead in LEADS],
            "seen_on": [lead[1] for lead in LEADS],
            "note": [lead[2] for lead in LEADS],
            "source": "Invented walks and talks",
        },
        geometry=[_shape(frame, lead[3]) for lead in LEADS],
        crs="EPSG:4326",
    )
    _write_geojson(table, path)


def write_faces(path: Path, frame: Frame) -> None:
    """Write the places where the ground is open already."""
    columns = ("kind", "name", "season", "access", "layers_seen")
    table = gpd.GeoDataFrame(
        {column: [face[i] for face in FACES] for i, column in enumerate(columns)},
        geometry=[_shape(frame, face[5]) for face in FACES],
        crs="EPSG:4326",
    )
    _write_geojson(table.assign(seen_on="2025-03-02", source="Invented walks"), path)


def _write_geojson(table: gpd.GeoDataFrame, path: Path) -> None:
    lonlat = table.to_crs("EPSG:4326")
    lonlat = lonlat.set_geometry(shapely.set_precision(lonlat.geometry.values, 1e-7), crs="EPSG:4326")
    pyogrio.write_dataframe(lonlat, path, driver="GeoJSON")


def _shape(frame: Frame, points: Points, *, smooth: bool = False) -> shapely.Geometry:
    path = np.array(points, dtype=float)
    if smooth:
        path = curve(path, 0.06)
    lonlat = np.round(np.column_stack(frame.lonlat(path[:, 0], path[:, 1])), 7)
    return shapely.Point(lonlat[0]) if len(lonlat) == 1 else shapely.linestrings(lonlat)


def _box(frame: Frame) -> shapely.Polygon:
    t = frame.transform
    return shapely.box(t.c, t.f + frame.rows * t.e, t.c + frame.cols * t.a, t.f)

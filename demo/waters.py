"""Writes the invented streams and wetlands."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import shapely
from numpy.typing import NDArray

from .frame import Frame
from .landscape import Landscape
from .noise import Floats, blur
from .shapes import polygons

NAMES = ("Ommer Brook", "Wendle Brook", "Lowmere Water", "Cinder Brook", "Pelling Brook", "Skarrow Brook")
"""For the largest brooks, in the order of their catchments."""


def line_of(frame: Frame, path: Floats) -> shapely.Geometry:
    """Return a path of (row, col) cells as a lon/lat line, cut to what is handed out."""
    t = frame.transform
    lon = t.c + (path[:, 1] - frame.margin + 0.5) * t.a
    lat = t.f + (path[:, 0] - frame.margin + 0.5) * t.e
    line = shapely.linestrings(np.round(np.column_stack([lon, lat]), 7))
    box = shapely.box(t.c, t.f + frame.rows * t.e, t.c + frame.cols * t.a, t.f)
    return shapely.intersection(line, box)


def write_water(path: Path, frame: Frame, land: Landscape) -> None:
    """Write the river and the brooks as lines."""
    brooks = sorted(land.streams, key=lambda stream: -stream[1])
    names = [*NAMES, *[""] * len(brooks)]
    kinds = ["river", *("stream" if area > 0.6 else "intermittent stream" for _, area in brooks)]
    table = gpd.GeoDataFrame(
        {"kind": kinds, "name": ["Tesk", *names[: len(brooks)]], "source": "Invented hydrography"},
        geometry=[line_of(frame, land.river_path), *(line_of(frame, line) for line, _ in brooks)],
        crs="EPSG:4326",
    )
    table = table[~table.is_empty & (table.geom_type.isin(("LineString", "MultiLineString")))]
    pyogrio.write_dataframe(table, path, layer="water", driver="GPKG", promote_to_multi=True)


def write_wetlands(path: Path, frame: Frame, land: Landscape) -> NDArray[np.bool_]:
    """Write the marsh in the lake's lowest part and the wet old bends; return their cells."""
    bends = blur(land.oxbow.astype(float), 2.0) > 0.22
    depth = blur(land.lake_depth, 4)
    lowest = land.lake & (depth > np.quantile(depth[land.lake], 0.86))
    marsh = blur((bends | lowest).astype(float), 1.5) > 0.5
    shapes = polygons(frame, marsh.astype(np.int32), 30)
    shapes = shapes[shapes["code"] == 1]
    table = gpd.GeoDataFrame(
        {"kind": "freshwater emergent wetland", "name": "", "source": "Invented wetland inventory"},
        index=shapes.index,
        geometry=shapes.geometry,
        crs="EPSG:4326",
    )
    pyogrio.write_dataframe(table, path, driver="GeoJSON")
    return marsh

"""Writes the invented rock map and its faults as the open schema for geologic maps lays them out."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely
from numpy.typing import NDArray

from .frame import Frame
from .landscape import Landscape
from .legend import BEDROCK, COVER, HEADINGS
from .noise import blur
from .rocks import COAL, MUDSTONE, Bedrock
from .shapes import polygons
from .waters import line_of

LEVEE, FLOODPLAIN, TERRACE, LAKE = range(len(BEDROCK), len(BEDROCK) + len(COVER))
SOURCE_ID = "DAS1"


def mapped_units(frame: Frame, bedrock: Bedrock, land: Landscape) -> NDArray[np.int32]:
    """Return the class of the map unit at the surface, bedrock or what lies over it."""
    code = bedrock.code.astype(np.int32)
    for mask, cover in ((land.floodplain, FLOODPLAIN), (land.terrace, TERRACE), (land.lake, LAKE)):
        code = np.where(blur(mask.astype(float), 3) > 0.5, cover, code)
    near_river = blur(np.where(land.river.distance * frame.cell_m < 62, 1.0, 0.0), 3) > 0.5
    return np.where(near_river & (code == FLOODPLAIN), LEVEE, code)


def write_geology(path: Path, frame: Frame, units: NDArray[np.int32]) -> gpd.GeoDataFrame:
    """Write MapUnitPolys and DescriptionOfMapUnits into one GeoPackage; return the polygons."""
    legend = (*BEDROCK, *COVER)
    shapes = polygons(frame, units, 160)
    names = [legend[c].unit for c in shapes["code"]]
    table = gpd.GeoDataFrame(
        {
            "MapUnit": names,
            "IdentityConfidence": ["questionable" if c == COAL else "certain" for c in shapes["code"]],
            "Label": names,
            "Symbol": "",
            "DataSourceID": SOURCE_ID,
            "Notes": None,
            "MapUnitPolys_ID": [f"MUP{i:04d}" for i in range(1, len(shapes) + 1)],
        },
        geometry=shapes.geometry.values,
        crs=shapes.crs,
    )
    pyogrio.write_dataframe(table, path, layer="MapUnitPolys", driver="GPKG", promote_to_multi=True)
    pyogrio.write_dataframe(_description(), path, layer="DescriptionOfMapUnits", driver="GPKG", append=True)
    return shapes


def write_structures(path: Path, frame: Frame, bedrock: Bedrock, shapes: gpd.GeoDataFrame) -> None:
    """Write faults, the dyke's axis and the outcrop of the lignite seam as ContactsAndFaults."""
    rows: list[tuple[str, str, str, float, shapely.Geometry]] = [
        ("fault", "Ommer Edge fault", "N", 50.0, line_of(frame, bedrock.belt_fault)),
        ("fault, approximately located", "Lowmere fault", "N", 120.0, line_of(frame, bedrock.block_fault)),
        ("dike", "Tarrowick Dyke", "N", 25.0, line_of(frame, bedrock.dyke)),
    ]
    coal = shapely.union_all(shapes.geometry[shapes["code"] == COAL].values)
    mudstone = shapely.union_all(shapes.geometry[shapes["code"] == MUDSTONE].values)
    seam = shapely.line_merge(shapely.intersection(coal.boundary, mudstone.boundary))
    rows += [
        ("key bed, lignite seam", "Cindermoss seam", "N", 60.0, part)
        for part in shapely.get_parts(seam)
        if shapely.length(part) > 0.003
    ]
    table = gpd.GeoDataFrame(
        {
            "Type": [r[0] for r in rows],
            "Label": [r[1] for r in rows],
            "IsConcealed": [r[2] for r in rows],
            "LocationConfidenceMeters": [r[3] for r in rows],
            "ExistenceConfidence": "certain",
            "IdentityConfidence": "certain",
            "DataSourceID": SOURCE_ID,
            "ContactsAndFaults_ID": [f"CAF{i:03d}" for i in range(1, len(rows) + 1)],
        },
        geometry=[r[4] for r in rows],
        crs="EPSG:4326",
    )
    pyogrio.write_dataframe(table, path, layer="ContactsAndFaults", driver="GPKG", promote_to_multi=True)


def _description() -> pd.DataFrame:
    """Return the legend as a table, headings included (their MapUnit is null)."""
    rows: list[dict[str, str | None]] = [
        {"MapUnit": None, "Name": title, "HierarchyKey": key, "ParagraphStyle": "DMUHeading1"}
        for key, title in HEADINGS
    ]
    rows += [
        {
            "MapUnit": u.unit,
            "Name": u.name,
            "FullName": f"{u.name} ({u.age})",
            "Age": u.age,
            "Description": u.description,
            "HierarchyKey": u.key,
            "ParagraphStyle": "DMUUnit1",
            "Label": u.unit,
            "DescriptionSourceID": SOURCE_ID,
            "GeoMaterial": u.material,
            "GeoMaterialConfidence": u.sureness,
        }
        for u in (*BEDROCK, *COVER)
    ]
    table = pd.DataFrame(rows).sort_values("HierarchyKey", ignore_index=True)
    table["DescriptionOfMapUnits_ID"] = [f"DMU{i:02d}" for i in range(1, len(table) + 1)]
    return table

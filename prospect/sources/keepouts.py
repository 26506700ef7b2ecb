"""Reads keep-outs, wetlands, roads, the outline, leads and open faces: shapes, or points from a table or a receiver."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Literal

import geopandas as gpd
import pandas as pd
import shapely

from prospect.guard.inspection import file_name
from prospect.guard.refusal import refuse_file
from prospect.issues import IssueLog
from prospect.layerfile import LayerSource
from prospect.sources.field_names import field_names
from prospect.sources.marks import as_marks, kinds_of, read_marks
from prospect.sources.point_rows import PointRows, read_point_rows
from prospect.text import plain
from prospect.types import Bounds

MarkKind = Literal["keepouts", "wetlands", "roads", "outline", "leads", "faces"]

_POINT_ENDINGS = (".csv", ".tsv", ".tab", ".txt", ".gpx", ".kml", ".kmz")


def read_keepouts(
    path: Path,
    *,
    kind: str = "keepouts",
    crs: str = "",
    mapping: Mapping[str, str] | None = None,
    bounds: Bounds | None = None,
) -> tuple[gpd.GeoDataFrame, IssueLog, LayerSource]:
    """Read keep-outs, or one of the other layers whose shapes each have a word for what they are.

    Parameters
    ----------
    path
        Vector file; for points also CSV, GPX, KML or KMZ.
    kind
        `keepouts`, `wetlands`, `roads`, `outline`, `leads` or `faces`.
    crs
        `EPSG:n` when the file does not say.
    mapping
        `kind`, `name`, `source`, `note`, … → column; `lon` and `lat` in a table.
    bounds
        The ground, longitudes and latitudes; None while unknown.

    Returns
    -------
    GeoDataFrame
        `kind, name, source` and what else the kind has (`note`, `seen_on`, `season`, …) as text, and `geometry`,
        in the file's own CRS.
    IssueLog
    LayerSource

    Raises
    ------
    InputRefused
        When nothing can be used.
    """
    if path.suffix.lower() not in _POINT_ENDINGS:
        return read_marks(path, kind, crs=crs, mapping=mapping, bounds=bounds)
    if "point" not in field_names().of(kind).shapes:
        expected = f"a vector file with the shapes of {kind}"
        refuse_file(
            IssueLog(file_name(path), kind), "a file of points", expected, "Export lines or polygons."
        )
    rows = read_point_rows(path, kind, crs=crs, mapping=mapping, bounds=bounds)
    return _as_layer(rows, path, kind)


def _as_layer(rows: PointRows, path: Path, kind: str) -> tuple[gpd.GeoDataFrame, IssueLog, LayerSource]:
    rules = field_names().of(kind)
    placed = [(item, cells) for item, cells in rows.rows if item in rows.spots]
    index = [item for item, _ in placed]
    cells = pd.DataFrame([cells for _, cells in placed], index=index, dtype=object).fillna("")
    table = pd.DataFrame(
        {name: [plain(rows.text(one, name), 2000) for _, one in placed] for name in rules.fields},
        index=index,
        dtype=object,
    )
    log = rows.tally.log
    if not placed:
        rows.tally.settle(rows.items)
        refuse_file(log, "no row that can be used", "at least one with a position", "See the problems.")
    table["kind"] = kinds_of(cells, rows.columns.get("kind", ()), rules)
    points = shapely.points([[rows.spots[item].lon, rows.spots[item].lat] for item in index])
    shapes = gpd.GeoDataFrame(geometry=points, index=index, crs="EPSG:4326")
    frame = as_marks(table, kind, path, shapes, log)
    rows.tally.settle(rows.items)
    counts = {"read": log.read, "kept": log.kept, "repaired": log.repaired, "refused": log.refused}
    notes = tuple(note for note in rows.notes if note)
    source = LayerSource(kind, file_name(path), "", crs=rows.crs, counts=counts, notes=notes)
    return frame.reset_index(drop=True), log, source

"""Reads mapped water: streams, ditches, lakes, swamps."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import geopandas as gpd

from prospect.issues import IssueLog
from prospect.layerfile import LayerSource
from prospect.sources.marks import read_marks
from prospect.types import Bounds


def read_water(
    path: Path,
    *,
    crs: str = "",
    mapping: Mapping[str, str] | None = None,
    bounds: Bounds | None = None,
) -> tuple[gpd.GeoDataFrame, IssueLog, LayerSource]:
    """Read streams and water bodies; parameters, columns and errors as of `read_marks`."""
    return read_marks(path, "water", crs=crs, mapping=mapping, bounds=bounds)

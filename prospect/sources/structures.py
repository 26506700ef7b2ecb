"""Reads mapped structures: faults, dykes, contacts, coal and other marker beds."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import geopandas as gpd

from prospect.issues import IssueLog
from prospect.layerfile import LayerSource
from prospect.sources.marks import read_marks
from prospect.types import Bounds


def read_structures(
    path: Path,
    *,
    crs: str = "",
    mapping: Mapping[str, str] | None = None,
    bounds: Bounds | None = None,
) -> tuple[gpd.GeoDataFrame, IssueLog, LayerSource]:
    """Read faults, dykes, contacts and marker beds; parameters, columns and errors as of `read_marks`."""
    return read_marks(path, "structures", crs=crs, mapping=mapping, bounds=bounds)

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
    """Read lines and points of faults, dykes, contacts and marker beds.

    Parameters
    ----------
    path
        Vector file.
    crs
        `EPSG:n` when the file does not say.
    mapping
        `kind`, `name`, `source` → column; `layer` → layer inside the file.
    bounds
        The ground, longitudes and latitudes; None while unknown.

    Returns
    -------
    GeoDataFrame
        `kind, name, source` as text and `geometry`, in the file's own CRS.
    IssueLog
    LayerSource

    Raises
    ------
    InputRefused
        When nothing can be used.
    """
    return read_marks(path, "structures", crs=crs, mapping=mapping, bounds=bounds)

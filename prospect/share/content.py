"""What a ground has to share, before anybody decides who may see it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import geopandas as gpd

from prospect.grid import Grid, Raster
from prospect.layerfile import LayerSource
from prospect.records import GroundReport, Sample, Site


@dataclass(frozen=True, slots=True)
class FieldMapContent:
    """Everything a shared map or file can be made of.

    Attributes
    ----------
    name
        What the ground is called.
    grid
        The ground's grid.
    best
        Favourability of the best deposit model, 0..1.
    favourability
        The same for each deposit model by key, in the order to show them.
    titles
        Plain name of each deposit model by key.
    sites
        Ranked sites.
    outlines
        Their shapes in the grid's CRS, with the column `site`.
    hillshade
        0 dark .. 255 lit; None without elevation.
    completeness
        How much is known, 0..1.
    readings
        Ground report of each site's best spot, by rank.
    parcels
        Normal form (`parcel_id`, `owner`), any CRS.
    samples
        Samples taken.
    layers
        Where every layer comes from.
    attributions
        Whom else to name, a sentence each; anybody may read them.
    missing
        What is not known, and what that costs, a sentence each.
    made_on
        Date to print, ISO.
    units
        `metric` or `us`.
    """

    name: str
    grid: Grid
    best: Raster
    favourability: Mapping[str, Raster]
    titles: Mapping[str, str]
    sites: tuple[Site, ...]
    outlines: gpd.GeoDataFrame
    hillshade: Raster | None = None
    completeness: Raster | None = None
    readings: Mapping[int, GroundReport] = field(default_factory=dict)
    parcels: gpd.GeoDataFrame | None = None
    samples: tuple[Sample, ...] = ()
    layers: tuple[LayerSource, ...] = ()
    attributions: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    made_on: str = ""
    units: Literal["metric", "us"] = "metric"

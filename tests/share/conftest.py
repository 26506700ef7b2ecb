from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
from shapely.geometry import box

from prospect.grid import Grid, Raster
from prospect.records import CriterionReading, GroundReport, LandCheck, ModelReading, ParcelHit, Sample, Site
from prospect.share import FieldMapContent

NAMES = ("Wilmot Tarn", "Ysolde Quarrington")
"""Owners of the invented ground."""


def invented(text: str = "") -> FieldMapContent:
    """A ground of 60 × 80 cells of 25 m with two parcels side by side and a site on each and on both."""
    grid = Grid(60, 80, 500_000.0, 5_000_000.0, 25.0, "EPSG:32633")
    rows, cols = np.mgrid[:60, :80]
    best = (0.5 + 0.45 * np.sin(rows / 9) * np.cos(cols / 11)).astype(np.float32)
    best[:8, :8] = np.nan
    west, _, east, north = grid.bounds
    middle = (west + east) / 2
    shapes = {
        1: box(west + 410, north - 390, west + 590, north - 210),
        2: box(middle - 90, north - 790, middle + 160, north - 610),
        3: box(middle + 310, north - 1190, middle + 390, north - 1110),
    }
    sites = []
    for rank, shape in shapes.items():
        x, y = shape.centroid.x + 7.0, shape.centroid.y - 3.0
        lon, lat = grid.to_lonlat(x, y)
        parcels = ("A-01",) if rank == 1 else ("A-01", "B-02") if rank == 2 else ("B-02",)
        sites.append(
            Site(
                rank,
                "residual",
                0.9 - 0.1 * rank,
                0.8,
                shape.area / 1e4,
                lon,
                lat,
                x,
                y,
                text or "Hollin granite",
                6.25,
                12.5,
                parcels,
                "not asked",
                (text or f"{NAMES[0]} keeps bees here.",),
            )
        )
    parcels = gpd.GeoDataFrame(
        {
            "parcel_id": ["A-01", "B-02"],
            "owner": [text or NAMES[0], text or NAMES[1]],
            "line_error_m": [3.0, 3.0],
        },
        geometry=[box(west, north - 1500, middle, north), box(middle, north - 1500, east, north)],
        crs=grid.crs,
    )
    sample = Sample(
        "S-77", 15.00412345, 45.14823456, note=text or "blue-grey under the ash tree", usable="yes"
    )
    return FieldMapContent(
        name=text or "Hollin Edge",
        grid=grid,
        best=Raster.of(best, grid, "1", "invented"),
        favourability={"residual": Raster.of(best * 0.9, grid, "1", "invented")},
        titles={"residual": text or "Residual (primary) clay"},
        sites=tuple(sites),
        outlines=gpd.GeoDataFrame({"site": list(shapes)}, geometry=list(shapes.values()), crs=grid.crs),
        hillshade=Raster.of(np.full(grid.shape, 180.0), grid, "1", "invented"),
        completeness=Raster.of(np.where(cols > 40, 0.4, 0.8), grid, "1", "invented"),
        readings={site.site: _report(site, text) for site in sites},
        parcels=parcels,
        samples=(sample,),
        attributions=(text or "Map of Hollin, 2001, open licence.",),
        missing=(text or "No wetland map.",),
        made_on="2026-05-02",
    )


def _report(site: Site, text: str) -> GroundReport:
    criteria = (
        CriterionReading(
            "rock", text or "Parent rock", "granite", 0.95, 0.6, 0.7, "Map, 2001", defining=True
        ),
        CriterionReading("slope", "Slope", "6 %", 0.9, 0.2, 0.3, "Elevation, 2021"),
        CriterionReading("soil", "Soil survey", "not known", None, 0.2, None, ""),
    )
    lead = ModelReading("residual", "Residual (primary) clay", 0.8, 0.78, 0.8, True, "", criteria)
    land = LandCheck(
        "ask first",
        (text or f"No permission is on record for parcel {site.parcels[0]}: ask {NAMES[0]} first.",),
        (ParcelHit(site.parcels[0], NAMES[0], 1.0, 40.0),),
        (),
    )
    return GroundReport(
        site.lon,
        site.lat,
        site.easting,
        site.northing,
        text or "Good ground for residual clay.",
        lead,
        (lead,),
        (),
        land,
    )


@pytest.fixture
def ground() -> FieldMapContent:
    return invented()


@pytest.fixture
def make_ground():
    return invented


@pytest.fixture
def owner_names() -> tuple[str, ...]:
    return NAMES

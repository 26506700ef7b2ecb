"""Makes the invented ground's files, in the formats in which real ones come; the same number, the same ground."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path

import numpy as np
import pyogrio
import rasterio
from numpy.typing import NDArray

from . import finds, geology, people, waters
from .frame import Frame
from .landscape import Landscape, shape_ground
from .noise import Floats, noise
from .parcels import write_parcels
from .rocks import lay_bedrock
from .shapes import Mask
from .soil_export import RAIN_MM, write_soil_survey
from .soils import soil_map

DemoFiles = Mapping[str, tuple[Path, ...]]
"""Files by the kind of layer that they hold."""

SETTINGS: Mapping[str, object] = {
    "mean_annual_rain_mm": float(RAIN_MM),
    "glaciated": "no",
    "reach_m": 1.2,
    "line_error_m": 6.0,
}
"""What the ground's people would answer when asked."""

NO_DATA = -999999.0
DEFAULT_SEED = 7


def make_ground(folder: Path, seed: int = DEFAULT_SEED) -> DemoFiles:
    """Write all files of the invented ground into a folder.

    Parameters
    ----------
    folder
        An empty folder; made when it is not there.
    seed
        The same number gives the same files.

    Returns
    -------
    mapping
        Kind of layer → files.
    """
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(seed)
    frame = Frame()
    bedrock = lay_bedrock(frame, rng)
    land = shape_ground(frame, bedrock, rng)
    units = geology.mapped_units(frame, bedrock, land)
    gap = _unsurveyed(frame, rng)
    soil = soil_map(frame, units, land, gap, rng)
    with _fixed_clock():
        files = _write_maps(folder, frame, land, gap)
        files["soil"] = (folder / "soil_ZZ001_[2026-01-15].zip",)
        write_soil_survey(files["soil"][0], frame, soil)
        files["geology"] = (folder / "ommerdale_geology.gpkg",)
        shapes = geology.write_geology(files["geology"][0], frame, units)
        files["structures"] = (folder / "ommerdale_structures.gpkg",)
        geology.write_structures(files["structures"][0], frame, bedrock, shapes)
        roads = people.write_roads(files["roads"][0], frame)
        files["parcels"] = (folder / "parcels.shp",)
        write_parcels(files["parcels"][0], frame, land, roads, rng)
    files["samples"] = _write_finds(folder, frame, soil, rng)
    return files


def _write_maps(folder: Path, frame: Frame, land: Landscape, gap: Mask) -> dict[str, tuple[Path, ...]]:
    files: dict[str, tuple[Path, ...]] = {
        "elevation": (folder / "ommerdale_elevation.tif",),
        "water": (folder / "tesk_water.gpkg",),
        "wetlands": (folder / "wetlands.geojson",),
        "roads": (folder / "roads.gpkg",),
        "keepouts": (folder / "keepouts.geojson",),
        "leads": (folder / "leads.geojson",),
        "faces": (folder / "faces.geojson",),
    }
    _write_elevation(files["elevation"][0], frame, land.height, gap)
    waters.write_water(files["water"][0], frame, land)
    waters.write_wetlands(files["wetlands"][0], frame, land)
    people.write_keepouts(files["keepouts"][0], frame)
    people.write_leads(files["leads"][0], frame)
    people.write_faces(files["faces"][0], frame)
    return files


def _write_finds(
    folder: Path, frame: Frame, soil: NDArray[np.int32], rng: np.random.Generator
) -> tuple[Path, ...]:
    paths = (folder / "holes_2025.csv", folder / "waypoints.gpx", folder / "night_list.csv")
    truth = finds.hidden_truth(frame, soil, rng)
    spots = finds.choose_spots(frame, truth, _road_km(frame), 62, rng)
    finds.write_samples(paths[0], frame, truth, spots[:46], rng)
    finds.write_waypoints(paths[1], frame, spots[46:54])
    finds.write_careless_list(paths[2], frame, spots[54:])
    return paths


def _road_km(frame: Frame) -> Floats:
    """Return the distance to the nearest road, km, good enough to draw lots by."""
    every = 4
    east, south = (axis[::every, ::every] for axis in frame.km)
    nearest = np.full(east.shape, np.inf)
    for _, _, points in people.ROADS:
        for (x0, y0), (x1, y1) in pairwise(points):
            t = ((east - x0) * (x1 - x0) + (south - y0) * (y1 - y0)) / ((x1 - x0) ** 2 + (y1 - y0) ** 2)
            t = np.clip(t, 0, 1)
            away = np.hypot(east - x0 - t * (x1 - x0), south - y0 - t * (y1 - y0))
            nearest = np.minimum(nearest, away)
    return np.kron(nearest, np.ones((every, every)))


def _unsurveyed(frame: Frame, rng: np.random.Generator) -> Mask:
    """Return the cells of a corner that no flight and no soil survey covered."""
    east, south = frame.km
    return (east + 1.2 * (10.05 - south) + 0.12 * noise(rng, frame.shape, 90, 3)) < 1.25


def _write_elevation(path: Path, frame: Frame, height: Floats, gap: Mask) -> None:
    metres = np.where(gap, NO_DATA, np.round(height, 2)).astype(np.float32)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=frame.cols,
        height=frame.rows,
        count=1,
        dtype="float32",
        crs="EPSG:4326",
        transform=frame.transform,
        nodata=NO_DATA,
        tiled=True,
        blockxsize=256,
        blockysize=256,
        compress="deflate",
        predictor=3,
    ) as file:
        file.write(frame.crop(metres), 1)


@contextmanager
def _fixed_clock() -> Iterator[None]:
    """Keep the date of making out of the files, so that the same number gives the same bytes."""
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": "2026-01-15T10:00:00.000Z"})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})

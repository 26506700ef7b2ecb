"""Builds everything the criteria read: terrain, water, what lies upstream, soil and rock, on the ground's grid."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import geopandas as gpd
import numpy as np
import shapely

from prospect.cache import content_key, file_key
from prospect.catalogue import read_catalogue
from prospect.criteria import Factors
from prospect.definitions import layers_folder
from prospect.grid import NONE_CODE, Grid, Raster, burn_mask, distance_to, rasterize_classes
from prospect.land import LandLayers
from prospect.layerfile import read_raster_layer, read_source, read_vector_layer
from prospect.pipeline.area import ground_grid
from prospect.pipeline.class_layers import rock_layer, soil_layer
from prospect.pipeline.land_shape import shape_of_the_land
from prospect.records import GroundSettings
from prospect.store import Ground
from prospect.types import FloatArray

ALGORITHM = 5
LEAST_CUT_SHARE = 0.01
"""Share of the ground with a cut catchment from which it is worth a sentence (own judgement)."""
LAND_LAYERS = ("parcels", "water", "wetlands", "roads", "keepouts")

UNITS: Mapping[str, str] = {
    "slope_pct": "%",
    "profile_curvature": "1/m",
    "plan_curvature": "1/m",
    "hillslope_position": "class",
    "height_above_drainage_m": "m",
    "distance_to_channel_m": "m",
    "wetness_percentile": "percentile",
    "upstream_area_km2": "km²",
    "depression_depth_m": "m",
    "stream_power_w_m2": "W/m²",
    "distance_to_structure_m": "m",
    "distance_to_coal_m": "m",
}


@dataclass(frozen=True, slots=True)
class Landscape:
    """A ground's factors with what else is shown of it.

    Attributes
    ----------
    factors
        What the criteria read.
    hillshade
        Shaded relief 0..255; None without elevation.
    elevation
        m; None without elevation.
    land
        Parcels and everything that restricts, in the grid's CRS.
    missing
        Sentences: which layers are missing and what that costs.
    """

    factors: Factors
    hillshade: Raster | None
    elevation: Raster | None
    land: LandLayers
    missing: tuple[str, ...]

    def unit_at(self, row: int, col: int) -> str:
        """Return the name of the rock map's unit at a cell; empty when there is none."""
        geology = self.factors.geology
        code = NONE_CODE if geology is None else int(geology.codes[row, col])
        if geology is None or code < 0:
            return ""
        entry = geology.table.iloc[code]
        return str(entry["name"] or entry["unit"])


def landscape_key(ground: Ground) -> str:
    """Return a key that changes when anything the factors rest on has changed."""
    settings = ground.settings
    return content_key(
        ALGORITHM,
        _layer_keys(ground),
        [read_source(ground.layers_folder, name).covers for name in LAND_LAYERS if name in ground.layers()],
        dict(ground.rock_corrections()),
        _vocabulary_key(),
        [getattr(settings, name) for name in _SETTINGS_READ],
    )


def build_landscape(ground: Ground) -> Landscape:
    """Return the ground's factors; terrain and water are computed once and kept under `derived/`."""
    return _built(ground, landscape_key(ground))


_SETTINGS_READ = (
    "crs",
    "cell_m",
    "west",
    "south",
    "east",
    "north",
    "mean_annual_rain_mm",
    "glaciated",
    "reach_m",
    "channel_area_km2",
    "cut_dams",
    "bankfull_a",
    "bankfull_b",
)


@lru_cache(maxsize=2)
def _built(ground: Ground, key: str) -> Landscape:
    grid, settings, there = ground_grid(ground), ground.settings, set(ground.layers())
    geology = rock_layer(ground, grid) if "geology" in there else None
    arrays = shape_of_the_land(ground, grid, settings, key) if "elevation" in there else {}
    arrays |= _structures(ground, grid) if "structures" in there else {}
    arrays |= _wet_ground(ground, grid)
    sources = _sources(ground, arrays)
    shade = arrays.pop("hillshade", None)
    rasters = {
        name: Raster.of(values, grid, UNITS.get(name, "1"), sources.get(name, ""))
        for name, values in arrays.items()
    }
    factors = Factors(
        grid=grid,
        rasters=rasters,
        soil=soil_layer(ground, grid) if "soil" in there else None,
        geology=geology,
        constants=_constants(settings),
        sources=sources,
    )
    return Landscape(
        factors=factors,
        hillshade=None if shade is None else Raster.of(shade, grid, "0-255", sources["slope_pct"]),
        elevation=read_raster_layer(ground.layers_folder, "elevation") if "elevation" in there else None,
        land=_land(ground, grid),
        missing=_missing(there, settings, arrays.get("catchment_cut")),
    )


def _structures(ground: Ground, grid: Grid) -> dict[str, FloatArray]:
    shapes = read_vector_layer(ground.layers_folder, "structures").to_crs(grid.crs)
    words = (shapes["kind"].astype(str) + " " + shapes["name"].astype(str)).str.lower()
    coal = words.str.contains(r"\b(?:coal|lignite|seam)\b")
    plain_contact = words.str.contains(r"\bcontact\b")
    return {
        name: distance_to(burn_mask(list(shapes.geometry[chosen.to_numpy()]), grid), grid)
        for name, chosen in (
            ("distance_to_structure_m", ~coal & ~plain_contact),
            ("distance_to_coal_m", coal),
        )
        if chosen.any()
    }


def _wet_ground(ground: Ground, grid: Grid) -> dict[str, FloatArray]:
    """Return 1 where a map draws open water or a wetland as an area, else 0."""
    masks = {}
    for name, layer in (("in_open_water", "water"), ("in_wetland", "wetlands")):
        if layer in ground.layers():
            shapes = read_vector_layer(ground.layers_folder, layer).to_crs(grid.crs).geometry
            areas = shapes[shapes.geom_type.isin(["Polygon", "MultiPolygon"])]
            masks[name] = (rasterize_classes(list(areas), [1] * len(areas), grid) == 1).astype(np.float32)
    return masks


def _land(ground: Ground, grid: Grid) -> LandLayers:
    there = [name for name in LAND_LAYERS if name in ground.layers()]
    stored = {name: read_vector_layer(ground.layers_folder, name) for name in there}
    frames = {name: frame.to_crs(grid.crs) for name, frame in stored.items()}
    boxes = {name: read_source(ground.layers_folder, name).covers for name in there}
    covers = {
        name: gpd.GeoSeries([shapely.segmentize(shapely.box(*cut), 1000.0)], crs=stored[name].crs)
        .to_crs(grid.crs)
        .iloc[0]
        for name, cut in boxes.items()
        if cut
    }
    return LandLayers(**frames, covers=covers)


_FROM_OTHER_LAYERS = {
    "distance_to_structure_m": "structures",
    "distance_to_coal_m": "structures",
    "in_open_water": "water",
    "in_wetland": "wetlands",
}


def _constants(settings: GroundSettings) -> dict[str, float]:
    constants = {"reach_m": settings.reach_m}
    if settings.mean_annual_rain_mm is not None:
        constants["mean_annual_rain_mm"] = settings.mean_annual_rain_mm
    if settings.glaciated != "unknown":
        constants["glaciated"] = float(settings.glaciated == "yes")
    return constants


def _sources(ground: Ground, arrays: Mapping[str, FloatArray]) -> dict[str, str]:
    layers = {name: read_source(ground.layers_folder, name).sentence() for name in ground.layers()}
    sources: dict[str, str] = {name: layers[name] for name in ("soil", "geology") if name in layers}
    for name in arrays:
        if name.startswith("upstream_") and name != "upstream_area_km2":
            sources[name] = f"{layers['geology']}, routed over {layers['elevation']}"
        elif name in _FROM_OTHER_LAYERS:
            sources[name] = layers[_FROM_OTHER_LAYERS[name]]
        else:
            sources[name] = layers["elevation"]
    return sources | dict.fromkeys(_constants(ground.settings), "your setting")


def _missing(there: set[str], settings: GroundSettings, catchment_cut: FloatArray | None) -> tuple[str, ...]:
    sentences = [
        f"No {kind.title.lower()}. {kind.missing}"
        for kind in read_catalogue().kind
        if kind.key not in there and kind.serves in ("defining", "criteria", "land")
    ]
    if settings.mean_annual_rain_mm is None:
        sentences.append(
            "Rain in a year is not set (claywalk set DIR mean_annual_rain_mm=…): climate is left out."
        )
    if settings.glaciated == "unknown":
        sentences.append("Whether ice covered this ground is not set (claywalk set DIR glaciated=yes or no).")
    if "elevation" in there and settings.bankfull_a is None:
        sentences.append("No bankfull curve (bankfull_a, bankfull_b): the energy of floods is left out.")
    share = 0.0 if catchment_cut is None else float(np.mean(catchment_cut == 1))
    if share >= LEAST_CUT_SHARE:
        sentences.append(
            f"On {share:.0%} of this ground the catchment of the stream leaves the elevation data: how large it is and "
            "what rock lies in it are not known there. Elevation from a wider area mends that."
        )
    return tuple(sentences)


def _layer_keys(ground: Ground) -> dict[str, str]:
    folder = ground.layers_folder
    names = ("elevation", "around/elevation", "geology", "soil", "structures", *LAND_LAYERS)
    return {
        name: file_key(path)
        for name in names
        for path in (folder / f"{name}.tif", folder / f"{name}.gpkg")
        if path.is_file()
    }


@lru_cache(maxsize=1)
def _vocabulary_key() -> str:
    files = sorted((layers_folder() / "vocabularies").iterdir())
    files += [layers_folder() / "factors.toml", layers_folder() / "purposes.toml"]
    return content_key(*(file_key(path) for path in files if path.is_file()))

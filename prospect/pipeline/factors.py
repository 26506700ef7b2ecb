"""Builds everything the criteria read: terrain, water, what lies upstream, soil and rock, on the ground's grid."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from prospect.cache import ArrayCache, content_key, file_key
from prospect.catalogue import read_catalogue
from prospect.criteria import ClassLayer, Factors
from prospect.definitions import layers_folder
from prospect.grid import NONE_CODE, Grid, Raster, burn_mask, distance_to, rasterize_classes
from prospect.hydrology import (
    Water,
    cross_valley_position,
    reach_gradient,
    regional_curve,
    specific_stream_power,
    upstream_share,
    valley_floor,
    value_at_channel,
    water,
)
from prospect.land import LandLayers
from prospect.layerfile import read_raster_layer, read_source, read_table, read_vector_layer
from prospect.pipeline.area import ground_grid
from prospect.records import GroundSettings
from prospect.rock import unit_table
from prospect.store import Ground
from prospect.terrain import (
    Surface,
    geomorphons,
    hillslope_position,
    standardise,
    surface,
    topographic_position_index,
)
from prospect.types import BoolArray, FloatArray, IntArray

ALGORITHM = 3
SMALL_RADIUS_M = 100.0
LARGE_RADIUS_M = 1000.0
SEARCH_M = 300.0
FEWEST_CELLS_SEARCHED = 3
"""How far landforms are looked for, and over how many cells at least (own judgement)."""

VALLEY_STREAM_KM2 = 1.0
"""Upstream area from which a stream builds a valley floor of its own (own judgement)."""
REACH_M = 500.0
"""Length over which the fall of a stream is taken (own judgement)."""
LACEY_WIDTH = 4.8
"""Width of a stream in its own alluvium, m, over the root of its discharge, m³/s (Lacey 1930; from memory)."""

LAND_LAYERS = ("parcels", "water", "wetlands", "roads", "keepouts")

UPSTREAM_SHARES = {
    "upstream_source_share": "downstream_share",
    "upstream_carbonate_share": "carbonate_fraction",
    "upstream_mafic_share": "mafic_fraction",
}

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
    "bankfull_a",
    "bankfull_b",
)


@lru_cache(maxsize=2)
def _built(ground: Ground, key: str) -> Landscape:
    grid, settings, there = ground_grid(ground), ground.settings, set(ground.layers())
    geology = _geology(ground, grid) if "geology" in there else None
    arrays = _shape_of_the_land(ground, grid, settings, geology, key) if "elevation" in there else {}
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
        soil=_soil(ground, grid) if "soil" in there else None,
        geology=geology,
        constants=_constants(settings),
        sources=sources,
    )
    return Landscape(
        factors=factors,
        hillshade=None if shade is None else Raster.of(shade, grid, "0-255", sources["slope_pct"]),
        elevation=read_raster_layer(ground.layers_folder, "elevation") if "elevation" in there else None,
        land=_land(ground, grid),
        missing=_missing(there, settings),
    )


def _shape_of_the_land(
    ground: Ground, grid: Grid, settings: GroundSettings, geology: ClassLayer | None, key: str
) -> dict[str, FloatArray]:
    cache = ArrayCache(ground.derived_folder)
    kept = cache.load("terrain", key)
    if kept is not None:
        return {name: values.astype(np.float32, copy=False) for name, values in kept.items()}
    elevation = read_raster_layer(ground.layers_folder, "elevation").values
    shape = surface(elevation, grid.cell_m)
    wet = water(elevation, grid.cell_m, settings.channel_area_km2, _streams(ground, grid), shape.slope_pct)
    arrays = {
        **_landforms(elevation, grid, shape, wet.height_above_drainage_m),
        "height_above_drainage_m": wet.height_above_drainage_m,
        "distance_to_channel_m": wet.distance_to_channel_m,
        "wetness_percentile": percentile_of(wet.wetness_index),
        "depression_depth_m": wet.depression_depth_m,
        "cross_valley_position": _across_the_valley(wet, shape.slope_pct, grid),
        **_of_the_stream(wet, settings, geology),
    }
    arrays = {name: np.asarray(values, np.float32) for name, values in arrays.items()}
    cache.save("terrain", key, arrays)
    return arrays


def _landforms(
    elevation: FloatArray, grid: Grid, shape: Surface, height_above_drainage_m: FloatArray
) -> dict[str, FloatArray]:
    small = standardise(topographic_position_index(elevation, grid.cell_m, SMALL_RADIUS_M))
    large = standardise(topographic_position_index(elevation, grid.cell_m, LARGE_RADIUS_M))
    forms, _ = geomorphons(elevation, grid.cell_m, max(SEARCH_M, FEWEST_CELLS_SEARCHED * grid.cell_m))
    position = hillslope_position(
        large, shape.slope_pct, height_above_drainage_m, forms, shape.profile_curvature
    )
    return {
        "slope_pct": shape.slope_pct,
        "aspect_deg": shape.aspect_deg,
        "profile_curvature": shape.profile_curvature,
        "plan_curvature": shape.plan_curvature,
        "position_small": small,
        "position_large": large,
        "hillslope_position": np.where(position < 0, np.nan, position),
        "hillshade": shape.hillshade,
    }


def _across_the_valley(wet: Water, slope_pct: FloatArray, grid: Grid) -> FloatArray:
    """Return d / W from the streams that build valley floors; from every stream where none is large enough."""
    large = wet.channels & (wet.area_km2 >= VALLEY_STREAM_KM2)
    channels = large if large.any() else wet.channels
    floor = valley_floor(wet.height_above_drainage_m, slope_pct, channels)
    return cross_valley_position(channels, floor, grid.cell_m, ~wet.network.mask)


def _of_the_stream(wet: Water, settings: GroundSettings, geology: ClassLayer | None) -> dict[str, FloatArray]:
    """Return what is known of the stream that each cell drains to; unknown where its catchment leaves the data."""
    whole = ~wet.touches_edge
    of_streams = {"upstream_area_km2": np.where(whole, wet.area_km2, np.nan)}
    if settings.bankfull_a is not None and settings.bankfull_b is not None:
        discharge = regional_curve(of_streams["upstream_area_km2"], settings.bankfull_a, settings.bankfull_b)
        gradient = reach_gradient(wet.filled, wet.network, REACH_M)
        of_streams["stream_power_w_m2"] = specific_stream_power(
            discharge, gradient, LACEY_WIDTH * np.sqrt(discharge)
        )
    if geology is not None:
        for name, column in UPSTREAM_SHARES.items():
            of_streams[name] = upstream_share(
                wet.network, _by_code(geology, column), least_known=0.5, unknown_at_edge=True
            )
    return {name: value_at_channel(values, wet.network, wet.channels) for name, values in of_streams.items()}


def _by_code(layer: ClassLayer, column: str) -> FloatArray:
    table = np.append(layer.table[column].to_numpy(np.float32), np.float32(np.nan))
    return table[layer.codes]


def _streams(ground: Ground, grid: Grid) -> BoolArray | None:
    if "water" not in ground.layers():
        return None
    shapes = read_vector_layer(ground.layers_folder, "water").to_crs(grid.crs)
    mask = burn_mask(list(shapes.geometry), grid)
    return mask if mask.any() else None


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


def _soil(ground: Ground, grid: Grid) -> ClassLayer:
    shapes = read_vector_layer(ground.layers_folder, "soil").to_crs(grid.crs)
    components = read_table(ground.layers_folder, "soil", "components")
    code, units = pd.factorize(shapes["mukey"])
    codes = rasterize_classes(list(shapes.geometry), code.tolist(), grid)
    names = pd.Series(range(len(units)), index=units)
    table = components[components["mukey"].isin(units)].reset_index(drop=True)
    return ClassLayer(codes, table.assign(code=names.loc[table["mukey"]].to_numpy()), "component_name")


def _geology(ground: Ground, grid: Grid) -> ClassLayer:
    shapes = read_vector_layer(ground.layers_folder, "geology").to_crs(grid.crs)
    table = unit_table(shapes, ground.rock_corrections())
    codes = rasterize_classes(list(shapes.geometry), unit_codes(shapes, table).tolist(), grid)
    return ClassLayer(codes, table, "unit")


def unit_codes(shapes: gpd.GeoDataFrame, table: pd.DataFrame) -> IntArray:
    """Return the row of the unit table that each shape belongs to."""
    return pd.Index(table["unit"].astype(str)).get_indexer(shapes["unit"].fillna("").astype(str))


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


def percentile_of(values: FloatArray) -> FloatArray:
    """Return where each value stands among all of them, 0..100 in steps of 0.1, NaN where unknown."""
    known = np.isfinite(values)
    result = np.full(values.shape, np.nan, np.float32)
    picked = values[known]
    if picked.size:
        steps = np.sort(picked)[np.linspace(0, picked.size - 1, 1001).astype(np.intp)]
        result[known] = np.minimum(np.searchsorted(steps, picked, side="right") / np.float32(10), 100)
    return result


def _missing(there: set[str], settings: GroundSettings) -> tuple[str, ...]:
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
    return tuple(sentences)


def _layer_keys(ground: Ground) -> dict[str, str]:
    folder = ground.layers_folder
    return {
        name: file_key(path)
        for name in ("elevation", "geology", "soil", "structures", *LAND_LAYERS)
        for path in (folder / f"{name}.tif", folder / f"{name}.gpkg")
        if path.is_file()
    }


@lru_cache(maxsize=1)
def _vocabulary_key() -> str:
    files = sorted((layers_folder() / "vocabularies").iterdir())
    files += [layers_folder() / "factors.toml", layers_folder() / "purposes.toml"]
    return content_key(*(file_key(path) for path in files if path.is_file()))

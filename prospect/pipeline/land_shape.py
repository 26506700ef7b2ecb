"""What elevation tells of a ground: computed over a wider piece where there is one, and cut to the ground."""

from __future__ import annotations

import numpy as np

from prospect.cache import ArrayCache
from prospect.criteria import ClassLayer
from prospect.grid import Grid, burn_mask
from prospect.hydrology import (
    BreachLimits,
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
from prospect.layerfile import read_vector_layer
from prospect.pipeline.class_layers import rock_layer
from prospect.pipeline.surroundings import cells_of, elevation_around
from prospect.records import GroundSettings
from prospect.store import Ground
from prospect.terrain import (
    Surface,
    geomorphons,
    hillslope_position,
    standardise,
    surface,
    topographic_position_index,
)
from prospect.types import BoolArray, FloatArray

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

UPSTREAM_SHARES = {
    "upstream_source_share": "downstream_share",
    "upstream_carbonate_share": "carbonate_fraction",
    "upstream_mafic_share": "mafic_fraction",
}


def shape_of_the_land(
    ground: Ground, grid: Grid, settings: GroundSettings, key: str
) -> dict[str, FloatArray]:
    """Return what the criteria and the map read of the ground's shape and water, by factor name.

    Parameters
    ----------
    ground
        Has an elevation layer.
    grid
        The ground's grid, whose shape the arrays have (float32, NaN = unknown).
    settings
        Its settings.
    key
        Changes with everything this rests on; the arrays are kept under `derived/` by it.
    """
    cache = ArrayCache(ground.derived_folder)
    kept = cache.load("terrain", key)
    if kept is not None:
        return {name: values.astype(np.float32, copy=False) for name, values in kept.items()}
    wide = elevation_around(ground, grid)
    geology = rock_layer(ground, wide.grid) if "geology" in ground.layers() else None
    here = cells_of(grid, wide.grid)
    arrays = {
        name: np.ascontiguousarray(values[here], np.float32)
        for name, values in _computed(
            wide.values, wide.grid, settings, geology, _streams(ground, wide.grid)
        ).items()
    }
    arrays["wetness_percentile"] = percentile_of(arrays["wetness_percentile"])
    cache.save("terrain", key, arrays)
    return arrays


def _computed(
    elevation: FloatArray,
    grid: Grid,
    settings: GroundSettings,
    geology: ClassLayer | None,
    streams: BoolArray | None,
) -> dict[str, FloatArray]:
    shape = surface(elevation, grid.cell_m)
    breach = BreachLimits() if settings.cut_dams == "yes" else None
    wet = water(elevation, grid.cell_m, settings.channel_area_km2, streams, shape.slope_pct, breach=breach)
    return {
        **_landforms(elevation, grid, shape, wet.height_above_drainage_m),
        "height_above_drainage_m": wet.height_above_drainage_m,
        "distance_to_channel_m": wet.distance_to_channel_m,
        "wetness_percentile": wet.wetness_index,
        "depression_depth_m": wet.depression_depth_m,
        "cross_valley_position": _across_the_valley(wet, shape.slope_pct),
        **_of_the_stream(wet, settings, geology),
    }


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


def _across_the_valley(wet: Water, slope_pct: FloatArray) -> FloatArray:
    """Return d / W from the streams that build valley floors; from every stream where none is large enough."""
    large = wet.channels & (wet.area_km2 >= VALLEY_STREAM_KM2)
    channels = large if large.any() else wet.channels
    floor = valley_floor(wet.height_above_drainage_m, slope_pct, channels)
    return cross_valley_position(channels, floor, ~wet.network.mask)


def _of_the_stream(wet: Water, settings: GroundSettings, geology: ClassLayer | None) -> dict[str, FloatArray]:
    """Return what is known of the stream that each cell drains to; unknown where its catchment leaves the data."""
    whole = ~wet.touches_edge
    of_streams = {
        "upstream_area_km2": np.where(whole, wet.area_km2, np.nan),
        "catchment_cut": wet.touches_edge.astype(np.float32),
    }
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


def percentile_of(values: FloatArray) -> FloatArray:
    """Return where each value stands among all of them, 0..100 in steps of 0.1, NaN where unknown."""
    known = np.isfinite(values)
    result = np.full(values.shape, np.nan, np.float32)
    picked = values[known]
    if picked.size:
        steps = np.sort(picked)[np.linspace(0, picked.size - 1, 1001).astype(np.intp)]
        result[known] = np.minimum(np.searchsorted(steps, picked, side="right") / np.float32(10), 100)
    return result


def _by_code(layer: ClassLayer, column: str) -> FloatArray:
    table = np.append(layer.table[column].to_numpy(np.float32), np.float32(np.nan))
    return table[layer.codes]


def _streams(ground: Ground, grid: Grid) -> BoolArray | None:
    if "water" not in ground.layers():
        return None
    shapes = read_vector_layer(ground.layers_folder, "water").to_crs(grid.crs)
    mask = burn_mask(list(shapes.geometry), grid)
    return mask if mask.any() else None

"""Soil and rock as codes on a grid, with a table of what each code means."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd

from prospect.criteria import ClassLayer
from prospect.grid import Grid, rasterize_classes
from prospect.layerfile import read_table, read_vector_layer
from prospect.rock import unit_table
from prospect.store import Ground
from prospect.types import IntArray


def soil_layer(ground: Ground, grid: Grid) -> ClassLayer:
    """Return the soil survey's map units with their components."""
    shapes = read_vector_layer(ground.layers_folder, "soil").to_crs(grid.crs)
    components = read_table(ground.layers_folder, "soil", "components")
    code, units = pd.factorize(shapes["mukey"])
    codes = rasterize_classes(list(shapes.geometry), code.tolist(), grid)
    names = pd.Series(range(len(units)), index=units)
    table = components[components["mukey"].isin(units)].reset_index(drop=True)
    return ClassLayer(codes, table.assign(code=names.loc[table["mukey"]].to_numpy()), "component_name")


def rock_layer(ground: Ground, grid: Grid) -> ClassLayer:
    """Return the rock map's units with how each was read."""
    shapes = read_vector_layer(ground.layers_folder, "geology").to_crs(grid.crs)
    table = unit_table(shapes, ground.rock_corrections())
    codes = rasterize_classes(list(shapes.geometry), unit_codes(shapes, table).tolist(), grid)
    return ClassLayer(codes, table, "unit")


def unit_codes(shapes: gpd.GeoDataFrame, table: pd.DataFrame) -> IntArray:
    """Return the row of the unit table that each shape belongs to."""
    return pd.Index(table["unit"].astype(str)).get_indexer(shapes["unit"].fillna("").astype(str))

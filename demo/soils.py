"""Lays the invented soils over the landscape: each where such ground would carry it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from . import rocks
from .frame import Frame
from .geology import FLOODPLAIN, LAKE, LEVEE, TERRACE
from .landscape import LIME_BROOK, Landscape
from .lines import curve, nearness, travelled
from .noise import Floats, blur, noise
from .soil_units import SOIL_UNITS

CODE = {unit.symbol: code for code, unit in enumerate(SOIL_UNITS)}


def soil_map(
    frame: Frame, units: NDArray[np.int32], land: Landscape, gap: NDArray[np.bool_], rng: np.random.Generator
) -> NDArray[np.int32]:
    """Return the class of the soil map unit of every cell, margins included.

    Parameters
    ----------
    frame, units, land
        The grid, the rock map's classes and the landscape.
    gap
        Cells where no survey was made.
    rng
        Seeded source of the unevenness of soil lines.
    """
    slope = _slope_pct(frame, land.height) + 1.1 * noise(rng, frame.shape, 40, 2)
    soil = _upland(units, slope)
    metres = land.river.distance * frame.cell_m
    uneven = noise(rng, frame.shape, 60, 3)
    backswamp = metres > 235 + 50 * uneven
    soil = np.where(units == FLOODPLAIN, np.where(backswamp, CODE["SaA"], CODE["OsA"]), soil)
    soil = np.where(units == LEVEE, CODE["TkA"], soil)
    soil = np.where((units == FLOODPLAIN) & (blur(land.oxbow.astype(float), 4) > 0.12), CODE["SaA"], soil)
    soil = np.where(units == TERRACE, CODE["TfA"], soil)
    soil = np.where(units == LAKE, CODE["LmA"], soil)
    brook, limy = _bottoms(frame, land)
    upland = units < LEVEE
    soil = np.where(brook & upland & (slope < 9), CODE["BkB"], soil)
    soil = np.where(limy & ((slope < 9) | ~upland), CODE["MrA"], soil)
    soil = np.where(land.river_wet, CODE["W"], soil)
    return np.where(gap, CODE["NOTCOM"], soil).astype(np.int32)


def _upland(units: NDArray[np.int32], slope: Floats) -> NDArray[np.int64]:
    soil = np.full(units.shape, CODE["SkB"])
    granite = np.isin(units, (rocks.GRANITE, rocks.PEGMATITE))
    by_slope = np.where(slope < 8.5, CODE["OmB"], np.where(slope < 17, CODE["OqC"], CODE["QdE"]))
    soil = np.where(granite, by_slope, soil)
    soil = np.where(units == rocks.GNEISS, np.where(slope < 17, CODE["VeC"], CODE["VdE"]), soil)
    shale = np.where(slope < 11, CODE["SkB"], CODE["ShD"])
    soil = np.where(units == rocks.SHALE, shale, soil)
    for rock, symbol in (
        (rocks.SANDSTONE, "RuD"),
        (rocks.LIMESTONE, "PmC"),
        (rocks.TUFF, "WyC"),
        (rocks.MUDSTONE, "DuC"),
        (rocks.COAL, "CmC"),
        (rocks.DYKE, "TrD"),
    ):
        soil = np.where(units == rock, CODE[symbol], soil)
    return soil


def _bottoms(frame: Frame, land: Landscape) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return the strips along brooks, and those whose water comes from the limestone."""
    drawn = np.zeros(frame.shape)
    for path, mouth_km2 in land.streams:
        row, col = np.clip(np.round(path).astype(int).T, 0, np.array(frame.shape)[:, None] - 1)
        drawn[row, col] = np.maximum(drawn[row, col], np.sqrt(min(mouth_km2, 9.0)))
    brook = blur(drawn, 3.2) > 0.11
    row, col = frame.cell(LIME_BROOK[:, 0], LIME_BROOK[:, 1])
    path = curve(np.column_stack([row, col]), 6)
    near = nearness(path, frame.shape, 60)
    share = near.along / travelled(path)[-1]
    limy = (near.distance * frame.cell_m < 60 + 480 * np.clip(share - 0.72, 0, 1)) & (share > 0.3)
    return brook, limy


def _slope_pct(frame: Frame, height: Floats) -> Floats:
    down, right = np.gradient(blur(height, 2.5), frame.cell_m)
    return 100 * np.hypot(down, right)

"""The place of a cell on its hillslope, from summit to toeslope, by an ordered list of rules."""

from __future__ import annotations

import numpy as np

from prospect.terrain.forms import GEOMORPHON_NAMES
from prospect.types import BoolArray, FloatArray, IntArray

HILLSLOPE_NAMES = (
    "pit",
    "toeslope",
    "valley",
    "summit",
    "flat_upland",
    "flat_lowland",
    "shoulder",
    "spur",
    "footslope",
    "backslope",
)
UNKNOWN = -1

# Limits of the rules (own judgement, after the five-part profile of the US soil survey).
TOESLOPE_SLOPE_PCT = 5.0
TOESLOPE_HEIGHT_M = 5.0
SUMMIT_SLOPE_PCT = 8.0
SUMMIT_POSITION = 0.5


def hillslope_position(
    position: FloatArray,
    slope_pct: FloatArray,
    height_above_drainage_m: FloatArray | None,
    forms: IntArray,
    profile_curvature: FloatArray,
) -> IntArray:
    """Return the hillslope position as int8 codes into `HILLSLOPE_NAMES`, -1 = unknown; the first match wins.

    Parameters
    ----------
    position : array
        Standardised large-scale topographic position index.
    slope_pct : array, same shape, per cent
    height_above_drainage_m : array of the same shape, or None
        Where it is unknown no toeslope is claimed: low flat ground then reads as valley, flat lowland,
        footslope or backslope by its form alone.
    forms : array, same shape
        Codes into ``GEOMORPHON_NAMES``, -1 = unknown.
    profile_curvature : array, same shape, 1/m
        Positive = convex; NaN (level ground) counts as not convex.

    Notes
    -----
    1 pit: form pit. 2 toeslope: slope below 5 %, less than 5 m above drainage, form flat, valley, footslope or
    hollow. 3 valley: form valley. 4 summit: form peak; or flat or ridge, position at least 0.5, slope below
    8 %. 5 flat upland: form flat, position at least 0. 6 flat lowland: form flat. 7 shoulder: form shoulder.
    8 spur: form ridge or spur. 9 footslope: form footslope. 10 slope or hollow: shoulder if position above 0,
    convex and slope below 8 %, else backslope. A cell is unknown when a rule that would decide it reads an
    unknown slope or position.
    """
    form = np.asarray(forms)
    t, slope = np.asarray(position), np.asarray(slope_pct)
    known_t, known_slope = np.isfinite(t), np.isfinite(slope)
    gentle = slope < SUMMIT_SLOPE_PCT
    convex = np.asarray(profile_curvature) > 0
    flat, slopes = _is(form, "flat"), _is(form, "slope", "hollow")
    level_or_ridge = _is(form, "flat", "ridge")
    code = {name: index for index, name in enumerate(HILLSLOPE_NAMES)}
    rules: list[tuple[BoolArray, int]] = [
        (_is(form, "pit"), code["pit"]),
        (~known_slope, UNKNOWN),
        (_is_toeslope(form, slope, height_above_drainage_m), code["toeslope"]),
        (_is(form, "valley"), code["valley"]),
        (_is(form, "peak"), code["summit"]),
        (level_or_ridge & gentle & (t >= SUMMIT_POSITION), code["summit"]),
        (level_or_ridge & gentle & ~known_t, UNKNOWN),
        (flat & (t >= 0), code["flat_upland"]),
        (flat & known_t, code["flat_lowland"]),
        (_is(form, "shoulder"), code["shoulder"]),
        (_is(form, "ridge", "spur"), code["spur"]),
        (_is(form, "footslope"), code["footslope"]),
        (slopes & gentle & convex & (t > 0), code["shoulder"]),
        (slopes & gentle & convex & ~known_t, UNKNOWN),
        (slopes, code["backslope"]),
    ]
    conditions, codes = zip(*rules, strict=True)
    return np.select(list(conditions), [np.int8(value) for value in codes], default=np.int8(UNKNOWN))


def _is_toeslope(form: IntArray, slope: FloatArray, height: FloatArray | None) -> BoolArray:
    if height is None:
        return np.zeros(form.shape, dtype=np.bool_)
    low = (np.asarray(height) < TOESLOPE_HEIGHT_M) & (slope < TOESLOPE_SLOPE_PCT)
    return low & _is(form, "flat", "valley", "footslope", "hollow")


def _is(form: IntArray, *names: str) -> BoolArray:
    wanted = np.zeros(len(GEOMORPHON_NAMES) + 1, dtype=np.bool_)
    for name in names:
        wanted[GEOMORPHON_NAMES.index(name)] = True
    # The last entry answers for -1, unknown.
    return wanted[form]

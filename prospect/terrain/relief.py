"""How high a cell lies above or below its surroundings, and the slope positions read from that."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from scipy.ndimage import uniform_filter

from prospect.terrain import _kernels as kernels
from prospect.terrain.derivatives import as_elevation, check_cell
from prospect.types import BoolArray, FloatArray, IntArray

SLOPE_POSITION_NAMES = ("valley", "lower", "flat", "middle", "upper", "ridge")
TEN_LANDFORM_NAMES = (
    "canyon",
    "midslope_drainage",
    "upland_drainage",
    "u_valley",
    "plain",
    "open_slope",
    "upper_slope",
    "local_ridge_in_valley",
    "midslope_ridge",
    "mountain_top",
)
UNKNOWN = -1

LEAST_RADIUS_CELLS = 1.5
# The corner of a grid sees a quarter of its neighbourhood; less than that says nothing about the surroundings.
LEAST_KNOWN_SHARE = 0.25
# A spread below a centimetre is the rounding of the elevation model, not relief (own judgement).
LEAST_SPREAD_M = 0.01
FLAT_SLOPE_DEG = 5.0
LEAST_STEP_BITS = 14
"""Heights are summed in steps no larger than a sixteenth of a millimetre."""
_NO_REST = np.empty((0, 0), np.int64)


def topographic_position_index(
    elevation: FloatArray,
    cell_m: float,
    radius_m: float,
    *,
    window: Literal["square", "disk"] = "square",
) -> FloatArray:
    """Return height above the mean of the surroundings, in metres (Weiss 2001).

    Parameters
    ----------
    elevation : array, shape (rows, cols), metres
        NaN is unknown.
    cell_m : float
        Side of a square cell in metres.
    radius_m : float
        Reach of the neighbourhood in metres; half the side for a square.
    window : 'square' or 'disk'
        A square costs the same at every radius, a disk costs with its radius.

    Returns
    -------
    array, shape (rows, cols), float32
        The cell itself is not part of its surroundings. All NaN when the radius is below one and a half
        cells; NaN where less than a quarter of the neighbourhood is known.

    Notes
    -----
    Heights are summed as whole numbers of steps far below the rounding of float32, so that a cell's value does not
    depend on where the sums began: a part of a grid with its surroundings gives what the whole gives.
    """
    z, cell = as_elevation(elevation), check_cell(cell_m)
    out = np.full(z.shape, np.nan, dtype=np.float32)
    known = np.isfinite(z)
    if not (radius_m >= LEAST_RADIUS_CELLS * cell) or not known.any():
        return out
    halves = _half_chords(radius_m / cell, window)
    others = int(np.sum(2 * halves + 1)) - 1
    least = math.ceil(LEAST_KNOWN_SHARE * others)
    # As many small steps to the metre as a sum of that many heights leaves room for.
    room = 62 - others.bit_length() - max(14, math.frexp(max(float(np.nanmax(z)), -float(np.nanmin(z))))[1])
    bits = others.bit_length() + 1
    if room - bits >= LEAST_STEP_BITS:
        _sum_others(z, halves, window, (least, math.ldexp(1.0, min(room - bits, 30)), bits, out, _NO_REST))
        return out
    per_metre = math.ldexp(1.0, min(room, 30))
    sums, counts = np.empty(z.shape, np.int64), np.empty(z.shape, np.int64)
    _sum_others(z, halves, window, (least, per_metre, 0, out, sums))
    _sum_others(z, halves, window, (least, 0.0, 0, out, counts))
    enough = known & (counts >= least)
    out[enough] = z[enough] - (sums[enough] - counts[enough]) / counts[enough] / per_metre
    return out


def _sum_others(z: FloatArray, halves: IntArray, window: str, rest: tuple[object, ...]) -> None:
    if window == "square":
        kernels.square_position(z, halves.size // 2, *rest)
    else:
        kernels.disk_position(z, halves, *rest)


def _half_chords(radius: float, window: str) -> IntArray:
    """Return for each row of a window of a radius in cells how many cells it reaches to either side."""
    reach = math.floor(radius + 1e-9)
    if window == "square":
        return np.full(2 * reach + 1, reach, dtype=np.int64)
    if window == "disk":
        offset = np.arange(-reach, reach + 1, dtype=np.float64)
        return np.floor(np.sqrt(np.maximum(radius * radius + 1e-9 - offset**2, 0.0))).astype(np.int64)
    raise ValueError(f"Invalid window '{window}'. It must be 'square' or 'disk'.")


def smoothed(elevation: FloatArray, cell_m: float, over_m: float = 10.0) -> FloatArray:
    """Return the mean height of the known cells in a square of side `over_m`, float32; unknown stays unknown.

    For fine elevation models before curvature: noise of a hand's breadth on 1 m cells reads as steep ground,
    so smooth to 5 to 10 m first (own judgement). The side is the odd number of cells that comes nearest; a
    square of one cell changes nothing.
    """
    z, cell = as_elevation(elevation), check_cell(cell_m)
    side = 2 * round(max(over_m / cell - 1.0, 0.0) / 2.0) + 1
    known = np.isfinite(z)
    if side == 1 or not known.any():
        return z.copy()
    level = float(z[known].mean(dtype=np.float64))
    height = uniform_filter(np.where(known, z - level, 0.0), side, mode="constant")
    share = uniform_filter(known.astype(np.float64), side, mode="constant")
    out = np.full(z.shape, np.nan, dtype=np.float32)
    out[known] = height[known] / share[known] + level
    return out


def standardise(tpi: FloatArray) -> FloatArray:
    """Return (index - mean) / standard deviation over the known cells, float32.

    Where the whole grid varies by less than a centimetre nothing stands out, and every known cell is 0.
    """
    given = np.asarray(tpi, dtype=np.float64)
    known = np.isfinite(given)
    out = np.full(given.shape, np.nan, dtype=np.float32)
    if not known.any():
        return out
    values = given[known]
    spread = float(values.std())
    out[known] = (values - values.mean()) / spread if spread >= LEAST_SPREAD_M else 0.0
    return out


def slope_position(standardised: FloatArray, slope: FloatArray) -> IntArray:
    """Return the six slope positions of Weiss (2001) as codes into `SLOPE_POSITION_NAMES`, -1 = unknown.

    Parameters
    ----------
    standardised : array
        Standardised topographic position index.
    slope : array, same shape, degrees
        Read only near the mean, where 5 degrees part flat from middle slope.
    """
    t = np.asarray(standardised)
    s = np.asarray(slope)
    code = {name: index for index, name in enumerate(SLOPE_POSITION_NAMES)}
    near = (t >= -0.5) & (t <= 0.5)
    rules: list[tuple[BoolArray, int]] = [
        (t > 1.0, code["ridge"]),
        ((t > 0.5) & (t <= 1.0), code["upper"]),
        (near & (s > FLAT_SLOPE_DEG), code["middle"]),
        (near & (s <= FLAT_SLOPE_DEG), code["flat"]),
        ((t >= -1.0) & (t < -0.5), code["lower"]),
        (t < -1.0, code["valley"]),
    ]
    return _first_match(rules)


def ten_landforms(small: FloatArray, large: FloatArray, slope: FloatArray) -> IntArray:
    """Return Weiss's ten landforms as codes into `TEN_LANDFORM_NAMES`, -1 = unknown.

    Parameters
    ----------
    small, large : arrays of the same shape
        Standardised topographic position index at a short and a long radius; cut at one deviation.
    slope : array, same shape, degrees
        Parts plain from open slope.
    """
    few, many = np.asarray(small), np.asarray(large)
    s = np.asarray(slope)
    sunk, mid, raised = few <= -1, np.abs(few) < 1, few >= 1
    low, level, high = many <= -1, np.abs(many) < 1, many >= 1
    cases: list[BoolArray] = [
        sunk & low,
        sunk & level,
        sunk & high,
        mid & low,
        mid & level & (s <= FLAT_SLOPE_DEG),
        mid & level & (s > FLAT_SLOPE_DEG),
        mid & high,
        raised & low,
        raised & level,
        raised & high,
    ]
    return _first_match([(case, index) for index, case in enumerate(cases)])


def _first_match(rules: list[tuple[BoolArray, int]]) -> IntArray:
    conditions, codes = zip(*rules, strict=True)
    return np.select(list(conditions), [np.int8(code) for code in codes], default=np.int8(UNKNOWN))

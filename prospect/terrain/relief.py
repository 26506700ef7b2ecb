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
        A square costs the same at every radius; a disk goes through a Fourier transform.

    Returns
    -------
    array, shape (rows, cols), float32
        The cell itself is not part of its surroundings. All NaN when the radius is below one and a half
        cells; NaN where less than a quarter of the neighbourhood is known.
    """
    z, cell = as_elevation(elevation), check_cell(cell_m)
    out = np.full(z.shape, np.nan, dtype=np.float32)
    known = np.isfinite(z)
    if not (radius_m >= LEAST_RADIUS_CELLS * cell) or not known.any():
        return out
    radius = radius_m / cell
    # Sums of heights near nought keep their small digits.
    level = float(z[known].mean(dtype=np.float64))
    height = np.where(known, z - np.float32(level), np.float32(0.0))
    if window == "square":
        reach = math.floor(radius + 1e-9)
        least = math.ceil(LEAST_KNOWN_SHARE * ((2 * reach + 1) ** 2 - 1))
        sums, counts = np.zeros(z.shape[1]), np.zeros(z.shape[1], dtype=np.int32)
        kernels.square_position(height, known, reach, least, sums, counts, out)
        return out
    if window == "disk":
        return _disk_position(height, known, radius)
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


def _disk_position(height: FloatArray, known: BoolArray, radius: float) -> FloatArray:
    from scipy.signal import oaconvolve  # costs every command most of a second, and only this window needs it

    reach = math.floor(radius + 1e-9)
    offset = np.arange(-reach, reach + 1, dtype=np.float64)
    disk = (offset[:, None] ** 2 + offset[None, :] ** 2 <= radius * radius + 1e-9).astype(np.float64)
    disk[reach, reach] = 0.0
    total = oaconvolve(height.astype(np.float64), disk, mode="same")
    count = np.rint(oaconvolve(known.astype(np.float64), disk, mode="same"))
    enough = known & (count >= math.ceil(LEAST_KNOWN_SHARE * disk.sum()))
    out = np.full(height.shape, np.nan, dtype=np.float32)
    out[enough] = height[enough] - total[enough] / count[enough]
    return out

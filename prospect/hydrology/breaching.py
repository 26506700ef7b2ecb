"""Hollows that stand behind a dam of the elevation model's own making: a road, a bridge, a hedge, cut through."""

from __future__ import annotations

import numpy as np

from prospect.hydrology import _kernels as kernels
from prospect.hydrology.depressions import fill_depressions, known_elevation
from prospect.hydrology.network import flow_direction
from prospect.types import BoolArray, FloatArray


def breach_depressions(
    elevation: FloatArray, cell_m: float, max_depth_m: float = 5.0, max_length_m: float = 100.0
) -> FloatArray:
    """Return the ground with a trench from each pit to lower ground, where a short and shallow one will do.

    Parameters
    ----------
    elevation : array, shape (rows, cols), metres
        NaN is unknown.
    cell_m : float
        Side of a square cell in metres.
    max_depth_m : float
        No trench is dug deeper than this at any cell.
    max_length_m : float
        Nor over more cells than this length holds.

    Returns
    -------
    array, shape (rows, cols), float32
        Never above the input. Hollows beyond the limits are left as they are, and a trench is level, so fill
        afterwards (`fill_depressions`).

    Raises
    ------
    ValueError
        If a limit is negative.

    Notes
    -----
    A trench follows the flow over the filled hollow, pits from low to high, as in breaching with limits
    (Lindsay & Dhun 2015), but along the shortest way over the spill point rather than the least dug one.
    """
    if not (max_depth_m >= 0 and max_length_m >= 0):
        raise ValueError(f"Invalid limits {max_depth_m} and {max_length_m}. They must be 0 m or more.")
    filled = fill_depressions(elevation)
    network = flow_direction(filled, cell_m)
    z, known = known_elevation(elevation)
    z = z.copy()
    pits = np.flatnonzero((filled > z) & known & _is_lowest(z, known))
    pits = pits[np.argsort(z.ravel()[pits], kind="stable")].astype(np.int32)
    kernels.carve(z.ravel(), network.downstream, pits, int(max_length_m / cell_m + 1e-9), float(max_depth_m))
    z[~known] = np.nan
    return z


def _is_lowest(z: FloatArray, known: BoolArray) -> BoolArray:
    """Return the cells without a lower known neighbour."""
    framed = np.pad(np.where(known, z, np.float32(np.inf)), 1, constant_values=np.inf)
    rows, cols = z.shape
    lowest = known.copy()
    for i in range(3):
        for j in range(3):
            lowest &= framed[i : i + rows, j : j + cols] >= z
    return lowest

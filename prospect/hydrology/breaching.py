"""Hollows that stand behind a dam of the elevation model's own making: a road, a bridge, a hedge, cut through."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import label

from prospect.hydrology import _kernels as kernels
from prospect.hydrology.depressions import edge_cells, fill_depressions, known_elevation
from prospect.types import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, slots=True)
class BreachLimits:
    """How deep and how long a trench may be, in metres (own judgement: a road or farm dam, not a ridge)."""

    max_depth_m: float = 5.0
    max_length_m: float = 100.0


def breach_depressions(
    elevation: FloatArray, cell_m: float, max_depth_m: float = 5.0, max_length_m: float = 100.0
) -> FloatArray:
    """Return the ground with the least dug trench from each pit to lower ground, where the limits allow one.

    Parameters
    ----------
    elevation : array, shape (rows, cols), metres
        NaN is unknown.
    cell_m : float
        Side of a square cell in metres.
    max_depth_m : float
        No cell is dug deeper than this.
    max_length_m : float
        Nor does it run over more cells than this length holds.

    Returns
    -------
    array, shape (rows, cols), float32
        Never above the input. Hollows beyond the limits are left as they are, and a trench is level, so fill
        afterwards (`fill_depressions`).

    Raises
    ------
    ValueError
        If a limit is negative or the cell has no length.

    Notes
    -----
    Least-cost breaching after Lindsay & Dhun (2015), "Modelling surface drainage patterns in altered landscapes using
    LiDAR", International Journal of Geographical Information Science 29: pits from low to high, each by the way whose
    depths dug, summed over its cells, are least; of equal ones the shorter. A level pit is one pit, and its trench is
    measured from its shore.
    """
    if not (max_depth_m >= 0 and max_length_m >= 0):
        raise ValueError(f"Invalid limits {max_depth_m} and {max_length_m}. They must be 0 m or more.")
    if not (np.isfinite(cell_m) and cell_m > 0):
        raise ValueError(f"Invalid cell size '{cell_m}'. It must be a positive number of metres.")
    filled = fill_depressions(elevation)
    z, known = known_elevation(elevation)
    z = z.copy()
    pits, starts = _level_pits((filled > z) & known & _is_lowest(z, known), z)
    most_cells = int(min(max_length_m / cell_m + 1e-9, z.size))
    kernels.breach(z, edge_cells(known), known, pits, starts, most_cells, float(max_depth_m))
    z[~known] = np.nan
    return z


def _level_pits(lowest: BoolArray, z: FloatArray) -> tuple[IntArray, IntArray]:
    """Return the cells pit by pit, the lowest pit first, and where each pit begins in them, with the end.

    Neighbours of which none is lower than the other are level, so that a pit is a patch that hangs together.
    """
    patches, _ = label(lowest, structure=np.ones((3, 3)))
    cells = np.flatnonzero(lowest)
    cells = cells[np.lexsort((cells, patches.ravel()[cells], z.ravel()[cells]))].astype(np.int32)
    sizes = np.flatnonzero(np.diff(patches.ravel()[cells], prepend=0))
    return cells, np.append(sizes, cells.size).astype(np.int64)


def _is_lowest(z: FloatArray, known: BoolArray) -> BoolArray:
    """Return the cells without a lower known neighbour."""
    framed = np.pad(np.where(known, z, np.float32(np.inf)), 1, constant_values=np.inf)
    rows, cols = z.shape
    lowest = known.copy()
    for i in range(3):
        for j in range(3):
            lowest &= framed[i : i + rows, j : j + cols] >= z
    return lowest

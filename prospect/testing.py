"""Ground with known answers, for our own tests and for people who check their installation."""

from __future__ import annotations

import math

import numpy as np

from prospect.types import FloatArray


def plane(
    shape: tuple[int, int], cell_m: float, slope_pct: float, aspect_deg: float, base_m: float = 100.0
) -> FloatArray:
    """Return a tilted plane: the same slope and aspect everywhere, curvature nought, nothing to fill.

    Parameters
    ----------
    shape : (rows, cols)
    cell_m : float
        Side of a cell in metres.
    slope_pct : float
        Rise over run in per cent.
    aspect_deg : float
        Compass bearing that the plane faces (downhill).
    base_m : float
        Height at the centre of the grid.

    Returns
    -------
    array, shape (rows, cols), float64, metres
    """
    east, north = _offsets(shape, cell_m)
    bearing = math.radians(aspect_deg)
    return base_m - slope_pct / 100.0 * (east * math.sin(bearing) + north * math.cos(bearing))


def cone(shape: tuple[int, int], cell_m: float, slope_pct: float, top_m: float = 1000.0) -> FloatArray:
    """Return a cone with its top at the centre of the grid.

    Away from the top the slope is `slope_pct`, the aspect points away from the centre, the profile curvature
    is nought and the plan curvature ``slope / (100 r)`` at distance r in metres.
    """
    east, north = _offsets(shape, cell_m)
    return top_m - slope_pct / 100.0 * np.hypot(east, north)


def bowl(
    shape: tuple[int, int], cell_m: float, rim_m: float, spill_m: float, bottom_m: float = 0.0
) -> FloatArray:
    """Return a round hollow with a level rim and one notch: filled, it stands at `spill_m`.

    Parameters
    ----------
    shape : (rows, cols)
        At least 5 by 5.
    cell_m : float
        Side of a cell in metres.
    rim_m, spill_m, bottom_m : float
        Heights of the rim, of the notch through it (due east of the centre) and of the centre;
        ``bottom_m < spill_m < rim_m``.

    Raises
    ------
    ValueError
        If the heights are not in that order.
    """
    if not bottom_m < spill_m < rim_m:
        raise ValueError(
            f"Invalid heights {bottom_m}, {spill_m}, {rim_m}. They must be bottom < spill < rim."
        )
    east, north = _offsets(shape, cell_m)
    radius = (min(shape) // 2 - 1) * cell_m
    share = np.minimum((east**2 + north**2) / radius**2, 1.0)
    z = bottom_m + (rim_m - bottom_m) * share
    middle = shape[0] // 2
    notch = z[middle, shape[1] // 2 :]
    notch[notch > spill_m] = spill_m
    return z


def v_valley(
    shape: tuple[int, int], cell_m: float, side_pct: float, fall_pct: float, base_m: float = 100.0
) -> FloatArray:
    """Return a straight valley that falls to the south between two planes.

    Where ``fall_pct < 0.41 side_pct`` water runs straight to the stream in the middle column, and the height
    above it is ``side_pct / 100`` times the distance to it.
    """
    rows, cols = shape
    across = np.abs(np.arange(cols) - cols // 2) * cell_m
    along = (rows - 1 - np.arange(rows)) * cell_m
    return base_m + across[None, :] * side_pct / 100.0 + along[:, None] * fall_pct / 100.0


def _offsets(shape: tuple[int, int], cell_m: float) -> tuple[FloatArray, FloatArray]:
    rows, cols = shape
    east = (np.arange(cols) - cols // 2) * cell_m
    north = (rows // 2 - np.arange(rows)) * cell_m
    return np.broadcast_to(east[None, :], shape), np.broadcast_to(north[:, None], shape)

"""Water on a coarse grid: where it runs, how much gathers, and how it wears the ground down."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from prospect.hydrology import fill_depressions, flow_direction

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]

NEIGHBOURS = ((-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1))


def receivers(height: Floats, fixed: Mask) -> tuple[Ints, Floats]:
    """Return for every cell the flat index of its steepest lower neighbour, itself where none or fixed.

    The second array holds the distance to it in cells (1 for the cells that keep their water).
    """
    rows, cols = height.shape
    padded = np.pad(height, 1, constant_values=np.inf)
    best = np.zeros(height.shape)
    index = np.arange(rows * cols).reshape(rows, cols)
    receiver = index.copy()
    distance = np.ones(height.shape)
    for dr, dc in NEIGHBOURS:
        length = float(np.hypot(dr, dc))
        drop = (height - padded[1 + dr : 1 + dr + rows, 1 + dc : 1 + dc + cols]) / length
        better = drop > best
        best = np.where(better, drop, best)
        receiver = np.where(better, index + dr * cols + dc, receiver)
        distance = np.where(better, length, distance)
    receiver[fixed] = index[fixed]
    return receiver.ravel(), distance.ravel()


def levels(receiver: Ints) -> list[Ints]:
    """Return the cells grouped by their number of steps to the end of their path, the ends first."""
    steps = (receiver != np.arange(receiver.size)).astype(np.int32)
    onward = receiver.copy()
    while True:
        more = steps[onward]
        if not more.any():
            break
        steps += more
        onward = onward[onward]
    order = np.argsort(steps, kind="stable")
    return np.split(order, np.cumsum(np.bincount(steps))[:-1])


def gather(receiver: Ints, groups: list[Ints], amount: Floats) -> Floats:
    """Return what each cell yields plus all that comes down to it."""
    total = amount.copy()
    for cells in reversed(groups[1:]):
        np.add.at(total, receiver[cells], total[cells])
    return total


def fill(height: Floats, drain: Mask, rise: float = 1e-3) -> Floats:
    """Return the surface with every hollow raised, a little tilted, until it runs out over `drain` cells."""
    ground = np.where(drain, np.nan, height).astype(np.float32)
    downstream = flow_direction(fill_depressions(ground), 1.0).downstream.astype(np.int64)
    receiver = np.where(downstream < 0, np.arange(height.size), downstream)
    flat = height.ravel().copy()
    for cells in levels(receiver)[1:]:
        flat[cells] = np.maximum(flat[cells], flat[receiver[cells]] + rise)
    return flat.reshape(height.shape)


def wear(height: Floats, fixed: Mask, hardness: Floats, strength: float, creep: float) -> Floats:
    """Return the surface after one step of stream wear and hillslope creep; `fixed` cells stay.

    Implicit stream-power step with slope exponent 1 and area exponent ½, as in Braun & Willett (2013),
    carried out level by level from the outlets up.
    """
    receiver, distance = receivers(height, fixed)
    groups = levels(receiver)
    area = gather(receiver, groups, np.ones(receiver.size))
    factor = strength * np.sqrt(area) / distance / hardness.ravel()
    flat = height.ravel().copy()
    for cells in groups[1:]:
        f = factor[cells]
        flat[cells] = (flat[cells] + f * flat[receiver[cells]]) / (1 + f)
    worn = flat.reshape(height.shape)
    padded = np.pad(worn, 1, mode="edge")
    mean = (padded[:-2, 1:-1] + padded[2:, 1:-1] + padded[1:-1, :-2] + padded[1:-1, 2:]) / 4
    slope_cells = (area.reshape(height.shape) < 5) & ~fixed
    return np.where(slope_cells, worn + creep * (mean - worn), worn)

"""Which cell drains into which: the flow network that everything about water is read from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from prospect.hydrology import _kernels as kernels
from prospect.hydrology.depressions import by_rows, edge_cells, known_elevation
from prospect.types import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, slots=True, eq=False)
class FlowNetwork:
    """One way down for every cell.

    Attributes
    ----------
    downstream : int32 array, shape (rows * cols,)
        Flat index of the cell that each cell drains into; -1 where the water leaves the data, where it ends in
        a hollow that was not filled, and on unknown cells.
    order : int32 array, shape (known cells,)
        Flat indices so that every cell comes after all those that drain into it.
    shape : (rows, cols)
    cell_m : float
        Side of a cell in metres.
    mask : bool array, shape (rows, cols)
        True = no data.
    touches_edge : bool array, shape (rows, cols)
        True where the catchment holds a cell at the edge of the data (the outermost ring, or beside an unknown
        cell): more water may come from beyond, so upstream area is a lower bound there.
    """

    downstream: IntArray
    order: IntArray
    shape: tuple[int, int]
    cell_m: float
    mask: BoolArray
    touches_edge: BoolArray

    def step_m(self) -> FloatArray:
        """Return the length of the step from each cell to the one below, (rows, cols) float32, NaN without one."""
        cell = np.arange(self.downstream.size, dtype=np.int32)
        cols = self.shape[1]
        slanted = (cell // cols != self.downstream // cols) & (cell % cols != self.downstream % cols)
        length = np.where(slanted, np.float32(self.cell_m * 2.0**0.5), np.float32(self.cell_m))
        length[self.downstream < 0] = np.nan
        return length.reshape(self.shape)


def flow_direction(filled: FloatArray, cell_m: float) -> FlowNetwork:
    """Return the network of steepest descent to one of eight neighbours (O'Callaghan & Mark 1984).

    Parameters
    ----------
    filled : array, shape (rows, cols), metres
        Ground without hollows (`fill_depressions`); NaN is unknown. A hollow left in ends the flow there.
    cell_m : float
        Side of a square cell in metres.

    Notes
    -----
    Of equal descents the first counts, in the order east, south-east, south and on round to north-east. Level
    ground drains by breadth-first search towards its nearest way down, so paths across it are as short as they
    can be; of several neighbours one step nearer the first counts: east, south, west, north, then the corners.
    A cell at the edge of the data drains out only where the level it lies on has no way down inside.
    """
    if not (np.isfinite(cell_m) and cell_m > 0):
        raise ValueError(f"Invalid cell size '{cell_m}'. It must be a positive number of metres.")
    z, known = known_elevation(filled)
    edge = edge_cells(known)
    downstream = np.empty(z.shape, dtype=np.int32)
    level = by_rows(
        z.shape[0], z.size, lambda first, last: kernels.steepest_descent(z, known, first, last, downstream)
    )
    if any(level):
        _drain_level(z, edge, known & (downstream < 0), downstream)
    flat, mask = downstream.ravel(), ~known
    order = np.empty(int(known.sum()), dtype=np.int32)
    if kernels.order_cells(flat, mask.ravel(), order) != order.size:
        raise AssertionError("a flow path runs in a circle")
    touches = np.zeros(z.shape, dtype=np.bool_)
    kernels.touch_edge(order, flat, edge.ravel(), touches.ravel())
    return FlowNetwork(flat, order, (z.shape[0], z.shape[1]), float(cell_m), mask, touches)


def _drain_level(z: FloatArray, edge: BoolArray, level: BoolArray, downstream: IntArray) -> None:
    """Lead level cells to the nearest way down; without one to the edge; without that to a cell of their own."""
    queue = np.empty(int(level.sum()), dtype=np.int32)
    tail = kernels.shore_cells(z, level, downstream, queue)
    tail = kernels.spread_level(z, level, downstream, queue, 0, tail)
    outlets = np.flatnonzero(level & edge & (downstream == -1))
    head, tail = tail, tail + outlets.size
    queue[head:tail] = outlets
    level.ravel()[outlets] = False
    tail = kernels.spread_level(z, level, downstream, queue, head, tail)
    flat, still_level = downstream.ravel(), level.ravel()
    for sink in np.flatnonzero(level & (downstream == -1)):
        if flat[sink] == -1:
            still_level[sink] = False
            queue[tail] = sink
            tail = kernels.spread_level(z, level, downstream, queue, tail, tail + 1)
    kernels.point_level(z, level, downstream, queue[:tail])


def direction_codes(network: FlowNetwork) -> IntArray:
    """Return the directions as the usual powers of two: 1 east, 2 south-east, 4 south ... 128 north-east.

    0 = the flow ends or leaves the data, -1 = unknown; int16, shape (rows, cols).
    """
    cols = network.shape[1]
    cell = np.arange(network.downstream.size, dtype=np.int32)
    below = np.where(network.downstream >= 0, network.downstream, cell)
    by_step = np.zeros((3, 3), dtype=np.int16)
    for code, (down, right) in enumerate(
        [(0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1), (-1, 0), (-1, 1)]
    ):
        by_step[down + 1, right + 1] = 1 << code
    codes = by_step[below // cols - cell // cols + 1, below % cols - cell % cols + 1].reshape(network.shape)
    codes[network.mask] = -1
    return codes

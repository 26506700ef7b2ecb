"""Sums along the flow tile by tile: each tile sums for itself, one graph of the rims tells what comes in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from prospect.hydrology import _kernels as water_kernels
from prospect.hydrology.tiles import _kernels as kernels
from prospect.hydrology.tiles.weights import Weight
from prospect.types import FloatArray
from prospect.windows import Tiling, Window, WorkFolder, read_window, ring_cells, ring_of
from prospect.windows.work import Result

STEP_DOWN = np.array([0, 1, 1, 1, 0, -1, -1, -1], dtype=np.int64)
STEP_RIGHT = np.array([1, 1, 0, -1, -1, -1, 0, 1], dtype=np.int64)


def inflows(
    name: str,
    directions: Path,
    weights: Sequence[Weight],
    units: Sequence[float],
    tiling: Tiling,
    work: WorkFolder,
) -> dict[int, FloatArray]:
    """Return for each tile what flows into the cells of its rim from outside, (cells of the rim, weights) float64.

    Parameters
    ----------
    name
        Name of the stage.
    directions
        From `direct_tiles`.
    weights
        What is summed.
    units
        For each weight the step it is rounded to before summing, so that sums are exact in any order; 0 = as it is.
    tiling, work
        The tiles and the work folder.

    Notes
    -----
    The scheme of Barnes (2017), "Parallel non-divergent flow accumulation for trillion cell digital elevation
    models on desktops or clusters", Environmental Modelling & Software 92.
    """
    jobs = {
        number: (directions, tuple(weights), tuple(units), tiling[number], tiling.shape[1])
        for number in range(len(tiling))
    }
    return _solved(work.stage(name, _along_rim, jobs), tiling)


def largest(name: str, weights: Mapping[str, Weight], tiling: Tiling, work: WorkFolder) -> dict[str, float]:
    """Return the largest size of each weight over the whole grid, 0 where nothing is known."""
    if not weights:
        return {}
    jobs = {number: (tuple(weights.values()), tiling[number]) for number in range(len(tiling))}
    found = work.stage(name, _largest, jobs)
    most = np.max([result["most"] for result in found.values()], axis=0)
    return dict(zip(weights, (float(value) for value in most), strict=True))


def _largest(weights: tuple[Weight, ...], window: Window) -> Result:
    return {"most": np.array([_size(weight.read(window)) for weight in weights])}


def _size(values: FloatArray) -> float:
    return float(np.max(np.abs(values), initial=0.0, where=np.isfinite(values)))


def in_steps(values: FloatArray, unit: float) -> FloatArray:
    """Return values rounded to whole steps of a unit; as they are when it is 0."""
    return np.round(values / unit) * unit if unit else values


class TileFlow:
    """The flow within one tile, which ends where it leaves the tile.

    Attributes
    ----------
    codes
        Directions, (rows, cols) int8.
    downstream, order
        As in `FlowNetwork`, of the tile.
    leaves
        For each cell the code by which its flow leaves the tile, -1 = it does not.
    """

    def __init__(self, directions: Path, window: Window) -> None:
        self.codes = read_window(directions, window)
        self.downstream = np.empty(self.codes.size, dtype=np.int32)
        self.leaves = np.empty(self.codes.size, dtype=np.int8)
        kernels.cells_below(self.codes, self.downstream, self.leaves)
        unknown = (self.codes == -2).ravel()
        self.order = np.empty(unknown.size - int(unknown.sum()), dtype=np.int32)
        if water_kernels.order_cells(self.downstream, unknown, self.order) != self.order.size:
            raise AssertionError("a flow path runs in a circle")

    def summed(self, values: FloatArray) -> FloatArray:
        """Add up values along the flow, in place; return them."""
        cols = self.codes.shape[1]
        water_kernels.accumulate(self.order, self.downstream, cols, 1.0, 1.0, values.reshape(-1))
        return values


def _along_rim(
    directions: Path, weights: tuple[Weight, ...], units: tuple[float, ...], window: Window, cols: int
) -> Result:
    """Return for the rim of a tile what gathers within it, where the flow leaves the tile, and to which cell."""
    flow = TileFlow(directions, window)
    rows_here, cols_here = window.shape
    last = np.arange(flow.codes.size, dtype=np.int32)
    kernels.last_cells(flow.order, flow.downstream, last)
    at = ring_cells(Window(0, rows_here, 0, cols_here), cols_here)
    end = last[at].astype(np.int64)
    leaves_by = (window.row0 + end // cols_here) * cols + window.col0 + end % cols_here
    code = flow.leaves[at]
    cell = ring_cells(window, cols)
    sums = np.stack(
        [
            ring_of(flow.summed(in_steps(weight.read(window), unit)))
            for weight, unit in zip(weights, units, strict=True)
        ],
        axis=1,
    )
    return {
        "leaves_by": np.where(flow.leaves[end] >= 0, leaves_by, -1),
        "to": np.where(code >= 0, cell + STEP_DOWN[code] * cols + STEP_RIGHT[code], -1),
        "sums": np.where((code >= 0)[:, None], sums, 0.0),
    }


def _solved(rims: dict[int, Result], tiling: Tiling) -> dict[int, FloatArray]:
    cols = tiling.shape[1]
    cells = {number: ring_cells(tiling[number], cols) for number in range(len(tiling))}
    everyone = np.sort(np.concatenate(list(cells.values())))
    number_of_cells = everyone.size
    count = next(iter(rims.values()))["sums"].shape[1]
    # Every cell of a rim twice: as one that is flowed into, and as one that flows out.
    following = np.full(2 * number_of_cells, -1, dtype=np.int64)
    values = np.zeros((2 * number_of_cells, count))
    for number, result in rims.items():
        mine = np.searchsorted(everyone, cells[number])
        passed_on = result["leaves_by"] >= 0
        following[mine[passed_on]] = number_of_cells + np.searchsorted(
            everyone, result["leaves_by"][passed_on]
        )
        out = result["to"] >= 0
        following[number_of_cells + mine[out]] = np.searchsorted(everyone, result["to"][out])
        values[number_of_cells + mine[out]] = result["sums"][out]
    waiting = np.zeros(following.size, dtype=np.int32)
    if kernels.sum_along(following, waiting, values) != following.size:
        raise AssertionError("a flow path runs in a circle")
    return {number: values[np.searchsorted(everyone, mine)] for number, mine in cells.items()}


def with_inflow(flow: TileFlow, values: FloatArray, inflow: FloatArray) -> FloatArray:
    """Return the sums of a tile's own values and of what flows in at its rim, (rows, cols), in place."""
    rows, cols = values.shape
    at = ring_cells(Window(0, rows, 0, cols), cols)
    values.reshape(-1)[at] += inflow
    return flow.summed(values)

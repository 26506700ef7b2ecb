"""What comes together along the flow: upstream area and the share of the catchment that is of a kind."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from prospect.hydrology import _kernels as kernels
from prospect.hydrology.network import FlowNetwork
from prospect.types import FloatArray, IntArray


def flow_accumulation(network: FlowNetwork, weights: FloatArray | None = None) -> FloatArray | IntArray:
    """Return how many cells drain through each cell, itself included, or the sum of their weights.

    Parameters
    ----------
    network : FlowNetwork
    weights : array, shape of the network, optional
        What each cell counts. An unknown weight (NaN) makes everything below it unknown; see `upstream_share` for a
        mean that leaves unknown ground out.

    Returns
    -------
    array, shape (rows, cols)
        Without weights int32, 0 where the network has no data; with weights float64, NaN there. A lower bound where
        ``network.touches_edge``.

    Notes
    -----
    Weights are rounded to steps of about 2^-52 of the largest possible sum first (`weight_unit`), so that the result
    does not depend on the order in which they are added. float32 would stop counting at 16.8 million cells.
    """
    if weights is not None:
        return flow_accumulations(network, (weights,))[0]
    cells = np.ones(network.shape, dtype=np.int32)
    cells[network.mask] = 0
    kernels.accumulate(network.order, network.downstream, network.shape[1], 1.0, 1.0, cells.ravel())
    return cells


def flow_accumulations(network: FlowNetwork, weights: Sequence[FloatArray]) -> tuple[FloatArray, ...]:
    """Return the sums of several weights from one pass along the flow, float64; see `flow_accumulation`."""
    if len(weights) == 1:
        return (_summed(network, _on_network(network, weights[0], "weights")),)
    values = np.empty((network.downstream.size, len(weights)))
    for column, weight in enumerate(weights):
        values[:, column] = rounded(_on_network(network, weight, "weights")).ravel()
    kernels.accumulate_columns(network.order, network.downstream, values)
    values[network.mask.ravel()] = np.nan
    return tuple(
        np.ascontiguousarray(values[:, column]).reshape(network.shape) for column in range(len(weights))
    )


def weight_unit(most: float, cells: int) -> float:
    """Return the step that weights of at most `most` are rounded to, so that sums of `cells` of them are exact.

    ``2^(ceil(log2 most) + ceil(log2 cells) - 52)``: whole numbers of it add up without rounding in float64, in any
    order. 0 where there is nothing to round.
    """
    share, exponent = math.frexp(most)
    if share == 0.0:
        return 0.0
    return math.ldexp(1.0, exponent - (share == 0.5) + (cells - 1).bit_length() - 52)


def rounded(values: FloatArray) -> FloatArray:
    """Return weights in whole steps (`weight_unit`), in place; as they are when all of them are whole and small."""
    finite = np.isfinite(values)
    most = max(
        float(np.max(values, initial=0.0, where=finite)), -float(np.min(values, initial=0.0, where=finite))
    )
    unit = weight_unit(most, values.size)
    if unit:
        np.divide(values, unit, out=values)
        np.rint(values, out=values)
        np.multiply(values, unit, out=values)
    return values


def upstream_area_km2(network: FlowNetwork) -> FloatArray:
    """Return the area that drains through each cell, itself included, km², float32; see `flow_accumulation`."""
    area = (flow_accumulation(network) * (network.cell_m**2 / 1.0e6)).astype(np.float32)
    area[network.mask] = np.nan
    return area


def upstream_share(
    network: FlowNetwork,
    share: FloatArray,
    importance: FloatArray | None = None,
    *,
    decay_m: float | None = None,
    least_known: float = 0.0,
    unknown_at_edge: bool = False,
) -> FloatArray:
    """Return the weighted mean of a property over the catchment of each cell, for example a share of good rock.

    Parameters
    ----------
    network : FlowNetwork
    share : array, shape of the network
        The property, usually 0..1. NaN is unknown: left out, and the rest taken for the whole.
    importance : array, shape of the network, optional
        How much each cell counts, for example the root of the slope where steep ground yields more.
        NaN is unknown, the cell is left out.
    decay_m : float, optional
        Cells count less by ``exp(-distance along the flow / decay_m)``.
    least_known : float
        NaN where less than this share of the catchment (in cells that count) is known.
    unknown_at_edge : bool
        NaN where the catchment touches the edge of the data, whose further part nobody has seen.

    Returns
    -------
    array, shape (rows, cols), float32
        ``sum(A P w) / sum(A w)`` over upstream cells, NaN where nothing upstream is known.

    Raises
    ------
    ValueError
        If an array has another shape or an importance is negative.
    """
    wanted = _on_network(network, share, "share")
    counts = _on_network(network, np.ones(network.shape) if importance is None else importance, "importance")
    if (counts < 0).any():
        raise ValueError("Invalid importance below 0. It must be 0 or more.")
    counts[~np.isfinite(counts) | network.mask] = 0.0
    known = np.isfinite(wanted) & (counts > 0)
    above = _summed(network, np.where(known, wanted * counts, 0.0), decay_m)
    below = _summed(network, np.where(known, counts, 0.0), decay_m)
    usable = below > 0
    if least_known > 0:
        usable &= below >= least_known * _summed(network, counts, decay_m)
    if unknown_at_edge:
        usable &= ~network.touches_edge
    out = np.full(network.shape, np.nan, dtype=np.float32)
    out[usable] = above[usable] / below[usable]
    return out


def _summed(network: FlowNetwork, values: FloatArray, decay_m: float | None = None) -> FloatArray:
    keep_side, keep_slant = 1.0, 1.0
    if decay_m is not None:
        if not decay_m > 0:
            raise ValueError(f"Invalid decay '{decay_m}'. It must be a positive number of metres.")
        keep_side = math.exp(-network.cell_m / decay_m)
        keep_slant = math.exp(-network.cell_m * math.sqrt(2.0) / decay_m)
    total = (rounded(values) if decay_m is None else values).reshape(-1)
    kernels.accumulate(network.order, network.downstream, network.shape[1], keep_side, keep_slant, total)
    total = total.reshape(network.shape)
    total[network.mask] = np.nan
    return total


def _on_network(network: FlowNetwork, values: FloatArray, name: str) -> FloatArray:
    array = np.array(values, dtype=np.float64)
    if array.shape != network.shape:
        raise ValueError(
            f"Invalid {name} of shape {array.shape}. It must be that of the network, {network.shape}."
        )
    return array

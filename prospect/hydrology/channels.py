"""Where streams run, how far each cell lies above and from its stream, and the order of streams."""

from __future__ import annotations

import numpy as np

from prospect.hydrology import _kernels as kernels
from prospect.hydrology.accumulation import flow_accumulation
from prospect.hydrology.network import FlowNetwork
from prospect.types import BoolArray, FloatArray, IntArray


def channel_mask(
    network: FlowNetwork, area_km2: FloatArray, threshold_km2: float, streams: BoolArray | None = None
) -> BoolArray:
    """Return the cells that carry a stream.

    Parameters
    ----------
    network : FlowNetwork
    area_km2 : array, shape of the network
        Upstream area (`upstream_area_km2`).
    threshold_km2 : float
        Upstream area at which a stream begins: 0.05 to 0.5 km² in humid hills (own judgement).
    streams : bool array, shape of the network, optional
        Mapped streams: their cells and everything below them carry a stream too.

    Raises
    ------
    ValueError
        If the threshold is not positive or a shape differs.
    """
    if not threshold_km2 > 0:
        raise ValueError(f"Invalid threshold '{threshold_km2}'. It must be a positive area in km².")
    large = np.asarray(area_km2) >= threshold_km2
    if large.shape != network.shape:
        raise ValueError(
            f"Invalid area of shape {large.shape}. It must be that of the network, {network.shape}."
        )
    if streams is None:
        return large & ~network.mask
    mapped = np.asarray(streams, dtype=np.float64)
    return (large | (flow_accumulation(network, mapped) > 0)) & ~network.mask


def height_above_nearest_drainage(
    elevation: FloatArray, network: FlowNetwork, channels: BoolArray
) -> FloatArray:
    """Return the height of each cell above the channel cell that it drains to, metres (Rennó et al. 2008).

    Parameters
    ----------
    elevation : array, shape of the network, metres
    network : FlowNetwork
    channels : bool array, shape of the network

    Returns
    -------
    array, shape (rows, cols), float32
        0 on channels and where a channel lies higher than the cell (a hollow, a stream cut through a rise);
        NaN where the water leaves the data before it meets a channel.
    """
    return drainage(elevation, network, channels)[0]


def distance_to_channel(network: FlowNetwork, channels: BoolArray) -> FloatArray:
    """Return the length of the way along the flow to the first channel cell, metres, float32; NaN without one."""
    reached, distance = _follow(network, channels)
    distance[reached < 0] = np.nan
    return distance


def drainage(
    elevation: FloatArray, network: FlowNetwork, channels: BoolArray
) -> tuple[FloatArray, FloatArray]:
    """Return `height_above_nearest_drainage` and `distance_to_channel` from one pass."""
    z = np.ascontiguousarray(elevation, dtype=np.float32)
    if z.shape != network.shape:
        raise ValueError(
            f"Invalid elevation of shape {z.shape}. It must be that of the network, {network.shape}."
        )
    channel = _channels_of(network, channels)
    height, distance = (np.full(network.shape, np.nan, dtype=np.float32) for _ in range(2))
    kernels.heights_and_ways(
        z.ravel(), network.order, network.downstream, channel.ravel(), network.shape[1], network.cell_m,
        height.ravel(), distance.ravel(),
    )  # fmt: skip
    return height, distance


def value_at_channel(values: FloatArray, network: FlowNetwork, channels: BoolArray) -> FloatArray:
    """Return for each cell the value at the channel cell that it drains to, float32; NaN without one.

    Parameters
    ----------
    values : array, shape of the network
        For example upstream area: ground beside a stream was laid down by that stream, whatever drains through
        the ground itself.
    network : FlowNetwork
    channels : bool array, shape of the network
    """
    reached, _ = _follow(network, channels)
    found = reached >= 0
    out = np.full(network.shape, np.nan, dtype=np.float32)
    out[found] = np.asarray(values, dtype=np.float32).ravel()[reached[found]]
    return out


def strahler_order(network: FlowNetwork, channels: BoolArray) -> IntArray:
    """Return Strahler's stream order on channel cells, int8; 0 beside channels, -1 = unknown."""
    order = np.zeros(network.shape, dtype=np.int8)
    channel = _channels_of(network, channels)
    kernels.strahler(network.order, network.downstream, channel.ravel(), order.ravel())
    order[network.mask] = -1
    return order


def _follow(network: FlowNetwork, channels: BoolArray) -> tuple[IntArray, FloatArray]:
    channel = _channels_of(network, channels)
    reached = np.full(network.shape, -1, dtype=np.int32)
    distance = np.zeros(network.shape, dtype=np.float32)
    kernels.follow_to_channel(
        network.order,
        network.downstream,
        channel.ravel(),
        network.shape[1],
        network.cell_m,
        reached.ravel(),
        distance.ravel(),
    )
    return reached, distance


def _channels_of(network: FlowNetwork, channels: BoolArray) -> BoolArray:
    channel = np.ascontiguousarray(channels, dtype=np.bool_)
    if channel.shape != network.shape:
        raise ValueError(
            f"Invalid channels of shape {channel.shape}. It must be that of the network, {network.shape}."
        )
    return channel

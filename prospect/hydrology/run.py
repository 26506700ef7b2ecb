"""Everything about water that one elevation grid can tell, in one call."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from prospect.hydrology.accumulation import upstream_area_km2
from prospect.hydrology.breaching import BreachLimits, breach_depressions
from prospect.hydrology.channels import channel_mask, drainage
from prospect.hydrology.depressions import burn_streams, depression_depth, fill_depressions
from prospect.hydrology.indices import reach_gradient, specific_catchment_m, topographic_wetness_index
from prospect.hydrology.network import FlowNetwork, flow_direction
from prospect.types import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Water:
    """What `water` found; arrays are ``(rows, cols)``, float32 with NaN = unknown unless said otherwise.

    Attributes
    ----------
    filled : the ground with its hollows filled to where they spill, m (dams cut through on request, mapped streams
        not cut in).
    network : the flow network (mapped streams cut in, where there are any).
    area_km2 : upstream area with the cell itself; a lower bound where ``touches_edge``.
    channels : bool, cells that carry a stream.
    height_above_drainage_m : height above the channel cell reached downstream, on the filled ground.
    distance_to_channel_m : length of the way along the flow to it.
    wetness_index : topographic wetness index.
    depression_depth_m : depth below the spill level, 0 outside hollows; after cutting, of what is left of them.
    """

    filled: FloatArray
    network: FlowNetwork
    area_km2: FloatArray
    channels: BoolArray
    height_above_drainage_m: FloatArray
    distance_to_channel_m: FloatArray
    wetness_index: FloatArray
    depression_depth_m: FloatArray

    @property
    def touches_edge(self) -> BoolArray:
        """Cells whose catchment reaches the edge of the data: upstream area is a lower bound there."""
        return self.network.touches_edge


def water(
    elevation: FloatArray,
    cell_m: float,
    channel_area_km2: float,
    streams: BoolArray | None = None,
    slope_pct: FloatArray | None = None,
    breach: BreachLimits | None = None,
) -> Water:
    """Return where the water of a grid goes and what follows from it.

    Parameters
    ----------
    elevation : array, shape (rows, cols), metres
        Row 0 is north; NaN is unknown.
    cell_m : float
        Side of a square cell in metres.
    channel_area_km2 : float
        Upstream area at which a stream begins.
    streams : bool array of the same shape, optional
        Mapped streams, followed before the elevation model.
    slope_pct : array of the same shape, optional
        Slope for the wetness index; the fall along the flow when left out.
    breach : BreachLimits, optional
        Cut through low dams first, such as a road fill across a valley; nothing is cut when left out.
    """
    z = np.array(elevation, dtype=np.float32)
    z[~np.isfinite(z)] = np.nan
    if breach is not None:
        z = breach_depressions(z, cell_m, breach.max_depth_m, breach.max_length_m)
    filled = fill_depressions(z)
    mapped = streams is not None and bool(np.asarray(streams).any())
    routed = fill_depressions(burn_streams(z, streams)) if streams is not None and mapped else filled
    network = flow_direction(routed, cell_m)
    area = upstream_area_km2(network)
    channels = channel_mask(network, area, channel_area_km2, streams if mapped else None)
    height, distance = drainage(filled, network, channels)
    gradient = reach_gradient(filled, network) if slope_pct is None else np.asarray(slope_pct) / 100.0
    wetness = topographic_wetness_index(specific_catchment_m(area, cell_m), gradient)
    return Water(filled, network, area, channels, height, distance, wetness, depression_depth(z, filled))

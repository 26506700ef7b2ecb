"""Where water goes: hollows, the flow network, what gathers along it, streams and valley floors."""

from prospect.hydrology.accumulation import (
    flow_accumulation,
    flow_accumulations,
    upstream_area_km2,
    upstream_share,
)
from prospect.hydrology.breaching import BreachLimits, breach_depressions
from prospect.hydrology.channels import (
    channel_mask,
    distance_to_channel,
    drainage,
    height_above_nearest_drainage,
    strahler_order,
    value_at_channel,
)
from prospect.hydrology.depressions import burn_streams, depression_depth, fill_depressions
from prospect.hydrology.indices import (
    reach_gradient,
    regional_curve,
    sediment_transport_index,
    specific_catchment_m,
    specific_stream_power,
    stream_power_index,
    topographic_wetness_index,
)
from prospect.hydrology.network import FlowNetwork, direction_codes, flow_direction
from prospect.hydrology.run import Water, water
from prospect.hydrology.valley import cross_valley_position, valley_floor
from prospect.hydrology.valley_forms import Hollows, abandoned_channels, closed_depressions, terraces

__all__ = [
    "BreachLimits",
    "FlowNetwork",
    "Hollows",
    "Water",
    "abandoned_channels",
    "breach_depressions",
    "burn_streams",
    "channel_mask",
    "closed_depressions",
    "cross_valley_position",
    "depression_depth",
    "direction_codes",
    "distance_to_channel",
    "drainage",
    "fill_depressions",
    "flow_accumulation",
    "flow_accumulations",
    "flow_direction",
    "height_above_nearest_drainage",
    "reach_gradient",
    "regional_curve",
    "sediment_transport_index",
    "specific_catchment_m",
    "specific_stream_power",
    "strahler_order",
    "stream_power_index",
    "terraces",
    "topographic_wetness_index",
    "upstream_area_km2",
    "upstream_share",
    "valley_floor",
    "value_at_channel",
    "water",
]

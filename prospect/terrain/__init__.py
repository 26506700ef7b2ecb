"""Derivatives of elevation in a window: slope, aspect, curvature, shade, relief and landforms."""

from prospect.terrain.derivatives import (
    Surface,
    aspect_deg,
    hillshade,
    plan_curvature,
    profile_curvature,
    slope_deg,
    slope_pct,
    surface,
)
from prospect.terrain.forms import GEOMORPHON_NAMES, form_from_counts, geomorphons
from prospect.terrain.hillslope import HILLSLOPE_NAMES, hillslope_position
from prospect.terrain.relief import (
    SLOPE_POSITION_NAMES,
    TEN_LANDFORM_NAMES,
    slope_position,
    smoothed,
    standardise,
    ten_landforms,
    topographic_position_index,
)

__all__ = [
    "GEOMORPHON_NAMES",
    "HILLSLOPE_NAMES",
    "SLOPE_POSITION_NAMES",
    "TEN_LANDFORM_NAMES",
    "Surface",
    "aspect_deg",
    "form_from_counts",
    "geomorphons",
    "hillshade",
    "hillslope_position",
    "plan_curvature",
    "profile_curvature",
    "slope_deg",
    "slope_pct",
    "slope_position",
    "smoothed",
    "standardise",
    "surface",
    "ten_landforms",
    "topographic_position_index",
]

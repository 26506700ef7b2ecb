"""Numbers to map pictures: PNG tiles, view-clipped features and what their colours mean."""

from prospect.cartography.features import MOST_FEATURES, clip_features
from prospect.cartography.legend import (
    Key,
    completeness_key,
    favourability_key,
    known_in_words,
    rock_key,
    worth_in_words,
)
from prospect.cartography.measures import (
    area_in_words,
    length_in_words,
    place_in_words,
    read_place,
    share_in_words,
)
from prospect.cartography.picture import (
    hatch_mask,
    indexed_png,
    render_classes,
    render_hatch,
    render_hillshade,
    render_png,
)
from prospect.cartography.tiles import (
    TILE_PX,
    Picture,
    cells_under_tile,
    degrees_per_pixel,
    tile,
    tile_bounds,
    tile_values,
)

__all__ = [
    "MOST_FEATURES",
    "TILE_PX",
    "Key",
    "Picture",
    "area_in_words",
    "cells_under_tile",
    "clip_features",
    "completeness_key",
    "degrees_per_pixel",
    "favourability_key",
    "hatch_mask",
    "indexed_png",
    "known_in_words",
    "length_in_words",
    "place_in_words",
    "read_place",
    "render_classes",
    "render_hatch",
    "render_hillshade",
    "render_png",
    "rock_key",
    "share_in_words",
    "tile",
    "tile_bounds",
    "tile_values",
    "worth_in_words",
]

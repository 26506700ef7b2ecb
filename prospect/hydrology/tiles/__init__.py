"""Water on grids that do not fit in memory: tile by tile, the same numbers as from the whole."""

from prospect.hydrology.tiles.run import Share, WaterTiles, water_tiles
from prospect.hydrology.tiles.streams import value_at_channel_tiles

__all__ = ["Share", "WaterTiles", "value_at_channel_tiles", "water_tiles"]

"""Grids that do not fit in memory: cut into windows, worked on by threads, stopped and gone on with, kept on disk."""

from prospect.windows.borders import Borders, ring_cells, ring_of, with_ring
from prospect.windows.engine import Engine, Progress
from prospect.windows.files import Source, create_array, open_array, raster_source, read_window, write_window
from prospect.windows.stencil import over_windows
from prospect.windows.tiling import Tiling, Window, bands
from prospect.windows.work import WorkFolder

__all__ = [
    "Borders",
    "Engine",
    "Progress",
    "Source",
    "Tiling",
    "Window",
    "WorkFolder",
    "bands",
    "create_array",
    "open_array",
    "over_windows",
    "raster_source",
    "read_window",
    "ring_cells",
    "ring_of",
    "with_ring",
    "write_window",
]

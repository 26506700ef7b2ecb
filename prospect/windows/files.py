"""Arrays on disk: whole grids as .npy files, read and written a window at a time."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from numpy.typing import DTypeLike, NDArray

from prospect.cache import file_key
from prospect.errors import InputRefused
from prospect.grid import geotiff_shape, read_geotiff_window
from prospect.windows.tiling import Window

Array = NDArray[Any]


class Source(Protocol):
    """A grid that is read a window at a time; small enough to be sent to whoever reads."""

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, cols)."""

    @property
    def key(self) -> str:
        """A hash of the content."""

    def read(self, window: Window) -> Array:
        """Return the values of a window, an array of its own."""


@dataclass(frozen=True, slots=True)
class ArrayFile:
    """A grid in a .npy file."""

    path: Path

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, cols)."""
        rows, cols = open_array(self.path).shape
        return (rows, cols)

    @property
    def key(self) -> str:
        """A hash of the file's content."""
        return file_key(self.path)

    def read(self, window: Window) -> Array:
        """Return the values of a window, an array of its own."""
        return read_window(self.path, window)


@dataclass(frozen=True, slots=True)
class GeotiffFile:
    """A grid in a GeoTIFF file of ours."""

    path: Path

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, cols)."""
        return geotiff_shape(self.path)

    @property
    def key(self) -> str:
        """A hash of the file's content."""
        return file_key(self.path)

    def read(self, window: Window) -> Array:
        """Return the values of a window, an array of its own."""
        return read_geotiff_window(self.path, *window)


def raster_source(path: Path) -> Source:
    """Return a grid on disk, a .npy file or a GeoTIFF of ours.

    Raises
    ------
    InputRefused
        When the file is neither, or not a grid of rows and columns.
    """
    if path.suffix != ".npy":
        geotiff_shape(path)
        return GeotiffFile(path)
    if open_array(path).ndim != 2:
        raise InputRefused(f"{path.name} is not a grid of rows and columns.")
    return ArrayFile(path)


def create_array(path: Path, shape: tuple[int, ...], dtype: DTypeLike) -> None:
    """Make a .npy file of nought, of which no more is on disk than is written to it later."""
    np.lib.format.open_memmap(path, mode="w+", dtype=np.dtype(dtype), shape=shape)


def open_array(path: Path) -> Array:
    """Return a .npy file as an array that is read from disk where it is looked at.

    Raises
    ------
    InputRefused
        When the file is gone, cut short or not an array of numbers.
    """
    try:
        return np.load(path, mmap_mode="r", allow_pickle=False)
    except (OSError, ValueError, EOFError) as error:
        raise InputRefused(f"{path.name} is damaged or not an array of numbers.") from error


def read_window(path: Path, window: Window) -> Array:
    """Return a window of a .npy file, an array of its own; nothing of the file stays mapped."""
    return np.array(open_array(path)[..., window.slices[0], window.slices[1]], order="C")


def write_window(path: Path, window: Window, values: Array) -> None:
    """Write a window of a .npy file that `create_array` made."""
    whole = np.load(path, mmap_mode="r+", allow_pickle=False)
    whole[..., window.slices[0], window.slices[1]] = values


def settle(path: Path) -> None:
    """Return when a file's content is on disk."""
    with path.open("rb+") as handle:
        os.fsync(handle.fileno())

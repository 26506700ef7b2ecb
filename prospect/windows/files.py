"""Arrays on disk: whole grids as .npy files, read and written a window at a time."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from io import FileIO
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from numpy.typing import DTypeLike, NDArray

from prospect.cache import file_key
from prospect.errors import GroundError, InputRefused
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


def create_array(path: Path, shape: tuple[int, int], dtype: DTypeLike) -> None:
    """Make a .npy file of nought, of which no more is on disk than is written to it later.

    Raises
    ------
    GroundError
        When it cannot be written.
    """
    with told_plainly(path):
        np.lib.format.open_memmap(path, mode="w+", dtype=np.dtype(dtype), shape=shape, version=(1, 0))


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
    return np.array(open_array(path)[window.slices], order="C")


def write_window(path: Path, window: Window, values: Array) -> None:
    """Write a window of a .npy file that `create_array` made.

    Written, not mapped: a disk that is full ends a program that writes to a map of a file without a word.

    Raises
    ------
    GroundError
        When it cannot be written, for example because the disk is full.
    """
    # Without a buffer: one would write back what lay between two rows when it was read, over the work of others.
    with told_plainly(path), path.open("r+b", buffering=0) as handle:
        np.lib.format.read_magic(handle)
        (_, cols), _, dtype = np.lib.format.read_array_header_1_0(handle)
        start, item = handle.tell(), dtype.itemsize
        block = np.ascontiguousarray(values, dtype=dtype)
        assert block.shape == window.shape
        if window.shape[1] == cols:
            _write_at(handle, start + window.row0 * cols * item, block)
            return
        for row, part in enumerate(block, window.row0):
            _write_at(handle, start + (row * cols + window.col0) * item, part)


def _write_at(handle: FileIO, place: int, values: Array) -> None:
    handle.seek(place)
    left = values.data.cast("B")
    while left:
        # A disk that is nearly full takes a part, and refuses the rest when it is asked again.
        left = left[handle.write(left) :]


def settle(path: Path) -> None:
    """Return when a file's content is on disk."""
    with told_plainly(path), path.open("rb+") as handle:
        os.fsync(handle.fileno())


@contextlib.contextmanager
def told_plainly(path: Path) -> Iterator[None]:
    """Turn what the system says against writing a file into a `GroundError`."""
    try:
        yield
    except OSError as error:
        raise GroundError(f"{path} could not be written: {error.strerror or error}.") from error

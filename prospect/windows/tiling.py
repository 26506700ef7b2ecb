"""A grid cut into windows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from prospect.errors import WrongUsage


class Window(NamedTuple):
    """Part of a grid: rows `row0` up to but not including `row1`, columns likewise."""

    row0: int
    row1: int
    col0: int
    col1: int

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, cols)."""
        return (self.row1 - self.row0, self.col1 - self.col0)

    @property
    def slices(self) -> tuple[slice, slice]:
        """Slices of rows and columns, for an array of the whole grid."""
        return (slice(self.row0, self.row1), slice(self.col0, self.col1))

    def grown(self, reach: int, shape: tuple[int, int]) -> Window:
        """Return the window with `reach` more cells on every side, as far as a grid of `shape` goes."""
        return Window(
            max(0, self.row0 - reach),
            min(shape[0], self.row1 + reach),
            max(0, self.col0 - reach),
            min(shape[1], self.col1 + reach),
        )

    def within(self, outer: Window) -> tuple[slice, slice]:
        """Return the slices of this window in an array of `outer`."""
        return (
            slice(self.row0 - outer.row0, self.row1 - outer.row0),
            slice(self.col0 - outer.col0, self.col1 - outer.col0),
        )


@dataclass(frozen=True, slots=True)
class Tiling:
    """A grid in windows of one size; those at the south and the east may be smaller.

    Attributes
    ----------
    shape
        (rows, cols) of the grid.
    tile_rows, tile_cols
        Size of a window in cells; windows larger than the grid are cut to it.
    """

    shape: tuple[int, int]
    tile_rows: int
    tile_cols: int

    def __post_init__(self) -> None:
        if min(self.shape) < 1 or self.tile_rows < 1 or self.tile_cols < 1:
            raise WrongUsage(
                f"Invalid windows of {self.tile_rows} × {self.tile_cols} cells on a grid of {self.shape}. "
                "Both need at least one cell."
            )

    @property
    def down(self) -> int:
        """Number of windows from north to south."""
        return -(-self.shape[0] // self.tile_rows)

    @property
    def across(self) -> int:
        """Number of windows from west to east."""
        return -(-self.shape[1] // self.tile_cols)

    def __len__(self) -> int:
        return self.down * self.across

    def __getitem__(self, number: int) -> Window:
        """Return a window by its number, counted along the rows from the north-west."""
        if not 0 <= number < len(self):
            raise IndexError(number)
        row, col = divmod(number, self.across)
        top, left = row * self.tile_rows, col * self.tile_cols
        return Window(
            top, min(top + self.tile_rows, self.shape[0]), left, min(left + self.tile_cols, self.shape[1])
        )


def bands(shape: tuple[int, int], cells: int) -> Tiling:
    """Return bands of whole rows of at most about `cells` cells, never less than one row."""
    return Tiling(shape, max(1, min(shape[0], cells // shape[1])), shape[1])

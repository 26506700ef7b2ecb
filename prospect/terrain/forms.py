"""Landforms from lines of sight (geomorphons): does the ground look up or down in eight directions."""

from __future__ import annotations

import math

import numpy as np

from prospect.terrain import _kernels as kernels
from prospect.terrain.derivatives import as_elevation, check_cell
from prospect.types import FloatArray, IntArray

GEOMORPHON_NAMES = (
    "flat",
    "peak",
    "ridge",
    "shoulder",
    "spur",
    "slope",
    "hollow",
    "footslope",
    "valley",
    "pit",
)
# Rows: directions that look down, 0 to 8; columns: directions that look up. Jasiewicz & Stepinski (2013).
_FORMS_BY_COUNT = (
    "FL FL FL FS FS VL VL VL PT",
    "FL FL FS FS FS VL VL VL",
    "FL SH SL SL HL HL VL",
    "SH SH SL SL SL HL",
    "SH SH SP SL SL",
    "RI RI SP SP",
    "RI RI RI",
    "RI RI",
    "PK",
)
_SHORT_NAMES = ("FL", "PK", "RI", "SH", "SP", "SL", "HL", "FS", "VL", "PT")


def form_from_counts(lower: int, higher: int) -> str:
    """Return the landform of a cell that looks down in `lower` and up in `higher` of the eight directions.

    Raises
    ------
    ValueError
        If a count is negative or both together exceed eight.
    """
    if lower < 0 or higher < 0 or lower + higher > 8:
        raise ValueError(f"Invalid counts {lower} and {higher}. Neither may be negative, the sum at most 8.")
    return GEOMORPHON_NAMES[_form_table()[lower, higher]]


def geomorphons(
    elevation: FloatArray, cell_m: float, search_m: float, flat_deg: float = 1.0
) -> tuple[IntArray, tuple[str, ...]]:
    """Return the ten landforms of Jasiewicz and Stepinski (2013).

    Parameters
    ----------
    elevation : array, shape (rows, cols), metres
        NaN is unknown.
    cell_m : float
        Side of a square cell in metres.
    search_m : float
        Length of the lines of sight in metres.
    flat_deg : float
        Where the highest and the deepest angle of a line sum to less than this, the line is level.

    Returns
    -------
    codes : array, shape (rows, cols), int8
        Index into the names; -1 where the cell is unknown or one of its lines has no known cell at all, and so
        on the outermost ring. Nearer to the edge than `search_m` the lines are cut short, not refused.
    names : tuple of str
        `GEOMORPHON_NAMES`.

    Raises
    ------
    ValueError
        If the search is shorter than a cell's diagonal or the flat angle is not within 0 to 45 degrees.
    """
    z, cell = as_elevation(elevation), check_cell(cell_m)
    diagonal = cell * math.sqrt(2.0)
    if not (math.isfinite(search_m) and search_m >= diagonal):
        raise ValueError(
            f"Invalid search '{search_m}'. It must be at least a cell's diagonal, {diagonal:.3g} m."
        )
    if not 0.0 <= flat_deg <= 45.0:
        raise ValueError(f"Invalid flat angle '{flat_deg}'. It must be within 0 to 45 degrees.")
    known = np.isfinite(z)
    height = np.where(known, z, np.float32(0.0))
    codes = np.full(z.shape, -1, dtype=np.int8)
    cols = z.shape[1]
    kernels.sight_rows(
        height,
        known,
        *_lines_of_sight(cell, search_m),
        math.tan(math.radians(flat_deg)),
        _form_table(),
        np.full(cols, -1.0e30, dtype=np.float32),
        np.full(cols, 1.0e30, dtype=np.float32),
        np.zeros((3, cols), dtype=np.int8),
        codes,
    )
    return codes, GEOMORPHON_NAMES


def _lines_of_sight(cell_m: float, search_m: float) -> tuple[IntArray, FloatArray]:
    """Return row step, column step and number of steps of eight directions, and one over each step's distance."""
    aim = np.array([(0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1), (-1, 0), (-1, 1)])
    run = cell_m * np.hypot(aim[:, 0], aim[:, 1])
    number = (search_m / run + 1e-9).astype(np.int64)
    step = np.maximum(np.arange(number.max() + 1), 1)
    return np.column_stack([aim, number]), (1.0 / (run[:, None] * step)).astype(np.float32)


def _form_table() -> IntArray:
    table = np.full((9, 9), -1, dtype=np.int8)
    for lower, line in enumerate(_FORMS_BY_COUNT):
        for higher, short in enumerate(line.split()):
            table[lower, higher] = _SHORT_NAMES.index(short)
    return table

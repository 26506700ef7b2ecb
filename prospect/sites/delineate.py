"""Cuts pieces of good ground of walking size out of a score."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from prospect.types import BoolArray, FloatArray, IntArray

Window = tuple[slice, slice]

LOWEST_LEVEL = 0.5
"""Ground below this favourability is not offered as a site (own judgement)."""
HIGHEST_LEVEL = 0.8
"""Ground above this favourability is always offered (own judgement)."""
TOP_SHARE = 0.2
"""Between the two, the best fifth of the ground is offered (own judgement)."""
LEVEL_STEP = 0.03
"""How much the level rises when a piece is too large to be a site (own judgement)."""
NARROWED_LEAST = 10
"""A piece is narrowed only to parts of at least this fraction (1/10) of the largest site (own judgement)."""

_WITH_CORNERS = np.ones((3, 3), dtype=bool)


def cut_level(favourability: FloatArray) -> float:
    """Return the favourability from which ground counts as a candidate.

    It is the level that the best fifth of the known ground reaches, held between `LOWEST_LEVEL` and `HIGHEST_LEVEL`.

    Parameters
    ----------
    favourability : (rows, cols) float32
        0..1, NaN = cannot say.
    """
    known = favourability[np.isfinite(favourability)]
    if known.size == 0:
        return LOWEST_LEVEL
    return min(max(float(np.quantile(known, 1.0 - TOP_SHARE)), LOWEST_LEVEL), HIGHEST_LEVEL)


def delineate_sites(
    favourability: FloatArray,
    deposit: IntArray,
    *,
    level: float,
    min_cells: int,
    max_cells: int,
) -> IntArray:
    """Cut candidate sites: connected ground of one deposit at or above a level.

    The score is first averaged over 3 × 3 cells, so that single cells neither make nor break a site. A piece larger
    than `max_cells` is cut again at a higher level as long as parts of at least a tenth of that remain, so a large
    even area stays one site and a large uneven one is narrowed to its best parts.

    Parameters
    ----------
    favourability : (rows, cols) float32
        0..1, NaN = cannot say.
    deposit : (rows, cols) int
        Which deposit model leads, -1 = none; a site never crosses from one to another.
    level
        Lowest favourability of a site's cells.
    min_cells, max_cells
        Smallest site kept; size above which a site is narrowed.

    Returns
    -------
    (rows, cols) int32
        Number of the site each cell belongs to, from 0; -1 = none.
    """
    score = _averaged(favourability)
    sites = np.full(favourability.shape, -1, dtype=np.int32)
    count = 0
    for kind in np.unique(deposit[deposit >= 0]):
        candidates = (deposit == kind) & (score >= level)
        for window, piece in _pieces(candidates, min_cells):
            for part_window, part in _narrowed(score[window], piece, level, min_cells, max_cells):
                sites[window][part_window][part] = count
                count += 1
    return sites


def _narrowed(
    score: FloatArray, piece: BoolArray, level: float, min_cells: int, max_cells: int
) -> list[tuple[Window, BoolArray]]:
    everything = (slice(0, piece.shape[0]), slice(0, piece.shape[1]))
    least = max(min_cells, max_cells // NARROWED_LEAST)
    waiting = [(everything, piece, level)]
    done = []
    while waiting:
        window, part, reached = waiting.pop()
        higher = reached + LEVEL_STEP
        smaller = []
        if np.count_nonzero(part) > max_cells and higher < 1.0:
            smaller = _pieces(part & (score[window] >= higher), least)
        if not smaller:
            done.append((window, part))
        for inner, child in smaller:
            waiting.append((_within(window, inner), child, higher))
    return done


def _pieces(mask: BoolArray, min_cells: int) -> list[tuple[Window, BoolArray]]:
    labels, count = ndimage.label(mask, structure=_WITH_CORNERS)
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    windows: list[Window] = [(rows, cols) for rows, cols in ndimage.find_objects(labels)]
    return [
        (windows[number - 1], labels[windows[number - 1]] == number)
        for number in range(1, count + 1)
        if sizes[number] >= min_cells
    ]


def _within(outer: Window, inner: Window) -> Window:
    rows, cols = (slice(o.start + i.start, o.start + i.stop) for o, i in zip(outer, inner, strict=True))
    return rows, cols


def _averaged(values: FloatArray) -> FloatArray:
    known = np.isfinite(values)
    total = ndimage.uniform_filter(np.where(known, values, 0.0).astype(np.float64), 3, mode="constant")
    weight = ndimage.uniform_filter(known.astype(np.float64), 3, mode="constant")
    with np.errstate(invalid="ignore", divide="ignore"):
        averaged = total / weight
    return np.where(known, averaged, np.nan)

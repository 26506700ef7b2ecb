"""Measures candidate sites and puts them in order."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
from scipy import ndimage

from prospect.types import FloatArray, IntArray

NEARLY_BEST = 0.02
"""Cells this close to a site's best score count as equally good when its spot is chosen (own judgement)."""


def site_statistics(
    sites: IntArray, favourability: FloatArray, others: Mapping[str, FloatArray], cell_area_ha: float
) -> pd.DataFrame:
    """Return one row for each site: size, best spot and means.

    Parameters
    ----------
    sites : (rows, cols) int32
        Number of the site from 0, -1 = none.
    favourability : (rows, cols) float32
        The score the sites were cut from.
    others
        More (rows, cols) arrays to average over each site, by name; NaN cells are left out.
    cell_area_ha
        Area of one cell, ha.

    Returns
    -------
    DataFrame
        `cells, area_ha, row, col, favourability` and one column for each of `others`. The spot (`row, col`) is the
        one farthest inside the site among the cells within `NEARLY_BEST` of its best score.
    """
    windows = ndimage.find_objects(sites + 1)
    inside_m = ndimage.distance_transform_edt(np.pad(sites >= 0, 1))[1:-1, 1:-1]
    rows = []
    for number, window in enumerate(windows):
        if window is None:
            continue
        here = sites[window] == number
        score = np.where(here, favourability[window], -np.inf)
        depth = np.where(score >= score.max() - NEARLY_BEST, inside_m[window], -1.0)
        row, col = np.unravel_index(int(np.argmax(depth)), depth.shape)
        rows.append(
            {
                "cells": int(np.count_nonzero(here)),
                "area_ha": float(np.count_nonzero(here) * cell_area_ha),
                "row": int(row) + window[0].start,
                "col": int(col) + window[1].start,
                "favourability": _mean(favourability[window][here]),
                **{name: _mean(values[window][here]) for name, values in others.items()},
            }
        )
    columns = ["cells", "area_ha", "row", "col", "favourability", *others]
    return pd.DataFrame(rows, columns=columns)


def rank_sites(statistics: pd.DataFrame) -> pd.DataFrame:
    """Return the rows in order: favourability, then how much is known (`completeness`, if there), then area."""
    keys = [key for key in ("favourability", "completeness", "area_ha") if key in statistics]
    return statistics.sort_values(keys, ascending=False, kind="stable")


def _mean(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean(dtype=np.float64)) if known.size else float("nan")

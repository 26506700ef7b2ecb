"""Names the texture class of a soil from its shares of sand, silt and clay."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from prospect.types import BoolArray, FloatArray

TEXTURE_CLASSES = (
    "sand",
    "loamy sand",
    "sandy loam",
    "loam",
    "silt loam",
    "silt",
    "sandy clay loam",
    "clay loam",
    "silty clay loam",
    "sandy clay",
    "silty clay",
    "clay",
)
"""The twelve classes of the US texture triangle, coarse to fine, in the order in which they are tried."""

SUM_TOLERANCE_PCT = 1.0
"""How far the three shares may be from 100 in all; laboratories round. Own judgement."""


def texture_class(sand_pct: float, silt_pct: float, clay_pct: float) -> str:
    """Return the texture class of one soil.

    Parameters
    ----------
    sand_pct, silt_pct, clay_pct
        Weight percent of the fine earth: sand 2-0.05 mm, silt 0.05-0.002 mm, clay below 0.002 mm.

    Raises
    ------
    ValueError
        When a share is negative, not a number, or the three do not make 100 within 1.

    Notes
    -----
    Boundaries: USDA Soil Survey Manual, Handbook 18, chapter 3, definitions of the texture classes.
    """
    found = str(texture_classes([sand_pct], [silt_pct], [clay_pct])[0])
    if not found:
        raise ValueError(
            f"sand, silt and clay must be shares that make 100 %, got {sand_pct}, {silt_pct}, {clay_pct}"
        )
    return found


def texture_classes(sand_pct: ArrayLike, silt_pct: ArrayLike, clay_pct: ArrayLike) -> NDArray[np.str_]:
    """Return the texture class of many soils; '' where the shares are unknown or cannot be.

    Parameters
    ----------
    sand_pct, silt_pct, clay_pct
        Weight percent of the fine earth, shapes that broadcast together.

    Notes
    -----
    Sums within `SUM_TOLERANCE_PCT` of 100 are scaled to 100 first, so that the classes leave no gap between.
    """
    sand, silt, clay = np.broadcast_arrays(
        *(np.asarray(share, dtype=np.float64) for share in (sand_pct, silt_pct, clay_pct))
    )
    total = sand + silt + clay
    with np.errstate(invalid="ignore"):
        usable = (np.minimum(np.minimum(sand, silt), clay) >= 0) & (np.abs(total - 100) <= SUM_TOLERANCE_PCT)
    scale = np.divide(100.0, total, out=np.ones_like(total), where=usable)
    # Rounded, so that a share meant to lie on a boundary is not thrown beside it by the last binary digit.
    rules = _rules(*(np.round(share * scale, 6) for share in (sand, silt, clay)))
    return np.select([usable & rule for rule in rules], TEXTURE_CLASSES, default="")


def _rules(sand: FloatArray, silt: FloatArray, clay: FloatArray) -> tuple[BoolArray, ...]:
    with np.errstate(invalid="ignore"):
        return (
            (sand > 85) & (silt + 1.5 * clay < 15),
            (sand >= 70) & (sand <= 90) & (silt + 1.5 * clay >= 15) & (silt + 2 * clay < 30),
            (silt + 2 * clay >= 30)
            & (((clay >= 7) & (clay < 20) & (sand > 52)) | ((clay < 7) & (silt < 50))),
            (clay >= 7) & (clay < 27) & (silt >= 28) & (silt < 50) & (sand <= 52),
            ((silt >= 50) & (clay >= 12) & (clay < 27)) | ((silt >= 50) & (silt < 80) & (clay < 12)),
            (silt >= 80) & (clay < 12),
            (clay >= 20) & (clay < 35) & (silt < 28) & (sand > 45),
            (clay >= 27) & (clay < 40) & (sand > 20) & (sand <= 45),
            (clay >= 27) & (clay < 40) & (sand <= 20),
            (clay >= 35) & (sand > 45),
            (clay >= 40) & (silt >= 40),
            (clay >= 40) & (sand <= 45) & (silt < 40),
        )

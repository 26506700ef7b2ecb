"""Means over depth and the layers of clay in a described profile."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from prospect.types import BoolArray, FloatArray

REACH_TOP_CM = 25.0
REACH_BOTTOM_CM = 200.0
LEAST_THICKNESS_CM = 30.0
CLAYEY_PCT = 35.0
CLAYEY_WITHIN_CM = 150.0

# Two horizons whose shared depth differs by less than this still touch: depths are noted in whole centimetres.
_TOUCH_CM = 0.5


@dataclass(frozen=True, slots=True)
class Layer:
    """A run of whole horizons, clipped to the depths looked at.

    Attributes
    ----------
    top_cm, bottom_cm
        Depth below the surface.
    clay_pct
        Mean clay, weighted by thickness.
    first, last
        Positions of the first and last horizon of the run, counted from the shallowest.
    """

    top_cm: float
    bottom_cm: float
    clay_pct: float
    first: int
    last: int

    @property
    def thickness_cm(self) -> float:
        """Bottom less top."""
        return self.bottom_cm - self.top_cm


def depth_weighted_mean(
    top_cm: ArrayLike, bottom_cm: ArrayLike, values: ArrayLike, from_cm: float, to_cm: float
) -> float:
    """Return the mean of `values` between two depths, weighted by the thickness of each horizon inside.

    Parameters
    ----------
    top_cm, bottom_cm
        Depths of the horizons, shape (n,).
    values
        One value per horizon, shape (n,); NaN where unknown.
    from_cm, to_cm
        The window.

    Returns
    -------
    float
        NaN where no horizon with a value reaches into the window. Horizons without a value count nothing,
        neither as zero nor as the mean.
    """
    top, bottom, value = (np.asarray(part, dtype=np.float64) for part in (top_cm, bottom_cm, values))
    overlap = np.minimum(bottom, to_cm) - np.maximum(top, from_cm)
    with np.errstate(invalid="ignore"):
        counts = np.isfinite(value) & (overlap > 0)
    if not counts.any():
        return float("nan")
    return float(np.average(value[counts], weights=overlap[counts]))


def best_layer(
    top_cm: ArrayLike,
    bottom_cm: ArrayLike,
    clay_pct: ArrayLike,
    *,
    from_cm: float = REACH_TOP_CM,
    to_cm: float = REACH_BOTTOM_CM,
    least_thickness_cm: float = LEAST_THICKNESS_CM,
) -> Layer | None:
    """Return the layer with the most clay that is thick enough to dig, or None when there is none.

    Parameters
    ----------
    top_cm, bottom_cm, clay_pct
        The horizons from the surface down, shape (n,); NaN clay where unknown.
    from_cm, to_cm
        Depths looked at; horizons are clipped to them.
    least_thickness_cm
        Thickness that a layer needs inside those depths.

    Notes
    -----
    Looks at every run of neighbouring whole horizons that touch; a horizon without clay figure ends a run. Of
    equal ones the thicker wins, then the shallower. The rule is our own.
    """
    best: Layer | None = None
    for layer in _runs(*_three(top_cm, bottom_cm, clay_pct), from_cm, to_cm):
        if layer.thickness_cm < least_thickness_cm:
            continue
        if best is None or (round(layer.clay_pct, 9), layer.thickness_cm) > (
            round(best.clay_pct, 9),
            best.thickness_cm,
        ):
            best = layer
    return best


def shallowest_clayey_layer(
    top_cm: ArrayLike,
    bottom_cm: ArrayLike,
    clay_pct: ArrayLike,
    *,
    least_clay_pct: float = CLAYEY_PCT,
    within_cm: float = CLAYEY_WITHIN_CM,
    least_thickness_cm: float = LEAST_THICKNESS_CM,
) -> Layer | None:
    """Return the shallowest run of horizons that each hold enough clay, or None when there is none.

    Parameters
    ----------
    top_cm, bottom_cm, clay_pct
        The horizons from the surface down, shape (n,); NaN clay where unknown.
    least_clay_pct
        Clay that every horizon of the run must have.
    within_cm
        Depth down to which is looked; what lies deeper is cut off.
    least_thickness_cm
        Thickness that the run needs above that depth.
    """
    top, bottom, clay = _three(top_cm, bottom_cm, clay_pct)
    with np.errstate(invalid="ignore"):
        enough = np.where(clay >= least_clay_pct, clay, np.nan)
    found = [
        layer
        for layer in _runs(top, bottom, enough, 0.0, within_cm)
        if layer.thickness_cm >= least_thickness_cm
    ]
    if not found:
        return None
    return min(found, key=lambda layer: (layer.top_cm, -layer.thickness_cm))


def _three(
    top_cm: ArrayLike, bottom_cm: ArrayLike, clay_pct: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    top, bottom, clay = (np.asarray(part, dtype=np.float64) for part in (top_cm, bottom_cm, clay_pct))
    if not (top.shape == bottom.shape == clay.shape) or top.ndim != 1:
        raise ValueError(f"needs three lists of one length, got {top.shape}, {bottom.shape}, {clay.shape}")
    return top, bottom, clay


def _runs(top: FloatArray, bottom: FloatArray, clay: FloatArray, from_cm: float, to_cm: float) -> list[Layer]:
    """Return every run of touching horizons with a clay figure that reaches into the window."""
    upper, lower = np.maximum(top, from_cm), np.minimum(bottom, to_cm)
    inside = lower - upper
    usable: BoolArray = np.isfinite(clay) & (np.nan_to_num(inside) > 0)
    runs: list[Layer] = []
    for first in range(len(top)):
        weight = amount = 0.0
        for last in range(first, len(top)):
            if not usable[last] or (last > first and abs(top[last] - bottom[last - 1]) > _TOUCH_CM):
                break
            weight += float(inside[last])
            amount += float(inside[last] * clay[last])
            runs.append(Layer(float(upper[first]), float(lower[last]), amount / weight, first, last))
    return runs

"""Compiled loop over places: mean and variance of the log-odds beside the holes within reach of each."""

from __future__ import annotations

import numpy as np
from numba import njit, prange


@njit(cache=True, nogil=True, error_model="numpy")
def wendland(distance, reach):  # type: ignore[no-untyped-def]
    """Return Wendland's C2 function: 1 at no distance, 0 from `reach` on."""
    if distance >= reach:
        return 0.0
    near = 1.0 - distance / reach
    return near * near * near * near * (4.0 * distance / reach + 1.0)


@njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def log_odds(  # type: ignore[no-untyped-def]
    x, y, design, hole_x, hole_y, theta, gradient, inner, beside, information, variance, reach, mean, spread
):
    """Fill `mean` and `spread` (a variance) of each place; unknown where its row of the design is.

    `inner` (p, p) is the covariance of the coefficients given the holes, `beside` (p, n) the prior covariance times
    design times information, `information` (n, n) what the holes know.
    """
    places, width = design.shape
    holes = hole_x.shape[0]
    for place in prange(places):
        middle, doubt = 0.0, variance
        for i in range(width):
            middle += design[place, i] * theta[i]
            part = 0.0
            for j in range(width):
                part += inner[i, j] * design[place, j]
            doubt += design[place, i] * part
        near = np.empty(holes, np.int64)
        likeness = np.empty(holes, np.float64)
        count = 0
        if np.isfinite(middle):
            for hole in range(holes):
                along, across = abs(x[place] - hole_x[hole]), abs(y[place] - hole_y[hole])
                if along < reach and across < reach:
                    alike = variance * wendland(np.sqrt(along * along + across * across), reach)
                    if alike > 0.0:
                        near[count], likeness[count] = hole, alike
                        count += 1
        for one in range(count):
            hole, alike = near[one], likeness[one]
            middle += alike * gradient[hole]
            shared = 0.0
            for i in range(width):
                shared += design[place, i] * beside[i, hole]
            doubt -= 2.0 * shared * alike
            for other in range(count):
                doubt -= alike * information[hole, near[other]] * likeness[other]
        mean[place] = middle
        spread[place] = max(doubt, 0.0) if np.isfinite(middle) else np.nan

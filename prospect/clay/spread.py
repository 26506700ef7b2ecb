"""Several readings of one thing: their mean, their spread, and those that look unlike the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

QUESTIONED_BEYOND = 3.5
FEWEST_TO_QUESTION = 4


@dataclass(frozen=True, slots=True)
class Spread:
    """What several readings come to; nothing is left out of them.

    Attributes
    ----------
    n
        How many.
    mean
        Of all of them, the questioned ones too.
    deviation
        Standard deviation of the sample; None for a single reading.
    low, high
        Least and greatest.
    questioned
        Places of the readings that look unlike the others.
    """

    n: int
    mean: float
    deviation: float | None
    low: float
    high: float
    questioned: tuple[int, ...] = ()


def spread_of(values: Sequence[float], least_step: float = 0.0) -> Spread:
    """Return mean and spread of some readings.

    Parameters
    ----------
    values
        At least one number.
    least_step
        What the reading itself may be off by; a reading within it of the median is never questioned.

    Raises
    ------
    ValueError
        When there is no reading, or one is not a number.

    Notes
    -----
    A reading is questioned when its modified z-score, 0.6745 times its distance from the median over the median
    absolute deviation, is above 3.5 (Iglewicz & Hoaglin 1993, How to detect and handle outliers), from four readings
    on; where half of the readings are equal, over 1.253314 times the mean absolute deviation instead.
    """
    given = np.asarray(values, dtype=np.float64)
    if given.size == 0 or not np.isfinite(given).all():
        raise ValueError(f"needs one reading or more, all of them numbers, got {list(values)}")
    deviation = float(given.std(ddof=1)) if given.size > 1 else None
    return Spread(
        int(given.size),
        float(given.mean()),
        deviation,
        float(given.min()),
        float(given.max()),
        _questioned(given, least_step),
    )


def _questioned(given: np.ndarray, least_step: float) -> tuple[int, ...]:
    if given.size < FEWEST_TO_QUESTION:
        return ()
    apart = np.abs(given - np.median(given))
    middle = float(np.median(apart))
    scale = middle / 0.6745 if middle > 0 else 1.253314 * float(apart.mean())
    if scale <= 0:
        return ()
    return tuple(int(at) for at in np.flatnonzero((apart / scale > QUESTIONED_BEYOND) & (apart > least_step)))

"""How far the ranking of places hangs on the weights: ranks over random draws of weights."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from prospect.scoring.combine import weighted_geometric_mean
from prospect.types import BoolArray, FloatArray

TOP_SHARE = 0.05
STABLE_SHARE = 0.10
STABLE_DRAWS = 0.80


@dataclass(frozen=True, slots=True)
class RankBands:
    """Ranks of places over many draws of weights; rank 1 is the best.

    Attributes
    ----------
    median, low, high : (places,)
        Median rank and its 5 % and 95 % quantiles; NaN where a place has no score.
    chance_of_top : (places,)
        Share of the draws in which the place is among the best 5 %.
    stable : (places,)
        Among the best tenth in at least 80 % of the draws.
    """

    median: FloatArray
    low: FloatArray
    high: FloatArray
    chance_of_top: FloatArray
    stable: BoolArray


def rank_bands(
    memberships: ArrayLike | Callable[[np.random.Generator], FloatArray],
    weights: ArrayLike,
    *,
    concentration: float = 50.0,
    draws: int = 500,
    seed: int = 0,
) -> RankBands:
    """Rank places under weights drawn around the given ones.

    Parameters
    ----------
    memberships : (n, places)
        One row per criterion, NaN = missing; or a function of a random generator that returns such an array,
        for breakpoints that are shaken as well.
    weights : (n,)
        The weights to draw around; not negative, not all zero.
    concentration
        Of the Dirichlet distribution: the standard deviation of weight w is sqrt(w (1 - w) / (concentration + 1)).
    draws
        How many; at least 1.
    seed
        The same seed gives the same bands.

    Returns
    -------
    RankBands

    Raises
    ------
    ValueError
        When `draws` or `concentration` is not positive, or the weights do not fit.
    """
    if draws < 1 or concentration <= 0:
        raise ValueError("draws must be at least 1 and concentration above 0")
    random = np.random.default_rng(seed)
    centre = np.asarray(weights, dtype=np.float64)
    used = centre > 0
    drawn = np.zeros((draws, centre.size))
    drawn[:, used] = random.dirichlet(concentration * centre[used] / centre.sum(), size=draws)
    scores = np.stack(
        [
            weighted_geometric_mean(memberships(random) if callable(memberships) else memberships, draw)
            for draw in drawn
        ]
    )
    ranks = pd.DataFrame(scores).rank(axis=1, ascending=False).to_numpy()
    known = np.isfinite(scores)
    ranked = np.where(known, ranks, np.inf)
    places = known.sum(axis=1, keepdims=True)
    anywhere = known.any(axis=0)
    low, median, high = np.full((3, scores.shape[1]), np.nan)
    low[anywhere], median[anywhere], high[anywhere] = np.nanquantile(
        np.where(known, ranks, np.nan)[:, anywhere], (0.05, 0.5, 0.95), axis=0
    )
    in_best = (ranked <= np.maximum(1, STABLE_SHARE * places)).mean(axis=0)
    return RankBands(
        median=median,
        low=low,
        high=high,
        chance_of_top=(ranked <= np.maximum(1, TOP_SHARE * places)).mean(axis=0),
        stable=in_best >= STABLE_DRAWS,
    )

"""Lets enough holes say how sure the expert's weights are, and how far neighbouring ground is alike."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import numpy as np

from prospect.evidence.posterior import HoleResults, Posterior, Residual, fit_posterior
from prospect.evidence.prior import Prior
from prospect.types import IntArray

FEWEST_HOLES, FEWEST_OF_EACH = 30, 8
MOST_HOLES = 1500
"""Above so many, the choice is made on `SUBSET` of them that lie far from each other."""
SUBSET = 600
SURENESS = (50.0, 20.0, 8.0, 3.0)
VARIANCES = (0.1, 0.5, 1.5)
REACHES = (0.5, 1.0, 2.0)
"""Times the reach that is usual for the ground."""


def fit_tuned(holes: HoleResults, prior: Prior, residual: Residual) -> Posterior:
    """Return what is believed after the holes, with the settings that foretell them best where there are enough holes.

    Parameters
    ----------
    holes
        From 30 on, with 8 good and 8 barren ones, they choose; fewer leave the settings as they are given.
    prior, residual
        The usual settings, to which the choice is drawn.

    Notes
    -----
    The Laplace approximation of the logarithm of the evidence, less what keeps each setting near the usual one: half
    the square of ln(variance / usual) / 0.8, of ln(sureness / usual), and of ln(reach / usual) / 0.5. The grid is
    fixed, so that the same holes always choose the same. All numbers are own judgement.
    """
    if not can_choose(holes):
        return fit_posterior(holes, prior, residual)
    asked = holes if len(holes) <= MOST_HOLES else _spread_out(holes)
    best = max(_settings(prior, residual), key=lambda one: worth(asked, one[0], one[1], prior, residual))
    return fit_posterior(holes, best[0], best[1])


def can_choose(holes: HoleResults) -> bool:
    """Whether there are enough holes, good and barren, to choose settings by."""
    good, barren = (holes.usable > 0.5).sum(), (holes.usable < 0.5).sum()
    return len(holes) >= FEWEST_HOLES and min(good, barren) >= FEWEST_OF_EACH


def worth(
    holes: HoleResults, prior: Prior, residual: Residual, usual_prior: Prior, usual_residual: Residual
) -> float:
    """Return how well settings foretell the holes, less how far they are from the usual ones."""
    off = (
        math.log(residual.variance / usual_residual.variance) / 0.8,
        math.log(prior.sure_of_weights / usual_prior.sure_of_weights),
        math.log(residual.reach_m / usual_residual.reach_m) / 0.5,
    )
    return fit_posterior(holes, prior, residual).log_evidence - 0.5 * sum(part**2 for part in off)


def _settings(prior: Prior, residual: Residual) -> Iterator[tuple[Prior, Residual]]:
    """Yield the settings to choose from; how sure the weights are is asked only where they are corrected."""
    sureness = SURENESS if prior.weights else (prior.sure_of_weights,)
    for sure, variance, times in product(sureness, VARIANCES, REACHES):
        yield replace(prior, sure_of_weights=sure), Residual(variance, residual.reach_m * times)


def _spread_out(holes: HoleResults) -> HoleResults:
    """Return holes that lie far from each other: each next one is the farthest from those before it."""
    chosen: list[int] = [0]
    nearest = np.full(len(holes), np.inf)
    for _ in range(SUBSET - 1):
        last = chosen[-1]
        away = np.hypot(holes.x_m - holes.x_m[last], holes.y_m - holes.y_m[last])
        nearest = np.minimum(nearest, away)
        nearest[chosen] = -1.0
        chosen.append(int(np.argmax(nearest)))
    keep: IntArray = np.sort(np.array(chosen))
    return HoleResults(holes.x_m[keep], holes.y_m[keep], holes.design[keep], holes.usable[keep])

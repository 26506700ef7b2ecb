"""What is believed before any hole: an expert's score as a chance, and how far its weights may be off."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from prospect.errors import WrongUsage
from prospect.scoring import FLOOR
from prospect.types import FloatArray

SURE_OF_WEIGHTS = 20.0
"""How many holes' worth the weights of an expert are taken for, below 30 holes (own judgement)."""


@dataclass(frozen=True, slots=True)
class Anchors:
    """Answers to a question that people can answer: how often does ground of this score hold usable clay.

    Attributes
    ----------
    low_score, low_chance
        A poor score, and the share of such spots that hold usable clay.
    high_score, high_chance
        A good one.
    middle
        The score at which the level of all chances is set.
    """

    low_score: float = 0.3
    low_chance: float = 0.10
    high_score: float = 0.8
    high_chance: float = 0.50
    middle: float = 0.6

    def __post_init__(self) -> None:
        if not (self.low_score < self.high_score and 0 < self.low_chance < self.high_chance < 1):
            raise WrongUsage(f"A better score must have a better chance, between 0 and 1: {self}.")

    @property
    def slope(self) -> float:
        """Log-odds for each whole of score."""
        return (_logit(self.high_chance) - _logit(self.low_chance)) / (self.high_score - self.low_score)

    @property
    def level(self) -> float:
        """Log-odds at the middle score."""
        return _logit(self.high_chance) - self.slope * (self.high_score - self.middle)


@dataclass(frozen=True)
class Prior:
    """Mean and covariance of the coefficients: level, slope, and one correction for each criterion.

    Attributes
    ----------
    anchors
        Chances at two scores.
    weights : (q,)
        Weights of the criteria, which sum to 1; empty = they are not corrected.
    sure_of_weights
        The higher, the less the holes may change the weights (κ).
    level_sd
        Standard deviation of the level, log-odds.
    slope_sd_share
        Standard deviation of the slope as a share of it.

    Notes
    -----
    The corrections have the covariance of weights drawn from a Dirichlet distribution, times the slope: they sum to
    zero, so that they cannot stand in for the slope. All numbers are own judgement.
    """

    anchors: Anchors = Anchors()
    weights: tuple[float, ...] = ()
    sure_of_weights: float = SURE_OF_WEIGHTS
    level_sd: float = 1.0
    slope_sd_share: float = 0.35

    def __post_init__(self) -> None:
        if self.weights and not math.isclose(sum(self.weights), 1.0, abs_tol=1e-6):
            raise WrongUsage(f"Weights must sum to 1, these to {sum(self.weights):g}.")

    @cached_property
    def mean(self) -> FloatArray:
        """Mean of the coefficients, (2 + q,)."""
        return np.array([self.anchors.level, self.anchors.slope, *(0.0 for _ in self.weights)])

    @cached_property
    def covariance(self) -> FloatArray:
        """Covariance of the coefficients, (2 + q, 2 + q); singular, since the corrections sum to zero."""
        slope = self.anchors.slope
        size = 2 + len(self.weights)
        found = np.zeros((size, size))
        found[0, 0] = self.level_sd**2
        found[1, 1] = (self.slope_sd_share * slope) ** 2
        weights = np.asarray(self.weights)
        if len(weights):
            among = np.diag(weights) - np.outer(weights, weights)
            found[2:, 2:] = slope**2 * among / (self.sure_of_weights + 1.0)
        return found

    def design(self, score: FloatArray, directions: FloatArray | None = None) -> FloatArray:
        """Return the rows of the design, (n, 2 + q).

        Parameters
        ----------
        score : (n,)
            0..1; NaN where not known.
        directions : (n, q)
            From `weight_directions`; nothing where the weights are not corrected.
        """
        rows = np.zeros((len(score), 2 + len(self.weights)))
        rows[:, 0], rows[:, 1] = 1.0, np.asarray(score) - self.anchors.middle
        if directions is not None and self.weights:
            rows[:, 2:] = directions
        return rows


def weight_directions(
    memberships: FloatArray, weights: Sequence[float], score: FloatArray, *, geometric: bool
) -> FloatArray:
    """Return how much the score of each place changes with each weight.

    Parameters
    ----------
    memberships : (n, q)
        0..1; NaN = missing.
    weights : (q,)
        Of the criteria.
    score : (n,)
        Their combination, before bonuses and gates.
    geometric
        Whether it is a weighted geometric mean; else a weighted sum.

    Returns
    -------
    (n, q)
        Partial derivative of the renormalised score after each weight; 0 where the criterion is missing.
    """
    weight = np.asarray(weights, float)
    known = np.isfinite(memberships)
    total = np.where(known, weight, 0.0).sum(axis=1, keepdims=True)
    whole = np.asarray(score, float)[:, None]
    with np.errstate(invalid="ignore", divide="ignore"):
        if geometric:
            change = whole * (np.log(np.maximum(memberships, FLOOR)) - np.log(whole)) / total
        else:
            change = (memberships - whole) / total
    return np.where(known & (total > 0), change, 0.0)


def _logit(chance: float) -> float:
    return math.log(chance / (1.0 - chance))

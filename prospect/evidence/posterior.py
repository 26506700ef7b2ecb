"""A chance of usable clay from the expert's score and the holes, with its spread, by the Laplace approximation."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_solve, cholesky, solve_triangular
from scipy.special import expit

from prospect.errors import WrongUsage
from prospect.evidence import _kernels
from prospect.evidence.prior import Prior
from prospect.types import FloatArray

_JITTER = 1e-8
_ENOUGH = 1e-10
_MOST_STEPS = 100
_OF_90_PCT = 1.6448536269514722
"""Standard deviations of a normal distribution to each side that hold 90 % of it."""


@dataclass(frozen=True, slots=True)
class Residual:
    """What neighbouring ground has in common that no criterion sees.

    Attributes
    ----------
    variance
        Of the log-odds; 0.5 below 30 holes (own judgement).
    reach_m
        From this distance on two places have nothing more in common, m; half of it is left at 0.31 of the reach.
    """

    variance: float = 0.5
    reach_m: float = 230.0

    def __post_init__(self) -> None:
        if self.variance <= 0 or self.reach_m <= 0:
            raise WrongUsage(f"A residual needs a variance and a reach above zero: {self}.")


@dataclass(frozen=True)
class HoleResults:
    """What the holes say, one row each; holes at one place stay apart.

    Attributes
    ----------
    x_m, y_m : (n,)
        Place in a projected CRS, m.
    design : (n, p)
        From `Prior.design`.
    usable : (n,)
        1 = usable clay, 0 = none, between = graded; a hole of which it is not known is no row.
    """

    x_m: FloatArray
    y_m: FloatArray
    design: FloatArray
    usable: FloatArray

    def __post_init__(self) -> None:
        sizes = {len(part) for part in (self.x_m, self.y_m, self.design, self.usable)}
        if len(sizes) != 1:
            raise WrongUsage(
                f"Every hole needs a place, a row and a result; their numbers are {sorted(sizes)}."
            )
        if not (np.isfinite(self.design).all() and np.isfinite(self.usable).all()):
            raise WrongUsage("A hole without a score or a result is no evidence: leave it out before.")
        if len(self.usable) and not (self.usable.min() >= 0 and self.usable.max() <= 1):
            raise WrongUsage("Results of holes lie between 0 and 1.")

    def __len__(self) -> int:
        return len(self.usable)


@dataclass(frozen=True, slots=True)
class Chance:
    """The chance of usable clay at places like those that were augered.

    Attributes
    ----------
    log_odds, variance : (m,)
        Mean and variance of the log-odds; NaN where the score is not known.
    """

    log_odds: FloatArray
    variance: FloatArray

    @property
    def median(self) -> FloatArray:
        """The median chance, 0..1: by it places are ranked, for without holes its order is that of the score."""
        return np.asarray(expit(self.log_odds))

    @property
    def low(self) -> FloatArray:
        """The chance is higher than this in 95 of 100 cases."""
        return np.asarray(expit(self.log_odds - _OF_90_PCT * np.sqrt(self.variance)))

    @property
    def high(self) -> FloatArray:
        """The chance is lower than this in 95 of 100 cases."""
        return np.asarray(expit(self.log_odds + _OF_90_PCT * np.sqrt(self.variance)))


@dataclass(frozen=True)
class Posterior:
    """What is believed after the holes; `fit_posterior` makes it.

    Attributes
    ----------
    prior, residual, holes
        What it was made of.
    coefficients : (p,)
        Level, slope and corrections.
    log_odds : (n,)
        At the holes.
    log_evidence
        How well this prior and residual foretold the holes: the logarithm of their probability.
    gradient, information
        (n,) and (n, n), what the holes pull at and know.
    """

    prior: Prior
    residual: Residual
    holes: HoleResults
    coefficients: FloatArray
    log_odds: FloatArray
    log_evidence: float
    gradient: FloatArray
    information: FloatArray

    def at(self, x_m: FloatArray, y_m: FloatArray, design: FloatArray) -> Chance:
        """Return the chance at places.

        Parameters
        ----------
        x_m, y_m : (m,)
            In the CRS of the holes, m.
        design : (m, p)
            From `Prior.design`; a row with NaN gives NaN.
        """
        beside = self.prior.covariance @ self.holes.design.T @ self.information
        inner = self.prior.covariance - beside @ self.holes.design @ self.prior.covariance
        x, y, rows = (np.ascontiguousarray(part, np.float64) for part in (x_m, y_m, design))
        hole_x, hole_y = (np.ascontiguousarray(part, np.float64) for part in (self.holes.x_m, self.holes.y_m))
        mean, spread = np.empty(len(rows)), np.empty(len(rows))
        _kernels.log_odds(
            x, y, rows, hole_x, hole_y, self.coefficients, self.gradient, np.ascontiguousarray(inner),
            np.ascontiguousarray(beside), self.information, self.residual.variance, self.residual.reach_m, mean, spread,
        )  # fmt: skip
        return Chance(mean, spread)

    def implied_weights(self) -> FloatArray | None:
        """Return the weights of the criteria as the holes see them, (q,); None while the slope is not clear of zero."""
        slope = self.coefficients[1]
        beside = self.prior.covariance @ self.holes.design.T @ self.information
        variance = self.prior.covariance[1, 1] - beside[1] @ self.holes.design @ self.prior.covariance[:, 1]
        if slope <= 2.0 * np.sqrt(max(variance, 0.0)):
            return None
        return np.asarray(self.prior.weights) + self.coefficients[2:] / slope


def fit_posterior(holes: HoleResults, prior: Prior, residual: Residual) -> Posterior:
    """Return what is believed after the holes.

    Parameters
    ----------
    holes
        May be none: then it is the prior.
    prior
        The expert's.
    residual
        Of the ground between the criteria.

    Raises
    ------
    WrongUsage
        When the rows of the holes are not those of the prior.

    Notes
    -----
    Logistic model with Gaussian coefficients and a Gaussian field with Wendland's C2 covariance. The mode is found by
    Newton's method with the numerically safe matrix B = I + √W K √W, as in Rasmussen & Williams (2006), algorithms 3.1
    and 3.2, with a mean; it is unique, since the posterior is log-concave.
    """
    if holes.design.shape[1] != len(prior.mean):
        raise WrongUsage(
            f"The rows of the holes have {holes.design.shape[1]} columns, the prior {len(prior.mean)}."
        )
    size = len(holes)
    mean = holes.design @ prior.mean
    shared = holes.design @ prior.covariance @ holes.design.T + residual.variance * alike(
        holes.x_m, holes.y_m, residual.reach_m
    )
    shared[np.diag_indices(size)] += _JITTER
    gradient, log_odds, value = _mode(mean, shared, holes.usable)
    chance = expit(log_odds)
    root = np.sqrt(chance * (1.0 - chance))
    lower = cholesky(np.eye(size) + root[:, None] * shared * root, lower=True) if size else np.empty((0, 0))
    half = solve_triangular(lower, np.diag(root), lower=True) if size else np.empty((0, 0))
    return Posterior(
        prior,
        residual,
        holes,
        prior.mean + prior.covariance @ holes.design.T @ gradient,
        log_odds,
        float(value - np.log(np.diag(lower)).sum()),
        gradient,
        half.T @ half,
    )


def alike(x_m: FloatArray, y_m: FloatArray, reach_m: float) -> FloatArray:
    """Return how much places have in common, (n, n): Wendland's C2 function of their distance (Wendland 1995)."""
    distance = np.hypot(np.subtract.outer(x_m, x_m), np.subtract.outer(y_m, y_m)) / reach_m
    return np.where(distance < 1.0, (1.0 - np.minimum(distance, 1.0)) ** 4 * (4.0 * distance + 1.0), 0.0)


def _mode(mean: FloatArray, shared: FloatArray, usable: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """Return gradient and log-odds at the mode, and the value of what is greatest there."""

    def value_of(gradient: FloatArray) -> tuple[FloatArray, float]:
        log_odds = mean + shared @ gradient
        likelihood = usable @ log_odds - np.logaddexp(0.0, log_odds).sum()
        return log_odds, float(likelihood - 0.5 * gradient @ (log_odds - mean))

    gradient: FloatArray = np.zeros(len(mean))
    log_odds, value = value_of(gradient)
    for _ in range(_MOST_STEPS if len(mean) else 0):
        chance = expit(log_odds)
        weight = chance * (1.0 - chance)
        root = np.sqrt(weight)
        lower = cholesky(np.eye(len(mean)) + root[:, None] * shared * root, lower=True)
        aim = weight * (log_odds - mean) + usable - chance
        whole = aim - root * cho_solve((lower, True), root * (shared @ aim))
        gradient, log_odds, better = _step(gradient, whole - gradient, value_of, value)
        if better - value < _ENOUGH:
            value = better
            break
        value = better
    return usable - expit(log_odds), log_odds, value


def _step(
    start: FloatArray,
    step: FloatArray,
    value_of: Callable[[FloatArray], tuple[FloatArray, float]],
    value: float,
) -> tuple[FloatArray, FloatArray, float]:
    """Return where a step leads that does not lose: the whole step, or half of it, and half of that."""
    for _ in range(40):
        log_odds, found = value_of(start + step)
        if found >= value:
            return start + step, log_odds, found
        step = step / 2.0
    log_odds, found = value_of(start)
    return start, log_odds, found

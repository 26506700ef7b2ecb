"""Weights from a matrix of pairwise comparisons, with the check of its consistency."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from prospect.types import FloatArray

RANDOM_INDEX = (0.0, 0.0, 0.58, 0.90, 1.12, 1.24, 1.32, 1.41, 1.45, 1.49)
"""Mean consistency index of random matrices of order 1 to 10 (Saaty 1980)."""

ACCEPTABLE_RATIO = 0.10
"""Consistency ratio up to which a matrix is accepted (Saaty 1980)."""


@dataclass(frozen=True, slots=True)
class PairwiseWeights:
    """Weights of one comparison matrix.

    Attributes
    ----------
    weights : (n,)
        The principal eigenvector, summing to 1.
    largest_eigenvalue
        n for a perfectly consistent matrix, more otherwise.
    consistency_index
        ``(largest_eigenvalue - n) / (n - 1)``.
    consistency_ratio
        The index divided by that of random matrices.
    """

    weights: FloatArray
    largest_eigenvalue: float
    consistency_index: float
    consistency_ratio: float

    @property
    def acceptable(self) -> bool:
        """Whether the judgements agree with each other well enough to be used."""
        return self.consistency_ratio <= ACCEPTABLE_RATIO


def pairwise_weights(matrix: ArrayLike) -> PairwiseWeights:
    """Turn pairwise comparisons into weights.

    Parameters
    ----------
    matrix : (n, n)
        ``matrix[i, j]`` = how many times criterion i counts for criterion j; positive, reciprocal
        (``matrix[j, i] == 1 / matrix[i, j]``), n from 1 to 10.

    Returns
    -------
    PairwiseWeights

    Raises
    ------
    ValueError
        When the matrix is not square, not positive, not reciprocal, or larger than 10 × 10.

    Notes
    -----
    Analytic hierarchy process: Saaty (1980), The Analytic Hierarchy Process.
    """
    comparisons = np.asarray(matrix, dtype=np.float64)
    order = comparisons.shape[0] if comparisons.ndim == 2 else 0
    if comparisons.shape != (order, order) or not 1 <= order <= len(RANDOM_INDEX):
        raise ValueError(
            f"a square matrix of 1 to {len(RANDOM_INDEX)} rows is needed, got {comparisons.shape}"
        )
    if not np.isfinite(comparisons).all() or (comparisons <= 0).any():
        raise ValueError("every comparison must be a positive number")
    if not np.allclose(comparisons * comparisons.T, 1, rtol=0.02):
        raise ValueError("the matrix must be reciprocal: entry (j, i) is 1 / entry (i, j)")
    values, vectors = np.linalg.eig(comparisons)
    principal = int(np.argmax(values.real))
    weights = np.abs(vectors[:, principal].real)
    largest = float(values[principal].real)
    index = (largest - order) / (order - 1) if order > 1 else 0.0
    expected = RANDOM_INDEX[order - 1]
    return PairwiseWeights(weights / weights.sum(), largest, index, index / expected if expected else 0.0)

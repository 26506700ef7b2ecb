"""Combination of evidence against printed worked examples and computed checks."""

from __future__ import annotations

import numpy as np
import pytest

from prospect.scoring import (
    completeness,
    fuzzy_gamma,
    pairwise_weights,
    weighted_geometric_mean,
    weighted_linear_combination,
)

WEIGHTS = (0.34, 0.20, 0.19, 0.105, 0.105, 0.06)
MEMBERSHIPS = (0.95, 0.8, 0.7, 1.0, 0.9, 0.6)


def _reciprocal(upper: list[list[float]]) -> np.ndarray:
    order = len(upper) + 1
    matrix = np.eye(order)
    for row, values in enumerate(upper):
        for offset, value in enumerate(values, start=1):
            matrix[row, row + offset] = value
            matrix[row + offset, row] = 1 / value
    return matrix


# Computed check: the sums of the definitions (linear as in Malczewski 1999), done apart from this code.
def test_linear_and_geometric_combination() -> None:
    assert weighted_linear_combination(MEMBERSHIPS, WEIGHTS) == pytest.approx(0.8515, abs=1e-4)
    assert weighted_geometric_mean(MEMBERSHIPS, WEIGHTS) == pytest.approx(0.8424, abs=1e-4)


def test_a_missing_criterion_is_dropped_and_the_rest_renormalised() -> None:
    gap = np.array(MEMBERSHIPS)
    gap[1] = np.nan
    assert weighted_linear_combination(gap, WEIGHTS) == pytest.approx(0.8644, abs=1e-4)
    assert weighted_geometric_mean(gap, WEIGHTS) == pytest.approx(0.8533, abs=1e-4)
    assert completeness(gap, WEIGHTS) == pytest.approx(0.80, abs=1e-4)


# Saaty 2008, relative consumption of drinks (matrix in the open; CR .022 and weights as printed there,
# from memory; the fourth decimals are a computed check).
def test_drinks() -> None:
    matrix = _reciprocal(
        [
            [9, 5, 2, 1, 1, 1 / 2],
            [1 / 3, 1 / 9, 1 / 9, 1 / 9, 1 / 9],
            [1 / 3, 1 / 4, 1 / 3, 1 / 9],
            [1 / 2, 1, 1 / 3],
            [2, 1 / 2],
            [1 / 3],
        ]
    )
    result = pairwise_weights(matrix)
    assert result.largest_eigenvalue == pytest.approx(7.1766, abs=1e-4)
    assert result.weights[-1] == pytest.approx(0.3268, abs=1e-4)
    assert result.consistency_ratio == pytest.approx(0.0223, abs=1e-4)
    np.testing.assert_allclose(result.weights, [0.177, 0.019, 0.042, 0.116, 0.190, 0.129, 0.327], atol=6e-4)
    assert result.acceptable


# Saaty 1990, choosing a house, from memory: a matrix that fails the consistency test.
def test_house_is_refused() -> None:
    matrix = _reciprocal(
        [
            [5, 3, 7, 6, 6, 1 / 3, 1 / 4],
            [1 / 3, 5, 3, 3, 1 / 5, 1 / 7],
            [6, 3, 4, 6, 1 / 5],
            [1 / 3, 1 / 4, 1 / 7, 1 / 8],
            [1 / 2, 1 / 5, 1 / 6],
            [1 / 5, 1 / 6],
            [1 / 2],
        ]
    )
    result = pairwise_weights(matrix)
    assert result.largest_eigenvalue == pytest.approx(9.669, abs=5e-4)
    assert result.consistency_index == pytest.approx(0.238, abs=5e-4)
    assert result.consistency_ratio == pytest.approx(0.169, abs=5e-4)
    assert result.weights[-1] == pytest.approx(0.333, abs=5e-4)
    assert not result.acceptable


# Computed check: the comparisons behind the weights of the residual model.
def test_residual_model() -> None:
    matrix = _reciprocal([[2, 2, 3, 3, 5], [1, 2, 2, 4], [2, 2, 3], [1, 2], [2]])
    result = pairwise_weights(matrix)
    assert result.largest_eigenvalue == pytest.approx(6.0251, abs=5e-4)
    assert result.consistency_ratio == pytest.approx(0.0040, abs=5e-4)
    np.testing.assert_allclose(result.weights, [0.339, 0.201, 0.192, 0.105, 0.105, 0.057], atol=5e-4)


# Bonham-Carter 1994, the pair .75 and .50 (.679 at gamma .7 as printed, from memory; the rest computed).
@pytest.mark.parametrize(
    ("gamma", "expected"),
    [(0.0, 0.375), (0.5, 0.5728), (0.7, 0.6786), (0.9, 0.8039), (0.95, 0.8387), (1, 0.875)],
)
def test_fuzzy_gamma_of_a_pair(gamma: float, expected: float) -> None:
    assert fuzzy_gamma([0.75, 0.5], gamma) == pytest.approx(expected, abs=5e-5)


# Computed check.
@pytest.mark.parametrize(("gamma", "expected"), [(0.7, 0.6973), (0.9, 0.8854), (0.95, 0.9398)])
def test_fuzzy_gamma_of_four(gamma: float, expected: float) -> None:
    assert fuzzy_gamma([0.9, 0.6, 0.8, 0.7], gamma) == pytest.approx(expected, abs=5e-5)

"""Properties of the combinations: bounds, missing values, gates, draws of weights."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from prospect.scoring import (
    apply_gates,
    completeness,
    fuzzy_gamma,
    pairwise_weights,
    rank_bands,
    weighted_geometric_mean,
    weighted_linear_combination,
)

UNIT = st.floats(0, 1, width=32) | st.just(float("nan"))
STACKS = arrays(np.float32, (4, 6), elements=UNIT)
WEIGHTS = arrays(np.float64, 4, elements=st.floats(0.01, 1))


@given(STACKS, WEIGHTS)
def test_combinations_stay_between_the_least_and_the_most(stack: np.ndarray, weights: np.ndarray) -> None:
    known = np.isfinite(stack).any(axis=0)
    for combine in (weighted_linear_combination, weighted_geometric_mean):
        score = combine(stack, weights)
        np.testing.assert_array_equal(np.isnan(score), ~known)
        lifted = np.maximum(stack, 0.01)
        assert (score[known] <= np.nanmax(lifted[:, known], axis=0) + 1e-5).all()
        assert (score[known] >= np.nanmin(stack[:, known], axis=0) - 1e-5).all()


@given(STACKS, WEIGHTS)
def test_geometric_is_never_above_linear(stack: np.ndarray, weights: np.ndarray) -> None:
    lifted = np.maximum(stack, 0.01)
    known = np.isfinite(stack).any(axis=0)
    geometric = weighted_geometric_mean(lifted, weights)[known]
    assert (geometric <= weighted_linear_combination(lifted, weights)[known] + 1e-5).all()


def test_missing_is_not_zero() -> None:
    weights = (0.5, 0.5)
    assert weighted_linear_combination([0.8, np.nan], weights) == pytest.approx(0.8)
    assert weighted_linear_combination([0.8, 0.0], weights) == pytest.approx(0.4)
    assert weighted_geometric_mean([0.8, np.nan], weights) == pytest.approx(0.8)
    assert fuzzy_gamma([0.8, np.nan], 0.0) == pytest.approx(0.8)
    assert np.isnan(fuzzy_gamma([np.nan, np.nan], 0.5))
    assert completeness([0.8, np.nan], weights) == pytest.approx(0.5)
    assert completeness([np.nan, np.nan], weights) == 0


@pytest.mark.parametrize("weights", [(0.5, -0.5), (0.5, np.nan), (0, 0), (1.0,), (np.inf, 1)])
def test_weights_that_make_no_sense_are_refused(weights: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="weights"):
        weighted_linear_combination([0.1, 0.2], weights)


def test_gates_multiply_and_an_unknown_gate_does_not_fire() -> None:
    score = np.array([0.8, 0.8, np.nan, 0.8], dtype=np.float32)
    fired = np.array([True, False, True, True])
    part = np.array([0.0, 0.5, 1.0, np.nan], dtype=np.float32)
    np.testing.assert_allclose(
        apply_gates(score, [(fired, 0.1), (part, 0.0)]), [0.08, 0.4, np.nan, 0.08], rtol=1e-6
    )
    with pytest.raises(ValueError, match="factor"):
        apply_gates(score, [(fired, 1.5)])


@pytest.mark.parametrize("matrix", [[[1, 2], [1, 1]], [[1, -2], [-0.5, 1]], [[1, 2, 3]], np.eye(11)])
def test_matrices_that_are_not_comparisons_are_refused(matrix: object) -> None:
    with pytest.raises(ValueError, match=r"matrix|comparison"):
        pairwise_weights(matrix)


def test_a_consistent_matrix_gives_its_weights_back() -> None:
    weights = np.array([0.5, 0.3, 0.2])
    result = pairwise_weights(weights[:, None] / weights[None, :])
    np.testing.assert_allclose(result.weights, weights)
    assert result.consistency_ratio == pytest.approx(0, abs=1e-12)


# Standard deviation of a Dirichlet component, textbook formula.
def test_rank_bands_are_repeatable_and_a_clear_winner_is_stable() -> None:
    memberships = np.random.default_rng(1).uniform(0.1, 0.6, (3, 40))
    memberships[:, 7] = 0.95
    memberships[:, 9] = np.nan
    first = rank_bands(memberships, (0.5, 0.3, 0.2), draws=100)
    second = rank_bands(lambda _: memberships, (0.5, 0.3, 0.2), draws=100)
    assert first.median[7] == first.high[7] == 1
    assert first.stable[7]
    assert first.chance_of_top[7] == 1
    assert np.isnan(first.median[9])
    assert not first.stable[9]
    np.testing.assert_array_equal(first.median, second.median)
    assert (first.low[np.isfinite(first.low)] <= first.high[np.isfinite(first.high)]).all()

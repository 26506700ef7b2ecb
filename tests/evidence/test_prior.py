"""What is believed before any hole, against the check values of the learning reference (computed for it)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prospect.errors import WrongUsage
from prospect.evidence import Anchors, HoleResults, Prior, Residual, fit_posterior, weight_directions
from prospect.scoring import weighted_geometric_mean, weighted_linear_combination

WEIGHTS = (0.34, 0.20, 0.19, 0.105, 0.105, 0.06)
MEMBERSHIPS = np.array([[0.95, 0.8, 0.7, 1.0, 0.9, 0.6]])


def no_holes(prior: Prior) -> HoleResults:
    return HoleResults(np.empty(0), np.empty(0), np.empty((0, len(prior.mean))), np.empty(0))


def test_the_anchors_are_answers_that_come_back():
    # Learning reference, "Priors": β0 4.394449, α0 −.878890, chances of six scores.
    anchors = Anchors()
    assert (anchors.slope, anchors.level) == pytest.approx((4.394449, -0.878890), abs=1e-6)
    prior = Prior()
    rows = prior.design(np.array([0.0, 0.3, 0.5, 0.6, 0.8, 1.0]))
    chance = fit_posterior(no_holes(prior), prior, Residual()).at(np.zeros(6), np.zeros(6), rows)
    assert chance.median == pytest.approx([0.0289, 0.1, 0.2111, 0.2934, 0.5, 0.7066], abs=1e-4)


def test_without_holes_the_order_is_the_expert_s():
    # Learning reference, L1.
    score = np.random.default_rng(5).random(2000)
    prior = Prior()
    chance = fit_posterior(no_holes(prior), prior, Residual()).at(
        np.zeros(2000), np.zeros(2000), prior.design(score)
    )
    assert np.array_equal(np.argsort(chance.median, kind="stable"), np.argsort(score, kind="stable"))


@pytest.mark.parametrize(
    ("geometric", "missing", "expected"),
    [
        (False, None, (0.0985, -0.0515, -0.1515, 0.1485, 0.0485, -0.2515)),
        (True, None, (0.1013, -0.0435, -0.1559, 0.1445, 0.0558, -0.2858)),
        (False, 1, (0.1070, 0.0, -0.2055, 0.1695, 0.0445, -0.3305)),
    ],
)
def test_how_the_score_changes_with_each_weight(geometric, missing, expected):
    # Learning reference, L2.
    memberships = MEMBERSHIPS.copy()
    if missing is not None:
        memberships[0, missing] = np.nan
    combine = weighted_geometric_mean if geometric else weighted_linear_combination
    score = np.asarray(combine(memberships.T, WEIGHTS))
    found = weight_directions(memberships, WEIGHTS, score, geometric=geometric)
    assert found[0] == pytest.approx(expected, abs=1e-4)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.floats(0.02, 1.0), min_size=6, max_size=6), st.booleans(), st.integers(0, 5))
def test_directions_are_the_derivatives(memberships, geometric, criterion):
    # Against a difference of our own combination: weights need not sum to one, they are renormalised.
    layers = np.array([memberships])
    combine = weighted_geometric_mean if geometric else weighted_linear_combination
    score = np.asarray(combine(layers.T, WEIGHTS))
    step = 1e-6
    more = np.array(WEIGHTS)
    more[criterion] += step
    change = (np.asarray(combine(layers.T, more)) - score) / step
    found = weight_directions(layers, WEIGHTS, score, geometric=geometric)
    assert found[0, criterion] == pytest.approx(change[0], abs=1e-5)


def test_corrections_are_as_unsure_as_weights_drawn_by_chance():
    # Learning reference, prior covariance of δ for L5.
    prior = Prior(weights=(0.5, 0.3, 0.2), sure_of_weights=10.0)
    among = prior.covariance[2:, 2:]
    assert np.diag(among) == pytest.approx([0.43889, 0.36867, 0.28089], abs=1e-5)
    assert (among[0, 1], among[0, 2], among[1, 2]) == pytest.approx((-0.26333, -0.17556, -0.10533), abs=1e-5)
    assert among.sum(axis=1) == pytest.approx(0.0, abs=1e-12)


def test_what_makes_no_sense_is_refused():
    with pytest.raises(WrongUsage, match="better score"):
        Anchors(low_chance=0.6)
    with pytest.raises(WrongUsage, match="sum to 1"):
        Prior(weights=(0.5, 0.2))
    with pytest.raises(WrongUsage, match="above zero"):
        Residual(variance=0.0)

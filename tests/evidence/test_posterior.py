"""What is believed after holes: check values of the learning reference, direct optimisation, and its own claims."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.special import expit

from prospect.errors import WrongUsage
from prospect.evidence import HoleResults, Prior, Residual, alike, fit_posterior, weight_directions

# Learning reference, L3: x, y, score, usable.
HOLES = np.array(
    [
        (0, 0, 0.9, 1),
        (40, 0, 0.8, 1),
        (300, 0, 0.7, 0),
        (320, 20, 0.5, 1),
        (600, 100, 0.4, 0),
        (900, 0, 0.2, 0),
    ],
    float,
)
PLACES = np.array([(20, 0, 0.85), (300, 40, 0.6), (600, 0, 0.4), (5000, 0, 0.85)], float)
RESIDUAL = Residual(variance=1.0, reach_m=240.0)


def evidence(prior: Prior, rows: np.ndarray, directions=None) -> HoleResults:
    return HoleResults(rows[:, 0], rows[:, 1], prior.design(rows[:, 2], directions), rows[:, 3])


def test_six_holes():
    # Learning reference, L3, to 1e-4.
    prior = Prior()
    found = fit_posterior(evidence(prior, HOLES), prior, RESIDUAL)
    assert found.coefficients == pytest.approx([-0.47894, 4.56064], abs=1e-4)
    assert found.log_odds == pytest.approx(
        [1.33180, 0.89180, 0.06137, -0.72130, -1.56412, -2.38733], abs=1e-4
    )
    assert found.log_evidence == pytest.approx(-3.76508, abs=1e-4)
    chance = found.at(PLACES[:, 0], PLACES[:, 1], prior.design(PLACES[:, 2]))
    assert chance.log_odds == pytest.approx([1.13156, -0.29356, -1.44450, 0.66122], abs=1e-4)
    assert chance.variance == pytest.approx([1.12579, 1.05924, 1.58908, 1.68133], abs=1e-4)
    assert chance.median == pytest.approx([0.75613, 0.42713, 0.19085, 0.65954], abs=1e-4)
    assert chance.low == pytest.approx([0.3512, 0.1206, 0.0288, 0.1867], abs=1e-4)
    assert chance.high == pytest.approx([0.9467, 0.8021, 0.6523, 0.9424], abs=1e-4)


def test_the_mode_is_that_of_a_direct_search():
    # scipy's BFGS on coefficients and field together, which shares nothing with the algorithm but the model.
    prior = Prior()
    holes = evidence(prior, HOLES)
    field = RESIDUAL.variance * alike(holes.x_m, holes.y_m, RESIDUAL.reach_m) + 1e-8 * np.eye(len(HOLES))
    spread, inverse = np.linalg.inv(prior.covariance), np.linalg.inv(field)

    def loss(values):
        theta, u = values[:2], values[2:]
        f = holes.design @ theta + u
        off = theta - prior.mean
        return np.logaddexp(0, f).sum() - holes.usable @ f + 0.5 * off @ spread @ off + 0.5 * u @ inverse @ u

    best = minimize(loss, np.concatenate([prior.mean, np.zeros(len(HOLES))]), options={"gtol": 1e-9})
    found = fit_posterior(holes, prior, RESIDUAL)
    assert found.coefficients == pytest.approx(best.x[:2], abs=1e-5)
    assert found.log_odds == pytest.approx(holes.design @ best.x[:2] + best.x[2:], abs=1e-5)
    chance = expit(found.log_odds)
    weight = chance * (1 - chance)
    weighted = holes.design * weight[:, None]
    precision = np.block(
        [[spread + holes.design.T @ weighted, weighted.T], [weighted, inverse + np.diag(weight)]]
    )
    joint = np.linalg.inv(precision)
    along = np.hstack([holes.design, np.eye(len(HOLES))])
    there = found.at(holes.x_m, holes.y_m, holes.design)
    assert there.variance == pytest.approx(np.diag(along @ joint @ along.T), abs=1e-5)
    assert there.log_odds == pytest.approx(found.log_odds, abs=1e-6)


@pytest.mark.parametrize(
    ("usable", "chances"), [(1.0, (0.5943, 0.5579, 0.5130, 0.4940)), (0.0, (0.2712, 0.2914, 0.3169, 0.3280))]
)
def test_one_hole_tells_of_its_neighbours(usable, chances):
    # Learning reference, L4.
    prior = Prior()
    found = fit_posterior(evidence(prior, np.array([[0, 0, 0.7, usable]])), prior, RESIDUAL)
    away = np.array([0.0, 60.0, 120.0, 240.0])
    there = found.at(away, np.zeros(4), prior.design(np.full(4, 0.7)))
    assert there.median == pytest.approx(chances, abs=1e-4)


WEIGHTS = (0.5, 0.3, 0.2)
MEMBERSHIPS = np.array(
    [(1, 0.5, 0), (0.9, 0.2, 0.3), (0.8, 0.9, 0.1), (0.2, 0.6, 0.9), (0.1, 0.3, 0.8), (0.3, 0.1, 1)], float
)


@pytest.mark.parametrize(
    ("times", "slope", "chances"),
    [
        (1, 3.2882, (0.365, 0.355, 0.436, 0.439, 0.317, 0.376)),
        (10, 0.6600, (0.115, 0.215, 0.208, 0.804, 0.783, 0.785)),
        (100, None, (0.012, 0.060, 0.043, 0.957, 0.967, 0.954)),
    ],
)
def test_enough_holes_overrule_a_wrong_expert(times, slope, chances):
    # Learning reference, L5.
    prior = Prior(weights=WEIGHTS, sure_of_weights=10.0)
    score = MEMBERSHIPS @ WEIGHTS
    directions = weight_directions(MEMBERSHIPS, WEIGHTS, score, geometric=False)
    rows = np.column_stack([np.arange(6) * 1e4, np.zeros(6), score, [0, 0, 0, 1, 1, 1]])
    holes = evidence(prior, np.repeat(rows, times, axis=0), np.repeat(directions, times, axis=0))
    found = fit_posterior(holes, prior, Residual(variance=1e-12, reach_m=100.0))
    there = found.at(rows[:, 0], rows[:, 1], prior.design(score, directions))
    assert there.median == pytest.approx(chances, abs=1e-3)
    assert found.coefficients[2:].sum() == pytest.approx(0.0, abs=1e-9)
    if slope is not None:
        assert found.coefficients[1] == pytest.approx(slope, abs=1e-3)
    if times == 1:
        assert found.coefficients == pytest.approx([-0.1677, 3.2882, -0.5490, -0.0008, 0.5498], abs=1e-3)
        assert found.implied_weights() is not None
        assert found.implied_weights().sum() == pytest.approx(1.0)
    if times == 10:
        assert found.implied_weights() is None, "a slope that may be none gives no weights"


def test_intervals_hold_what_they_claim_on_ground_made_from_the_model():
    # Our goal: 85 to 95 of 100 of the 90 % intervals hold the truth; invented ground, made from the model itself.
    rng = np.random.default_rng(11)
    inside = []
    for _ in range(60):
        prior, n = Prior(), 80
        x, y = rng.random(n) * 1500, rng.random(n) * 1500
        score = rng.random(n)
        design = prior.design(score)
        theta = rng.multivariate_normal(prior.mean, prior.covariance)
        field = alike(x, y, RESIDUAL.reach_m) * RESIDUAL.variance + 1e-9 * np.eye(n)
        f = design @ theta + np.linalg.cholesky(field) @ rng.standard_normal(n)
        usable = (rng.random(n) < expit(f)).astype(float)
        dug, rest = np.arange(n) < 40, np.arange(n) >= 40
        found = fit_posterior(HoleResults(x[dug], y[dug], design[dug], usable[dug]), prior, RESIDUAL)
        there = found.at(x[rest], y[rest], design[rest])
        truth = expit(f[rest])
        inside.append(((there.low <= truth) & (truth <= there.high)).mean())
    assert 0.85 <= np.mean(inside) <= 0.95


def test_the_order_of_the_holes_and_a_graded_half_change_nothing_they_should_not():
    prior = Prior()
    there = prior.design(PLACES[:, 2])
    one = fit_posterior(evidence(prior, HOLES), prior, RESIDUAL).at(PLACES[:, 0], PLACES[:, 1], there)
    other = fit_posterior(evidence(prior, HOLES[::-1]), prior, RESIDUAL).at(PLACES[:, 0], PLACES[:, 1], there)
    assert one.log_odds == pytest.approx(other.log_odds, abs=1e-9)
    assert one.variance == pytest.approx(other.variance, abs=1e-9)
    # A hole graded as its own chance pulls at nothing (the gradient y − π is 0 there).
    prior_only = fit_posterior(evidence(prior, HOLES[:0]), prior, RESIDUAL).at(
        PLACES[:, 0], PLACES[:, 1], there
    )
    grade = prior_only.median[0]
    graded = np.array([[PLACES[0, 0], PLACES[0, 1], PLACES[0, 2], grade]])
    found = fit_posterior(evidence(prior, graded), prior, RESIDUAL).at(PLACES[:, 0], PLACES[:, 1], there)
    assert found.log_odds == pytest.approx(prior_only.log_odds, abs=1e-6)
    assert (found.variance <= prior_only.variance + 1e-12).all()


def test_unknown_scores_stay_unknown_and_wrong_rows_are_refused():
    prior = Prior()
    found = fit_posterior(evidence(prior, HOLES), prior, RESIDUAL)
    there = found.at(np.zeros(2), np.zeros(2), prior.design(np.array([np.nan, 0.5])))
    assert np.isnan(there.median[0])
    assert np.isnan(there.low[0])
    assert np.isfinite(there.median[1])
    with pytest.raises(WrongUsage, match="columns"):
        fit_posterior(evidence(prior, HOLES), Prior(weights=WEIGHTS), RESIDUAL)
    with pytest.raises(WrongUsage, match="no evidence"):
        evidence(prior, np.array([[0, 0, np.nan, 1.0]]))
    with pytest.raises(WrongUsage, match="between 0 and 1"):
        evidence(prior, np.array([[0, 0, 0.5, 2.0]]))

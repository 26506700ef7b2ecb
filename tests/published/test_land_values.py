"""Position errors and chances inside shapes against published constants and exact values."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from scipy import stats
from shapely.geometry import Point, Polygon, box

from prospect.land import averaged_sigma, chance_inside, circular_radius, line_setback, sigma_of_radius

L_SHAPE = Polygon([(0, 0), (20, 0), (20, 8), (8, 8), (8, 20), (0, 20)])


@pytest.mark.parametrize(
    ("share", "radius"), [(0.50, 1.1774), (0.68, 1.5096), (0.90, 2.1460), (0.95, 2.4477), (0.99, 3.0349)]
)
def test_circular_error_radii(share, radius):
    # Circular error multiples of one-axis sigma: 1.1774 (CEP), 2.1460 (CMAS) and 2.4477 (NSSDA) are the
    # constants of FGDC-STD-007.3-1998, National Standard for Spatial Data Accuracy, appendix 3-A; the others are
    # quantiles of the Rayleigh distribution.
    assert circular_radius(1.0, share) == pytest.approx(radius, abs=1e-4)
    assert circular_radius(1.0, share) == pytest.approx(stats.rayleigh.ppf(share), rel=1e-12)


def test_nssda_accuracy_from_radial_error():
    # FGDC-STD-007.3-1998: Accuracy_r = 1.7308 · RMSE_r, with RMSE_r = √2 · RMSE_x for equal axes.
    assert circular_radius(1.0, 0.95) == pytest.approx(1.7308 * math.sqrt(2.0), abs=2e-4)


@pytest.mark.parametrize(
    ("point", "chance"),
    [((0, 0), 0.975316), ((5, 0), 0.493790), ((5, 5), 0.25), ((7, 0), 0.156685), ((3, 1), 0.821037)],
)
def test_square_of_ten_metres(point, chance):
    # Exact: for an upright square the chance is a product of two normal differences, here by
    # scipy.stats.norm, which knows nothing of our formula.
    found = chance_inside(box(-5, -5, 5, 5), *point, 2.0)
    span = [stats.norm.cdf((5 - c) / 2) - stats.norm.cdf((-5 - c) / 2) for c in point]
    assert found == pytest.approx(span[0] * span[1], abs=1e-9)
    assert found == pytest.approx(chance, abs=5e-7)


@pytest.mark.parametrize(
    ("x", "chance"),
    [
        (499.0, 0.6914624613),
        (499.99, 0.5019947031),
        (500.0, 0.5),
        (501.0, 0.3085375387),
        (510.0, 2.866516e-7),
    ],
)
def test_beside_a_long_edge(x, chance):
    # Exact: Φ(d/σ) for a straight edge; Φ(.5) = .6914624613 and Φ(-5) = 2.866516e-7 stand in every table
    # of the normal distribution.
    assert chance_inside(box(-500, -500, 500, 500), x, 0.0, 2.0) == pytest.approx(chance, abs=1e-9)


@pytest.mark.parametrize(("point", "chance"), [((4, 4), 0.954500), ((10, 10), 0.292138)])
def test_l_shape(point, chance):
    # (Computed check): the L as two rectangles, each a product of normal differences.
    def rectangle(x0, y0, x1, y1):
        x, y = point
        across = stats.norm.cdf((x1 - x) / 2) - stats.norm.cdf((x0 - x) / 2)
        return across * (stats.norm.cdf((y1 - y) / 2) - stats.norm.cdf((y0 - y) / 2))

    found = chance_inside(L_SHAPE, *point, 2.0)
    assert found == pytest.approx(rectangle(0, 0, 20, 8) + rectangle(0, 8, 8, 20), abs=1e-9)
    assert found == pytest.approx(chance, abs=5e-7)


@pytest.mark.parametrize(
    ("d", "chance"),
    [(0, 0.5), (0.5, 0.6915), (1, 0.8413), (1.645, 0.95), (2, 0.9772), (2.326, 0.99), (3, 0.9987)],
)
def test_straight_edge(d, chance):
    # Table of the standard normal distribution (textbook values, from memory).
    sigma = 4.0
    half_plane = box(-1e4, -1e4, d * sigma, 1e4)
    assert chance_inside(half_plane, 0.0, 0.0, sigma) == pytest.approx(chance, abs=6e-5)


@pytest.mark.parametrize(("d1", "d2", "chance"), [(2, 2, 0.7079), (4, 3, 0.9120)])
def test_right_corner(d1, d2, chance):
    # Exact: Φ(d1/σ)·Φ(d2/σ).
    corner = box(-1e4, -1e4, d1, d2)
    assert chance_inside(corner, 0.0, 0.0, 2.0) == pytest.approx(chance, abs=6e-5)


def test_disc_and_strip():
    # Exact: 1 - exp(-R²/2σ²) for a disc about the point, erf(w/(2√2σ)) for the middle of a strip.
    disc = Point(0, 0).buffer(5.0, quad_segs=2000)
    assert chance_inside(disc, 0.0, 0.0, 2.0) == pytest.approx(1 - math.exp(-25 / 8), abs=1e-6)
    strip = box(-5, -1e4, 5, 1e4)
    assert chance_inside(strip, 0.0, 0.0, 2.0) == pytest.approx(math.erf(10 / (4 * math.sqrt(2))), abs=1e-12)


@pytest.mark.parametrize(("confidence", "metres"), [(0.90, 4.62), (0.95, 5.93), (0.99, 8.39)])
def test_setback_from_a_line(confidence, metres):
    # (Computed check): one-sided normal quantile of the joint error √(2² + 3²) m.
    assert line_setback(2.0, 3.0, confidence) == pytest.approx(metres, abs=0.01)


def test_averaging_correlated_fixes():
    # (Computed check): variance of the mean of equally correlated values, σ²(1 + (n-1)ρ)/n (textbook formula).
    assert averaged_sigma(2.0, 10, 0.5) == pytest.approx(1.483, abs=1e-3)
    assert averaged_sigma(2.0, 10, 0.0) == pytest.approx(2.0 / math.sqrt(10), rel=1e-12)
    assert averaged_sigma(2.0, 60, 0.8) == pytest.approx(1.79, abs=5e-3)


def test_phone_under_open_sky():
    # Smartphone accuracy of 4.9 m under open sky, read as a 95 % radius (the figure on the United States
    # government's page on accuracy of satellite positions): σ 2.00 m, 68 % radius 3.02 m.
    sigma = sigma_of_radius(4.9, 0.95)
    assert sigma == pytest.approx(2.00, abs=0.005)
    assert circular_radius(sigma, 0.68) == pytest.approx(3.02, abs=0.005)


def test_monte_carlo():
    # Independent method: share of simulated positions inside, four standard errors.
    rng = np.random.default_rng(11)
    shape = Polygon(
        [(0, 0), (30, -4), (41, 18), (22, 11), (15, 33), (-6, 20)],
        holes=[[(5, 6), (12, 5), (11, 13), (4, 12)]],
    )
    count = 200_000
    for x, y, sigma in [(10, 10, 3.0), (0, 0, 5.0), (30, 15, 8.0), (8, 9, 1.5)]:
        points = rng.normal((x, y), sigma, size=(count, 2))

        share = shapely.contains_xy(shape, points[:, 0], points[:, 1]).mean()
        exact = chance_inside(shape, x, y, sigma)
        assert share == pytest.approx(exact, abs=4 * math.sqrt(max(exact * (1 - exact), 1e-6) / count))

"""Position errors and chances inside shapes against published constants and exact values."""

from __future__ import annotations

import math

import geopandas as gpd
import numpy as np
import pytest
import shapely
from scipy import stats
from shapely.geometry import Point, Polygon, box

from prospect.land import (
    CAUTIONS,
    averaged_sigma,
    chance_inside,
    circular_radius,
    line_setback,
    setback,
    shipped_rules,
    sigma_of_radius,
    uncertain_band,
)
from prospect.land.inside import EdgeTable, shares_of

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


def test_national_map_accuracy_relation():
    # FGDC-STD-007.3-1998, section 3.2.1 and appendix 3-A: the radius that holds 95 % of the positions is
    # 1.7308 · RMSE_r = 2.4477 · RMSE_x where the errors of both axes are equal. Here from simulated errors.
    errors = np.random.default_rng(7).normal(0, 2.0, (400_000, 2))
    rmse_r = math.sqrt((errors**2).sum(axis=1).mean())
    radius = np.quantile(np.hypot(*errors.T), 0.95)
    assert radius == pytest.approx(1.7308 * rmse_r, rel=3e-3)
    assert circular_radius(rmse_r / math.sqrt(2.0), 0.95) == pytest.approx(1.7308 * rmse_r, rel=1e-4)
    assert sigma_of_radius(1.7308, 0.95) * math.sqrt(2.0) == pytest.approx(1.0, abs=1e-4)


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


def test_setbacks_add_distances_to_keep():
    # The errors combine in quadrature, distances to keep come on top (rule of this room; arithmetic).
    gps_error_m = circular_radius(2.0, 0.68)
    advice = setback(gps_error_m, 3.0, 0.95, own_m=2.0, legal_m=7.6)
    assert advice.error_m == pytest.approx(5.93, abs=0.01)
    assert advice.total_m == pytest.approx(5.93 + 9.6, abs=0.01)
    assert advice.sentence() == (
        "To be 95% sure of the side, stay 15.5 m from the mapped line "
        "(5.9 m for the errors of receiver and map, 2 m of your own, 7.6 m by law)."
    )


@pytest.mark.parametrize("confidence", [0.90, 0.95, 0.99])
def test_the_edge_of_the_uncertain_band_is_as_sure_as_it_says(confidence):
    # Exact: at the edge of the band beside a long straight line the chance of the drawn side is the confidence.
    lots = gpd.GeoDataFrame({"parcel_id": ["a"]}, geometry=[box(0, -5000, 5000, 5000)], crs="EPSG:32709")
    band = uncertain_band(lots, circular_radius(2.0, 0.68), 3.0, confidence)
    half = band["half_width_m"].iloc[0]
    assert half == pytest.approx(line_setback(2.0, 3.0, confidence), rel=1e-9)
    assert chance_inside(lots.geometry.iloc[0], half, 0, math.hypot(2, 3)) == pytest.approx(
        confidence, abs=1e-9
    )
    shape = band.geometry.iloc[0]
    assert shape.contains(Point(half - 0.01, 0))
    assert shape.contains(Point(0.01 - half, 0))
    assert not shape.contains(Point(half + 0.01, 0))


def test_every_edge_agrees_with_numerical_integration():
    # Independent method: the density integrated over a triangle by adaptive quadrature of the inner normal integral.
    from scipy.integrate import quad

    corners = np.array([(-3.0, -2.0), (5.0, -1.0), (1.0, 6.0)])
    triangle = Polygon(corners)
    for x, y, sigma in [(0, 0, 1.0), (4, 4, 2.0), (-3, -2, 3.0), (9, 0, 2.5)]:

        def column(u, x=x, y=y, sigma=sigma):
            cut = shapely.intersection(triangle, shapely.LineString([(u, -10), (u, 10)]))
            if cut.is_empty or cut.length == 0:
                return 0.0
            low, high = cut.bounds[1], cut.bounds[3]
            inner = stats.norm.cdf((high - y) / sigma) - stats.norm.cdf((low - y) / sigma)
            return stats.norm.pdf((u - x) / sigma) / sigma * inner

        value, _ = quad(column, -3, 5, points=[1.0], epsabs=1e-11, limit=200)
        found = shares_of(
            EdgeTable.of(np.array([triangle])),
            np.zeros(1, int),
            *(np.array([float(v)]) for v in (x, y, sigma)),
        )
        assert found.chance[0] == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize(
    ("paragraph", "figures"),
    [
        # 29 CFR part 1926, subpart P (text of the regulation, from memory): protection from cave-in except in
        # stable rock or below 5 feet (1.52 m) without sign of cave-in; egress within 25 feet (7.62 m) in trenches of
        # 4 feet (1.22 m) or more; spoil at least 2 feet (.61 m) from the edge; air tested beyond 4 feet (1.22 m).
        ("29 CFR 1926.652(a)(1)", ("5 ft (1.52 m)", "stable rock", "sign of cave-in")),
        ("29 CFR 1926.651(c)(2)", ("25 ft (7.6 m)", "4 ft (1.22 m)", "ladder")),
        ("29 CFR 1926.651(j)(2)", ("2 ft (0.6 m)", "edge", "spoil")),
        ("29 CFR 1926.651(g)(1)(i)", ("4 ft (1.22 m)", "air", "tested")),
    ],
)
def test_figures_of_the_excavation_rules(paragraph, figures):
    (caution,) = [text for text in CAUTIONS if "29 CFR 1926" in text]
    (clause,) = [part for part in caution.split(";") if f"({paragraph})" in part]
    assert all(figure in clause for figure in figures)
    for feet, metres in (((5, 1.52)), (25, 7.6), (4, 1.22), (2, 0.6)):
        assert feet * 0.3048 == pytest.approx(metres, abs=0.05)


def test_locating_lines_comes_first():
    # 29 CFR 1926.651(b)(1)-(2): the estimated location of utilities is determined before opening an excavation.
    assert "utility-location" in CAUTIONS[0]
    (rule,) = [rule for rule in shipped_rules() if rule.key == "utility_lines"]
    assert "29 CFR 1926.651(b)" in rule.reference
    assert rule.needs_ticket


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

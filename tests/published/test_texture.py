"""Texture, plasticity, shrinkage, absorption and loss on ignition against their published definitions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from prospect.clay.firing import (
    absorption,
    boiled_bar,
    ignition_hint,
    loss_on_ignition,
    mineral_loss_on_ignition,
    total_shrinkage,
    volume_shrinkage,
)
from prospect.clay.plasticity import (
    a_line,
    activity,
    activity_class,
    mineral_hint,
    needs_retest,
    plasticity_class,
    plasticity_index,
    u_line,
)
from prospect.clay.settling import jar_times_s
from prospect.clay.texture import TEXTURE_CLASSES, _rules, texture_class, texture_classes

# Points placed by hand on the boundaries of the USDA Soil Survey Manual (Handbook 18, chapter 3).
TEXTURE_POINTS = [
    (92, 5, 3, "sand"),
    (82, 10, 8, "loamy sand"),
    (65, 25, 10, "sandy loam"),
    (40, 40, 20, "loam"),
    (20, 60, 20, "silt loam"),
    (5, 87, 8, "silt"),
    (60, 15, 25, "sandy clay loam"),
    (33, 33, 34, "clay loam"),
    (10, 55, 35, "silty clay loam"),
    (52, 8, 40, "sandy clay"),
    (6, 47, 47, "silty clay"),
    (20, 20, 60, "clay"),
    (45, 15, 40, "clay"),
    (85, 10, 5, "loamy sand"),
    (90, 8, 2, "sand"),
]


def whole_triangle(steps_per_percent: int = 1) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    count = 100 * steps_per_percent
    sand, clay = np.meshgrid(np.arange(count + 1), np.arange(count + 1))
    inside = sand + clay <= count
    sand, clay = sand[inside], clay[inside]
    return sand / steps_per_percent, (count - sand - clay) / steps_per_percent, clay / steps_per_percent


@pytest.mark.parametrize(("sand", "silt", "clay", "name"), TEXTURE_POINTS)
def test_texture_of_points_from_the_manual(sand: float, silt: float, clay: float, name: str) -> None:
    assert texture_class(sand, silt, clay) == name


@pytest.mark.parametrize("steps_per_percent", [1, 10])
def test_every_point_of_the_triangle_meets_exactly_one_definition(steps_per_percent: int) -> None:
    sand, silt, clay = whole_triangle(steps_per_percent)
    if steps_per_percent == 1:
        assert len(sand) == 5151  # the number of whole-percent points, 101 * 102 / 2
    met = np.sum(_rules(sand, silt, clay), axis=0)
    assert (met == 1).all()
    assert set(texture_classes(sand, silt, clay)) == set(TEXTURE_CLASSES)


@given(st.floats(0, 100), st.floats(0, 100))
def test_any_shares_that_make_100_have_a_class(first: float, second: float) -> None:
    low, high = sorted((first, second))
    assert texture_class(low, high - low, 100 - high) in TEXTURE_CLASSES


def test_unknown_or_impossible_shares_have_no_class() -> None:
    found = texture_classes([np.nan, 50, -5, 40], [50, 50, 55, 40], [50, 50, 50, 20.4])
    assert list(found) == ["", "", "", "loam"]
    with pytest.raises(ValueError, match="100 %"):
        texture_class(30, 30, 30)


# Lines of ASTM D2487 (after Casagrande); the classes follow from them.
@pytest.mark.parametrize(
    ("liquid", "plastic", "symbol"),
    [(45, 22, "CL"), (60, 25, "CH"), (30, 24, "ML"), (60, 40, "MH"), (22, 16, "CL-ML"), (35, 20, "CL")],
)
def test_group_symbols(liquid: float, plastic: float, symbol: str) -> None:
    assert plasticity_class(liquid, plastic) == symbol


def test_lines_of_the_plasticity_chart() -> None:
    assert a_line(45) == pytest.approx(18.25)
    assert a_line(60) == pytest.approx(29.2)
    assert a_line(30) == pytest.approx(7.3)
    assert u_line(45) == pytest.approx(33.3)
    assert needs_retest(45, 5)
    assert not needs_retest(45, 22)


def test_organic_soils_lose_their_liquid_limit_in_the_oven() -> None:
    # ASTM D2487: organic when the oven-dried liquid limit is below 0.75 of the undried one.
    assert plasticity_class(45, 30, dried_liquid_limit_pct=30) == "OL"
    assert plasticity_class(70, 45, dried_liquid_limit_pct=40) == "OH"
    assert plasticity_class(45, 22, dried_liquid_limit_pct=44) == "CL"


def test_a_plastic_limit_above_the_liquid_one_is_refused() -> None:
    with pytest.raises(ValueError, match="plastic limit"):
        plasticity_index(20, 30)


@pytest.mark.parametrize(
    ("mineral", "values"),
    # Skempton (1953) and Grim (1968), from memory.
    [
        ("kaolinite", (0.3, 0.38, 0.4)),
        ("illite", (0.3, 0.6, 0.9)),
        ("calcium smectite", (1.2, 1.3, 1.5)),
        ("sodium smectite", (3.0, 7.0, 7.2)),
    ],
)
def test_activity_hints_at_the_mineral(mineral, values) -> None:
    assert all(mineral in mineral_hint(value) for value in values)
    with pytest.raises(ValueError, match="activity"):
        mineral_hint(-0.1)


def test_activity_after_skempton() -> None:
    # Skempton (1953): index 23 with 46 % clay is 0.50, inactive; classes divide at 0.75 and 1.25.
    assert activity(23, 46) == 0.5
    assert activity_class(activity(23, 46)) == "inactive"
    assert [activity_class(value) for value in (0.74, 0.75, 1.25, 1.26)] == [
        "inactive",
        "normal",
        "normal",
        "active",
    ]


def test_shrinkages_multiply() -> None:
    # Computed check from the definitions: 1 - 0.92 * 0.94 and 1 - 0.9^3.
    assert total_shrinkage(8, 6) == pytest.approx(13.52, abs=1e-6)
    assert volume_shrinkage(10) == pytest.approx(27.1, abs=1e-6)


def test_boiling_test() -> None:
    # ASTM C373 formulas at dry 100, suspended 60, saturated 110.
    bar = boiled_bar(100, 60, 110)
    assert bar.absorption_pct == absorption(100, 110) == 10
    assert bar.exterior_volume_cm3 == 50
    assert bar.apparent_porosity_pct == 20
    assert bar.apparent_specific_gravity == 2.5
    assert bar.bulk_density_g_cm3 == 2.0
    assert bar.apparent_porosity_pct == bar.absorption_pct * bar.bulk_density_g_cm3


@given(st.floats(1, 1e4), st.floats(0.01, 0.99), st.floats(1.0, 3.0))
def test_porosity_is_absorption_times_bulk_density(dry: float, hanging: float, soaked: float) -> None:
    bar = boiled_bar(dry, dry * hanging, dry * soaked)
    assert bar.apparent_porosity_pct == pytest.approx(bar.absorption_pct * bar.bulk_density_g_cm3)


def test_impossible_weights_are_refused() -> None:
    for dry, suspended, saturated in [(100, 110, 120), (100, 60, 90), (0, 0, 0), (float("nan"), 1, 2)]:
        with pytest.raises(ValueError):
            boiled_bar(dry, suspended, saturated)


# Computed from the minerals' formulas and the IUPAC atomic weights.
@pytest.mark.parametrize(
    ("mineral", "percent"),
    [
        ("kaolinite", 13.96),
        ("calcite", 43.97),
        ("gypsum", 20.93),
        ("dolomite", 47.73),
        ("goethite", 10.14),
        ("siderite", 37.99),
    ],
)
def test_loss_on_ignition_of_pure_minerals(mineral: str, percent: float) -> None:
    assert mineral_loss_on_ignition(mineral) == pytest.approx(percent, abs=0.01)


def test_loss_on_ignition_of_a_sample() -> None:
    # A sample of pure kaolinite, weighed: 10 g become 8.604 g.
    assert loss_on_ignition(10, 10 * (1 - 0.1396)) == pytest.approx(13.96)


def test_off_the_lines_an_independent_package_says_the_same():
    """The package soiltexture (its USDA triangle as polygons), at 5,050 points a fraction of a percent off its lines.

    On the lines themselves it leaves some points without a class, so that only the ground between them is compared.
    """
    from soiltexture import getTexture

    points = [(sand + 0.37, clay + 0.31) for sand in range(100) for clay in range(100 - sand)]
    points = [(sand, clay) for sand, clay in points if sand + clay < 100]
    assert len(points) == 5050
    sand, clay = np.array(points).T
    theirs = [getTexture(*point, classification="USDA") for point in points]
    assert texture_classes(sand, 100 - sand - clay, clay).tolist() == theirs


def test_a_jar_is_measured_when_stokes_says_so() -> None:
    """About 45 s for sand and 8 h for silt through 10 cm at 20 °C: common practice."""
    sand, silt = jar_times_s()
    assert sand == pytest.approx(45, abs=2)
    assert silt / 3600 == pytest.approx(8, abs=0.4)
    assert jar_times_s(20, 20) == pytest.approx((2 * sand, 2 * silt))
    assert jar_times_s(10)[1] > silt > jar_times_s(30)[1]


def test_loss_on_ignition_hints_at_what_is_in_it() -> None:
    assert "kaolinite" in ignition_hint(mineral_loss_on_ignition("kaolinite"))
    assert "lime" in ignition_hint(mineral_loss_on_ignition("calcite"))
    assert "sand" in ignition_hint(1.0)
    assert "weigh again" in ignition_hint(-0.5)

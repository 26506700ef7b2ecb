"""Memberships of the shipped models against values computed apart from this code, and published class limits."""

from __future__ import annotations

import math

import numpy as np
import pytest

from prospect.criteria import Criterion, Membership, large, shipped_models, small
from prospect.terrain import slope_deg


def _leaf(model: str, key: str) -> Criterion:
    models = {found.key: found for found in shipped_models()}
    return next(criterion for criterion, _ in models[model].walk() if criterion.key == key)


def _membership(model: str, key: str) -> Membership:
    found = _leaf(model, key).membership
    assert found is not None
    return found


def _values(model: str, key: str, numbers: list[float]) -> np.ndarray:
    return _membership(model, key).of_numbers(np.array(numbers, dtype=np.float32))


# Computed check of the fuzzy "large" and "small" functions (standard fuzzy-set texts).
def test_smooth_forms() -> None:
    np.testing.assert_allclose(large([10, 25, 35, 50], 25, 4), [0.0250, 0.5, 0.7935, 0.9412], atol=5e-5)
    np.testing.assert_allclose(small([10, 25], 15, 4), [0.8351, 0.1147], atol=5e-5)
    assert large(0, 25, 4) == 0
    assert small(-1, 25, 4) == 1


# Computed checks of breakpoints that are our own judgement.
def test_slope_of_residual_clay() -> None:
    expected = [0.7, 0.85, 1, 0.9143, 0.5, 0.15, 0]
    np.testing.assert_allclose(_values("residual", "slope", [0, 1, 5, 10, 20, 30, 40]), expected, atol=1e-4)


def test_height_above_drainage_of_valley_clay() -> None:
    found = _values("valley_fill", "height_above_drainage", [0, 0.25, 2, 6, 10, 20, 30])
    np.testing.assert_allclose(found, [0.4, 0.6, 1, 0.8, 0.5, 0.125, 0], atol=1e-4)


def test_clay_of_water_laid_soil() -> None:
    found = _values("valley_fill", "clay_share", [10, 20, 30, 40, 47.45, 80])
    np.testing.assert_allclose(found, [0, 0.2, 0.6, 0.9, 0.9951, 0.875], atol=1e-4)


def test_plasticity_index() -> None:
    found = _values("valley_fill", "plasticity_index", [5, 10, 20, 37.5, 50])
    np.testing.assert_allclose(found, [0.1, 0.6, 1, 0.75, 0.4], atol=1e-4)


def test_lime() -> None:
    found = _values("valley_fill", "lime_share", [0, 1, 7.5, 15, 30])
    np.testing.assert_allclose(found, [1, 0.975, 0.6, 0.325, 0.1], atol=1e-4)


# Classes of Nanson and Croke 1992 (low-energy flood plains below about 10 W/m², high above 300) at the nodes.
def test_stream_power_on_a_log_axis() -> None:
    found = _values("valley_fill", "energy", [1, 16.35, 163.5, 500])
    np.testing.assert_allclose(found, [1, 0.7628, 0.182, 0.05], atol=1e-3)
    assert _values("valley_fill", "energy", [10, 300]) == pytest.approx([0.9, 0.05])


def test_permeability_on_a_log_axis() -> None:
    found = _values("lake_bed", "permeability", [0.1, 0.42, 4.2, 42])
    np.testing.assert_allclose(found, [1, 0.9377, 0.5884, 0.1819], atol=1e-3)
    assert _values("lake_bed", "permeability", [0, -1]) == pytest.approx([1, 1])


def test_upstream_area_is_read_on_a_log_axis_in_natural_units() -> None:
    found = _values("valley_fill", "upstream_area", [0, 0.1, 1, math.sqrt(10), 10, 5e4])
    np.testing.assert_allclose(found, [0.1, 0.1, 0.6, 0.8, 1, 1], atol=1e-4)


# Textbook identity: degrees = atan(percent / 100), on planes of known slope.
@pytest.mark.parametrize(
    ("percent", "degrees"),
    [(2, 1.15), (5, 2.86), (8, 4.57), (15, 8.53), (25, 14.04), (35, 19.29), (45, 24.23)],
)
def test_percent_and_degrees(percent: float, degrees: float) -> None:
    plane = np.tile(np.arange(5, dtype=np.float32) * 10 * percent / 100, (5, 1))
    assert slope_deg(plane, 10.0)[2, 2] == pytest.approx(degrees, abs=0.01)


# Limits of the activity classes: Keys to Soil Taxonomy, 12th edition (.24, .40, .60), from memory.
def test_activity_changes_at_the_limits_of_the_classes() -> None:
    found = _values("clay_subsoil", "activity", [0.1, 0.2399, 0.24, 0.3999, 0.4, 0.59, 0.6, 1.2])
    assert found == pytest.approx([1, 1, 0.9, 0.9, 0.6, 0.6, 0.3, 0.3])


# Classes of linear extensibility: National Soil Survey Handbook (low < 3, moderate to 6, high to 9 %).
def test_shrink_swell_falls_with_its_classes() -> None:
    low, moderate, high, very_high = _values("valley_fill", "shrink_swell", [2, 6, 9, 15])
    assert low == 1
    assert low > moderate > high > very_high
    assert very_high == pytest.approx(0.1)


# Mineralogy classes as in Keys to Soil Taxonomy: every word with a membership is one of its classes.
def test_mineralogy_words_are_classes_of_soil_taxonomy() -> None:
    known = {
        "kaolinitic", "halloysitic", "illitic", "isotic", "vermiculitic", "siliceous", "micaceous", "smectitic",
        "ferruginous", "parasesquic", "glassy", "amorphic", "magnesic", "carbonatic", "gypsic", "mixed",
    }  # fmt: skip
    for model in shipped_models():
        for criterion, _ in model.walk():
            if criterion.factor == "soil_mineralogy":
                assert criterion.membership is not None
                assert set(criterion.membership.values) <= known

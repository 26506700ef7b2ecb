"""A layer that a ground lacks altogether takes its own criterion with it; a gap in a layer counts as not known."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from prospect.criteria import ClassLayer, Factors, shipped_models
from prospect.favourability import assess_model, explain
from prospect.grid import Grid

GRID = Grid(4, 5, 500_000.0, 4_737_000.0, 100.0, "EPSG:32709")
RESIDUAL = shipped_models()[0]


def granite_everywhere(soil: ClassLayer | None = None) -> Factors:
    table = pd.DataFrame({"unit": ["Kg"], "residual_fitness": [0.85]})
    geology = ClassLayer(np.zeros(GRID.shape, np.int32), table, "unit")
    return Factors(GRID, {}, soil=soil, geology=geology)


def test_a_ground_with_nothing_but_a_rock_map_can_still_speak() -> None:
    """Model (a): rock .34 of the weights, leading from a completeness of .3 (own judgement)."""
    result = assess_model(RESIDUAL, granite_everywhere())
    assert result.can_lead.all()
    np.testing.assert_allclose(result.completeness.values, 0.34, atol=1e-6)
    np.testing.assert_allclose(result.value.values, 0.85, atol=1e-6)


def test_a_survey_with_a_gap_here_counts_its_criterion_as_not_known() -> None:
    empty = ClassLayer(
        np.full(GRID.shape, -1, np.int32), pd.DataFrame({"code": [0], "percent": [100.0]}), "code"
    )
    result = assess_model(RESIDUAL, granite_everywhere(empty))
    np.testing.assert_allclose(result.completeness.values, 0.34 * 0.85, atol=1e-6)


def test_the_reading_of_a_spot_leaves_the_criterion_out_too() -> None:
    (reading,) = explain((RESIDUAL,), granite_everywhere(), 1, 1)
    assert "parent_material" not in {item.key for item in reading.criteria}
    assert sum(item.weight for item in reading.criteria if item.level == 0) == pytest.approx(1.0)
    assert reading.completeness == pytest.approx(0.34, abs=1e-6)

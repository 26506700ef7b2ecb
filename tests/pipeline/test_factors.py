"""What the pipeline adds to the rooms' own arrays: percentiles, codes of units, sentences on what is missing."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
from scipy import stats
from shapely.geometry import box

from prospect.pipeline import build_landscape
from prospect.pipeline.class_layers import unit_codes
from prospect.pipeline.land_shape import percentile_of
from prospect.rock import unit_table
from prospect.store import Ground


def test_percentiles_agree_with_ranks() -> None:
    """Independent library: scipy.stats.percentileofscore, to a step of 0.1."""
    values = np.random.default_rng(3).normal(size=(60, 70)).astype(np.float32)
    values[:3] = np.nan
    found = percentile_of(values)
    assert np.isnan(found[:3]).all()
    known = values[3:].ravel()
    expected = stats.percentileofscore(known, known)
    np.testing.assert_allclose(found[3:].ravel(), expected, atol=0.15)


def test_percentiles_of_nothing_and_of_one_value() -> None:
    assert np.isnan(percentile_of(np.full((2, 2), np.nan, np.float32))).all()
    assert (percentile_of(np.zeros((3, 3), np.float32)) == 100).all()


def test_each_shape_finds_its_unit() -> None:
    shapes = gpd.GeoDataFrame(
        {"unit": ["b", "a", None, "b"], "name": ["Shale", "Granite", "Sand", ""], "rocks": ["", "", "", ""]},
        geometry=[box(i, 0, i + 1, 1) for i in range(4)],
        crs="EPSG:32709",
    )
    table = unit_table(shapes)
    codes = unit_codes(shapes, table)
    assert [table["name"].iloc[code] for code in codes] == ["Shale", "Granite", "Sand", "Shale"]
    assert isinstance(table, pd.DataFrame)


def test_what_is_missing_is_said(small_ground: Path) -> None:
    landscape = build_landscape(Ground.open(small_ground))
    said = " ".join(landscape.missing)
    assert "No soil survey." in said
    assert "Rain in a year is not set" in said
    assert "No elevation" not in said
    assert landscape.unit_at(75, 10) == "Deeply weathered granite"

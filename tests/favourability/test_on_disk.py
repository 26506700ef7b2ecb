"""Scores kept on disk are those in memory, bit for bit, and are gone on with when a run was cut."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from prospect.criteria import ClassLayer, Factors, factor_list, shipped_models
from prospect.criteria.factors import place_of
from prospect.errors import Stopped
from prospect.favourability import assess_model, assess_on_disk, best_model
from prospect.grid import Grid, Raster
from prospect.windows import Engine, WorkFolder, open_array

MODELS = shipped_models()
GRID = Grid(41, 37, 500_000, 4_000_000, 10, "EPSG:32610")


def factors(folder: Path | None = None) -> Factors:
    """Random ground with gaps; with a folder its rasters are read from disk."""
    rng = np.random.default_rng(11)
    rasters = {}
    for name, factor in factor_list().items():
        if place_of(name) != "cell":
            continue
        values = (
            rng.random(GRID.shape) * 60
            if not factor.classes
            else rng.integers(0, len(factor.classes), GRID.shape)
        )
        values = np.where(rng.random(GRID.shape) < 0.2, np.nan, values).astype(np.float32)
        if folder is not None:
            np.save(folder / f"{name}.npy", values)
            values = open_array(folder / f"{name}.npy")
        rasters[name] = Raster(values, np.isnan(values), GRID, factor.unit, "invented")
    codes = rng.integers(-1, 2, GRID.shape).astype(np.int32)
    soil = ClassLayer(
        codes,
        pd.DataFrame({"code": [0, 0, 1], "percent": [60, 40, 90], "clay_pct": [35.0, 12.0, np.nan]}),
        "component_name",
    )
    return Factors(GRID, rasters, soil, None, {"reach_m": 1.5}, {})


@pytest.mark.parametrize("cells", [1, 200, 10_000])
def test_on_disk_is_in_memory(cells: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("prospect.favourability.on_disk.WINDOW_CELLS", cells)
    in_memory = [assess_model(model, factors(), "white") for model in MODELS]
    headline = best_model(in_memory)
    work = WorkFolder(tmp_path / "work", "k", Engine())
    (tmp_path / "ground").mkdir()
    on_disk = assess_on_disk(MODELS, factors(tmp_path / "ground"), "white", work)
    assert (headline.deposit >= 0).any()
    assert list(on_disk.favourability) == [model.key for model in MODELS]
    for result in in_memory:
        expected = Raster.of(np.where(result.can_lead, result.value.values, np.nan), GRID, "1", result.title)
        _assert_same(on_disk.favourability[result.deposit], expected)
    _assert_same(on_disk.best, headline.value)
    _assert_same(on_disk.completeness, headline.completeness)
    np.testing.assert_array_equal(on_disk.deposit, headline.deposit)


def _assert_same(one: Raster, other: Raster) -> None:
    np.testing.assert_array_equal(one.values, other.values)
    np.testing.assert_array_equal(one.mask, other.mask)
    assert (one.grid, one.unit, one.source) == (other.grid, other.unit, other.source)


def test_a_cut_run_is_gone_on_with(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("prospect.favourability.on_disk.WINDOW_CELLS", 100)
    told: list[int] = []
    asked = iter(range(100))
    cut = Engine(stopped=lambda: next(asked) >= 7)
    with pytest.raises(Stopped):
        assess_on_disk(MODELS, factors(), "any", WorkFolder(tmp_path, "k", cut))
    going_on = Engine(progress=lambda stage, done, of: told.append(done))
    on_disk = assess_on_disk(MODELS, factors(), "any", WorkFolder(tmp_path, "k", going_on))
    assert told[0] == 8
    assert told[-1] == 21
    headline = best_model([assess_model(model, factors()) for model in MODELS])
    np.testing.assert_array_equal(on_disk.best.values, headline.value.values)

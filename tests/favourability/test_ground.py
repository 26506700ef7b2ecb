"""Scores of small grounds: missing values, components, gates, purposes, leading models, and reasons that agree."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prospect.criteria import ClassLayer, Factors, deposit_model, factor_list, shipped_models
from prospect.errors import GridMismatch, NothingToWorkWith
from prospect.favourability import assess_model, best_model, explain
from prospect.grid import Grid, Raster
from prospect.records import PURPOSES, CriterionReading

MODELS = {model.key: model for model in shipped_models()}


def _factors(
    cells: Mapping[str, Any] | None = None,
    *,
    components: list[dict[str, Any]] | None = None,
    unit: dict[str, Any] | None = None,
    constants: Mapping[str, float] | None = None,
) -> Factors:
    """One cell, or one row of cells where a factor is given as a list."""
    given_cells = {
        name: np.atleast_2d(np.asarray(value, np.float32)) for name, value in (cells or {}).items()
    }
    cols = max((values.shape[1] for values in given_cells.values()), default=1)
    grid = Grid(1, cols, 500_000, 4_000_000, 10, "EPSG:32610")
    codes = np.zeros(grid.shape, dtype=np.int32)
    rasters = {
        name: Raster.of(
            np.broadcast_to(values, grid.shape).copy(), grid, factor_list()[name].unit, "terrain, 2024"
        )
        for name, values in given_cells.items()
    }
    soil = None
    if components is not None:
        table = pd.DataFrame([{"code": 0, "percent": 100, **component} for component in components])
        soil = ClassLayer(codes, table, "component_name")
    geology = None if unit is None else ClassLayer(codes, pd.DataFrame([unit]), "name")
    sources = {"soil": "soil survey, 2019", "geology": "rock map, 1987"}
    return Factors(grid, rasters, soil, geology, constants or {}, sources)


def _value(model: str, factors: Factors, purpose: str = "any") -> float:
    return float(assess_model(MODELS[model], factors, purpose).value.values[0, 0])


def _reading(model: str, factors: Factors, key: str, purpose: str = "any") -> CriterionReading:
    (reading,) = explain([MODELS[model]], factors, 0, 0, purpose)
    return next(criterion for criterion in reading.criteria if criterion.key == key)


GRANITE = {"name": "granite", "residual_fitness": 0.85, "felsic_fraction": 0.9, "mudrock": 0.05, "mafic_fraction": 0.0,
           "alluvium": 0.05, "surficial_cover": 0, "carbonate_fraction": 0.0, "fired_colour": "L–B"}  # fmt: skip
CLAY = {"component_name": "Mayfield", "clay_pct": 45.0, "plasticity_index": 20.0, "liquid_limit_pct": 45.0,
        "linear_extensibility_pct": 4.0, "parent_material": "clayey alluvium", "parent_kinds": "alluvium",
        "drainage_class": "poorly drained"}  # fmt: skip


# -- missing is never zero --------------------------------------------------------------------------------------


def test_nothing_known_is_no_data_and_leads_nowhere() -> None:
    results = [assess_model(model, _factors()) for model in shipped_models()]
    for result in results:
        assert np.isnan(result.value.values).all()
        assert (result.completeness.values == 0).all()
        assert not result.can_lead.any()
    headline = best_model(results)
    assert (headline.deposit == -1).all()
    assert headline.value.mask.all()


def test_a_missing_factor_is_left_out_and_lowers_only_completeness() -> None:
    known = _factors({"slope_pct": 5, "hillslope_position": 3}, unit=GRANITE)
    without = _factors({"slope_pct": 5, "hillslope_position": np.nan}, unit=GRANITE)
    worst = _factors({"slope_pct": 5, "hillslope_position": 0}, unit=GRANITE)
    one, two, three = (assess_model(MODELS["residual"], factors) for factors in (known, without, worst))
    assert two.completeness.values[0, 0] < one.completeness.values[0, 0] == three.completeness.values[0, 0]
    assert two.value.values[0, 0] > three.value.values[0, 0]
    # By hand, from the definition: weights .289 and .08925 of rock .85 and slope 1.
    expected = 0.85 ** (0.289 / (0.289 + 0.08925))
    assert two.value.values[0, 0] == pytest.approx(expected, abs=1e-5)


def test_the_surveys_slope_stands_in_only_where_the_terrain_is_silent() -> None:
    soil = [{**CLAY, "slope_pct": 40.0}]
    both = explain([MODELS["residual"]], _factors({"slope_pct": [5, np.nan]}, components=soil), 0, 1)[0]
    first = explain([MODELS["residual"]], _factors({"slope_pct": [5, np.nan]}, components=soil), 0, 0)[0]
    slope = {r.key: r for r in both.criteria}["slope"]
    assert (slope.value, slope.membership, slope.source) == ("40 %", 0.0, "soil survey, 2019")
    assert "soil survey" in slope.note
    slope = {r.key: r for r in first.criteria}["slope"]
    assert (slope.value, slope.membership, slope.source) == ("5 %", 1.0, "terrain, 2024")


# -- components first, then percent ------------------------------------------------------------------------------


def test_half_sand_and_half_fat_clay_are_not_a_middling_clay() -> None:
    halves = [{"component_name": "Sandhill", "percent": 50, "clay_pct": 10.0},
              {"component_name": "Gumbo", "percent": 50, "clay_pct": 65.0}]  # fmt: skip
    mixed = _reading("valley_fill", _factors(components=halves), "clay_share")
    single = _reading("valley_fill", _factors(components=[{"clay_pct": 37.5}]), "clay_share")
    assert mixed.membership == pytest.approx((0 + 0.96) / 2, abs=1e-3)
    assert single.membership == pytest.approx(0.85, abs=1e-3)
    assert mixed.value == "37.5 % (10 to 65 % over the parts of the map unit)"


def test_the_best_component_is_kept_as_a_lead_with_its_percent() -> None:
    parts = [{**CLAY, "component_name": "Mayfield", "percent": 15},
             {"component_name": "Drysand", "percent": 85, "clay_pct": 5.0, "plasticity_index": 0.0}]  # fmt: skip
    note = _reading("valley_fill", _factors(components=parts), "soil").note
    assert "A lead: Mayfield, 15 % of the map unit" in note


def test_components_without_a_value_leave_the_mean_to_the_others() -> None:
    parts = [{"percent": 60, "clay_pct": np.nan}, {"percent": 40, "clay_pct": 45.0}]
    reading = _reading("valley_fill", _factors(components=parts), "clay_share")
    assert reading.membership == pytest.approx(1.0)


def test_survey_reasons_say_how_deep_and_how_much_was_described() -> None:
    parts = [{**CLAY, "percent": 70, "has_horizons": True, "profile_bottom_cm": 152.0},
             {"percent": 30, "has_horizons": False}]  # fmt: skip
    note = _reading("valley_fill", _factors(components=parts), "soil").note
    assert "Layers are described for 70 % of the map unit." in note
    assert "Nothing is known below 152 cm." in note


# -- gates say their names -----------------------------------------------------------------------------------------


def test_mapped_alluvium_gates_residual_clay_to_a_tenth_and_says_so() -> None:
    cells = {"slope_pct": 5, "hillslope_position": 3}
    free = _factors(cells, unit=GRANITE)
    gated = _factors(cells, unit={**GRANITE, "alluvium": 0.9})
    assert _value("residual", gated) == pytest.approx(0.1 * _value("residual", free), rel=1e-5)
    (reading,) = explain([MODELS["residual"]], gated, 0, 0)
    assert [(gate.key, gate.factor) for gate in reading.gates] == [("alluvium", pytest.approx(0.1))]
    assert "Stream deposits are mapped here" in reading.gates[0].reason
    assert reading.gates[0].source == "rock map, 1987"


def test_a_gate_on_part_of_the_map_unit_takes_only_that_part() -> None:
    parts = [{"percent": 30, "lithic_depth_cm": 30.0}, {"percent": 70, "lithic_depth_cm": 200.0}]
    (reading,) = explain(
        [MODELS["residual"]], _factors({"slope_pct": 5}, components=parts, unit=GRANITE), 0, 0
    )
    (gate,) = reading.gates
    assert gate.key == "hard_rock"
    assert gate.factor == pytest.approx(0.7)
    assert "30 % of the soil map unit" in gate.reason


def test_an_unknown_gate_does_not_fire() -> None:
    (reading,) = explain([MODELS["residual"]], _factors({"slope_pct": np.nan}, unit=GRANITE), 0, 0)
    assert reading.gates == ()


def test_too_steep_open_water_and_ice() -> None:
    assert _value("residual", _factors({"slope_pct": 46}, unit=GRANITE)) == 0
    assert _value("residual", _factors({"slope_pct": 5, "in_open_water": 1}, unit=GRANITE)) == 0
    ice = explain(
        [MODELS["residual"]], _factors({"slope_pct": 5}, unit=GRANITE, constants={"glaciated": 1}), 0, 0
    )
    assert [gate.key for gate in ice[0].gates] == ["ice"]
    assert ice[0].gates[0].factor == pytest.approx(0.15)


def test_the_bonus_is_capped_before_the_gates() -> None:
    perfect = {**GRANITE, "residual_fitness": 1.0}
    near = _factors({"slope_pct": 5, "distance_to_structure_m": 20}, unit=perfect)
    assert _value("residual", near) == 1
    bonus = _reading("residual", near, "structure")
    assert (bonus.value, bonus.weight, bonus.share) == ("20 m", 0, 0)
    assert "adds 0.05" in bonus.note
    gated = _factors({"slope_pct": 5, "distance_to_structure_m": 20}, unit={**perfect, "surficial_cover": 1})
    assert _value("residual", gated) == pytest.approx(0.3)


# -- defining evidence ---------------------------------------------------------------------------------------------


def test_without_its_defining_evidence_a_model_is_shown_but_cannot_lead() -> None:
    soil = [{**CLAY, "slope_pct": 2.0, "landform": "backswamps", "lithic_depth_cm": 200.0}]
    (reading,) = explain([MODELS["residual"]], _factors({"slope_pct": 5}, components=soil), 0, 0)
    assert reading.favourability is not None
    assert reading.completeness > 0.3
    assert not reading.can_lead
    assert "rock map" in reading.cannot_say


def test_something_else_mapped_is_evidence_and_not_missing() -> None:
    not_lake = {"name": "granite", "lake_bed": 0.05}
    (reading,) = explain([MODELS["lake_bed"]], _factors({"slope_pct": 0.5}, unit=not_lake), 0, 0)
    assert reading.can_lead
    assert reading.favourability is not None
    assert reading.favourability < 0.4


def test_too_little_known_cannot_lead() -> None:
    undescribed = [{"component_name": "pits"}]
    (reading,) = explain([MODELS["residual"]], _factors(unit=GRANITE, components=undescribed), 0, 0)
    assert reading.completeness == pytest.approx(0.289)
    assert not reading.can_lead
    assert "29 %" in reading.cannot_say


def test_valley_clay_needs_ground_that_no_survey_contradicts() -> None:
    cells = {"height_above_drainage_m": 2, "slope_pct": 1, "upstream_area_km2": 20}
    can_lead = {
        "terrain only": _factors(cells),
        "survey says alluvium": _factors(cells, components=[CLAY]),
        "survey says weathered in place": _factors(cells, components=[{**CLAY, "parent_kinds": "residuum"}]),
        "steep and the map says granite": _factors({**cells, "slope_pct": 12}, unit=GRANITE),
        "flat and the map says granite": _factors(cells, unit=GRANITE),
        "no terrain, survey says alluvium": _factors(components=[{**CLAY, "slope_pct": 1.0}]),
        "no terrain, survey says loess": _factors(
            components=[{**CLAY, "slope_pct": 1.0, "parent_kinds": "loess"}]
        ),
    }
    found = {
        name: bool(assess_model(MODELS["valley_fill"], factors).can_lead[0, 0])
        for name, factors in can_lead.items()
    }
    assert found == {
        "terrain only": True,
        "survey says alluvium": True,
        "survey says weathered in place": False,
        "steep and the map says granite": False,
        "flat and the map says granite": True,
        "no terrain, survey says alluvium": True,
        "no terrain, survey says loess": False,
    }


# -- what the trade knows (common practice, no source) ---------------------------------------------------------------


def test_residual_clay_likes_gentle_stable_ground_over_feldspar_rich_rock() -> None:
    def score(slope: float, position: str, fitness: float) -> float:
        code = factor_list()["hillslope_position"].classes.index(position)
        cells = {"slope_pct": slope, "hillslope_position": code}
        return _value("residual", _factors(cells, unit={**GRANITE, "residual_fitness": fitness}))

    best = score(5, "summit", 0.85)
    assert best > score(28, "backslope", 0.85)
    assert best > score(5, "toeslope", 0.85)
    assert best > score(5, "summit", 0.40)
    assert best > score(5, "summit", 0.05)


def test_water_laid_clay_is_finest_away_from_the_channel() -> None:
    base = {"height_above_drainage_m": 2, "slope_pct": 1}
    levee, middle, back = (
        _value("valley_fill", _factors({**base, "cross_valley_position": x})) for x in (0.05, 0.3, 0.8)
    )
    assert levee < middle < back


def test_a_hollow_on_the_flat_is_an_old_channel() -> None:
    cells = {
        "height_above_drainage_m": 1,
        "slope_pct": 1,
        "cross_valley_position": 0.1,
        "depression_depth_m": 0.6,
    }
    reading = _reading("valley_fill", _factors(cells), "across_valley")
    assert reading.membership == 1


def test_a_mapped_terrace_is_not_too_high() -> None:
    cells = {"height_above_drainage_m": 12, "slope_pct": 2}
    plain = _reading(
        "valley_fill",
        _factors(cells, unit={"name": "gravelly fill", "terrace": 0.05}),
        "height_above_drainage",
    )
    terrace = _reading(
        "valley_fill", _factors(cells, unit={"name": "terrace", "terrace": 1.0}), "height_above_drainage"
    )
    assert plain.membership is not None
    assert plain.membership < 0.5
    assert terrace.membership == pytest.approx(0.8)
    assert "mapped terrace" in terrace.note


def test_a_bedded_low_iron_ash_clay_is_what_white_ware_wants() -> None:
    ash = {"name": "white tuff", "altered_ash": 1.0, "felsic_fraction": 1.0, "water_laid": 1.0, "fired_colour": "L",
           "mafic_fraction": 0.0, "welded_or_glassy": 0.05}  # fmt: skip
    basalt = {**ash, "felsic_fraction": 0.1, "fired_colour": "R–D", "mafic_fraction": 1.0}
    assert _value("altered_ash", _factors({"slope_pct": 5}, unit=ash), "white") > 0.9
    assert _value("altered_ash", _factors({"slope_pct": 5}, unit=basalt), "white") < 0.1
    assert _value("altered_ash", _factors({"slope_pct": 5}, unit={**ash, "welded_or_glassy": 1.0})) < 0.3


def test_a_valley_below_limestone_carries_lime() -> None:
    cells = {"height_above_drainage_m": 2, "slope_pct": 1, "upstream_source_share": 0.6}
    clean = _factors({**cells, "upstream_carbonate_share": 0.0})
    limy = _factors({**cells, "upstream_carbonate_share": 0.7})
    assert _value("valley_fill", limy, "stoneware") < _value("valley_fill", clean, "stoneware")
    assert _value("valley_fill", limy, "earthenware") == _value("valley_fill", clean, "earthenware")
    flat = {"slope_pct": 0.5}
    lake = {"name": "lake clay", "lake_bed": 1.0}
    penalised = _value("lake_bed", _factors({**flat, "upstream_carbonate_share": 0.7}, unit=lake))
    assert penalised < _value("lake_bed", _factors({**flat, "upstream_carbonate_share": 0.0}, unit=lake))


def test_gumbo_is_gated_for_pots_and_welcome_for_slip() -> None:
    gumbo = [{**CLAY, "linear_extensibility_pct": 17.0, "plasticity_index": 50.0, "clay_pct": 70.0}]
    factors = _factors({"height_above_drainage_m": 2, "slope_pct": 1}, components=gumbo)
    (reading,) = explain([MODELS["valley_fill"]], factors, 0, 0)
    assert "fat_clay" in [gate.key for gate in reading.gates]
    assert _value("valley_fill", factors, "slip") > 2 * _value("valley_fill", factors)


def test_clay_out_of_reach_counts_little() -> None:
    deep = [{**CLAY, "clayey_top_cm": 120.0, "clayey_thickness_cm": 80.0}]
    spade = _factors({"slope_pct": 5}, components=deep, constants={"reach_m": 0.8})
    machine = _factors({"slope_pct": 5}, components=deep, constants={"reach_m": 3.0})
    assert _reading("clay_subsoil", spade, "clay_top").membership == pytest.approx(0.1)
    assert _value("clay_subsoil", machine) > _value("clay_subsoil", spade)


def test_ground_without_a_clay_layer_is_evidence_against_a_clay_subsoil() -> None:
    none = [{**CLAY, "clay_pct": 30.0, "clayey_thickness_cm": 0.0, "clayey_top_cm": np.nan}]
    (reading,) = explain([MODELS["clay_subsoil"]], _factors({"slope_pct": 5}, components=none), 0, 0)
    assert reading.can_lead
    assert reading.favourability is not None
    assert reading.favourability < 0.1
    assert "no_clay_layer" in [gate.key for gate in reading.gates]


# -- purposes ------------------------------------------------------------------------------------------------------


def test_a_purpose_changes_which_ground_is_best() -> None:
    kaolin = {
        "name": "kaolin",
        "coastal_plain": 1.0,
        "fired_colour": "L",
        "mafic_fraction": 0.0,
        "alluvium": 0.05,
    }
    soil = {**CLAY, "clayey_top_cm": 20.0}
    lens = _factors(
        {"slope_pct": 2, "upstream_source_share": 0.5},
        components=[
            {**soil, "parent_kinds": "fluviomarine deposits", "parent_material": "fluviomarine deposits"}
        ],
        unit=kaolin,
    )
    valley = _factors(
        {"slope_pct": 1, "height_above_drainage_m": 2, "cross_valley_position": 0.8}, components=[soil]
    )

    def best(factors: Factors, purpose: str) -> float:
        return float(
            best_model([assess_model(m, factors, purpose) for m in shipped_models()]).value.values[0, 0]
        )

    assert best(valley, "earthenware") > best(lens, "earthenware") - 0.15
    assert best(lens, "white") > 3 * best(valley, "white")


def test_marl_is_no_fault_for_earthenware_and_one_for_stoneware() -> None:
    marl = {
        "name": "marl",
        "residual_fitness": 0.25,
        "mudrock": 1.0,
        "carbonate_fraction": 0.5,
        "fired_colour": "B",
    }
    factors = _factors({"slope_pct": 10}, unit=marl)
    assert _reading("mudrock", factors, "fitness").membership == pytest.approx(0.25)
    assert _reading("mudrock", factors, "fitness", "earthenware").membership == pytest.approx(0.6)
    assert _value("mudrock", factors, "earthenware") > 1.5 * _value("mudrock", factors)


# -- reasons agree with the map ----------------------------------------------------------------------------------------


def _random_ground(seed: int) -> Factors:
    random = np.random.default_rng(seed)
    grid = Grid(4, 5, 500_000, 4_000_000, 10, "EPSG:32610")

    def numbers(name: str, shape: Any) -> np.ndarray:
        spec = factor_list()[name]
        low = -2.0 if spec.low is None else spec.low
        high = 20.0 if spec.high is None else min(spec.high, 80.0)
        values = random.uniform(low, high, shape).astype(np.float32)
        if spec.classes:
            values = random.integers(-1, len(spec.classes), shape).astype(np.float32)
        if spec.holds == "yes_no":
            values = (values > 0.8).astype(np.float32)
        values[random.random(shape) < 0.25] = np.nan
        return values

    words = [
        "",
        "residuum",
        "clayey alluvium",
        "well drained",
        "kaolinitic",
        "mixed",
        "L–B",
        "R",
        "terraces",
        "pyrite",
    ]

    def table(place: str, rows: int) -> pd.DataFrame:
        columns = {
            name.split("_", 1)[1]: random.choice(words, rows)
            if spec.holds == "words"
            else numbers(name, rows)
            for name, spec in factor_list().items()
            if spec.place == place
        }
        return pd.DataFrame(columns)

    components = table("soil", 9).assign(code=np.repeat([0, 1, 2], 3), percent=random.integers(0, 60, 9))
    rasters = {
        name: Raster.of(numbers(name, grid.shape), grid, spec.unit, "made up")
        for name, spec in factor_list().items()
        if spec.place == "cell" and random.random() < 0.8
    }
    soil = ClassLayer(random.integers(-1, 4, grid.shape).astype(np.int32), components, "mineralogy")
    geology = ClassLayer(random.integers(-1, 4, grid.shape).astype(np.int32), table("unit", 4), "name")
    constants = (
        {"reach_m": 0.8, "mean_annual_rain_mm": 900.0} if random.random() < 0.5 else {"glaciated": 1.0}
    )
    return Factors(grid, rasters, soil if seed % 3 else None, geology if seed % 4 else None, constants)


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 10_000), st.sampled_from(PURPOSES))
def test_the_reasons_give_the_same_score_as_the_map(seed: int, purpose: str) -> None:
    factors = _random_ground(seed)
    maps = [assess_model(model, factors, purpose) for model in shipped_models()]
    row, col = seed % 4, seed % 5
    for result, reading in zip(maps, explain(shipped_models(), factors, row, col, purpose), strict=True):
        shown = result.value.values[row, col]
        if reading.favourability is None:
            assert np.isnan(shown)
        else:
            assert reading.favourability == pytest.approx(float(shown), abs=1e-5)
            assert reading.linear == pytest.approx(float(result.linear.values[row, col]), abs=1e-5)
            shares = [c.share for c in reading.criteria if c.level == 0 and c.share is not None]
            assert sum(shares) == pytest.approx(1, abs=1e-5)
        assert reading.completeness == pytest.approx(float(result.completeness.values[row, col]), abs=1e-5)
        assert reading.can_lead == bool(result.can_lead[row, col])
        assert bool(reading.cannot_say) != reading.can_lead
        for criterion in reading.criteria:
            assert criterion.value != "not known" or criterion.membership is None or criterion.note


def test_shares_are_the_way_up_from_the_floor() -> None:
    factors = _factors({"slope_pct": 25}, unit=GRANITE)
    (reading,) = explain([MODELS["residual"]], factors, 0, 0)
    shares = {c.key: c.share for c in reading.criteria if c.level == 0 and c.share is not None}
    rock, slope = 0.289 * np.log(0.85 / 0.01), 0.08925 * np.log(0.3 / 0.01)
    assert shares == {
        "rock": pytest.approx(rock / (rock + slope)),
        "slope": pytest.approx(slope / (rock + slope)),
    }


def test_reasons_carry_words_units_and_sources() -> None:
    cells = {"slope_pct": 6.4, "hillslope_position": 4}
    factors = _factors(
        cells,
        components=[{**CLAY, "mineralogy": "kaolinitic"}],
        unit=GRANITE,
        constants={"mean_annual_rain_mm": 1234},
    )
    (reading,) = explain([MODELS["residual"]], factors, 0, 0)
    found = {c.key: (c.value, c.source) for c in reading.criteria}
    assert found["slope"] == ("6.4 %", "terrain, 2024")
    assert found["hillslope"] == ("flat upland", "terrain, 2024")
    assert found["mineralogy"] == ("kaolinitic", "soil survey, 2019")
    assert found["rain"][0] == "1234 mm"
    assert found["ice"] == ("not known", "")
    assert found["rock"] == ("granite: 0.85 of 1", "rock map, 1987")


# -- headline ----------------------------------------------------------------------------------------------------------


def test_the_headline_is_the_best_that_may_lead_and_never_an_average() -> None:
    factors = _random_ground(7)
    results = [assess_model(model, factors) for model in shipped_models()]
    headline = best_model(results)
    stack = np.stack([np.where(r.can_lead, r.value.values, -1) for r in results])
    leads = stack.max(axis=0) >= 0
    np.testing.assert_array_equal(headline.deposit >= 0, leads)
    np.testing.assert_array_equal(headline.value.values[leads], stack.max(axis=0)[leads])
    np.testing.assert_array_equal(headline.deposit[leads], stack.argmax(axis=0)[leads])


def test_layers_off_the_grid_and_empty_work_are_refused() -> None:
    factors = _factors({"slope_pct": 5})
    with pytest.raises(GridMismatch):
        Factors(Grid(2, 2, 0, 0, 10, "EPSG:32610"), factors.rasters)
    with pytest.raises(GridMismatch):
        Factors(
            factors.grid, {}, ClassLayer(np.zeros((3, 3), np.int32), pd.DataFrame({"name": ["x"]}), "name")
        )
    with pytest.raises(NothingToWorkWith):
        best_model([])
    with pytest.raises(IndexError):
        explain(shipped_models(), factors, 5, 0)


def test_a_users_model_is_scored_like_the_others() -> None:
    model = deposit_model(
        {
            "key": "mine",
            "title": "my clay",
            "doc": "Clay where the slope is right.",
            "weights_reference": "own judgement",
            "needs": "a slope",
            "defining": [{"title": "slope", "conditions": [{"factor": "slope_pct"}]}],
            "criteria": [
                {
                    "key": "slope",
                    "title": "Slope",
                    "weight": 1.0,
                    "factor": "slope_pct",
                    "reference": "own judgement",
                    "membership": {"kind": "down", "a": 0, "b": 10},
                }
            ],
        },
        "mine.toml",
    )
    result = assess_model(model, _factors({"slope_pct": [0, 5, 10, np.nan]}))
    np.testing.assert_allclose(result.value.values[0], [1, 0.5, 0.01, np.nan], atol=1e-6)
    np.testing.assert_allclose(result.linear.values[0], [1, 0.5, 0, np.nan], atol=1e-6)
    np.testing.assert_array_equal(result.can_lead[0], [True, True, True, False])


def test_bands_of_rows_do_not_show_in_the_scores(monkeypatch: pytest.MonkeyPatch) -> None:
    factors = _random_ground(5)
    whole = assess_model(MODELS["valley_fill"], factors)
    monkeypatch.setattr("prospect.favourability.assess.BAND_CELLS", 7)
    banded = assess_model(MODELS["valley_fill"], factors)
    np.testing.assert_array_equal(whole.value.values, banded.value.values)
    np.testing.assert_array_equal(whole.can_lead, banded.can_lead)

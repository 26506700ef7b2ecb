"""A real soil survey of the Mississippi alluvium in Arkansas (SSURGO area AR017), with no elevation and no rock map."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from prospect.criteria import ClassLayer, Factors, shipped_models
from prospect.favourability import Headline, assess_model, best_model, explain
from prospect.grid import Grid, rasterize_classes
from prospect.sources.soil_survey import read_soil_survey
from prospect.types import Bounds

CRS = "EPSG:32615"


@pytest.fixture(scope="module")
def survey(real_data: Callable[[str], Path]) -> tuple[Factors, dict[str, int]]:
    polygons, components, _, _ = read_soil_survey(real_data("ssurgo-ar017-chicot"))
    polygons = polygons.to_crs(CRS)
    codes = {mukey: code for code, mukey in enumerate(sorted(polygons["mukey"].unique()))}
    grid = Grid.covering(Bounds(*polygons.total_bounds), 200, CRS)
    raster = rasterize_classes(list(polygons.geometry), [codes[mukey] for mukey in polygons["mukey"]], grid)
    table = components[components["mukey"].isin(codes)].assign(code=lambda frame: frame["mukey"].map(codes))
    soil = ClassLayer(raster, table.reset_index(drop=True), "component_name")
    factors = Factors(grid, {}, soil, None, {}, {"soil": "soil survey AR017"})
    names = dict(zip(polygons["mukey"], polygons["name"], strict=True))
    return factors, {names[mukey]: code for mukey, code in codes.items()}


@pytest.fixture(scope="module")
def headline(survey: tuple[Factors, dict[str, int]]) -> Headline:
    return best_model([assess_model(model, survey[0]) for model in shipped_models()])


def test_valley_clay_and_clay_subsoil_lead_on_the_delta(headline: Headline) -> None:
    shares = {key: float((headline.deposit == place).mean()) for place, key in enumerate(headline.keys)}
    for key in ("residual", "altered_ash", "mudrock", "coastal_plain"):
        assert shares[key] == 0
    assert shares["valley_fill"] + shares["clay_subsoil"] > 4 * shares["lake_bed"]


# The series names say what the survey found: Portland clay on backswamps, Robinsonville loam on natural levees.
def test_backswamp_clay_is_better_than_levee_loam(
    survey: tuple[Factors, dict[str, int]], headline: Headline
) -> None:
    factors, codes = survey
    assert factors.soil is not None

    def value(name: str) -> float:
        (code,) = (code for title, code in codes.items() if title.startswith(name))
        return float(np.nanmedian(headline.value.values[factors.soil.codes == code]))  # type: ignore[union-attr]

    assert value("Portland clay, 0 to 1") > value("Perry clay, 0 to 1") > value("Robinsonville loam")


def test_every_reason_of_a_real_cell_can_be_read(
    survey: tuple[Factors, dict[str, int]], headline: Headline
) -> None:
    factors, _ = survey
    row, col = np.argwhere(headline.deposit >= 0)[0]
    for reading in explain(shipped_models(), factors, int(row), int(col)):
        assert reading.title
        assert all(criterion.title and criterion.value for criterion in reading.criteria)
        assert all(
            criterion.source == "soil survey AR017"
            for criterion in reading.criteria
            if criterion.membership is not None
        )

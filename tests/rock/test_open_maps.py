"""The wording of whole open maps, read where the data is at hand: how much of it is read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest

from prospect.rock import parse_rock, unit_table

RealData = Callable[[str], Path]


def test_every_unit_of_a_western_australian_map_is_read(real_data: RealData) -> None:
    # Geological Survey of Western Australia, 1:500 000, Hamersley Basin.
    map_units = gpd.read_file(real_data("hamersley-map2loop/geology.geojson"))
    rocks = map_units["rocktype1"].fillna("") + "; " + map_units["rocktype2"].fillna("")
    table = unit_table(
        pd.DataFrame(
            {
                "unit": map_units["code"],
                "name": map_units["unitname"],
                "age": map_units["min_age_ma"],
                "description": map_units["descriptn"],
                "rocks": rocks,
            }
        )
    )
    assert (table["known_share"] >= 0.5).all()
    assert table["unread"].str.len().sum() == 0
    by_unit = table.set_index("unit")
    assert by_unit.loc["A-FO-od", "rocks"] == "doleritic_rock:1"
    assert by_unit.loc["A-mgn-PRK", "rocks"] == "orthogneiss:1"
    assert by_unit.loc["A-FO-xo-a", "asbestos_flag"]
    assert (table["alluvium"] <= 0.05).all()


def test_every_unit_of_an_island_in_greece_is_read(real_data: RealData) -> None:
    # Antikythera Survey Project 2005-7, bedrock geology.
    geology = gpd.read_file(real_data("geology-saa2017/geology.shp"))
    table = unit_table(
        pd.DataFrame({"unit": geology["Type"], "name": geology["Type"], "age": geology["Age"]})
    )
    assert (table["known_share"] == 1.0).all()
    by_unit = table.set_index("unit")
    assert by_unit.loc["Alluvium", "alluvium"] == 1.0
    assert by_unit.loc["Nummulitic limestones", "carbonate_fraction"] == 1.0
    assert by_unit.loc["Flysch", "mudrock"] > 0.5


def test_nearly_every_unit_of_a_state_map_is_read(real_data: RealData) -> None:
    # Arizona Geological Survey, 1:1 000 000, the forerunner of the GeMS layout.
    units = pd.read_csv(real_data("arizona-ncgmp09-tables/DescriptionOfMapUnits.csv"))
    table = unit_table(
        pd.DataFrame({"unit": units["mapunit"], "name": units["name"], "description": units["description"]})
    )
    assert (table["known_share"] >= 0.5).mean() >= 0.98
    by_unit = table.set_index("unit")
    assert by_unit.loc["Qr", "alluvium"] == 1.0
    assert by_unit.loc["^c", "mudrock"] == 1.0
    assert by_unit.loc["Kv", "welded_or_glassy"] == 1.0
    assert by_unit.loc["Yd", "rocks"] == "doleritic_rock:1"
    assert by_unit.loc["TKgm", "residual_fitness"] > 0.8


def test_the_open_lithology_names_of_a_state_map_are_read(real_data: RealData) -> None:
    lithologies = pd.read_csv(real_data("arizona-ncgmp09-tables/StandardLithology.csv"))["lithology"].unique()
    unread = [name for name in lithologies if not parse_rock(name).terms]
    assert unread == []


@pytest.mark.parametrize("name", ["hamersley-map2loop/geology.geojson"])
def test_readings_do_not_depend_on_order(real_data: RealData, name: str) -> None:
    texts = pd.unique(gpd.read_file(real_data(name))["descriptn"])
    assert [parse_rock(text) for text in texts] == [parse_rock(text) for text in texts[::-1]][::-1]

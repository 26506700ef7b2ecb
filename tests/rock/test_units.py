"""The table of a map's units, corrections by hand, and the words for people."""

from __future__ import annotations

import itertools
import math

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import box

from prospect.errors import WrongUsage
from prospect.rock import describe, evidence_names, parse_correction, parse_rock, unit_table
from prospect.rock.units import COLUMNS


def frame(**columns: list[object]) -> pd.DataFrame:
    return pd.DataFrame(columns)


def test_one_row_for_each_unit_in_the_order_met() -> None:
    polygons = gpd.GeoDataFrame(
        {"unit": ["b", "a", "b"], "name": ["Shale", "Granite", "Shale"]},
        geometry=[box(i, 0, i + 1, 1) for i in range(3)],
        crs="EPSG:32610",
    )
    table = unit_table(polygons)
    assert list(table["unit"]) == ["b", "a"]
    assert list(table.columns) == [*COLUMNS, *evidence_names()]


def test_columns_of_a_readable_unit() -> None:
    row = unit_table(frame(unit=["g"], name=["Granite"], age=["Devonian"])).iloc[0]
    assert row["rocks"] == "granite:1"
    assert row["read_as"] == "granite 100 %"
    assert row["unread"] == []
    assert row["residual_fitness"] == pytest.approx(0.85)
    assert row["felsic_fraction"] == 1.0
    assert row["bedrock"] == 1.0
    assert row["alluvium"] == pytest.approx(0.05)


def test_an_unreadable_unit_is_unknown() -> None:
    row = unit_table(frame(unit=["Kgr"], name=["Kgr"], description=[None])).iloc[0]
    assert row["rocks"] == ""
    assert row["unread"] == ["Kgr"]
    assert math.isnan(row["residual_fitness"])
    assert all(math.isnan(row[name]) for name in evidence_names())


def test_the_most_telling_words_are_read() -> None:
    table = unit_table(
        frame(
            unit=["1", "2", "3"],
            name=["Old Mill Diabase", "Oak Formation", "Elm beds"],
            description=["Dark sills in older strata", "Dolomite and shale", "Clay"],
            rocks=["", "igneous mafic volcanic", "granite:0.6,gneiss:0.4"],
        )
    )
    assert list(table["read_from"]) == ["name", "description", "rocks"]
    assert list(table["rocks"]) == ["doleritic_rock:1", "dolostone:0.5,shale:0.5", "granite:0.6,gneiss:0.4"]


def test_a_class_that_the_map_doubts_gives_way_to_its_words() -> None:
    words = {"unit": ["x"], "rocks": ["Coal"], "description": ["Claystone over lignite"]}
    assert unit_table(frame(**words, confidence=["High"])).loc[0, "rocks"] == "coal:1"
    assert unit_table(frame(**words, confidence=["Low"])).loc[0, "rocks"] == "claystone:1"


def test_polygons_of_one_unit_that_differ_are_said() -> None:
    table = unit_table(frame(unit=["x", "x"], description=["Shale", "Granite"]))
    assert table.loc[0, "rocks"] == "shale:1"
    assert "differ" in table.loc[0, "note"]


def test_missing_columns_and_missing_values_are_empty() -> None:
    table = unit_table(frame(unit=["x"], name=[float("nan")], age=[pd.NA]))
    assert table.loc[0, "name"] == ""
    assert len(unit_table(frame(unit=[]))) == 0


def test_rocks_may_be_a_list() -> None:
    table = unit_table(frame(unit=["x"], rocks=[["granite:0.6", "gneiss:0.4"]]))
    assert table.loc[0, "rocks"] == "granite:0.6,gneiss:0.4"


def test_corrections_stand_above_the_map() -> None:
    unit, rocks = parse_correction("Kgr=granite:0.7,pegmatite:0.3")
    table = unit_table(frame(unit=["Kgr"], name=["Shale"]), {unit: rocks})
    assert table.loc[0, "rocks"] == "granite:0.7,pegmatite:0.3"
    assert table.loc[0, "read_from"] == "correction"
    assert table.loc[0, "residual_fitness"] == pytest.approx(0.7 * 0.85 + 0.3 * 0.95)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Kgr=granite", ("Kgr", "granite:1")),
        ("Kgr = granite : 70 %, gneiss : 30 %", ("Kgr", "granite:0.7,gneiss:0.3")),
        ("A=B=mica schist:0.5", ("A=B", "mica_schist:0.5")),
        ("x=seat earth:1", ("x", "underclay:1")),
        ("x=alkali-olivine_basalt:1", ("x", "alkali-olivine_basalt:1")),
    ],
)
def test_corrections_are_read(text: str, expected: tuple[str, str]) -> None:
    assert parse_correction(text) == expected


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("Kgr", "is not of the form"),
        ("=granite", "is not of the form"),
        ("Kgr=", "is not of the form"),
        ("Kgr=granyte:1", "granite"),
        ("Kgr=granite:0.7,gneiss:0.7", "more than 1"),
        ("Kgr=granite:0", "more than 0"),
        ("Kgr=granite:-0.5", "not a fraction"),
        ("Kgr=granite:nan", "not a fraction"),
        ("Kgr=granite:1.5", "at most 1"),
        ("Kgr=granite,gneiss", "has no fraction"),
        ("Kgr=,", "no rock"),
    ],
)
def test_wrong_corrections_are_refused_with_the_reason(text: str, says: str) -> None:
    with pytest.raises(WrongUsage, match=says):
        parse_correction(text)


def test_words_for_people() -> None:
    words = describe(parse_rock("mainly granite with gneiss and foobarite"))
    assert words == "read as granite 50 %, gneiss 25 %; not read: 'foobarite'"
    assert describe(parse_rock("grantie")) == "read as granite 100 % (read 'grantie' as granite)"
    assert describe(parse_rock("Water")) == "nothing could be read"


@pytest.mark.slow
def test_many_units_are_read_in_good_time() -> None:
    words = [
        "granite",
        "biotite gneiss",
        "shale",
        "sandstone",
        "schist",
        "limestone",
        "alluvium",
        "clay",
        "tuff",
        "till",
    ]
    texts = [f"{a} and {b} with {c}, minor {d}" for a, b, c, d in itertools.product(words, repeat=4)]
    table = unit_table(frame(unit=list(range(len(texts))), description=texts))
    assert len(table) == 10_000
    assert table["residual_fitness"].notna().all()

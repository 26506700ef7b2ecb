"""Settings are read from words strictly, and every setting says what it is for."""

from __future__ import annotations

from dataclasses import fields

import pytest

from prospect.errors import WrongUsage
from prospect.records import GroundSettings
from prospect.settings import SETTING_TEXTS, parse_setting


def test_every_setting_says_what_it_is_for() -> None:
    assert set(SETTING_TEXTS) == {item.name for item in fields(GroundSettings)}


@pytest.mark.parametrize(
    ("pair", "expected"),
    [
        ("mean_annual_rain_mm=1150", ("mean_annual_rain_mm", 1150.0)),
        ("mean_annual_rain_mm=", ("mean_annual_rain_mm", None)),
        (" purpose = stoneware ", ("purpose", "stoneware")),
        ("glaciated=yes", ("glaciated", "yes")),
        ("name=Upper field = left", ("name", "Upper field = left")),
    ],
)
def test_good_pairs(pair: str, expected: tuple[str, object]) -> None:
    assert parse_setting(pair) == expected


@pytest.mark.parametrize(
    ("pair", "says"),
    [
        ("mean_annual_rain_mm", "KEY=VALUE"),
        ("west=5", "You can set"),
        ("mean_annual_rain_mm=nan", "from 0 to 12000"),
        ("mean_annual_rain_mm=1,150", "number"),
        ("line_error_m=", "number"),
        ("purpose=gold", "stoneware"),
        ("cell_m=1", "from 2"),
        ("name=", "1 to 120"),
    ],
)
def test_wrong_pairs_say_what_would_be_right(pair: str, says: str) -> None:
    with pytest.raises(WrongUsage, match=says):
        parse_setting(pair)

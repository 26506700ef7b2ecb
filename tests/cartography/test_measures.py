"""Areas, lengths and places in words."""

import math

import pytest

from prospect.cartography import (
    area_in_words,
    length_in_words,
    place_in_words,
    read_place,
    share_in_words,
)
from prospect.errors import WrongUsage


def test_us_units_by_their_exact_definitions():
    # International yard and pound agreement of 1959: 1 ft = 0.3048 m; 1 acre = 43 560 square feet.
    assert area_in_words(43560 * 0.3048**2 / 10_000, "us") == "1.0 acres"
    assert length_in_words(30.48, "us") == "100 ft"


def test_metric_and_missing():
    assert area_in_words(2.54) == "2.5 ha"
    assert area_in_words(1234.4) == "1 234 ha"
    assert area_in_words(0.054) == "0.054 ha"
    assert length_in_words(14.2) == "14 m"
    for nothing in (None, math.nan, math.inf):
        assert area_in_words(nothing) == length_in_words(nothing) == share_in_words(nothing) == "not known"
    assert share_in_words(0.0) == "0 %"


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("47.48 S, 122.93 W", (-122.93, -47.48)),
        ("-47.48, -122.93", (-122.93, -47.48)),
        ("47.48° N 122.93° E", (122.93, 47.48)),
        ("  −47.48;−122.93 ", (-122.93, -47.48)),
        ("0, 0", (0.0, 0.0)),
        ("-47.48 S, -122.93 W", (-122.93, -47.48)),
    ],
)
def test_places_are_read(text, place):
    assert read_place(text) == place


@pytest.mark.parametrize(
    "text", ["", "47.48", "north, west", "91, 0", "0, 181", "1 2 3", "nan, nan", "1e5, 2"]
)
def test_what_is_no_place_is_refused(text):
    with pytest.raises(WrongUsage):
        read_place(text)


def test_a_place_written_is_read_back():
    assert read_place(place_in_words(-122.93456, -47.48123)) == (-122.93456, -47.48123)

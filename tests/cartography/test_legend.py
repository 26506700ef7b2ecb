"""The words of the map's key."""

import math

from prospect.cartography import (
    completeness_key,
    favourability_key,
    known_in_words,
    rock_key,
    worth_in_words,
)


def test_missing_is_never_poor():
    assert worth_in_words(None) == worth_in_words(math.nan) == "cannot say"
    assert worth_in_words(0.0) == "hardly worth a look"
    assert known_in_words(None) == "nothing is known"


def test_words_follow_the_number():
    assert worth_in_words(0.9) == "well worth a look"
    assert worth_in_words(0.5) == "worth a look"
    assert known_in_words(0.29) == "too little is known to say"


def test_keys_name_every_step_once():
    key = favourability_key()
    assert [line.label for line in key] == [
        "well worth a look",
        "worth a look",
        "a long shot",
        "hardly worth a look",
    ]
    assert key[0].detail == "0.75 to 1.00"
    assert len({line.colour for line in key}) == 4
    assert [line.detail for line in completeness_key()] == ["0", "1", "2", "3"]


def test_rock_key_holds_the_families_that_occur():
    key = rock_key({"Qal": ("sediment",), "Kg": ("granite", "granitoid"), "x": ()})
    assert [line.label for line in key] == [
        "granite and its kin",
        "sand, gravel and other loose ground",
        "wording not understood",
    ]

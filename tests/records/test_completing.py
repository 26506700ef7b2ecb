"""What was noted at two times is put together, and nothing that was said is lost; own judgement throughout."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from prospect.records import Bar, BenchTest, Hole, HoleLayer, Sample, completed, contradictions

BAR = Bar("a", "S1", plastic_mm=100.0, dry_mm=93.0)


def test_each_field_is_said_by_one_of_the_two():
    later = Bar(
        "a", "S1", fired_mm=88.0, cone="06", faults=("scum",), looked_for_faults=True, fields={"kiln": "2"}
    )
    whole = completed(BAR, later)
    assert whole == replace(later, plastic_mm=100.0, dry_mm=93.0)
    assert completed(whole, BAR) == whole == completed(whole, later)


def test_zero_and_no_faults_are_said():
    sound, scummed = (
        replace(BAR, looked_for_faults=True),
        replace(BAR, faults=("scum",), looked_for_faults=True),
    )
    assert contradictions(sound, scummed) == ("faults",)
    assert completed(BAR, sound) == sound
    assert contradictions(replace(BAR, dry_mm=0.0), BAR) == ("dry_mm",)
    assert contradictions(Sample("S", 0.0, 0.0), Sample("S", 1.0, 0.0)) == ("lon",)


def test_raw_and_unknown_say_nothing():
    washed = replace(BAR, preparation="washed")
    assert completed(washed, BAR) == washed == completed(BAR, washed)
    assert completed(Sample("S", 0.0, 0.0, usable="no"), Sample("S", 0.0, 0.0)).usable == "no"
    assert completed(Sample("S", 0.0, 0.0, usable="no"), Sample("S", 0.0, 0.0, usable="yes")) is None


def test_measurements_are_put_together_key_by_key():
    one = BenchTest("t", "S", "limits", values={"liquid_limit_pct": 45.0})
    assert completed(one, replace(one, values={"plastic_limit_pct": 22.0})).values == {
        "liquid_limit_pct": 45.0,
        "plastic_limit_pct": 22.0,
    }
    assert contradictions(one, replace(one, values={"liquid_limit_pct": 44.0})) == ("values",)


TOP, CLAY = HoleLayer(0.0, 30.0, texture="loam"), HoleLayer(30.0, 80.0, "yes", "clay")


@pytest.mark.parametrize(
    ("held", "added", "expected"),
    [
        ((), (TOP,), (TOP,)),
        ((TOP,), (CLAY,), (TOP, CLAY)),
        ((CLAY,), (TOP,), (TOP, CLAY)),
        ((TOP, CLAY), (HoleLayer(30.0, 80.0, fizz="none"),), (TOP, replace(CLAY, fizz="none"))),
        ((TOP, CLAY), (HoleLayer(30.0, 80.0, texture="sand"),), None),
        ((TOP,), (HoleLayer(20.0, 50.0),), None),
        ((TOP,), (HoleLayer(None, None, texture="clay"),), None),
        ((HoleLayer(30.0, None),), (TOP,), None),
    ],
)
def test_layers_are_put_together_one_by_one(held, added, expected):
    whole = completed(Hole("H", 0.0, 0.0, layers=held), Hole("H", 0.0, 0.0, layers=added))
    assert (whole.layers if whole else None) == expected


_number = st.one_of(st.none(), st.sampled_from([0.0, 5.0]))
_bars = st.builds(
    Bar, st.just("a"), st.just("S"), st.sampled_from(["raw", "washed"]), plastic_mm=_number, dry_mm=_number,
    cone=st.sampled_from(["", "6"]), faults=st.sampled_from([(), ("scum",)]), looked_for_faults=st.booleans(),
    fields=st.dictionaries(st.sampled_from("xy"), st.sampled_from("12")),
)  # fmt: skip


@given(_bars, _bars)
def test_nothing_that_was_said_is_lost_and_both_ways_are_one(one, other):
    whole = completed(one, other)
    assert whole == completed(other, one)
    if whole is None:
        assert contradictions(one, other)
        return
    assert completed(whole, one) == whole == completed(whole, other)
    for item in fields(Bar):
        value = getattr(whole, item.name)
        said = (getattr(one, item.name), getattr(other, item.name))
        assert value in said or item.name == "fields"

"""The ordered list of hillslope positions, rule by rule."""

from __future__ import annotations

import numpy as np
import pytest

from prospect.terrain import GEOMORPHON_NAMES, HILLSLOPE_NAMES, hillslope_position

NAN = np.nan


def _position(form, t, slope, height, profile):
    one = np.ones((1, 1))
    code = hillslope_position(
        one * t,
        one * slope,
        None if height is None else one * height,
        np.full((1, 1), GEOMORPHON_NAMES.index(form) if form else -1, dtype=np.int8),
        one * profile,
    )
    assert code.dtype == np.int8
    return HILLSLOPE_NAMES[code[0, 0]] if code[0, 0] >= 0 else None


@pytest.mark.parametrize(
    ("form", "t", "slope", "height", "profile", "expected"),
    # The order and the limits are our own judgement, after the five-part profile of the US soil survey.
    [
        ("pit", -2, 1, 1, 0, "pit"),
        ("pit", NAN, NAN, NAN, NAN, "pit"),
        ("flat", 2, 2, 1, 0, "toeslope"),
        ("hollow", 0, 4.9, 4.9, 0, "toeslope"),
        ("footslope", 0, 4, 4, 0, "toeslope"),
        ("valley", 0, 4, 4, 0, "toeslope"),
        ("valley", 0, 5, 4, 0, "valley"),
        ("valley", 0, 4, 5, 0, "valley"),
        ("peak", -3, 40, 90, 0, "summit"),
        ("ridge", 0.5, 7.9, 90, 0, "summit"),
        ("flat", 0.5, 7.9, 90, 0, "summit"),
        ("ridge", 0.4, 7.9, 90, 0, "spur"),
        ("ridge", 2, 8, 90, 0, "spur"),
        ("flat", 0, 1, 90, 0, "flat_upland"),
        ("flat", -0.1, 1, 90, 0, "flat_lowland"),
        ("shoulder", -1, 30, 90, 0, "shoulder"),
        ("spur", -1, 30, 90, 0, "spur"),
        ("footslope", 0, 10, 9, 0, "footslope"),
        ("slope", 0.1, 7, 90, 0.01, "shoulder"),
        ("slope", 0.1, 8, 90, 0.01, "backslope"),
        ("slope", 0.1, 7, 90, -0.01, "backslope"),
        ("hollow", -0.1, 7, 90, 0.01, "backslope"),
    ],
)
def test_first_match_wins(form, t, slope, height, profile, expected):
    assert _position(form, t, slope, height, profile) == expected


@pytest.mark.parametrize("height", [None, NAN])
def test_without_height_above_drainage_no_toeslope_is_claimed(height):
    assert _position("valley", -1, 2, height, 0) == "valley"
    assert _position("flat", -1, 2, height, 0) == "flat_lowland"
    assert _position("footslope", -1, 2, height, 0) == "footslope"
    assert _position("slope", -1, 20, height, 0) == "backslope"


def test_unknown_inputs_that_would_decide_give_no_class():
    assert _position(None, 0, 5, 1, 0) is None
    assert _position("spur", 0, NAN, 1, 0) is None
    assert _position("flat", NAN, 2, 50, 0) is None
    assert _position("ridge", NAN, 2, 50, 0) is None
    assert _position("slope", NAN, 2, 50, 0.1) is None


def test_unknown_inputs_that_decide_nothing_do_no_harm():
    assert _position("ridge", NAN, 20, 50, 0) == "spur"
    assert _position("slope", NAN, 20, 50, 0.1) == "backslope"
    assert _position("slope", NAN, 2, 50, NAN) == "backslope"
    assert _position("flat", NAN, 2, 1, 0) == "toeslope"

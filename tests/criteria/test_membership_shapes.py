"""Properties of the membership functions: bounds, ends, words, and what is missing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from prospect.criteria import classes, down, identity, phrases, piecewise_linear, steps, trapezoid, up
from prospect.criteria.memberships import found_phrases

NODES = st.lists(st.floats(-1000, 1000, width=32), min_size=2, max_size=6, unique=True).map(sorted)


@given(NODES, st.data())
def test_piecewise_linear_stays_within_its_points_and_is_flat_outside(
    nodes: list[float], data: st.DataObject
) -> None:
    heights = data.draw(st.lists(st.floats(0, 1), min_size=len(nodes), max_size=len(nodes)))
    points = list(zip(nodes, heights, strict=True))
    x = np.array(data.draw(st.lists(st.floats(-2000, 2000, width=32), min_size=1, max_size=20)), np.float32)
    found = piecewise_linear(x, points)
    assert (found >= min(heights) - 1e-6).all()
    assert (found <= max(heights) + 1e-6).all()
    assert piecewise_linear(nodes[0] - 1, points) == pytest.approx(heights[0], abs=1e-6)
    assert piecewise_linear(nodes[-1] + 1, points) == pytest.approx(heights[-1], abs=1e-6)


@pytest.mark.parametrize(
    "of",
    [
        lambda x: up(x, 0, 1),
        lambda x: down(x, 0, 1),
        lambda x: trapezoid(x, 0, 1, 2, 3),
        lambda x: steps(x, [(0, 0.5), (1, 1)]),
        lambda x: piecewise_linear(x, [(1, 0), (10, 1)], scale="log10"),
        identity,
    ],
)
def test_missing_numbers_stay_missing(of: object) -> None:
    found = of(np.array([np.nan, 0.5], dtype=np.float32))  # type: ignore[operator]
    assert np.isnan(found[0])
    assert np.isfinite(found[1])


def test_trapezoid_is_the_two_slopes() -> None:
    x = np.array([22, 26, 30, 45, 60, 77.5, 95], dtype=np.float32)
    assert trapezoid(x, 22, 30, 60, 95) == pytest.approx([0, 0.5, 1, 1, 1, 0.5, 0])
    assert up(x, 22, 95) + down(x, 22, 95) == pytest.approx(np.ones(7))


def test_class_names_match_whole_and_the_unlisted_are_unknown() -> None:
    table = {"poorly drained": 1.0, "very poorly drained": 0.7}
    found = classes(["Poorly drained", "very poorly drained", "subaqueous", "", None, np.nan], table)
    np.testing.assert_allclose(found, [1.0, 0.7, *[np.nan] * 4])


def test_several_class_names_are_joined_as_asked() -> None:
    table = {"l": 1.0, "b": 0.4, "r": 0.1, "l–b": 0.7}
    assert classes(["L–R"], table, several="mean") == pytest.approx([0.55])
    assert classes(["L–B"], table, several="mean") == pytest.approx([0.7])
    assert classes(["L;R"], table, several="min") == pytest.approx([0.1])


def test_the_longer_phrase_wins_and_half_words_do_not_count() -> None:
    table = {"alluvium": 0.6, "clayey alluvium": 1.0, "residuum": 0.05, "colluvium + residuum": 0.3}
    found = phrases(
        ["Clayey alluvium", "loamy alluvium", "colluvium over residuum", "alluviums", "paralluvium", ""],
        table,
    )
    np.testing.assert_allclose(found, [1.0, 0.6, 0.3, 0.6, np.nan, np.nan])
    assert found_phrases("clayey over loamy alluvium", ["clayey + alluvium", "alluvium"]) == (
        "clayey + alluvium",
    )


def test_text_without_any_of_the_phrases_may_count_as_something_else() -> None:
    assert phrases(["granite"], {"shale": 1.0}, nothing_found=0.05) == pytest.approx([0.05])
    assert np.isnan(phrases([""], {"shale": 1.0}, nothing_found=0.05)[0])

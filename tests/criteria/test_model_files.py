"""Deposit-model files: what is refused, with file and key path, and what the shipped ones hold."""

from __future__ import annotations

import copy
import math
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prospect.criteria import (
    MODEL_KEYS,
    deposit_model,
    factor_list,
    for_purpose,
    load_deposit_model,
    purpose_list,
    shipped_models,
)
from prospect.definitions import layers_folder
from prospect.errors import DefinitionError, InputRefused, WrongUsage
from prospect.records import PURPOSES

RESIDUAL = layers_folder() / "models" / "residual.toml"


def _content() -> dict[str, Any]:
    return copy.deepcopy(tomllib.loads(RESIDUAL.read_text(encoding="utf-8")))


def _refused(change: Callable[[dict[str, Any]], None]) -> dict[str, str]:
    content = _content()
    change(content)
    with pytest.raises(DefinitionError) as caught:
        deposit_model(content, "mine.toml")
    assert {issue.file for issue in caught.value.issues} == {"mine.toml"}
    return {issue.place: issue.expected for issue in caught.value.issues}


def _set(*path: Any, value: Any) -> Callable[[dict[str, Any]], None]:
    def change(content: dict[str, Any]) -> None:
        node: Any = content
        for step in path[:-1]:
            node = node[step]
        node[path[-1]] = value

    return change


CASES = [
    (_set("colour", value="red"), "colour"),
    (_set("criteria", 3, "wieght", value=0.1), "criteria[3].wieght"),
    (_set("criteria", 3, "weight", value=-0.1), "criteria[3].weight"),
    (_set("criteria", 3, "weight", value=math.nan), "criteria[3].weight"),
    (_set("criteria", 3, "weight", value="0.08925"), "criteria[3].weight"),
    (_set("criteria", 3, "weight", value=True), "criteria[3].weight"),
    (_set("criteria", 3, "weight", value=10**400), "criteria[3].weight"),
    (_set("criteria", 3, "weight", value=0.0893), "criteria[].weight"),
    (_set("criteria", 3, "weight", value=0.08925 + 2e-9), "criteria[].weight"),
    (_set("criteria", 2, "parts", 0, "weight", value=0.6), "criteria[2].parts[].weight"),
    (_set("criteria", 3, "factor", value="slope_percent"), "criteria[3].factor"),
    (_set("criteria", 3, "otherwise", value="soil_slope"), "criteria[3].otherwise"),
    (_set("criteria", 3, "factor", value="soil_drainage_class"), "criteria[3].factor"),
    (_set("criteria", 3, "reference", value=""), "criteria[3].reference"),
    (_set("criteria", 3, "key", value="rock"), "criteria[3].key"),
    (_set("criteria", 3, "membership", value=None), "criteria[3].membership"),
    (_set("criteria", 3, "membership", "kind", value="linear"), "criteria[3].membership.kind"),
    (_set("criteria", 3, "membership", "points", value=[[2, 1], [1, 0]]), "criteria[3].membership.points"),
    (_set("criteria", 3, "membership", "points", value=[[0, 1.5], [1, 0]]), "criteria[3].membership.points[0][1]"),
    (_set("criteria", 3, "membership", "points", value=[[0, math.nan], [1, 0]]), "criteria[3].membership.points[0][1]"),
    (_set("criteria", 3, "membership", "points", value=[]), "criteria[3].membership.points"),
    (_set("criteria", 3, "membership", "scale", value="log10"), "criteria[3].membership.points"),
    (_set("criteria", 3, "membership", "midpoint", value=3), "criteria[3].membership.midpoint"),
    (_set("criteria", 3, "membership", value={"kind": "trapezoid", "a": 1}), "criteria[3].membership.b"),
    (_set("criteria", 3, "membership", value={"kind": "up", "a": 5, "b": 1}), "criteria[3].membership.a"),
    (_set("criteria", 1, "combine", value="average"), "criteria[1].combine"),
    (_set("criteria", 1, "factor", value="slope_pct"), "criteria[1].factor"),
    (_set("gates", 0, "factor", value=1.2), "gates[0].factor"),
    (_set("gates", 0, "conditions", 0, "factor", value="soil_lithic"), "gates[0].conditions[0].factor"),
    (_set("gates", 0, "conditions", 0, "words", value=["hard"]), "gates[0].conditions[0].words"),
    (_set("bonuses", 0, "add", value=-0.1), "bonuses[0].add"),
    (_set("defining", value=[]), "defining"),
    (_set("defining_criteria", value=["rocks"]), "defining_criteria[0]"),
    (_set("least_completeness", value=math.inf), "least_completeness"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "path"), CASES, ids=[f"{n}-{path}" for n, (_, path) in enumerate(CASES)])
def test_a_fault_is_refused_with_its_key_path(change: Callable[[dict[str, Any]], None], path: str) -> None:
    assert path in _refused(change)


def test_all_faults_are_said_at_once() -> None:
    def change(content: dict[str, Any]) -> None:
        content["colour"] = 1
        content["criteria"][0]["weight"] = 0.9
        content["criteria"][3]["factor"] = "slope_percent"
        content["gates"][0]["factor"] = 2

    assert {"colour", "criteria[].weight", "criteria[3].factor", "gates[0].factor"} <= set(_refused(change))


def test_a_users_copy_with_a_fault_names_file_and_key(tmp_path: Path) -> None:
    text = RESIDUAL.read_text(encoding="utf-8").replace("weight = 0.289", "weight = 0.489")
    path = tmp_path / "my clay.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DefinitionError, match=r"my clay\.toml, criteria\[\]\.weight: found '1\.2'"):
        load_deposit_model(path)


@pytest.mark.parametrize("text", ["key = ", "\x00", "a = [[[[", ""])
def test_what_is_not_a_model_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "x.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises((DefinitionError, InputRefused)):
        load_deposit_model(path)


@pytest.mark.parametrize("content", [None, [], "x", {"criteria": 3}, {"criteria": [3, {"parts": "x"}]}])
def test_content_of_any_shape_is_refused_and_does_not_break(content: object) -> None:
    with pytest.raises(DefinitionError):
        deposit_model(content, "x.toml")


def test_parts_without_end_are_refused() -> None:
    def change(content: dict[str, Any]) -> None:
        node = content["criteria"][3]
        for _ in range(400):
            node = {"key": "a", "title": "a", "weight": 1.0, "combine": "max", "parts": [node]}
        content["criteria"][3] = node

    assert any("at most 8 levels" in expected for expected in _refused(change).values())


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda below: (
        st.lists(below, max_size=3)
        | st.dictionaries(
            st.sampled_from(
                [
                    "key",
                    "criteria",
                    "parts",
                    "weight",
                    "membership",
                    "points",
                    "factor",
                    "gates",
                    "conditions",
                    "adjust",
                ]
            ),
            below,
            max_size=4,
        )
    ),
    max_leaves=12,
)


@settings(deadline=None, max_examples=100)
@given(st.integers(0, 6), VALUES)
def test_nonsense_anywhere_is_refused_by_name_and_never_breaks(place: int, value: object) -> None:
    content = _content()
    content["criteria"][place] = value
    content["gates"] = value
    with pytest.raises(DefinitionError):
        deposit_model(content, "x.toml")


def test_the_shipped_models_are_seven_in_fixed_order() -> None:
    assert tuple(model.key for model in shipped_models()) == MODEL_KEYS


@pytest.mark.parametrize("model", shipped_models(), ids=lambda model: model.key)
def test_weights_sum_to_one_on_every_level(model: Any) -> None:
    assert math.fsum(criterion.weight for criterion in model.criteria) == pytest.approx(1, abs=1e-9)
    for criterion, _ in model.walk():
        if criterion.combine == "weighted":
            assert math.fsum(part.weight for part in criterion.parts) == pytest.approx(1, abs=1e-9)


@pytest.mark.parametrize("model", shipped_models(), ids=lambda model: model.key)
def test_shipped_models_read_only_known_factors_and_say_where_numbers_come_from(model: Any) -> None:
    assert model.factors() <= set(factor_list())
    for criterion, _ in model.walk():
        assert criterion.parts or criterion.reference
    assert model.cautions


def test_purposes_are_those_of_the_ground_settings() -> None:
    assert tuple(purpose_list()) == PURPOSES


def test_every_change_of_a_purpose_finds_its_criterion() -> None:
    for rules in purpose_list().values():
        for change in rules.changes:
            wanted = [m for m in shipped_models() if not change.models or m.key in change.models]
            found = {m.key for m in wanted for criterion, _ in m.walk() if criterion.key == change.criterion}
            assert found, (rules.key, change.criterion)
            assert not change.models or found == set(change.models), (rules.key, change.criterion)


def test_any_purpose_leaves_the_models_alone_and_an_unknown_one_is_refused() -> None:
    for model in shipped_models():
        assert for_purpose(model, "any") == model
    with pytest.raises(WrongUsage, match="porcelain"):
        for_purpose(shipped_models()[0], "porcelain")

"""The last action is taken back by a new one, and nothing is ever lost from the audit."""

from __future__ import annotations

import json
import random
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from prospect.errors import GroundError, NothingToWorkWith
from prospect.records import GroundSettings, Sample
from prospect.store import Ground
from prospect.store.records_file import transaction
from prospect.store.undoing import step_back, take_back


@pytest.fixture
def ground(tmp_path: Path) -> Ground:
    return Ground.create(tmp_path / "ground", GroundSettings(name="first", cell_m=5.0))


def sample(name: str, lon: float = -126.0) -> Sample:
    return Sample(sample_id=name, lon=lon, lat=-47.5, note="sticky", fields={"feel": "smooth"})


def state(ground: Ground) -> tuple[object, ...]:
    return ground.settings, ground.samples(), dict(ground.rock_corrections())


def test_every_kind_of_action_goes_back_one_by_one(ground: Ground) -> None:
    states = [state(ground)]
    for action in (
        lambda: ground.add_samples((sample("A1"),)),
        lambda: ground.change_settings(cell_m=10.0, glaciated="yes"),
        lambda: ground.correct_rock("Qal", "clay:1"),
        lambda: ground.correct_rock("Qal", "sand:1"),
        lambda: ground.correct_rock("Qal", ""),
        lambda: ground.change_settings(cell_m=20.0),
        lambda: ground.add_samples((sample("A2"), sample("A3"))),
    ):
        action()
        states.append(state(ground))
    states.pop()
    for revision in range(8, 1, -1):
        assert ground.undo().revision == revision
        assert state(ground) == states.pop()
        assert all(item.well for item in ground.check_up())
    with pytest.raises(NothingToWorkWith, match="nothing to take back"):
        ground.undo()
    assert [change.action for change in ground.audit()][8:] == ["undo"] * 7


def test_the_audit_keeps_what_was_in_a_removed_sample(ground: Ground) -> None:
    ground.add_samples((sample("A1"),))
    ground.undo()
    detail = json.loads(ground.audit()[-1].detail)
    assert [Sample(**item) for item in detail["samples"]] == [sample("A1")]
    assert ground.add_samples((sample("A1"),)) == ()
    assert ground.samples() == (sample("A1"),)
    ground.undo()
    assert ground.samples() == ()


def test_the_extent_follows(ground: Ground) -> None:
    """GeoPackage (OGC 12-128r18), table gpkg_contents: the extent may be empty, but not wrong."""
    ground.add_samples((sample("A1"),))
    ground.add_samples((sample("A2", lon=-120.0),))

    def extent() -> tuple[object, ...]:
        with closing(sqlite3.connect(ground.records_path)) as connection:
            row = connection.execute("SELECT min_x, max_x FROM gpkg_contents WHERE table_name = 'samples'")
            return tuple(row.fetchone())

    assert extent() == (-126.0, -120.0)
    ground.undo()
    assert extent() == (-126.0, -126.0)
    ground.undo()
    assert extent() == (None, None)


def test_an_action_on_a_layer_is_not_taken_back(ground: Ground) -> None:
    ground.change_settings(cell_m=10.0)
    ground.note_action("add layer", "{}")
    with pytest.raises(NothingToWorkWith, match="add layer"):
        ground.undo()
    assert ground.settings.cell_m == 10.0


def test_nothing_is_taken_back_over_the_head_of_another_program(ground: Ground) -> None:
    ground.change_settings(cell_m=10.0)
    step = step_back(ground.audit(), lambda names: [], lambda kind, names: [])
    ground.change_settings(cell_m=20.0)
    with (
        pytest.raises(GroundError, match="meanwhile"),
        transaction(ground.records_path, "undo", "{}") as connection,
    ):
        take_back(connection, step)
    assert ground.settings.cell_m == 20.0
    assert ground.audit()[-1].action == "set"


@pytest.mark.parametrize("seed", range(5))
def test_any_run_of_actions_and_steps_back_ends_where_a_list_of_states_says(
    ground: Ground, seed: int
) -> None:
    chance = random.Random(seed)
    past: list[tuple[object, ...]] = [state(ground)]
    for number in range(25):
        kind = chance.choice(("undo", "undo", "set", "rock", "samples"))
        if kind == "undo":
            if len(past) == 1:
                continue
            ground.undo()
            past.pop()
            assert state(ground) == past[-1]
            continue
        if kind == "set":
            ground.change_settings(cell_m=float(chance.randrange(1, 9)), name=str(number))
        elif kind == "rock":
            ground.correct_rock(chance.choice("AB"), chance.choice(("clay:1", "sand:1", "")))
        else:
            ground.add_samples((replace(sample(f"s{number}"), note=str(number)),))
        past.append(state(ground))
    assert all(item.well for item in ground.check_up())

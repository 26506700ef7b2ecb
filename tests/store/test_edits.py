"""Edits name the revision they began from; drafts are kept until they are saved; a read-only ground saves nothing."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from prospect.errors import GroundError, WrongUsage
from prospect.records import GroundSettings, Looked, Permission, Sample
from prospect.store import ChangedMeanwhile, Ground, Recorded

ONE = Sample(sample_id="A1", lon=-126.0, lat=-47.5, note="sticky", fields={"feel": "smooth"})


@pytest.fixture
def ground(tmp_path: Path) -> Ground:
    ground = Ground.create(tmp_path / "ground", GroundSettings())
    ground.add_samples((ONE,))
    return ground


def recorded(ground: Ground, sample_id: str = "A1") -> Recorded:
    held = ground.recorded(sample_id)
    assert held is not None
    return held


def test_an_edit_is_saved_with_its_revision_and_goes_back(ground: Ground) -> None:
    held = recorded(ground)
    assert held == Recorded(ONE, 2)
    better = replace(ONE, note="sticky, blue below", usable="yes")
    assert ground.edit_sample(better, held.revision) == Recorded(better, 3)
    assert ground.samples() == (better,)
    assert ground.undo().action == "edit sample"
    assert ground.samples() == (ONE,)
    assert recorded(ground).revision == 4
    assert all(item.well for item in ground.check_up())


def test_an_edit_of_what_was_changed_meanwhile_shows_both_and_saves_nothing(ground: Ground) -> None:
    begun = recorded(ground).revision
    theirs, mine = replace(ONE, note="theirs"), replace(ONE, note="mine")
    ground.edit_sample(theirs, begun)
    with pytest.raises(ChangedMeanwhile, match=r"A1 was changed .* meanwhile; nothing was saved") as told:
        ground.edit_sample(mine, begun)
    assert told.value.mine == mine
    assert told.value.theirs == Recorded(theirs, 3)
    assert ground.samples() == (theirs,)
    assert [change.action for change in ground.audit()][-1] == "edit sample"
    assert len(ground.audit()) == 3


def test_a_dropped_sample_cannot_be_edited_and_comes_back_by_taking_back(ground: Ground) -> None:
    begun = recorded(ground).revision
    with pytest.raises(ChangedMeanwhile):
        ground.drop_sample("A1", begun + 1)
    assert ground.drop_sample("A1", begun) == ONE
    with pytest.raises(ChangedMeanwhile, match="taken out"):
        ground.edit_sample(replace(ONE, note="mine"), begun)
    assert ground.samples() == ()
    assert all(item.well for item in ground.check_up())
    assert ground.undo().action == "drop sample"
    assert ground.samples() == (ONE,)
    assert all(item.well for item in ground.check_up())


def test_of_two_that_edit_at_once_one_is_told(ground: Ground) -> None:
    begun = recorded(ground).revision
    told: list[str] = []

    def edit(note: str) -> None:
        try:
            ground.edit_sample(replace(ONE, note=note), begun)
            told.append("saved")
        except ChangedMeanwhile:
            told.append("told")

    threads = [threading.Thread(target=edit, args=(f"hand {number}",)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(told) == ["saved", *["told"] * 7]


def test_a_draft_is_kept_and_changes_nothing_else(ground: Ground) -> None:
    before = ground.audit()
    ground.keep_draft("new sample", {"note": "stic"})
    ground.keep_draft("new sample", {"note": "sticky", "sample_id": "A2"})
    assert Ground.open(ground.folder).draft("new sample") == {"note": "sticky", "sample_id": "A2"}
    assert ground.draft("another") == {}
    ground.drop_draft("new sample")
    assert ground.draft("new sample") == {}
    assert ground.audit() == before
    with pytest.raises(WrongUsage, match="too long"):
        ground.keep_draft("new sample", {"note": "x" * 300_000})


@pytest.mark.parametrize(
    "save",
    [
        lambda ground: ground.add_samples((replace(ONE, sample_id="A2"),)),
        lambda ground: ground.edit_sample(ONE, 2),
        lambda ground: ground.drop_sample("A1", 2),
        lambda ground: ground.change_settings(cell_m=5.0),
        lambda ground: ground.correct_rock("Qal", "clay:1"),
        lambda ground: ground.permit(Permission("014", "asked")),
        lambda ground: ground.note_looked(Looked("well", -126.0, -47.5, clear=True)),
        lambda ground: ground.keep_draft("new", {"a": "b"}),
        lambda ground: ground.note_action("add layer", ""),
        lambda ground: ground.undo(),
    ],
)
def test_a_ground_opened_for_looking_saves_nothing_and_says_why(
    ground: Ground, save: Callable[[Ground], object]
) -> None:
    before = ground.records_path.read_bytes()
    looking = Ground.open(ground.folder, read_only="Tov on the other laptop has it open.")
    with pytest.raises(GroundError, match="Nothing can be saved here: Tov on the other laptop"):
        save(looking)
    assert looking.samples() == (ONE,)
    assert ground.records_path.read_bytes() == before

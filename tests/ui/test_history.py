"""What was done in plain words, the last action taken back once, and what is still only typed."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace

import pytest
from entering import labels, open_room, press, shown

from prospect.records import Bar, Batch, BenchTest, Hole, LogBook, Looked, Permission, Sample
from prospect.store import Change, Ground
from prospect.ui.history import in_words, last_deeds, next_to_take_back
from prospect.ui.screens import history as screen
from prospect.ui.visitor import Visitor


def test_the_last_action_is_named_taken_back_and_struck_out(ground):
    ground.add_samples([Sample("B1", -128.99, -47.49)])
    app = open_room("history")
    assert "Sample B1 added." in shown(app)
    press(app, "Take it back")
    assert "Taken back: Sample B1 added." in shown(app)
    assert ground.recorded("B1") is None
    assert "cw-back" in shown(app)
    assert "2 samples added from samples.csv: A1, A2." in shown(app)


def test_nothing_is_taken_back_when_something_was_saved_since_the_page_was_drawn(ground):
    ground.add_samples([Sample("B1", -128.99, -47.49)])
    app = open_room("history")
    ground.add_samples([Sample("B2", -128.99, -47.49)])
    press(app, "Take it back")
    assert "Something else was saved meanwhile" in shown(app)
    assert ground.recorded("B2") is not None


def test_what_was_done_to_the_log_in_plain_words(ground):
    bars = tuple(Bar(f"b{number}", "A1") for number in range(2))
    book = LogBook(
        holes=(Hole("H1", -128.99, -47.49),),
        bars=bars,
        tests=(BenchTest("t1", "A1", "slaking"),),
        batches=(Batch("L1", "H1"),),
    )
    ground.add_log(book, origin="log.csv")
    ground.edit_log(replace(bars[0], dry_mm=92.0), ground.on_record("bar", "b0").revision)
    ground.drop_log("hole", "H1", ground.on_record("hole", "H1").revision)
    dropped, edited, added = (deed.words for deed in last_deeds(ground.audit(), 3))
    assert (dropped, edited) == ("Hole H1 taken out.", "Bar b0 changed.")
    assert added.startswith("Hole H1; 2 ")
    assert added.endswith(" added from log.csv.")
    for words in ("b0, b1", "t1", "L1"):
        assert words in added
    assert "log" not in edited + dropped


def test_each_action_in_plain_words(ground):
    recorded = ground.recorded("A1")
    ground.edit_sample(replace(recorded.sample, note="x"), recorded.revision)
    ground.drop_sample("A2", ground.recorded("A2").revision)
    ground.permit(Permission("12-3", "granted", scope="dig", person="Mirel Ashdown"))
    ground.note_looked(Looked("utility_lines", -128.99, -47.49, clear=True))
    ground.note_looked(Looked("unmarked_grave", -128.99, -47.49, clear=True))
    ground.change_settings(line_error_m=3.0)
    ground.correct_rock("Kg", "granite:1.0")
    told = " ".join(deed.words for deed in last_deeds(ground.audit(), 10))
    for words in (
        "Sample A1 changed.",
        "Sample A2 taken out.",
        "Parcel 12-3: leave given, Mirel Ashdown.",
        "Looked on the spot for utility lines.",
        "Looked on the spot for graves and old places.",
        "Settings changed: error of the parcel lines",
        "Reading of the map unit “Kg” changed.",
    ):
        assert words in told
    assert "Mirel" not in " ".join(deed.words for deed in last_deeds(ground.audit(), 10, names_people=False))


def test_another_program_s_change_is_said_plainly(ground):
    with closing(sqlite3.connect(ground.records_path)) as other, other:
        other.execute("UPDATE samples SET note = 'by another program' WHERE sample_id = 'A1'")
    app = open_room("history")
    assert "Another program changed the records." in shown(app)
    assert "cw-outside" in shown(app)
    assert "Take it back" not in labels(app)


def test_what_is_typed_and_not_saved_is_listed(ground):
    ground.keep_draft("sample 0123456789ab", {"name": "B7"})
    assert "Typed and not saved yet" in shown(open_room("history"))
    assert "sample B7" in shown(open_room("history"))


def test_another_device_sees_no_names(ground, monkeypatch):
    ground.permit(Permission("001", "refused", person="Mirel Ashdown"))
    monkeypatch.setattr(screen, "who_is_looking", lambda: Visitor(here=False, sees_owners=False))
    assert "Mirel" not in shown(open_room("history"))


def test_nothing_is_taken_back_when_nothing_can_be_saved(ground, monkeypatch):
    looking = Ground.open(ground.folder, read_only="another program has it open")
    monkeypatch.setattr(Ground, "open", classmethod(lambda cls, folder, **_: looking))
    assert labels(open_room("history")) == set()


def test_foreign_words_are_inert(ground, hostile):
    ground.permit(Permission(hostile, "refused", person=hostile))
    assert "<img" not in shown(open_room("history"))


@pytest.mark.parametrize("detail", ["", "no json", "[]", '{"samples": null}'])
def test_an_entry_that_cannot_be_read_is_still_told(detail):
    change = Change(1, "yesterday", "add samples", detail)
    assert in_words(change)
    assert last_deeds([change], 3)[0].when == "yesterday"


def test_what_cannot_be_taken_back_here_is_not_offered():
    changes = [Change(1, "", "add samples", "{}"), Change(2, "", "add layer", "{}")]
    assert next_to_take_back(changes) is None
    assert next_to_take_back(changes[:1]) == changes[0]
    undone = [*changes[:1], Change(2, "", "undo", '{"revision": 1}')]
    assert next_to_take_back(undone) is None

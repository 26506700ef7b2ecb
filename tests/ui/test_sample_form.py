"""Samples noted, changed and taken out on the screen: nothing typed is lost, nothing on record is written over."""

from __future__ import annotations

from dataclasses import replace

import pytest
from entering import field, fill, labels, open_room, press, shown
from streamlit.testing.v1 import AppTest

from prospect.records import Sample
from prospect.store import Ground
from prospect.ui.sample_reading import content_of, next_name, read_sample


def opened(note: str = "") -> AppTest:
    return open_room("samples", **({"note": note} if note else {}))


def begun(app) -> tuple[AppTest, str]:
    press(app, "Note a sample")
    return app, app.query_params["note"]


def test_a_sample_is_noted_and_said_to_be_saved_only_then(ground):
    app, _ = begun(opened())
    assert field(app, "name").value == "A3"
    field(app, "place").set_value("47.49 S, 128.99 W").run()
    field(app, "top").set_value("12,5").run()
    field(app, "bottom").set_value("60").run()
    field(app, "feel").set_value("sticky").run()
    assert "Saved" not in shown(app)
    assert "12.5 to 60 cm" in shown(app)
    press(app, "Save")
    assert "Saved: A3, " in shown(app)
    sample = ground.recorded("A3").sample
    assert (sample.lat, sample.lon, sample.top_cm, sample.bottom_cm) == (-47.49, -128.99, 12.5, 60)
    assert sample.fields == {"feel": "sticky"}
    assert ground.pending() == ()


def test_what_was_typed_is_there_again_after_the_page_was_lost(ground):
    app, note = begun(opened())
    field(app, "moist colour").set_value("grey").run()
    field(app, "note").set_value("two bags\nby the ash tree").run()
    again = opened(note)
    assert field(again, "moist colour").value == "grey"
    assert field(again, "note").value == "two bags\nby the ash tree"
    elsewhere = opened()
    assert "Not saved yet" in shown(elsewhere)
    press(elsewhere, "Go on with it")
    assert field(elsewhere, "moist colour").value == "grey"


def test_a_page_loaded_anew_after_the_save_says_that_it_was_saved(ground):
    app, note = begun(opened())
    field(app, "place").set_value("47.49 S, 128.99 W").run()
    press(app, "Save")
    assert "Saved: A3, " in shown(opened(note))


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("place", "over there", "Expected latitude and longitude"),
        ("top", "deep", "is not a length"),
        ("top", "-5", "is not a length"),
        ("day", "31.31.2025", "a day such as 2026-05-31"),
        ("day", "2999-01-01", "a date until today"),
        ("error", "some", "such as 5 or 5 m"),
    ],
)
def test_what_cannot_be_is_said_beside_its_field_and_not_saved(ground, name, text, said):
    app, _ = begun(opened())
    field(app, "place").set_value("47.49 S, 128.99 W").run()
    field(app, name).set_value(text).run()
    press(app, "Save")
    assert said in shown(app)
    assert "Not saved. One field needs mending" in shown(app)
    assert ground.recorded("A3") is None


def test_a_fault_is_not_said_while_it_is_still_being_typed(ground):
    app, _ = begun(opened())
    field(app, "place").set_value("47.49 S, ").run()
    assert "Expected latitude" not in shown(app)
    field(app, "smell").set_value("none").run()
    assert "Expected latitude" in shown(app)


def test_a_sample_without_a_place_stays_a_draft(ground):
    app, _ = begun(opened())
    field(app, "note").set_value("place to follow").run()
    press(app, "Save")
    assert "it stays here as a draft" in shown(app)
    press(app, "Not now")
    assert "Kept as a draft" in shown(app)
    assert len(ground.samples()) == 2


def test_a_name_that_is_taken_is_said_and_never_written_over(ground):
    before = ground.recorded("A1")
    app, _ = begun(opened())
    field(app, "place").set_value("47.49 S, 128.99 W").run()
    field(app, "name").set_value("A1").run()
    press(app, "Save")
    assert "There is a sample of that name already" in shown(app)
    assert "A3 is free" in shown(app)
    assert ground.recorded("A1") == before


def test_a_page_that_was_left_no_longer_writes_over_what_is_typed_in_the_new_one(ground):
    left, note = begun(opened())
    fill(left, smell="none", place="47.49 S, 128.99 W")
    again = opened(note)
    fill(again, smell="earthy")
    fill(left, smell="rotten eggs")
    assert "is open in another window now" in shown(left)
    press(left, "Save")
    assert ground.recorded("A3") is None
    (draft,) = ground.pending()
    assert draft.content["smell"] == "earthy"
    press(again, "Save")
    assert ground.recorded("A3").sample.fields["smell"] == "earthy"
    fill(left, hole="7")
    assert "Saved: A3" in shown(left)
    assert ground.pending() == ()


def test_a_place_outside_of_the_ground_is_remarked_upon_and_can_be_saved(ground):
    app, _ = begun(opened())
    field(app, "place").set_value("47.49 S, 128.99 E").run()
    assert "outside of this ground" in shown(app)
    press(app, "Save")
    assert ground.recorded("A3").sample.lon == 128.99


def change(app, number=2):
    press(app, f"Open sample {number} of the list")
    press(app, "Change it")
    return app


def test_a_sample_is_changed(ground):
    app = change(opened())
    assert field(app, "bottom").value == "80"
    field(app, "bottom").set_value("90").run()
    press(app, "Save")
    before, after = ground.recorded("A1").sample, ground.recorded("A1").sample
    assert (after.top_cm, after.bottom_cm) == (40, 90)
    assert before.note == after.note == "quivering"
    assert "Saved: A1" in shown(app)


def test_when_it_was_changed_meanwhile_both_are_shown_and_the_person_chooses(ground):
    app = change(opened())
    field(app, "bottom").set_value("90").run()
    field(app, "note").set_value("mine").run()
    recorded = ground.recorded("A1")
    ground.edit_sample(replace(recorded.sample, note="theirs", usable="no"), recorded.revision)
    press(app, "Save")
    assert "It was changed meanwhile" in shown(app)
    assert "theirs" in shown(app)
    assert "mine" in shown(app)
    note = app.query_params["note"]
    app = opened(note)
    assert "It was changed meanwhile" in shown(app)
    press(app, "Save this choice")
    assert "Choose one of the two" in shown(app)
    field(app, "pick note").set_value("mine").run()
    press(app, "Save this choice")
    sample = ground.recorded("A1").sample
    assert (sample.note, sample.bottom_cm, sample.usable) == ("mine", 90, "no")


def test_all_on_record_can_be_taken_at_once(ground):
    app = change(opened())
    field(app, "note").set_value("mine").run()
    recorded = ground.recorded("A1")
    ground.edit_sample(replace(recorded.sample, note="theirs"), recorded.revision)
    press(app, "Save")
    press(app, "All on record")
    press(app, "Save this choice")
    assert ground.recorded("A1").sample.note == "theirs"


def test_a_sample_taken_out_while_it_was_changed_can_be_noted_again(ground):
    app = change(opened())
    field(app, "note").set_value("mine").run()
    ground.drop_sample("A1", ground.recorded("A1").revision)
    press(app, "Save")
    assert "It was taken out meanwhile" in shown(app)
    press(app, "Note it again")
    press(app, "Save")
    assert ground.recorded("A1").sample.note == "mine"


def test_a_sample_is_taken_out_only_when_asked_twice(ground):
    app = press(opened(), "Open sample 2 of the list")
    press(app, "Take it out …")
    assert ground.recorded("A1") is not None
    press(app, "Leave it in")
    press(app, "Take it out …")
    press(app, "Yes, take it out")
    assert ground.recorded("A1") is None
    assert "It can be taken back" in shown(app)


def test_nothing_is_offered_to_be_saved_when_nothing_can_be(ground, monkeypatch):
    looking = Ground.open(ground.folder, read_only="another program has it open")
    monkeypatch.setattr(Ground, "open", classmethod(lambda cls, folder, **_: looking))
    app = opened()
    assert {label for label in labels(app) if not label.startswith("Open sample")} == set()
    press(app, "Open sample 1 of the list")
    assert not {"Change it", "Take it out …"} & labels(app)


def test_hundreds_of_samples_are_laid_out_leaf_by_leaf(ground):
    ground.add_samples(Sample(f"H{number:03d}", -128.99, -47.49) for number in range(300))
    app = opened()
    assert "302 samples, the newest first, 1 to 60 shown" in shown(app)
    assert "H299" in shown(app)
    assert "H200" not in shown(app)
    press(app, "Older →")
    assert "H200" in shown(app)


def test_foreign_words_in_the_list_and_the_form_are_inert(ground, hostile):
    ground.add_samples([Sample("X1", -128.99, -47.49, note=hostile, hole_id=hostile, date=hostile)])
    app = opened()
    assert "<img" not in shown(app)
    press(app, "Open sample 1 of the list")
    assert "<img" not in shown(app)
    press(app, "Change it")
    field(app, "top").set_value("10").run()
    press(app, "Save")
    after = ground.recorded("X1").sample
    assert after.top_cm == 10
    assert (after.note, after.hole_id, after.date) == (hostile, hostile, hostile)


def test_what_is_not_touched_stays_to_the_last_decimal():
    sample = Sample("A", -128.123456789, -47.987654321, top_cm=33.333, fields={"ph": "6", "smell": "earthy"})
    content = {**content_of(sample, "us"), "bottom": "20 in"}
    read = read_sample(content, "us", "2026-11-26", sample).sample
    assert read == replace(sample, bottom_cm=50.8)
    assert read_sample({**content, "smell": ""}, "us", "2026-11-26", sample).sample.fields == {"ph": "6"}


@pytest.mark.parametrize(
    ("newest_first", "free"),
    [
        (["B7", "B6"], "B8"),
        (["N09"], "N10"),
        (["H01-1"], "H01-2"),
        (["by the old ash tree 4", "S2"], "S3"),
        ([], "S1"),
        (["clay"], "S1"),
        (["B7", "B8"], "B9"),
    ],
)
def test_the_name_offered_is_short_and_free(newest_first, free):
    assert next_name(set(newest_first), newest_first) == free

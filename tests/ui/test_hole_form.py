"""Holes noted, changed and taken out on the screen, layer by layer: nothing typed is lost or written over."""

from __future__ import annotations

import time
from dataclasses import replace

import pytest
from entering import field, fill, labels, open_room, press, shown

from prospect.pipeline import against_record
from prospect.records import Hole, HoleLayer, LogBook, Sample
from prospect.ui.hole_choice import MINE, THEIRS, differences, put_together
from prospect.ui.hole_reading import content_of, read_hole

PLACE = "47.5285 S, 128.991 W"
HOLE = Hole(
    "H7",
    -128.991,
    -47.5285,
    kind="auger",
    date="2026-05-31",
    layers=(
        HoleLayer(0.0, 20.0, "no", "silt loam", "10YR 3/2", roots="many", fields={"ph": "5.5"}),
        HoleLayer(20.0, 45.0, "yes", "clay", coil="bends"),
    ),
)


def opened(**asked):
    return open_room("holes", **asked)


def begun():
    app = opened()
    press(app, "Note a hole")
    return app


def test_a_hole_goes_on_record_layer_by_layer_with_a_bag(ground):
    app = begun()
    assert field(app, "name").value == "H1"
    fill(app, place=PLACE, kind="auger")
    press(app, "Save and first layer")
    assert ground.on_record("hole", "H1").item.layers == ()
    press(app, "+ 25 cm")
    field(app, "1 coil").set_value("cracks").run()
    press(app, "Save and next layer")
    assert len(ground.on_record("hole", "H1").item.layers) == 1
    assert (field(app, "2 top").value, app.query_params["part"]) == ("25", "2")
    fill(app, **{"2_bottom": "60", "2_usable": "yes", "2_bag": True})
    assert "Write on the bag: <b>H1-1</b>" in shown(app)
    press(app, "Save, that was the last")
    fill(app, stopped="water", water="58")
    press(app, "Save and close")
    assert "Saved: H1, 2 layers, " in shown(app)
    hole = ground.on_record("hole", "H1").item
    assert [(layer.top_cm, layer.bottom_cm, layer.usable) for layer in hole.layers] == [
        (0, 25, "unknown"),
        (25, 60, "yes"),
    ]
    assert (hole.kind, hole.stopped_by, hole.water_cm, hole.layers[0].coil) == (
        "auger",
        "water",
        58,
        "cracks",
    )
    bag = ground.recorded("H1-1").sample
    assert (bag.hole_id, bag.top_cm, bag.bottom_cm, bag.usable) == ("H1", 25, 60, "yes")
    assert ground.pending() == ()


def test_a_field_that_a_tap_has_filled_takes_no_older_words_from_the_browser(ground):
    app = begun()
    press(app, "Save and first layer")
    before = field(app, "1 bottom").key
    press(app, "+ 25 cm")
    first = field(app, "1 bottom")
    assert (first.value, first.key == before) == ("25", False)
    # the browser's next message still names the field as it was
    app.session_state[before] = ""
    field(app, "1 coil").set_value("cracks").run()
    assert field(app, "1 bottom").value == "25"
    assert ground.pending()[0].content["1 bottom"] == "25"


def test_a_second_tap_takes_no_second_layer_out(ground):
    ground.add_log(LogBook(holes=(HOLE,)))
    app = opened()
    press(app, "Open hole 1 of the list")
    press(app, "Change it")
    press(app, "Layer 2")
    first = next(button for button in app.button if button.label == "Take this layer out").key
    press(app, "Take this layer out")
    assert next(button for button in app.button if button.label == "Take this layer out").key != first
    assert ground.pending()[0].content["layers"] == "1"


def test_without_a_place_the_work_goes_on_as_a_draft_and_says_so(ground):
    app = begun()
    press(app, "Save and first layer")
    field(app, "1 bottom").set_value("30").run()
    press(app, "Save and next layer")
    assert "Kept as a draft, not on record yet: A hole needs its place" in shown(app)
    assert ground.holes() == ()
    press(app, "The hole")
    field(app, "place").set_value(PLACE).run()
    press(app, "Save and close")
    assert [layer.bottom_cm for layer in ground.holes()[0].layers] == [30]


def test_what_was_typed_is_there_again_on_another_device(ground):
    app = begun()
    field(app, "place").set_value(PLACE).run()
    press(app, "Save and first layer")
    fill(app, **{"1_smell": "earthy", "1_note": "two spades\nby the ash"})
    again = opened(note=app.query_params["note"])
    assert field(again, "1 smell").value == "earthy"
    assert field(again, "1 note").value == "two spades\nby the ash"
    fill(app, **{"1_smell": "none"})
    assert "is open in another window now" in shown(app)
    assert "Not saved yet" in shown(opened())


def test_a_layer_is_changed_and_taken_out_and_the_rest_stays_to_the_letter(ground):
    ground.add_log(LogBook(holes=(HOLE,)))
    app = opened()
    press(app, "Open hole 1 of the list")
    press(app, "Change it")
    press(app, "Layer 2")
    fill(app, **{"2_coil": "breaks"})
    press(app, "Save and next layer")
    assert ground.on_record("hole", "H7").item == replace(
        HOLE, layers=(HOLE.layers[0], replace(HOLE.layers[1], coil="breaks"))
    )
    press(app, "Layer 2")
    press(app, "Take this layer out")
    press(app, "The hole")
    press(app, "Save and close")
    assert ground.on_record("hole", "H7").item == replace(HOLE, layers=HOLE.layers[:1])


def test_a_fault_on_a_layer_holds_it_up_beside_its_field(ground):
    app = begun()
    field(app, "place").set_value(PLACE).run()
    press(app, "Save and first layer")
    field(app, "1 bottom").set_value("deep").run()
    press(app, "Save and next layer")
    assert "is not a length" in shown(app)
    assert "Not saved: see above." in shown(app)
    assert ground.on_record("hole", "H1").item.layers == ()


def test_a_name_that_is_taken_is_never_written_over(ground):
    ground.add_log(LogBook(holes=(HOLE,)))
    app = begun()
    assert field(app, "name").value == "H8"
    fill(app, place=PLACE, name="H7")
    press(app, "Save and close")
    assert "There is a hole of that name already" in shown(app)
    assert ground.on_record("hole", "H7").item == HOLE


def test_two_changes_of_one_hole_are_laid_side_by_side(ground):
    ground.add_log(LogBook(holes=(HOLE,)))
    app = opened()
    press(app, "Open hole 1 of the list")
    press(app, "Change it")
    press(app, "Layer 1")
    field(app, "1 smell").set_value("earthy").run()
    theirs = replace(HOLE, layers=(replace(HOLE.layers[0], grit="much"), HOLE.layers[1]))
    ground.edit_log(theirs, ground.on_record("hole", "H7").revision)
    press(app, "Save and next layer")
    assert "It was changed meanwhile" in shown(app)
    assert ground.on_record("hole", "H7").item == theirs
    press(app, "All of mine")
    press(app, "Save this choice")
    assert ground.on_record("hole", "H7").item.layers[0] == replace(HOLE.layers[0], smell="earthy")


def test_a_hole_is_taken_out_and_taken_back(ground):
    ground.add_log(LogBook(holes=(HOLE,)))
    app = opened()
    press(app, "Open hole 1 of the list")
    press(app, "Take it out …")
    press(app, "Yes, take it out")
    assert "Taken out: H7" in shown(app)
    assert ground.holes() == ()
    ground.undo()
    assert ground.holes() == (HOLE,)


def test_foreign_words_stay_words(ground, hostile):
    layer = HoleLayer(
        0.0, 20.0, "yes", hostile, hostile, smell=hostile, note=hostile, fields={hostile[:60]: hostile}
    )
    ground.add_log(LogBook(holes=(replace(HOLE, hole_id="X1", note=hostile, layers=(layer,)),)))
    app = opened()
    press(app, "Open hole 1 of the list")
    assert "<img" not in shown(app).replace('<img class="cw-chart" src="data:image/svg+xml;base64,', "")
    press(app, "Change it")
    press(app, "Layer 1")
    assert "<img" not in shown(app)
    assert not app.exception


def test_cautions_stand_where_walls_and_banks_are(ground):
    ground.add_log(LogBook(holes=(HOLE, replace(HOLE, hole_id="F1", kind="face"))))
    app = opened()
    press(app, "Open hole 1 of the list")
    assert "never undercut a bank" in shown(app)
    press(app, "← All holes")
    press(app, "Open hole 2 of the list")
    assert "never undercut a bank" not in shown(app)


def test_new_layers_of_both_are_kept_and_only_what_both_changed_is_asked():
    began = {f"was {name}": text for name, text in content_of(HOLE, "metric").items()}
    mine = {
        **content_of(HOLE, "metric"),
        **began,
        "1 smell": "earthy",
        "layers": "1 2 3",
        "3 top": "60",
        "3 grit": "none",
    }
    theirs = replace(HOLE, note="x", layers=(*HOLE.layers, HoleLayer(45.0, 60.0, texture="loam")))
    found = differences(mine, theirs, "metric")
    assert [(one.name, one.offered) for one in found] == [("note", THEIRS), ("layer 1", MINE)]
    settled = put_together(mine, theirs, "metric", {one.name: one.offered for one in found})
    hole = read_hole(settled, "metric", "2026-11-26", theirs).hole
    assert hole == replace(
        theirs,
        layers=(replace(HOLE.layers[0], smell="earthy"), *theirs.layers[1:], HoleLayer(60.0, grit="none")),
    )


def test_a_pasted_log_is_looked_at_before_it_goes_on_record(ground):
    ground.add_log(LogBook(holes=(HOLE,)))
    app = opened()
    press(app, "Bring in a log you have")
    text = (
        "hole,lat,lon,from,to,texture\n"
        "H7,-47.5285,-128.991,0,30,loam\n"
        "P1,-47.5285,-128.992,0,20,silt loam\n"
        "P1,-47.5285,-128.992,20,60,clay\n"
    )
    field(app, "text").set_value(text).run()
    press(app, "See how it reads")
    assert "nothing on record is written over" in shown(app)
    assert {hole.hole_id for hole in ground.holes()} == {"H7"}
    press(app, "Save all of it")
    assert "Left out, as they contradict what is on record: H7" in shown(app)
    assert ground.on_record("hole", "H7").item == HOLE
    assert [layer.texture for layer in ground.on_record("hole", "P1").item.layers] == ["silt loam", "clay"]
    assert labels(app) >= {"Note a hole"}


def test_what_a_log_brings_is_new_the_same_or_taken():
    other = replace(HOLE, kind="face")
    against = against_record(
        LogBook(holes=(HOLE, replace(HOLE, hole_id="N"))),
        LogBook(holes=(other,), samples=(Sample("N", 0, 0),)),
    )
    assert [hole.hole_id for hole in against.new.holes] == ["N"]
    assert (against.same, against.taken) == (0, (("hole", "H7", "what it is or was dug with"),))
    assert against_record(LogBook(holes=(HOLE,)), LogBook(holes=(HOLE,))).same == 1


@pytest.mark.slow
def test_a_full_log_is_still_quick(ground, figures):
    holes = tuple(replace(HOLE, hole_id=f"H{number}", layers=HOLE.layers * 2) for number in range(100, 400))
    samples = tuple(
        Sample(f"S{number}", -128.991, -47.5285, f"H{100 + number % 300}", top_cm=1.0)
        for number in range(2000)
    )
    ground.add_log(LogBook(holes=holes, samples=samples))
    app, took = opened(), {}
    for name, action in (
        ("list", lambda: app.run()),
        ("page of one", lambda: press(app, "Open hole 1 of the list")),
        ("form", lambda: press(app, "Change it")),
        ("layer", lambda: press(app, "Layer 1")),
        ("a change of a field", lambda: field(app, "1 smell").set_value("earthy").run()),
        ("save and next layer", lambda: press(app, "Save and next layer")),
    ):
        started = time.perf_counter()
        action()
        took[name] = time.perf_counter() - started
    assert not app.exception
    figures["holes room, 300 holes and 2,000 samples"] = ", ".join(
        f"{name} {s:.2f} s" for name, s in took.items()
    )

"""Bars and tests noted on the screen, stage by stage: nothing typed is lost, nothing on record is written over."""

from __future__ import annotations

from dataclasses import replace
from html import unescape

import pytest
from entering import field, fill, open_room, press, shown

from prospect.records import Bar, BenchTest, LogBook
from prospect.store import Ground

STAGES = ("dry", "fired", "boiled", "looked")


def opened(note: str = "", part: str = "", room: str = "samples"):
    return open_room(room, **({"note": note} if note else {}), **({"part": part} if part else {}))


def page_of(ground, name="A1"):
    app = opened()
    number = 1 + [sample.sample_id for sample in reversed(ground.samples())].index(name)
    return press(app, f"Open sample {number} of the list")


def four_bars(ground):
    app = press(page_of(ground), "Make bars")
    for mark in "1234":
        fill(app, **{f"{mark}_plastic": "100", f"{mark}_plastic_g": "50"})
    return press(app, "Save")


def test_four_bars_are_named_after_their_sample_and_made_for_four_cones(ground):
    app = four_bars(ground)
    assert "Saved: 4 bars, A1a to A1d" in shown(app)
    bars = ground.bars()
    assert [bar.bar_id for bar in bars] == ["A1a", "A1b", "A1c", "A1d"]
    assert [bar.fields["for_cone"] for bar in bars] == ["06", "02", "4", "6"]
    assert all(bar.plastic_mm == 100 and bar.plastic_g == 50 and bar.cone == "" for bar in bars)
    assert ground.pending() == ()
    assert len([change for change in ground.audit() if change.action == "add log"]) == 1


def test_the_same_bars_come_back_to_be_dried_fired_boiled_and_looked_at(ground):
    four_bars(ground)
    app = press(opened(room="bench"), "Open set 1 of what waits")
    note = app.query_params["note"]
    note = note[0] if isinstance(note, list) else note
    for mark, dry in zip("1234", ("94", "93,8", "94.1", "94"), strict=True):
        fill(app, **{f"{mark}_dry": dry, f"{mark}_dry_g": "40"})
    app = opened(note, "dry", "bench")
    assert field(app, "2 dry").value == "93,8"
    assert "Drying shrinkage: 6.0 %, give or take 0.1, from 4 bars." in unescape(shown(app))
    press(app, "Fired")
    press(app, "Each at the cone it was made for")
    assert field(app, "3 cone").value == "4"
    for mark, length in zip("1234", ("92", "90", "86", "85"), strict=True):
        fill(app, **{f"{mark}_fired": length, f"{mark}_fired_g": "36"})
    press(app, "Boiled")
    for mark, wet in zip("1234", ("41", "40", "37", "36.5"), strict=True):
        fill(app, **{f"{mark}_saturated_g": wet})
    press(app, "Looked at")
    fill(app, **{"1_colour": "2.5yr5/6", "1_waited": "3 weeks"})
    field(app, "1 fault lime pops").set_value("yes").run()
    field(app, "2 found none").set_value("yes").run()
    press(app, "Save")
    first, second, *_ = ground.bars()
    assert (first.dry_mm, first.fired_mm, first.cone, first.saturated_g) == (94, 92, "06", 41)
    assert (first.colour, first.waited_days, first.faults) == ("2.5YR 5/6", 21, ("lime pops",))
    assert (second.faults, second.looked_for_faults) == ((), True)
    assert "lime" in shown(page_of(ground)).lower()


def test_bars_changed_together_are_taken_back_together(ground):
    four_bars(ground)
    before = ground.bars()
    app = press(opened(room="bench"), "Open set 1 of what waits")
    for mark in "1234":
        fill(app, **{f"{mark}_dry": "94"})
    press(app, "Save")
    assert [bar.dry_mm for bar in ground.bars()] == [94] * 4
    ground.undo()
    assert ground.bars() == before


def test_the_next_step_leads_to_where_it_is_noted(ground):
    app = press(page_of(ground), "Note this test")
    assert field(app, "kind").value == "slaking"
    fired = tuple(Bar(f"A1{n}", "A1", plastic_mm=100, dry_mm=94, cone="06", fired_g=36.0) for n in "ab")
    tests = tuple(BenchTest(f"A1 {kind}", "A1", kind) for kind in ("slaking", "forming"))
    ground.add_log(LogBook(bars=fired, tests=tests))
    app = page_of(ground)
    assert "boil them five hours" in shown(app)
    press(app, "Open its bars")
    fill(app, **{"1_saturated_g": "40", "2_saturated_g": "40"})
    press(app, "Save")
    app = page_of(ground)
    assert "Fire bars hotter" in shown(app)
    assert "catch dish" in shown(app)


def test_a_fault_and_none_found_cannot_both_be(ground):
    ground.add_log(LogBook(bars=(Bar("A1a", "A1", cone="06", dry_mm=94, saturated_g=4, fired_g=3),)))
    app = press(opened(room="bench"), "Open set 1 of what waits")
    field(app, "1 fault scum").set_value("yes").run()
    field(app, "1 found none").set_value("yes").run()
    press(app, "Save")
    assert "tap one of them off" in shown(app)
    assert ground.bars()[0].looked_for_faults is False


def test_a_bar_unlike_the_others_is_questioned_and_saved_all_the_same(ground):
    four_bars(ground)
    app = press(opened(room="bench"), "Open set 1 of what waits")
    for mark, dry in zip("1234", ("94", "94.2", "88", "94.1"), strict=True):
        fill(app, **{f"{mark}_dry": dry})
    assert "A1c says 12.0 %" in unescape(shown(app))
    press(app, "Save")
    assert [bar.dry_mm for bar in ground.bars()] == [94, 94.2, 88, 94.1]


def test_a_bar_longer_dry_than_wet_is_remarked_upon_and_saved(ground):
    four_bars(ground)
    app = press(opened(room="bench"), "Open set 1 of what waits")
    fill(app, **{"1_dry": "101"})
    assert "A1a is longer dry than when it was made" in shown(app)
    press(app, "Save")
    assert ground.bars()[0].dry_mm == 101


def test_what_somebody_else_measured_meanwhile_is_not_written_over(ground):
    four_bars(ground)
    app = press(opened(room="bench"), "Open set 1 of what waits")
    fill(app, **{"1_dry": "94", "2_dry": "93"})
    held = ground.on_record("bar", "A1b")
    ground.edit_log(replace(held.item, dry_mm=95.0, note="theirs"), held.revision)
    press(app, "Save")
    assert "It was changed meanwhile" in shown(app)
    assert "theirs" in shown(app)
    press(app, "Save this choice")
    assert "Choose one of the two" in shown(app)
    field(app, "pick 2 dry").set_value("mine").run()
    press(app, "Save this choice")
    bars = {bar.bar_id: bar for bar in ground.bars()}
    assert (bars["A1a"].dry_mm, bars["A1b"].dry_mm, bars["A1b"].note) == (94, 93, "theirs")


def test_a_test_is_noted_from_the_page_of_its_sample(ground):
    app = press(page_of(ground), "Add a test")
    field(app, "kind").set_value("sieve").run()
    assert "Screen wet, never dry" in shown(app)
    field(app, "measured mesh").set_value("60").run()
    field(app, "measured dry_g").set_value("4 oz").run()
    field(app, "measured kept_g").set_value("200").run()
    press(app, "Save")
    assert "cannot be more than" in shown(app)
    field(app, "measured kept_g").set_value("12").run()
    press(app, "Save")
    (test,) = ground.bench_tests()
    assert (test.test_id, test.kind, test.specimen) == ("A1 sieve", "sieve", "A1")
    assert test.values == {"mesh": 60, "dry_g": pytest.approx(113.398, abs=1e-3), "kept_g": 12}


def test_a_half_filled_test_is_welcome_and_can_be_filled_up(ground):
    ground.add_log(
        LogBook(tests=(BenchTest("A1 limits", "A1", "limits", values={"liquid_limit_pct": 45.25}),))
    )
    app = press(page_of(ground), "Open test 1")
    field(app, "measured plastic_limit_pct").set_value("22").run()
    press(app, "Save")
    assert ground.bench_tests()[0].values == {"liquid_limit_pct": 45.25, "plastic_limit_pct": 22}
    app = press(page_of(ground), "Open test 1")
    press(app, "Take it out …")
    assert len(ground.bench_tests()) == 1
    press(app, "Yes, take it out")
    assert ground.bench_tests() == ()


def test_foreign_words_on_the_bench_are_inert(ground, hostile):
    ground.add_log(
        LogBook(
            bars=(Bar("X1", "A1", hostile, note=hostile, colour=hostile, cone="06", faults=(hostile,)),),
            tests=(BenchTest("T1", "A1", hostile, hostile, words={"a": hostile}, note=hostile),),
        )
    )
    for app in (page_of(ground), opened(room="bench")):
        assert "<img src=x" not in shown(app)
    press(app, "Open set 1 of what waits")
    assert "<img src=x" not in shown(app)


def test_nothing_is_offered_to_be_saved_when_nothing_can_be(ground, monkeypatch):
    looking = Ground.open(ground.folder, read_only="another program has it open")
    monkeypatch.setattr(Ground, "open", classmethod(lambda cls, folder, **_: looking))
    assert not {"Make bars", "Add a test"} & {button.label for button in page_of(ground).button}
    assert not {"Make bars", "Add a test"} & {button.label for button in opened(room="bench").button}

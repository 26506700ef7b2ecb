"""What a clay is fit for: a verdict rests on measurements, holds for its preparation, never counts the untested."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prospect.clay import assess, hole_evidence, layer_at, specimen_of
from prospect.clay.firing_curve import firing_steps, maturing_range
from prospect.clay.measuring import measurements_of
from prospect.clay.preparation import read_preparation, same_preparation
from prospect.clay.steps import order_of_work
from prospect.clay.uses import QUESTIONS, judgement
from prospect.errors import WrongUsage
from prospect.records import Bar, Batch, BenchTest, Hole, HoleLayer, LogBook, Sample

CLAY = HoleLayer(
    30.0, 80.0, coil="bends", grit="none", fizz="none", fizz_with="acid", roots="few", moist_colour="10YR 5/6"
)
HOLE = Hole("H1", -126.0, -47.5, "auger", depth_cm=120.0, layers=(HoleLayer(0.0, 30.0, usable="no"), CLAY))
SAMPLE = Sample("S1", -126.0, -47.5, hole_id="H1", top_cm=30.0, bottom_cm=80.0)
LIMITS = BenchTest("t", "S1", "limits", values={"liquid_limit_pct": 45.0, "plastic_limit_pct": 22.0})


def bars(cone: str, fired_mm: float, absorption: float, n: int = 3, **more: object) -> tuple[Bar, ...]:
    """Return bars of one firing."""
    return tuple(
        Bar(f"{cone}-{number}{more.get('preparation', '')}", "S1", plastic_mm=100.0, dry_mm=93.0, fired_mm=fired_mm,
            fired_g=100.0, saturated_g=100.0 + absorption, cone=cone, looked_for_faults=True, **more)
        for number in range(n)
    )  # fmt: skip


def book(*parts: object, sample: Sample = SAMPLE, hole: Hole = HOLE) -> LogBook:
    return LogBook(
        holes=(hole,),
        samples=(sample,),
        bars=tuple(part for part in parts if isinstance(part, Bar)),
        tests=tuple(part for part in parts if isinstance(part, BenchTest)),
    )


def report(*parts: object, purpose: str = "any", **more: object):
    return assess(specimen_of(book(*parts, **more), "S1"), purpose)


EARTHENWARE = (*bars("06", 91.0, 14.0, colour="5YR 6/6"), *bars("02", 89.0, 9.0, colour="5YR 6/6"))


def test_a_good_red_clay_is_fit_for_earthenware_and_says_why():
    found = report(LIMITS, *EARTHENWARE, purpose="earthenware")
    verdict = found.preparations[0].verdict("earthenware")
    assert (verdict.fitness, found.usable) == ("fit", "yes")
    assert verdict.completeness == pytest.approx(1.0)
    for part in verdict.parts:
        assert part.measurements, f"{part.title} rests on nothing"
        assert all(item.sources for item in part.measurements)
    assert [reading.question for reading in found.preparations[0].readings] == list(QUESTIONS)


def test_what_was_not_tested_is_not_known_and_never_nought():
    bare = report(hole=replace(HOLE, layers=()))
    assert (bare.usable, bare.quality, bare.completeness) == ("unknown", None, 0.0)
    assert all(verdict.fitness == "not known" for verdict in bare.preparations[0].verdicts)
    part = report(LIMITS).preparations[0].verdict("stoneware")
    assert part.quality is None or part.quality > 0.5, "a missing firing must not pull the quality down"
    assert any(words.startswith("maturing temperature: no absorption") for words in part.untested)
    assert any("maturing temperature" in words for words in part.would_change)


@settings(max_examples=80, deadline=None)
@given(st.lists(st.sampled_from(range(8)), unique=True))
def test_testing_more_never_lowers_what_is_known(chosen):
    parts = [LIMITS, *EARTHENWARE, BenchTest("s", "S1", "salts", words={"white_line": "none"})]
    few = report(*[parts[place] for place in chosen])
    all_of_it = report(*parts)
    for verdict in few.preparations[0].verdicts:
        whole = all_of_it.preparations[0].verdict(verdict.use.key)
        assert verdict.completeness <= whole.completeness + 1e-9
        assert verdict.quality is None or 0.0 <= verdict.quality <= 1.0
        known = [part.weight for part in verdict.parts if part.suits is not None]
        assert verdict.completeness == pytest.approx(sum(known))


def test_a_lime_pop_caps_its_own_preparation_only():
    """Lime pops hold the quality down to the cap; screened finely, the same clay is judged anew."""
    popped = tuple(replace(bar, faults=("lime pops",), waited_days=20.0) for bar in EARTHENWARE)
    fine = tuple(replace(bar, bar_id=f"f{bar.bar_id}", preparation="screened 80 mesh") for bar in EARTHENWARE)
    found = report(LIMITS, *popped, *fine, purpose="earthenware")
    raw, screened = (part.verdict("earthenware") for part in found.preparations)
    assert raw.quality == judgement().rules.capped_at
    assert "lime pops" in raw.capped_by
    assert any("60 to 80 mesh" in words for words in raw.would_change)
    assert screened.quality > 0.8
    assert not screened.capped_by
    assert "screened" in found.usable_because


def test_what_bloats_hotter_than_it_is_wanted_is_no_fault():
    hot = bars("6", 90.0, 1.0, faults=("bloat",))
    found = report(LIMITS, *EARTHENWARE, *hot)
    assert found.preparations[0].verdict("earthenware").fitness == "fit"
    assert found.preparations[0].verdict("stoneware").capped_by == "bloat"


def test_the_maturing_range_ends_where_it_bloats_or_grows():
    """Absorption in the band, total shrinkage not yet falling: own judgement after trade practice."""
    parts = (*bars("4", 88.0, 2.5), *bars("6", 87.0, 1.5), *bars("8", 86.5, 0.5), *bars("10", 89.0, 0.2))
    steps = firing_steps(measurements_of(specimen_of(book(*parts), "S1")), "raw")
    found = maturing_range(steps, (0.0, 3.0))
    assert (found.first, found.last, found.open_below, found.open_above) == ("4", "8", True, False)
    assert maturing_range(steps, (6.0, 15.0)) is None
    assert maturing_range((), (0.0, 3.0)) is None


def test_several_bars_give_mean_and_spread_and_the_odd_one_is_questioned():
    lengths = [93.0, 93.2, 92.9, 93.1, 93.0, 88.0]
    made = [Bar(f"b{number}", "S1", plastic_mm=100.0, dry_mm=dry) for number, dry in enumerate(lengths)]
    found = report(*made)
    shrinks = next(item for item in found.measurements if item.key == "drying_shrinkage_pct")
    assert shrinks.spread.n == 6
    assert shrinks.value == pytest.approx(sum(100 - dry for dry in lengths) / 6)
    assert shrinks.questioned == ("b5",)
    assert any("b5" in words and "still counts" in words for words in found.doubts)


def test_figures_that_cannot_be_are_said_and_used_for_nothing():
    wrong = Bar("w", "S1", fired_g=100.0, saturated_g=90.0, cone="04")
    backwards = BenchTest("x", "S1", "limits", values={"liquid_limit_pct": 20.0, "plastic_limit_pct": 30.0})
    found = report(wrong, backwards)
    assert len(found.doubts) == 2
    assert "Bar w" in found.doubts[0]
    assert not any(item.key in ("absorption_pct", "plasticity_index_pct") for item in found.measurements)


def test_a_bar_without_a_cone_is_said_not_dropped():
    found = report(Bar("n", "S1", plastic_mm=100.0, fired_mm=88.0))
    assert any("the cone is not noted" in words for words in found.doubts)


@pytest.mark.parametrize(
    ("text", "kind", "mesh"),
    [("raw", "raw", None), ("", "raw", None), ("screened 60 mesh", "screened", 60), ("sieved 80#", "screened", 80),
     ("washed", "washed", None), ("levigated, 100 mesh", "washed", 100), ("blended 20 % sand", "blended", None),
     ("aged two years", "other", None)],
)  # fmt: skip
def test_preparations_are_read_as_people_write_them(text, kind, mesh):
    found = read_preparation(text)
    assert (found.kind, found.mesh) == (kind, mesh)


def test_one_preparation_written_two_ways_is_one():
    assert same_preparation("60 mesh", "Screened at 60 mesh")
    assert not same_preparation("blended 20 % sand", "blended 10 % sand")


def test_the_purpose_comes_first_and_decides_what_goes_to_the_map():
    white = report(LIMITS, *EARTHENWARE, purpose="white")
    assert white.preparations[0].verdicts[0].use.key == "white"
    assert white.usable != "yes"
    assert report(LIMITS, *EARTHENWARE, purpose="brick").usable == "yes"
    said = report(LIMITS, *EARTHENWARE, purpose="brick", sample=replace(SAMPLE, usable="no"))
    assert (said.usable, said.usable_because) == ("no", "as it was judged by hand")


def test_ground_with_a_history_asks_for_a_laboratory_before_ware_for_food():
    plain, flagged = report(LIMITS), assess(specimen_of(book(LIMITS), "S1"), flags=("land use", "asbestos"))
    assert not any("laboratory" in words for words in plain.cautions)
    assert any("laboratory" in words and "orchard" in words for words in flagged.cautions)
    measured = report(BenchTest("c", "S1", "chemistry", values={"lead_mg_kg": 400.0}))
    assert any("400 mg/kg of lead" in words for words in measured.cautions)
    assert any("Never taste" in words for words in plain.cautions)


def test_every_step_says_how_it_is_done_and_fires_in_a_catch_dish():
    """The order of work of the trade: common practice, no source."""
    steps = {step.key: step for step in order_of_work()}
    assert list(steps) == [
        "hole", "slaking", "bars", "forming", "first firing", "boiling", "hotter", "lime wait",
    ]  # fmt: skip
    assert all(step.title and step.why and step.how for step in steps.values())
    for key, word in (
        ("hole", "Acid"),
        ("first firing", "catch dish"),
        ("hotter", "catch dish"),
        ("boiling", "tongs"),
    ):
        assert word in " ".join(steps[key].cautions)


def test_the_next_test_follows_the_order_of_work():
    nothing = report(hole=replace(HOLE, layers=(replace(CLAY, coil=""),)))
    assert nothing.next_step.key == "hole"
    assert report().next_step.key == "slaking"
    slaked = BenchTest("s", "S1", "slaking", values={"slaked_min": 5.0})
    assert report(slaked).next_step.title == "Shrinkage bars"
    formed = BenchTest("f", "S1", "forming", words={"throws": "well"})
    assert (
        report(slaked, formed, Bar("a", "S1", plastic_mm=100.0, dry_mm=93.0)).next_step.key == "first firing"
    )


def test_a_barren_hole_is_evidence_and_one_that_stopped_short_is_not():
    """A hole that stopped short of the layer is unknown, not barren: own judgement."""
    barren = Hole(
        "B", 0.0, 0.0, layers=(HoleLayer(0.0, 100.0, usable="no"), HoleLayer(100.0, 210.0, usable="no"))
    )
    short = Hole("C", 0.0, 0.0, layers=(HoleLayer(0.0, 20.0, usable="no"),))
    partly = Hole("D", 0.0, 0.0, layers=(HoleLayer(0.0, 90.0, usable="no"),))
    empty = Hole("E", 0.0, 0.0)
    found = {
        hole.hole_id: hole_evidence(LogBook(holes=(hole,)), hole) for hole in (barren, short, partly, empty)
    }
    assert [(item.usable, item.reach) for item in found.values()] == [
        ("no", "reached"), ("unknown", "stopped short"), ("unknown", "partly"), ("unknown", "not known"),
    ]  # fmt: skip
    assert "not barren" in found["C"].reasons[-1]
    gap = Hole("G", 0.0, 0.0, depth_cm=200.0, layers=(HoleLayer(0.0, 40.0, usable="no"),))
    assert hole_evidence(LogBook(holes=(gap,)), gap).usable == "unknown", "what was not noted is not barren"
    close = replace(barren, layers=(HoleLayer(0.0, 97.0, usable="no"), HoleLayer(100.0, 210.0, usable="no")))
    assert hole_evidence(LogBook(holes=(close,)), close).usable == "no"
    good = hole_evidence(book(LIMITS, *EARTHENWARE), HOLE)
    assert (good.usable, good.reach) == ("yes", "partly")


def _hole(usable: str, *samples: Sample) -> LogBook:
    hole = Hole("L", 0.0, 0.0, depth_cm=200.0, layers=(HoleLayer(0.0, 200.0, usable=usable),))
    return LogBook(holes=(hole,), samples=samples)


@pytest.mark.parametrize(
    ("layer", "sample", "expected"),
    # A sample stands for its layer where nothing was said of it; the two may not contradict: own judgement.
    [
        ("yes", "no", "unknown"), ("unknown", "no", "no"), ("unknown", "unknown", "unknown"),
        ("unknown", "yes", "yes"), ("no", "yes", "yes"), ("no", "no", "no"), ("no", "unknown", "unknown"),
    ],
)  # fmt: skip
def test_a_hole_is_barren_only_where_all_of_it_was_judged(layer, sample, expected):
    taken = Sample("A", 0.0, 0.0, hole_id="L", top_cm=30.0, bottom_cm=40.0, usable=sample)
    found = _hole(layer, taken)
    assert hole_evidence(found, found.holes[0]).usable == expected
    elsewhere = _hole("unknown", replace(taken, top_cm=210.0, bottom_cm=220.0))
    assert hole_evidence(elsewhere, elsewhere.holes[0]).usable == "unknown"


def test_a_sample_without_layers_speaks_for_its_own_depth_only():
    hole = Hole("L", 0.0, 0.0, depth_cm=200.0)
    taken = Sample("A", 0.0, 0.0, hole_id="L", top_cm=30.0, bottom_cm=40.0, usable="no")
    assert hole_evidence(LogBook(holes=(hole,), samples=(taken,)), hole).usable == "unknown"
    whole = replace(taken, top_cm=20.0, bottom_cm=200.0)
    assert hole_evidence(LogBook(holes=(hole,), samples=(whole,)), hole).usable == "no"


def _verdict(use: str, *parts: object, **more: object):
    return report(*parts, purpose=use, **more).preparations[0].verdict(use)


def test_nothing_is_fit_that_was_not_fired_as_hot_as_the_use_fires_it():
    """Own judgement: without its own firing a clay is likely fit at most."""
    kaolin = (*bars("6", 90.0, 16.0, colour="10YR 9/1"), *bars("10", 88.0, 11.0, colour="10YR 9/1"))
    assert _verdict("earthenware", LIMITS, *kaolin).fitness == "likely fit"
    # Fired as hot as stoneware is and still open: it wants help, and what help is said.
    stoneware = _verdict("stoneware", LIMITS, *kaolin)
    assert stoneware.fitness == "fit with help"
    assert any("matures lower" in item for item in stoneware.would_change)


def test_a_clay_too_lean_to_hold_together_is_made_good_by_nothing_else():
    """The trade opens a sticky clay with sand, hardly the reverse: common practice, no source."""
    lean = replace(LIMITS, values={"liquid_limit_pct": 23.0, "plastic_limit_pct": 20.0})
    fat = replace(LIMITS, values={"liquid_limit_pct": 95.0, "plastic_limit_pct": 30.0})
    found = _verdict("earthenware", lean, *EARTHENWARE, hole=Hole("H1", 0.0, 0.0))
    assert found.fitness == "not fit"
    assert "plasticity index" in found.capped_by
    assert _verdict("earthenware", fat, *EARTHENWARE, hole=Hole("H1", 0.0, 0.0)).fitness == "fit with help"


def test_no_advice_for_a_hairs_breadth():
    near = replace(LIMITS, values={"liquid_limit_pct": 31.95, "plastic_limit_pct": 20.0})
    assert not any(
        part.help for part in _verdict("earthenware", near, *EARTHENWARE).parts if part.key == "workability"
    )


def test_a_slip_may_melt_and_a_stoneware_may_not():
    melted = (*bars("04", 92.0, 12.0), *bars("6", 80.0, 0.5, faults=("slump",)))
    slip, stoneware = _verdict("slip", LIMITS, *melted), _verdict("stoneware", LIMITS, *melted)
    assert {part.key: part.suits for part in slip.parts}["melting"] == 1.0
    assert not any("slump" in part.reason or "use it as a slip" in part.help for part in slip.parts)
    assert slip.fitness == "fit"
    assert stoneware.fitness == "not fit"


def test_a_pale_clay_says_what_it_is_good_for_in_a_body():
    """10 to 15 % of a low-iron clay in a local body: common practice, no source."""
    pale = report(LIMITS, *bars("6", 90.0, 16.0, colour="10YR 9/1")).preparations[0].readings
    red = report(LIMITS, *EARTHENWARE).preparations[0].readings
    assert "10 to 15 %" in next(item.sentence for item in pale if item.question == "colour")
    assert "10 to 15 %" not in next(item.sentence for item in red if item.question == "colour")


def test_the_layer_a_sample_came_from_is_the_one_it_shares_most_with():
    assert layer_at(HOLE, 25.0, 60.0) is HOLE.layers[1]
    assert layer_at(HOLE, 0.0, 29.0) is HOLE.layers[0]
    assert layer_at(HOLE, 90.0, 100.0) is None
    assert layer_at(HOLE, None, None) is None


def test_a_batch_is_a_clay_too_and_a_name_that_is_none_is_refused():
    dug = LogBook(batches=(Batch("B1", "H1"),), bars=(replace(EARTHENWARE[0], specimen="B1"),), holes=(HOLE,))
    assert assess(specimen_of(dug, "B1")).measurements
    with pytest.raises(WrongUsage, match="no sample or batch"):
        specimen_of(dug, "nothing")


_amount = st.one_of(st.none(), st.floats(0, 1e4), st.floats(-1e3, 1e3), st.just(float("inf")))
_any_bar = st.builds(
    Bar, st.text(max_size=3), st.just("S1"), st.sampled_from(["raw", "washed", "?"]), st.just(""), *[_amount] * 8,
    st.sampled_from(["", "06", "6", "99", "hot"]), _amount, st.just(""), st.sampled_from(["", "5YR 6/6", "odd"]),
    st.lists(st.sampled_from(["lime pops", "bloat", "unheard of"]), max_size=2).map(tuple), st.booleans(), _amount,
)  # fmt: skip
_any_test = st.builds(
    BenchTest, st.text(max_size=3), st.just("S1"), st.sampled_from(["limits", "jar", "sieve", "water", "odd"]),
    st.just("raw"), st.just(""),
    st.dictionaries(st.sampled_from(["liquid_limit_pct", "plastic_limit_pct", "sand_mm", "sand_and_silt_mm", "all_mm",
                                     "kept_g", "dry_g", "plastic_g", "clay_pct", "mesh", "slaked_min"]),
                    st.floats(-1e3, 1e4), max_size=6),
    st.dictionaries(st.sampled_from(["throws", "pops", "white_line", "came_out"]), st.text(max_size=5), max_size=3),
)  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(st.lists(_any_bar, max_size=5), st.lists(_any_test, max_size=4))
def test_no_record_however_odd_breaks_the_report(odd_bars, odd_tests):
    found = report(*odd_bars, *odd_tests)
    for part in found.preparations:
        for verdict in part.verdicts:
            assert verdict.quality is None or 0.0 <= verdict.quality <= 1.0
            assert 0.0 <= verdict.completeness <= 1.0 + 1e-9


def test_what_would_change_a_verdict_says_what_it_would_be_then():
    # Each sentence is a judgement made anew with that one part changed (our own rule, no outside source).
    part = report(LIMITS).preparations[0].verdict("stoneware")
    assert part.fitness == "likely fit"
    told = next(words for words in part.would_change if words.startswith("Testing maturing"))
    assert told == "Testing maturing temperature: where it suits, fit; where it does not, fit with help."
    fired = report(LIMITS, *bars("6", 88.0, 2.0, colour="5YR 6/6"), *bars("8", 87.0, 1.0, colour="5YR 6/6"))
    assert fired.preparations[0].verdict("stoneware").fitness == "fit", "as it was said"
    fat = replace(LIMITS, values={"liquid_limit_pct": 95.0, "plastic_limit_pct": 30.0})
    mended = report(fat).preparations[0].verdict("stoneware").would_change
    assert any(
        words.startswith("Fat: open it with sand.") and "With that mended: " in words for words in mended
    )


def test_a_raw_colour_full_of_iron_keeps_white_ware_unknown_until_it_is_fired():
    red = replace(
        HOLE,
        layers=(replace(HOLE.layers[0], coil="bends", fizz="none", roots="none", moist_colour="2.5YR 4/6"),),
    )
    pale = replace(red, layers=(replace(red.layers[0], moist_colour="N 8/"),))
    assert report(hole=red).preparations[0].verdict("white").fitness == "not known"
    assert report(hole=pale).preparations[0].verdict("white").fitness == "likely fit"
    assert report(hole=red).preparations[0].verdict("earthenware").fitness == "likely fit"

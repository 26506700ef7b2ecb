"""Holes, bars, tests and batches: saved whole, read back equal, changed by revision, taken back, seen by others."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import pyogrio
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from prospect.errors import GroundError, NothingToWorkWith, WrongUsage
from prospect.records import Bar, Batch, BenchTest, GroundSettings, Hole, HoleLayer, LogBook, Sample
from prospect.store import ChangedMeanwhile, Ground, OnRecord

CLAY = HoleLayer(
    30.0, 75.0, "yes", "silty clay", "10YR 5/4", ribbon_cm=5.5, fizz="none", fields={"Wet?": "a bit"}
)
BOOK = LogBook(
    holes=(
        Hole("H1", -126.0, -47.5, "auger", depth_cm=90.0, layers=(HoleLayer(0.0, 30.0), CLAY), fields={"who": "M."}),
        Hole("F1", -126.01, -47.5, "face", facing_deg=215.0),
    ),
    samples=(Sample("H1-1", -126.0, -47.5, hole_id="H1", top_cm=30.0, bottom_cm=75.0),),
    bars=(Bar("a", "H1-1", faults=("scum", "cracks"), looked_for_faults=True), Bar("b", "H1-1", dry_mm=92.5)),
    tests=(BenchTest("t", "H1-1", "limits", values={"liquid_limit_pct": 45.0}, words={"by": "hand"}),),
    batches=(Batch("B1", "H1", buckets=3.5, sieved_kg=11.0),),
)  # fmt: skip


@pytest.fixture
def ground(tmp_path: Path) -> Ground:
    Ground.create(tmp_path / "ground", GroundSettings())
    ground = Ground.open(tmp_path / "ground")
    assert not ground.add_log(BOOK, origin="a day's log")
    return ground


def test_what_was_saved_comes_back_equal_and_once(ground: Ground) -> None:
    assert ground.log_book() == BOOK
    assert not ground.add_log(BOOK)
    assert [change.action for change in ground.audit()] == ["new", "add log"]
    assert (ground.holes(), ground.bars()) == (BOOK.holes, BOOK.bars)
    assert (ground.bench_tests(), ground.batches()) == (BOOK.tests, BOOK.batches)


def test_what_contradicts_is_never_written_over(ground: Ground) -> None:
    other = replace(BOOK.bars[1], dry_mm=92.0)
    twice = Bar("new", "H1-1", plastic_mm=100.0), Bar("new", "H1-1", plastic_mm=101.0)
    shallow = replace(BOOK.holes[0], depth_cm=60.0)
    back = ground.add_log(LogBook(holes=(shallow,), bars=(other, *twice)))
    assert back == LogBook(holes=(shallow,), bars=(other, twice[1]))
    assert ground.holes() == BOOK.holes
    assert ground.bars() == (*BOOK.bars, twice[0])


def test_what_adds_to_something_on_record_completes_it_in_one_action(ground: Ground) -> None:
    deeper = Hole("H1", -126.0, -47.5, water_cm=80.0, layers=(HoleLayer(75.0, 90.0, texture="sand"),))
    later = LogBook(
        holes=(deeper,),
        samples=(replace(BOOK.samples[0], note="sticky"),),
        bars=(Bar("b", "H1-1", fired_mm=88.0, cone="06"), Bar("c", "H1-1")),
        tests=(replace(BOOK.tests[0], values={"plastic_limit_pct": 22.0}, words={}),),
        batches=(Batch("B1", pots=4.0),),
    )
    assert not ground.add_log(later)
    found = ground.log_book()
    assert found.holes[0] == replace(
        BOOK.holes[0], water_cm=80.0, layers=(*BOOK.holes[0].layers, *deeper.layers)
    )
    assert found.bars[1:] == (Bar("b", "H1-1", dry_mm=92.5, fired_mm=88.0, cone="06"), Bar("c", "H1-1"))
    assert found.samples[0].note == "sticky"
    assert found.tests[0].values == {"liquid_limit_pct": 45.0, "plastic_limit_pct": 22.0}
    assert (found.batches[0].hole_id, found.batches[0].pots) == ("H1", 4.0)
    # The second time nothing is new, and nothing is saved.
    count = len(ground.audit())
    assert not ground.add_log(later)
    assert not ground.add_log(BOOK)
    assert len(ground.audit()) == count
    assert ground.undo().action == "add log"
    assert ground.log_book() == BOOK
    assert all(finding.well for finding in ground.check_up())


def test_several_are_changed_in_one_action_or_none_is(ground: Ground) -> None:
    held = [ground.on_record("bar", name) for name in ("a", "b")]
    changed = [OnRecord(replace(one.item, cone="6"), one.revision) for one in held]
    assert not ground.add_log(LogBook(bars=(Bar("c", "H1-1"),)), changed=changed)
    assert [bar.cone for bar in ground.bars()] == ["6", "6", ""]
    with pytest.raises(ChangedMeanwhile, match="Bar a was changed"):
        ground.add_log(LogBook(bars=(Bar("d", "H1-1"),)), changed=changed)
    assert [bar.bar_id for bar in ground.bars()] == ["a", "b", "c"]
    assert ground.undo().action == "add log"
    assert ground.bars() == BOOK.bars


def test_an_edit_names_its_revision_and_shows_both_sides(ground: Ground) -> None:
    held = ground.on_record("hole", "H1")
    assert held is not None
    deeper = replace(BOOK.holes[0], depth_cm=120.0, layers=(*BOOK.holes[0].layers, HoleLayer(75.0, 120.0)))
    saved = ground.edit_log(deeper, held.revision)
    assert ground.on_record("hole", "H1") == saved
    mine = replace(deeper, note="mine")
    with pytest.raises(ChangedMeanwhile, match="Hole H1 was changed") as caught:
        ground.edit_log(mine, held.revision)
    assert (caught.value.mine, caught.value.theirs) == (mine, saved)
    ground.drop_log("hole", "H1", saved.revision)
    with pytest.raises(ChangedMeanwhile, match="was taken out"):
        ground.edit_log(mine, saved.revision)


@pytest.mark.parametrize(("kind", "name"), [("hole", "H1"), ("bar", "a"), ("test", "t"), ("batch", "B1")])
def test_taking_out_and_taking_back_leave_what_was_there(ground: Ground, kind: str, name: str) -> None:
    held = ground.on_record(kind, name)
    assert ground.drop_log(kind, name, held.revision) == held.item
    assert ground.on_record(kind, name) is None
    assert ground.undo().action == "drop log"
    assert ground.on_record(kind, name).item == held.item
    changed = replace(held.item, note="changed")
    ground.edit_log(changed, ground.on_record(kind, name).revision)
    assert ground.undo().action == "edit log"
    assert ground.on_record(kind, name).item == held.item
    assert ground.undo().action == "add log"
    assert not ground.log_book()
    assert all(finding.well for finding in ground.check_up())


def test_other_programs_find_the_tables(ground: Ground, tmp_path: Path) -> None:
    """Read with pyogrio, a reader of its own of GeoPackages (OGC 12-128r18)."""
    copy = ground.snapshot(tmp_path / "copy.gpkg")
    names = {str(name) for name, _ in pyogrio.list_layers(copy)}
    assert {"holes", "hole_layers", "bars", "bench_tests", "batches"} <= names
    holes = gpd.read_file(copy, layer="holes")
    assert holes.crs.to_epsg() == 4326
    assert holes.geometry.x.tolist() == [-126.0, -126.01]
    assert tuple(holes.total_bounds) == (-126.01, -47.5, -126.0, -47.5)
    layers = pyogrio.read_dataframe(copy, layer="hole_layers", read_geometry=False)
    assert layers[["hole_id", "place", "top_cm", "texture"]].values.tolist() == [
        ["H1", 0, 0.0, ""],
        ["H1", 1, 30.0, "silty clay"],
    ]


def test_what_another_program_does_to_the_log_is_put_on_record(ground: Ground) -> None:
    import sqlite3

    with sqlite3.connect(ground.records_path) as connection:
        connection.execute("DELETE FROM bars WHERE bar_id = 'a'")
        connection.execute("UPDATE hole_layers SET texture = 'sand' WHERE place = 1")
    opened = Ground.open(ground.folder)
    told = opened.audit()[-1]
    assert told.action == "changed outside"
    assert "bars were removed by another program: a" in told.detail
    with sqlite3.connect(ground.records_path) as connection:
        connection.execute("UPDATE hole_layers SET texture = 'loam' WHERE place = 1")
    opened = Ground.open(ground.folder)
    assert [change.action for change in opened.audit()][-2:] == ["changed outside", "changed outside"]
    assert all(finding.well for finding in opened.check_up() if finding.name == "audit")


@pytest.mark.parametrize(
    ("kind", "suffix"), [("JPEG", ".jpg"), ("PNG", ".png"), ("WEBP", ".webp"), ("GIF", ""), ("TIFF", "")]
)
def test_a_photo_is_kept_by_what_it_is_and_once(
    ground: Ground, tmp_path: Path, kind: str, suffix: str
) -> None:
    """Pictures written by Pillow, an encoder of its own."""
    photo = tmp_path / "Mirel's kiln.HTML"
    Image.new("RGB", (8, 8), "brown").save(photo, kind)
    if not suffix:
        with pytest.raises(WrongUsage, match="no JPEG, PNG or WebP"):
            ground.keep_photo(photo)
        assert not ground.photos_folder.exists()
        return
    name = ground.keep_photo(photo)
    assert name.endswith(suffix)
    assert "kiln" not in name
    assert ground.keep_photo(photo) == name
    assert [path.name for path in ground.photos_folder.iterdir()] == [name]
    assert (ground.photos_folder / name).read_bytes() == photo.read_bytes()


def test_what_is_no_photo_is_refused_in_words(ground: Ground, tmp_path: Path) -> None:
    with pytest.raises(NothingToWorkWith):
        ground.keep_photo(tmp_path / "not there.jpg")
    photo = tmp_path / "a.jpg"
    for content in (b"", b"<svg onload='x'>", b"\x00\x00\x00\x18ftypheic", b"RIFF\x00\x00\x00\x00WAVE"):
        photo.write_bytes(content)
        with pytest.raises(WrongUsage):
            ground.keep_photo(photo)
    with photo.open("wb") as handle:
        handle.write(b"\xff\xd8\xff")
        handle.truncate(30_000_001)
    with pytest.raises(WrongUsage, match="at most 30 MB"):
        ground.keep_photo(photo)
    with pytest.raises(GroundError, match="Nothing can be saved"):
        Ground.open(ground.folder, read_only="looking").keep_photo(photo)


_number = st.one_of(st.none(), st.floats(-1e6, 1e6), st.sampled_from([0.0, -0.0, 1e-9]))
_word = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=12)
_fields = st.dictionaries(_word, _word, max_size=3)
_usable = st.sampled_from(["yes", "no", "unknown"])
_layer = st.builds(
    HoleLayer,
    _number,
    _number,
    _usable,
    _word,
    _word,
    _word,
    _number,
    *[_word] * 6,
    _number,
    *[_word] * 3,
    _fields,
)
_place = st.floats(-180, 180)
_hole = st.builds(
    Hole, _word, _place, st.floats(-90, 90), _word, _number, _word, _number, _word, _number, _usable, _number, _number,
    st.lists(_layer, max_size=4).map(tuple), _word, _fields,
)  # fmt: skip
_bar = st.builds(
    Bar, _word, _word, _word, _word, *[_number] * 8, _word, _number, _word, _word,
    st.lists(_word, max_size=3).map(tuple), st.booleans(), _number, _word, _word, _fields,
)  # fmt: skip
_test = st.builds(
    BenchTest, *[_word] * 5, st.dictionaries(_word, st.floats(-1e6, 1e6), max_size=3), _fields, _word
)
_batch = st.builds(Batch, _word, _word, _word, *[_number] * 5, _word, _number, _number, _word, _fields)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    book=st.builds(
        LogBook,
        st.lists(_hole, max_size=3, unique_by=lambda item: item.hole_id).map(tuple),
        st.just(()),
        st.lists(_bar, max_size=3, unique_by=lambda item: item.bar_id).map(tuple),
        st.lists(_test, max_size=3, unique_by=lambda item: item.test_id).map(tuple),
        st.lists(_batch, max_size=3, unique_by=lambda item: item.batch_id).map(tuple),
    )
)
def test_any_log_comes_back_equal(tmp_path_factory: pytest.TempPathFactory, book: LogBook) -> None:
    ground = Ground.create(tmp_path_factory.mktemp("any") / "ground", GroundSettings())
    assert not ground.add_log(book)
    assert ground.log_book() == book

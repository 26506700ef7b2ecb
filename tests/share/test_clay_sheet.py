"""A clay on paper and the labels of its bags: what must be there, and what must not."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from pypdf import PdfReader

from prospect.charts import Drawing, Shape, Words, clay_pictures, hole_section
from prospect.clay import assess, specimen_of
from prospect.cli import run
from prospect.errors import NothingToWorkWith
from prospect.records import Bar, Batch, BenchTest, GroundSettings, Hole, HoleLayer, LogBook, Sample
from prospect.share import write_bag_labels, write_clay_sheet
from prospect.store import Ground

_WORDS = Path(__file__).parents[1] / "hostile_words.json"
HOSTILE = [entry["text"] for entry in json.loads(_WORDS.read_text(encoding="utf-8"))]
SAMPLE = Sample("S1", -126.12345, -47.54321, "H1", top_cm=30.0, bottom_cm=80.0, date="2026-05-02")
BOOK = LogBook(
    holes=(Hole("H1", -126.12345, -47.54321, layers=(HoleLayer(30.0, 80.0, coil="bends", fizz="none"),)),),
    samples=(SAMPLE,),
    bars=tuple(
        Bar(f"S1-{n}", "S1", plastic_mm=100.0, dry_mm=93.0, fired_mm=89.0, fired_g=58.0, saturated_g=63.0, cone="04",
            colour="5YR 6/6", looked_for_faults=True)
        for n in range(60)
    ),
    tests=(
        BenchTest("t", "S1", "limits", values={"liquid_limit_pct": 45.0, "plastic_limit_pct": 22.0}),
        BenchTest("j", "S1", "jar", values={"sand_mm": 20.0, "sand_and_silt_mm": 50.0, "all_mm": 100.0}),
    ),
    batches=(Batch("B1", "H1", date="2026-06-01", mesh=60.0),),
)  # fmt: skip


def read(path: Path) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(path).pages)


def test_the_sheet_says_what_the_clay_is_and_what_it_rests_on(tmp_path):
    report = assess(specimen_of(BOOK, "S1"), "earthenware")
    pictures = clay_pictures(report, report.preparations[0], "metric")
    write_clay_sheet(tmp_path / "s.pdf", report, pictures, made_on="2026-11-26")
    said = read(tmp_path / "s.pdf")
    for words in (
        "S1",
        "30 to 80 cm",
        "Plasticity",
        "For throwing earthenware: fit",
        "plasticity index, %",
        "Never taste",
        "[t]",
    ):
        assert words in said, words
    assert "126.12" not in said
    assert len(PdfReader(tmp_path / "s.pdf").pages) <= 3


def test_a_clay_of_which_nothing_is_known_has_a_sheet_too(tmp_path):
    report = assess(specimen_of(LogBook(samples=(SAMPLE,)), "S1"))
    write_clay_sheet(tmp_path / "s.pdf", report, [], units="us", made_on="2026-11-26")
    assert "Nothing was measured yet" in read(tmp_path / "s.pdf")
    assert float(PdfReader(tmp_path / "s.pdf").pages[0].mediabox.width) == pytest.approx(612, abs=1)


def test_a_sheet_speaks_the_units_of_its_ground_and_leaves_no_bar_out_without_a_word(tmp_path):
    report = assess(specimen_of(BOOK, "S1"), "earthenware", ("lead",))
    write_clay_sheet(tmp_path / "s.pdf", report, [], units="us", made_on="2026-11-26")
    said = read(tmp_path / "s.pdf")
    assert "12 to 31 in" in said
    assert "and 52 more" in said
    assert said.index("have a laboratory look") < said.index("Plasticity")


def test_long_names_on_labels_stay_apart_and_within(tmp_path):
    long = [Sample(f"the bank behind the old orchard by the creek {number}", 0.0, 0.0) for number in range(4)]
    write_bag_labels(tmp_path / "l.pdf", long, made_on="2026-11-26")
    said = read(tmp_path / "l.pdf").replace("\n", "")
    assert all(f"creek {number}" in said for number in range(4))


def test_options_that_say_nothing_to_a_product_are_refused(tmp_path, capsys):
    start = ["share", str(tmp_path), "--to", str(tmp_path / "o.pdf"), "--for", "self"]
    for more, words in (
        (["--product", "labels", "--purpose", "brick"], "--purpose belongs"),
        (["--product", "clay", "--sample", "S1", "--at", "1,2"], "belong to a letter"),
        (["--product", "clay", "--sample", "S1", "--deposit", "residual"], "--deposit belongs"),
    ):
        assert run([*start, *more]) == 2
        assert words in capsys.readouterr().err


def test_labels_hold_no_place_and_no_person(tmp_path):
    write_bag_labels(tmp_path / "l.pdf", [SAMPLE] * 30, BOOK.batches, made_on="2026-11-26")
    said = read(tmp_path / "l.pdf")
    assert said.count("S1") == 30
    assert "hole H1 · 30–80 cm · 2026-05-02" in said
    assert "60 mesh" in said
    assert "126." not in said
    assert len(PdfReader(tmp_path / "l.pdf").pages) == 2
    with pytest.raises(NothingToWorkWith):
        write_bag_labels(tmp_path / "x.pdf", [], made_on="2026-11-26")


def test_foreign_words_go_on_paper_as_words(tmp_path):
    samples = [Sample(word, 0.0, 0.0, hole_id=word) for word in HOSTILE]
    write_bag_labels(tmp_path / "l.pdf", samples, made_on="2026-11-26")
    drawing = Drawing(
        100,
        40,
        "t",
        (Shape(((0, 0), (50, 0), (50, 20)), True, "shelf", hatch="line"), Words((5, 30), HOSTILE[0])),
    )
    odd = hole_section([Hole(HOSTILE[0], 0, 0, layers=(HoleLayer(0, 50, "yes", HOSTILE[1]),))])
    report = assess(specimen_of(LogBook(samples=(samples[0],)), HOSTILE[0]))
    write_clay_sheet(tmp_path / "s.pdf", report, [(HOSTILE[0], drawing), ("odd", odd)], made_on="2026-11-26")
    for path in ("l.pdf", "s.pdf"):
        assert b"/JavaScript" not in (tmp_path / path).read_bytes()
        assert b"/URI" not in (tmp_path / path).read_bytes()


def test_the_command_writes_both_for_oneself_only(tmp_path, capsys):
    ground = Ground.create(tmp_path / "ground", GroundSettings())
    ground.add_log(BOOK)
    start = ["share", str(ground.folder), "--to", str(tmp_path / "out.pdf")]
    assert run([*start, "--product", "clay", "--sample", "S1", "--for", "self"]) == 0
    assert "S1" in read(tmp_path / "out.pdf")
    assert run([*start, "--product", "labels", "--for", "self"]) == 0
    assert "B1" in read(tmp_path / "out.pdf")
    assert run([*start, "--product", "clay", "--sample", "S1"]) == 2
    assert run([*start, "--product", "clay", "--for", "self"]) == 2
    assert run([*start, "--product", "labels", "--sample", "nobody", "--for", "self"]) == 2
    assert "no sample or batch 'nobody'" in capsys.readouterr().err

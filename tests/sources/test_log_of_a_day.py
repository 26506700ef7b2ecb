# ruff: noqa: E501 - lines of a paper log are as long as they are
"""A full day's paper log, as a person would paste it, goes in, out, and in again equal, by the commands people use."""

from __future__ import annotations

import json
from itertools import product
from pathlib import Path

import pytest

from prospect.cli import run
from prospect.records import GroundSettings
from prospect.store import Ground

HOLES, LAYERS, SAMPLES, BARS = 12, 40, 15, 60
CONES = ("06", "02", "4", "6")


def paper() -> str:
    """Return the log as it stands on paper: four tables under each other, with what people leave out."""
    lines = ["Holes", "hole\tlat\tlon\tdug with\tdate\tdepth\tstopped by\twater\tnote"]
    for n in range(1, HOLES + 1):
        tool, day = ("auger", "2026-05-02") if n % 3 else ("spade", '"')
        stop = ("reach", "stone", "water", "as planned")[n % 4]
        water = f"{90 + n} cm" if stop == "water" else "-"
        lines.append(
            f"H{n}\t{-47.5 - n / 1000:.4f}\t{-126.03 + n / 1000:.4f}\t{tool}\t{day}\t{100 + n} cm\t{stop}\t{water}\tnear the hedge, {n}"
        )
    lines += ["", "Layers", "hole\tdepth (cm)\ttexture\tcolour\tribbon\tcoil\tfizz\troots\tclay?\tnote"]
    drawn = 0
    for n in range(1, HOLES + 1):
        parts = 4 if n <= LAYERS - 3 * HOLES else 3
        for part in range(parts):
            top, bottom = part * 25, part * 25 + 25
            clay = "yes" if part == 2 else "no"
            colour = ("10YR 3/2", "7.5yr5/6", "2.5 Y 6/3", "N 5/")[part]
            ribbon = ("-", "1 in", "6,5 cm", "-")[part]
            lines.append(
                f"H{n}\t{top}-{bottom}\t{('loam', 'clay loam', 'silty clay', 'clay')[part]}\t{colour}\t{ribbon}\t{('breaks', 'cracks', 'bends', '-')[part]}\tnone\t{('many', 'few', 'none', 'none')[part]}\t{clay}\t-"
            )
            drawn += 1
    assert drawn == LAYERS
    lines += ["", "Samples", "sample\thole\tlat\tlon\tfrom\tto\tdate\tclay?"]
    for n in range(1, SAMPLES + 1):
        hole = (n - 1) % HOLES + 1
        top = 50 if n <= HOLES else 60
        lines.append(
            f"S{n}\tH{hole}\t{-47.5 - hole / 1000:.4f}\t{-126.03 + hole / 1000:.4f}\t{top} cm\t{top + 15} cm\t2026-05-02\t{'yes' if n % 2 else '?'}"
        )
    lines += [
        "",
        "Bars",
        "bar\tsample\tpreparation\tplastic (mm)\tdry (mm)\tfired (mm)\tdry weight (g)\tfired weight (g)\tsoaked weight (g)\tcone\tfaults",
    ]
    for n, (sample, cone) in enumerate(product(range(1, SAMPLES + 1), CONES)):
        fired = 92 - CONES.index(cone) * 1.5
        fault = "bloat, cracks" if cone == "6" and sample % 5 == 0 else "none"
        lines.append(
            f"S{sample}-{cone}\tS{sample}\traw\t100\t{93 + n % 3 / 10:.1f}\t{fired:.1f}\t62.0\t58.0\t{58 + 4 - CONES.index(cone):.1f}\tcone {cone}\t{fault}"
        )
    return "\n".join(lines) + "\n"


@pytest.fixture
def grounds(tmp_path: Path) -> tuple[Path, Path]:
    for name in ("first", "second"):
        Ground.create(tmp_path / name, GroundSettings())
    return tmp_path / "first", tmp_path / "second"


def test_a_days_log_comes_back_equal(grounds, tmp_path, capsys):
    first, second = grounds
    (tmp_path / "day.txt").write_text(paper(), encoding="utf-8")
    assert run(["log", str(first), str(tmp_path / "day.txt")]) == 0, capsys.readouterr()
    book = Ground.open(first).log_book()
    assert (len(book.holes), len(book.samples), len(book.bars)) == (HOLES, SAMPLES, BARS)
    assert sum(len(hole.layers) for hole in book.holes) == LAYERS
    hole = book.holes[2]
    assert (hole.kind, hole.date, hole.depth_cm) == ("spade", "2026-05-02", 103.0)
    clay = hole.layers[2]
    assert (clay.top_cm, clay.bottom_cm, clay.texture, clay.usable) == (50.0, 75.0, "silty clay", "yes")
    assert (clay.moist_colour, clay.ribbon_cm, clay.coil) == ("2.5Y 6/3", 6.5, "bends")
    assert hole.layers[1].ribbon_cm == pytest.approx(2.54)
    assert hole.layers[0].ribbon_cm is None, "a dash is not known, never nought"
    bloated = [bar for bar in book.bars if bar.faults]
    assert {bar.faults for bar in bloated} == {("bloat", "cracks")}
    assert all(bar.looked_for_faults for bar in book.bars)
    assert {bar.cone for bar in book.bars} == set(CONES)
    assert (
        run(["share", str(first), "--to", str(tmp_path / "log.zip"), "--product", "log", "--for", "self"])
        == 0
    )
    assert run(["log", str(second), str(tmp_path / "log.zip")]) == 0, capsys.readouterr()
    assert Ground.open(second).log_book() == book
    assert run(["log", str(second), str(tmp_path / "log.zip")]) == 0
    assert Ground.open(second).log_book() == book, "a second time changes nothing"
    capsys.readouterr()
    assert run(["clay", str(second), "S1", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["preparations"][0]["uses"][0]["fitness"] != "not known"


def test_the_same_log_typed_on_standard_input_is_the_same(grounds, tmp_path, monkeypatch, capsys):
    import io
    import sys

    first, second = grounds
    (tmp_path / "day.txt").write_text(paper(), encoding="utf-8")
    assert run(["log", str(first), str(tmp_path / "day.txt")]) == 0

    class Typed:
        buffer = io.BytesIO(paper().encode())

    monkeypatch.setattr(sys, "stdin", Typed())
    assert run(["log", str(second), "-"]) == 0, capsys.readouterr()
    assert Ground.open(second).log_book() == Ground.open(first).log_book()

"""`claywalk clay`: what a sample's tests mean, for people and for programs, each with what it rests on."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from prospect.cli import run
from prospect.records import Bar, BenchTest, GroundSettings, Hole, HoleLayer, LogBook, Sample
from prospect.store import Ground

BOOK = LogBook(
    holes=(Hole("H1", -126.0, -47.5, layers=(HoleLayer(30.0, 80.0, coil="bends", fizz="none", roots="few"),)),),
    samples=(Sample("S1", -126.0, -47.5, hole_id="H1", top_cm=30.0, bottom_cm=80.0), Sample("S2", -126.0, -47.5)),
    bars=tuple(
        Bar(f"S1{letter}", "S1", plastic_mm=100.0, dry_mm=93.0, fired_mm=89.0, fired_g=100.0, saturated_g=110.0,
            cone="04", colour="5YR 6/6", looked_for_faults=True)
        for letter in "abc"
    ),
    tests=(BenchTest("t", "S1", "limits", values={"liquid_limit_pct": 45.0, "plastic_limit_pct": 22.0}),),
)  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    ground = Ground.create(tmp_path / "ground", GroundSettings())
    ground.add_log(BOOK)
    return ground.folder


def test_it_says_what_the_clay_is_in_the_trades_order(folder, capsys):
    assert run(["clay", str(folder), "S1", "--purpose", "earthenware"]) == 0
    said = capsys.readouterr().out
    order = [
        said.index(word)
        for word in ("Plasticity:", "Maturing temperature:", "Colour at that", "Contaminants:")
    ]
    assert order == sorted(order)
    assert "For throwing earthenware: fit." in said
    assert "[t]" in said, "what the plasticity rests on"
    assert "Next: Slaking" in said
    assert "Never taste clay" in said


def test_programs_get_every_part_with_the_records_behind_it(folder, capsys):
    assert run(["clay", str(folder), "S1", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert set(found) == {
        "sample", "purpose", "usable", "quality", "completeness", "because", "measurements", "preparations",
        "next_step", "doubts", "cautions",
    }  # fmt: skip
    uses = {use["use"]: use for use in found["preparations"][0]["uses"]}
    assert set(uses) == {"earthenware", "stoneware", "brick", "slip", "white", "unfired"}
    parts = {part["part"]: part for part in uses["earthenware"]["parts"]}
    assert parts["maturing temperature"]["rests_on"] == ["S1a", "S1b", "S1c"]
    absorption = next(item for item in found["measurements"] if item["key"] == "absorption_pct")
    assert (absorption["value"], absorption["readings"]) == (pytest.approx(10.0), 3)


def test_a_sample_without_tests_is_not_known_and_never_nought(folder, capsys):
    assert run(["clay", str(folder), "S2", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["usable"], found["quality"], found["completeness"]) == ("unknown", None, 0.0)
    assert all(use["fitness"] == "not known" for use in found["preparations"][0]["uses"])


def test_a_hole_says_what_it_tells_the_map_and_each_of_its_layers(folder, capsys):
    assert run(["clay", str(folder), "H1"]) == 0
    said = capsys.readouterr().out
    assert "H1 to the map: worth having?" in said
    assert "H1, layer 1" in said
    assert run(["clay", str(folder), "H1", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["hole"], found["reach"], len(found["layers"])) == ("H1", "partly", 1)
    assert found["usable"] == found["layers"][0]["usable"] or found["reasons"]


def test_a_name_that_nothing_goes_by_is_wrong_usage(folder, capsys):
    assert run(["clay", str(folder), "nothing"]) == 2
    assert "no sample or batch 'nothing'" in capsys.readouterr().err

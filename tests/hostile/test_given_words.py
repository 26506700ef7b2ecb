"""Hostile words on the command line: a setting, a kind, a mapping or an area that makes no sense is a sentence."""

from __future__ import annotations

from pathlib import Path

import pytest

from prospect.cli import run
from prospect.store import Ground

SETTINGS = (
    "cell_m=nan",
    "cell_m=inf",
    "cell_m=1e400",
    "cell_m=-5",
    "cell_m=0",
    "cell_m=0x10",
    "cell_m=１２",
    "cell_m=1_0",
    "cell_m=" + "9" * 5000,
    "cell_m=ten",
    "cell_m==5",
    "reach_m=",
    "reach_m=None",
    "line_error_m=-1",
    "bankfull_a=1,5",
    "mean_annual_rain_mm=1e9",
    "units=furlongs",
    "units=",
    "purpose=any;DROP TABLE x",
    "purpose=Any ",
    "glaciated=maybe",
    "name=",
    "name=" + "x" * 5000,
    "name=\x1b[31mred",
    "name=a\nb",
    "name=\u202eb",
    "name=\udcff",
    "west=0",
    "crs=EPSG:4326",
    "area_set_by=me",
    "__class__=x",
    "=5",
    "=",
    "nothing",
    "",
    "schema_version=9",
    "name\x00=x",
    "; DROP TABLE x=1",
)


@pytest.fixture(scope="module")
def ground(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("words") / "ground"
    assert run(["new", str(folder)]) == 0
    return folder


@pytest.mark.parametrize("pair", SETTINGS, ids=lambda pair: ascii(pair)[:40])
def test_settings_that_make_no_sense(ground: Path, capsys, pair):
    before = Ground.open(ground).settings
    assert run(["set", str(ground), pair]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert 0 < len(said.err.strip()) < 1000
    assert "program itself failed" not in said.err
    assert "\x1b" not in said.err
    assert Ground.open(ground).settings == before


@pytest.mark.parametrize(
    "name", ["x'; DROP TABLE samples; --", "${x}{{7*7}}", "a" * 120, "🏺", "=1+1", "../..", "%s%n"]
)
def test_odd_names_are_only_names(ground: Path, capsys, name):
    assert run(["set", str(ground), f"name={name}"]) == 0
    assert Ground.open(ground).settings.name == name
    capsys.readouterr()


@pytest.mark.parametrize(
    "words",
    [
        ["add", "{ground}", "nonsense", "x.csv"],
        ["add", "{ground}", "photos", "x.jpg"],
        ["add", "{ground}", "samples", "x.csv", "--map", "lon"],
        ["add", "{ground}", "samples", "x.csv", "--map", "=x"],
        ["check", "../../etc", "x.csv"],
        ["new", "{ground}-2", "--bbox", "nan,nan,nan,nan"],
        ["new", "{ground}-3", "--bbox", "-9,-47,-8.9,inf"],
        ["new", "{ground}-4", "--bbox", "1,2,3"],
        ["new", "{ground}-5", "--around", "-9,-97"],
        ["new", "{ground}-6", "--around", "-9,-47", "--radius-km", "nan"],
        ["new", "{ground}-7", "--bbox", "-9,-47,-8.9,-46.9", "--crs", "/etc/passwd"],
        ["new", "{ground}-8", "--bbox", "-9,-47,-8.9,-46.9", "--cell", "nan"],
        ["new", "{ground}-9", "--bbox", "-9,-47,-8.9,-46.9", "--cell", "-1"],
    ],
    ids=lambda words: " ".join(words[:1] + words[2:])[:60],
)
def test_words_that_make_no_sense(ground: Path, capsys, words):
    code = run([word.format(ground=ground) for word in words])
    said = capsys.readouterr()
    assert code == 2
    assert said.err.strip()
    assert "program itself failed" not in said.err

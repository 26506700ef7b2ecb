"""What the command prints holds no control character and steers no terminal, whatever stands in a ground's words."""

from __future__ import annotations

import json
import shutil
import unicodedata
from dataclasses import replace
from pathlib import Path

import pytest

from prospect.cli import run
from prospect.layerfile import read_source, read_vector_layer, write_layer
from prospect.records import Permission, Sample
from prospect.store import Ground

WORDS = [
    item["text"]
    for item in json.loads((Path(__file__).parents[1] / "hostile_words.json").read_text(encoding="utf-8"))
]
ALL = " ¦ ".join(word[:60] for word in WORDS if not any(c == "\0" or 0xD800 <= ord(c) < 0xE000 for c in word))
SPOT = ("-128.99", "-47.53")


@pytest.fixture(scope="module")
def folder(small_ground, tmp_path_factory):
    folder = tmp_path_factory.mktemp("grounds") / "words"
    shutil.copytree(small_ground, folder, ignore=shutil.ignore_patterns("derived"))
    layers = folder / "layers"
    for layer, columns in (
        ("parcels", ("owner", "parcel_id")),
        ("geology", ("name", "age", "description", "rocks")),
    ):
        frame = read_vector_layer(layers, layer)
        for column in columns:
            frame[column] = frame[column].fillna("").astype(str) + " " + ALL
        write_layer(
            layers, layer, frame, replace(read_source(layers, layer), origin=ALL, notes=(ALL,), vintage=ALL)
        )
    ground = Ground.open(folder)
    ground.change_settings(name=ALL)
    ground.add_samples([Sample(ALL, *map(float, SPOT), note=ALL, hole_id=ALL)])
    ground.permit(Permission("001 " + ALL, "asked", person=ALL, note=ALL, conditions=ALL))
    return folder


@pytest.mark.parametrize(
    "command",
    [
        ["score"], ["sites"], ["sites", "--json"], ["layers"], ["layers", "--json"], ["rocks"], ["rocks", "--json"],
        ["why", "--", *SPOT], ["why", "--json", "--", *SPOT], ["land", "--", *SPOT], ["land", "--json", "--", *SPOT],
        ["set"], ["set", "--json"], ["doctor"],
    ],
    ids=" ".join,
)  # fmt: skip
def test_a_command_prints_words_only(folder, capsys, command):
    name, *rest = command
    capsys.readouterr()
    code = run([name, str(folder), *rest])
    said = capsys.readouterr()
    assert code == 0, said.err
    for text in (said.out, said.err):
        assert not [
            char for char in text if char != "\n" and unicodedata.category(char) in ("Cc", "Cs", "Co")
        ]
        assert not set(text) & set("\u202e\u2066\u2067\u200b\u2028\ufeff")
    if "--json" in rest:
        json.loads(said.out)


def test_bytes_that_are_no_text_are_refused_in_words(folder, capsys):
    assert run(["set", str(folder), "name=n\udcffx"]) == 2
    assert "no text in UTF-8" in capsys.readouterr().err

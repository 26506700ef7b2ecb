"""A note beside a waypoint is layers only where it is a list of layers; everything that it says is kept somewhere."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prospect.cli import run
from prospect.records import GroundSettings
from prospect.sources.layers_in_notes import layers_in_note
from prospect.store import Ground


@pytest.mark.parametrize(
    ("note", "found"),
    [
        ("0-30 cm loam; 30-110 clay", [("0-30 cm", "loam"), ("30-110 cm", "clay")]),
        (
            "0 - 12 in silt loam\n12 - 40 in grey silty clay",
            [("0-12 in", "silt loam"), ("12-40 in", "silty clay")],
        ),
        ("0-0,3 m sand | 0,3-1,1 m clay", [("0-0,3 m", "sand"), ("0,3-1,1 m", "clay")]),
        ("0 to 25 topsoil, 25 to 60 clay loam", [("0-25", None), ("25-60", "clay loam")]),
        (
            "0-20 topsoil 20-60 sandy clay 80-120 clay",
            [("0-20", None), ("20-60", "sandy clay"), ("80-120", "clay")],
        ),
        ("20–65: clay", [("20-65", "clay")]),
    ],
)
def test_lists_of_layers(note, found):
    # Ways in which people write a profile in one line: common practice, no source.
    assert [(cells["depth"], cells.get("texture")) for cells in layers_in_note(note)] == found


@pytest.mark.parametrize(
    "note",
    [
        "",
        "clay 30-60 below the bank",
        "2-3 people can park here",
        "30-10 clay",
        "0-30 loam; 20-60 clay",
        "5 km from the road",
        "10YR 5/4 clay",
        "0-30",
    ],
)
def test_sentences_stay_sentences(note):
    assert layers_in_note(note) == []


def test_answers_stand_in_their_columns():
    (cells,) = layers_in_note(
        "30-110 cm: grey silty clay, 2.5Y 6/3, coil bends, roots: few, ribbon_cm 6.5 cm, worms"
    )
    assert cells == {
        "depth": "30-110 cm",
        "colour": "2.5Y 6/3",
        "texture": "silty clay",
        "coil": "bends",
        "roots": "few",
        "ribbon_cm": "6.5 cm",
        "note": "grey silty clay, worms",
    }


WORDS = (
    "brown",
    "gritty",
    "silty clay",
    "roots few",
    "coil bends",
    "N 6/",
    "10YR 5/4",
    "wet below",
    "2 worms",
)


@settings(max_examples=300, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 20), st.integers(1, 60), st.lists(st.sampled_from(WORDS))),
        min_size=2,
        max_size=6,
    ),
    st.sampled_from([";", "\n", " | "]),
)
def test_every_word_of_a_list_is_kept_in_its_layer(parts, between):
    spans, texts, below = [], [], 0
    for gap, thick, words in parts:
        top = below + gap
        below = top + thick
        spans.append(f"{top}-{below} cm")
        texts.append(words)
    note = between.join(f"{span} {', '.join(words)}" for span, words in zip(spans, texts, strict=True))
    found = layers_in_note(note)
    assert [cells["depth"] for cells in found] == spans
    for cells, words in zip(found, texts, strict=True):
        said = " ".join(f"{key} {value}" for key, value in cells.items()).split()
        assert {word for text in words for word in text.split()} <= set(
            " ".join(said).replace(",", " ").split()
        )


GPX = """<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="-47.5" lon="-126.03"><time>2026-05-02T09:00:00Z</time><name>H1</name>
<desc>0-30 cm loam, roots many; 30-110 cm silty clay, 2.5Y 6/3, coil bends</desc><sym>auger hole</sym></wpt>
<wpt lat="-47.51" lon="-126.04"><name>oak</name><desc>ask at the farm</desc></wpt></gpx>"""
KML = """<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>H1</name>
<description><![CDATA[<p>0-30 cm loam, roots many</p><p>30-110 cm silty clay, 2.5Y 6/3, coil bends</p>]]></description>
<Point><coordinates>-126.03,-47.5,0</coordinates></Point></Placemark></Document></kml>"""


def test_a_remark_beside_the_layers_stays(tmp_path, capsys):
    Ground.create(tmp_path / "ground", GroundSettings())
    text = GPX.replace("<desc>0-30", "<cmt>ask at the farm</cmt><desc>0-30")
    (tmp_path / "walk.gpx").write_text(text, encoding="utf-8")
    assert run(["log", str(tmp_path / "ground"), str(tmp_path / "walk.gpx")]) == 0, capsys.readouterr()
    (hole,) = Ground.open(tmp_path / "ground").log_book().holes
    assert len(hole.layers) == 2
    assert "ask at the farm" in (hole.note, *hole.fields.values())


@pytest.mark.parametrize(("name", "text"), [("walk.gpx", GPX), ("walk.kml", KML)])
def test_waypoints_with_notes_become_holes_with_layers(name, text, tmp_path, capsys):
    # GPX 1.1 (topografix.com schema: desc, time, name, sym), KML 2.2 (OGC 07-147r2: description).
    Ground.create(tmp_path / "ground", GroundSettings())
    (tmp_path / name).write_text(text, encoding="utf-8")
    assert run(["log", str(tmp_path / "ground"), str(tmp_path / name)]) == 0, capsys.readouterr()
    book = Ground.open(tmp_path / "ground").log_book()
    (hole,) = book.holes
    assert (hole.hole_id, hole.lon, hole.lat) == ("H1", -126.03, -47.5)
    assert [(layer.top_cm, layer.bottom_cm, layer.texture) for layer in hole.layers] == [
        (0, 30, "loam"),
        (30, 110, "silty clay"),
    ]
    assert (hole.layers[0].roots, hole.layers[1].coil, hole.layers[1].moist_colour) == (
        "many",
        "bends",
        "2.5Y 6/3",
    )
    if name.endswith("gpx"):
        assert hole.date == "2026-05-02"
        assert [(sample.sample_id, sample.note) for sample in book.samples] == [("oak", "ask at the farm")]

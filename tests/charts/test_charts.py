"""Pictures of the clay: their lines are the published ones, foreign words stay words, half known is welcome."""

from __future__ import annotations

import importlib.util
import itertools
import json
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from prospect.charts import (
    MOST_HOLES,
    LimitsPoint,
    TexturePoint,
    firing_curve,
    hole_section,
    munsell_to_srgb,
    plasticity_chart,
    texture_triangle,
)
from prospect.charts.drawing import Words, kept_apart
from prospect.charts.texture import CLASS_OUTLINES
from prospect.clay.firing_curve import FiringStep, maturing_range
from prospect.clay.spread import spread_of
from prospect.clay.texture import TEXTURE_CLASSES, texture_classes
from prospect.records import Hole, HoleLayer, Sample

_WORDS = Path(__file__).parents[1] / "hostile_words.json"
HOSTILE = {entry["what"]: entry["text"] for entry in json.loads(_WORDS.read_text(encoding="utf-8"))}
STEPS = tuple(
    FiringStep(cone, 0.0, spread_of(absorption), spread_of(shrinkage), faults)
    for cone, absorption, shrinkage, faults in (
        ("06", [14.0, 14.5], [9.0, 9.1], ()),
        ("02", [9.0], [11.0], ()),
        ("6", [1.0, 2.0, 1.5], [13.0], ("bloat",)),
    )
)
HOLES = (
    Hole("H1", 0, 0, "auger", depth_cm=130, stopped_by="water", water_cm=120,
         layers=(HoleLayer(0, 25, "no", "loam", "10YR 3/2"), HoleLayer(25, 90, "yes", "clay"))),
    Hole("F2", 0, 0, "face", layers=(HoleLayer(0, 40), HoleLayer(70, 180, "yes", "silty clay", "N 6/"))),
    Hole("H3", 0, 0),
)  # fmt: skip


def parsed(drawing) -> ET.Element:
    return ET.fromstring(drawing.svg())


def test_the_outlines_of_the_triangle_are_the_classes_of_the_handbook():
    """USDA Handbook 18: at 5,050 points off the lines the outlines drawn name the class that the rules name."""
    points = np.array(
        [(s + 0.37, c + 0.31) for s in range(100) for c in range(100 - s) if s + c + 0.68 < 100]
    )
    sand, clay = points.T
    names = texture_classes(sand, 100 - sand - clay, clay)
    places = shapely.points(points)
    found = np.full(len(points), "", dtype=names.dtype)
    for name, corners in CLASS_OUTLINES.items():
        inside = shapely.contains(shapely.Polygon(corners), places)
        assert not (found[inside] != "").any(), f"{name} lies over another class"
        found[inside] = name
    assert set(CLASS_OUTLINES) == set(TEXTURE_CLASSES)
    assert found.tolist() == names.tolist()


def test_the_lines_of_the_plasticity_chart_are_those_of_the_standard():
    """ASTM D2487: A-line 0.73 (LL - 20), level at 4 up to LL 25.5; U-line 0.9 (LL - 8), vertical at LL 16 up to 7."""
    drawing = plasticity_chart([])
    left, top, wide, high = 50.0, 16.0, 352.0, 262.0
    lines = [
        [((x - left) / wide * 100, (1 - (y - top) / high) * 60) for x, y in item.points]
        for item in drawing.items
        if not isinstance(item, Words)
        and hasattr(item, "points")
        and item.stroke == "slate"
        and not item.closed
    ]
    a_line, u_line = lines[0], lines[1]
    assert a_line == [pytest.approx(point) for point in ((4, 4), (20 + 4 / 0.73, 4), (100, 0.73 * 80))]
    assert u_line == [pytest.approx(point) for point in ((16, 0), (16, 7), (8 + 60 / 0.9, 60))]
    assert a_line[1][0] == pytest.approx(25.5, abs=0.05)


@pytest.mark.slow
def test_the_table_of_colours_is_what_the_open_renotation_gives():
    """The table in `layers/palettes` is made anew from the renotation data in colour-science and compared."""
    pytest.importorskip("colour")
    path = Path(__file__).with_name("make_munsell.py")
    spec = importlib.util.spec_from_file_location("make_munsell", path)
    maker = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(maker)
    ours = [row.split(",") for row in maker.TARGET.read_text(encoding="utf-8").splitlines()[3:]]
    theirs = [row.split(",") for row in maker.content().splitlines()[3:]]
    assert [row[:3] for row in ours] == [row[:3] for row in theirs]
    apart = np.abs(np.array([row[3:6] for row in ours], int) - np.array([row[3:6] for row in theirs], int))
    assert apart.max() <= 1


@pytest.mark.slow
@pytest.mark.parametrize(
    "notation", ["10YR 5/4", "2.5YR 4/6", "7.5YR 6.5/5", "5Y 7/3", "3.7YR 5.2/4.5", "5GY 5/1", "10R 3/6"]
)
def test_colours_between_the_steps_lie_near_the_librarys_own(notation):
    """colour-science 0.4 (its own interpolation of the renotation), within 6 of 255 in each part."""
    colour = pytest.importorskip("colour")
    xyz = colour.xyY_to_XYZ(colour.munsell_colour_to_xyY(notation.replace("YR ", "YR ")))
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["C"]
    theirs = np.clip(colour.XYZ_to_sRGB(xyz, white, "Bradford"), 0, 1) * 255
    ours = munsell_to_srgb(notation)
    found = np.array([int(ours[at : at + 2], 16) for at in (1, 3, 5)])
    assert np.abs(found - theirs).max() <= 6


def test_dark_pale_and_grey_colours_are_known_and_words_are_not():
    assert munsell_to_srgb("10YR 2/1") < munsell_to_srgb("10YR 8/1")
    assert munsell_to_srgb("2.5YR 2.5/1") is not None
    assert munsell_to_srgb("N 9.5/") is not None
    assert munsell_to_srgb("N 5/") == "#797979"
    assert munsell_to_srgb("grey-brown") is None
    assert munsell_to_srgb("10YR 5/30") is None


@pytest.mark.parametrize("word", HOSTILE.values(), ids=HOSTILE)
def test_foreign_words_stay_words(word):
    pictures = (
        texture_triangle([TexturePoint(word, 20, 50, 10)]),
        plasticity_chart([LimitsPoint(word, 45, 22)]),
        firing_curve([FiringStep("06", 0.0, spread_of([14.0]), None, (word,))]),
        hole_section(
            [
                Hole(
                    word,
                    0,
                    0,
                    word,
                    stopped_by=word,
                    depth_cm=90,
                    layers=(HoleLayer(0, 50, "yes", word, word),),
                )
            ]
        ),
    )
    for picture in pictures:
        tags = {element.tag.split("}")[1] for element in parsed(picture).iter()}
        assert tags <= {"svg", "style", "defs", "pattern", "line", "path", "circle", "text"}
        for element in parsed(picture).iter():
            assert not [name for name in element.attrib if name.startswith("on") or "href" in name]


def test_nothing_one_and_many_can_be_drawn():
    many = [TexturePoint(f"clay {n}", 20 + n % 30, 20 + n % 40) for n in range(60)]
    for points in ([], many[:1], many):
        assert len(parsed(texture_triangle(points)).findall("{*}circle")) == len(points)
    limits = [LimitsPoint(f"clay {n}", 30 + n, 20 + n / 2) for n in range(60)]
    for some in ([], limits[:1], limits, [LimitsPoint("far out", 180, 60)]):
        assert len(parsed(plasticity_chart(some)).findall("{*}circle")) == len(some)
    assert firing_curve(()).svg() == firing_curve(()).svg()
    assert "mature" in firing_curve(STEPS, wanted=(6, 15), mature=maturing_range(STEPS, (6, 15))).svg()
    assert "°F" in firing_curve(STEPS, units="us").svg()
    assert "▲ bloat" in firing_curve(STEPS).svg()


def test_a_section_shows_gaps_water_and_what_is_not_known():
    svg = hole_section(HOLES, [Sample("H1-1", 0, 0, "H1", top_cm=40, bottom_cm=60)]).svg()
    for word in ("H1", "F2", "H3", "no layers", "water", "clay", "drawn by depth"):
        assert word in svg
    high = hole_section(HOLES, elevations_m={"H1": 212.0, "F2": 210.5, "H3": 211.0}).svg()
    assert "height, m" in high
    assert "drawn by depth" not in high
    far = hole_section(HOLES, elevations_m={"H1": 182.0, "F2": 95.0, "H3": 120.0}).svg()
    assert "drawn by depth: the holes lie 87 m apart in height" in far
    assert (
        "drawn by depth: not every height is known" in hole_section(HOLES, elevations_m={"H1": 182.0}).svg()
    )
    assert "depth, in" in hole_section(HOLES[:1], units="us").svg()
    with pytest.raises(ValueError, match="do not fit"):
        hole_section([HOLES[2]] * (MOST_HOLES + 1))


_depth = st.one_of(st.none(), st.floats(0, 1e5))
_usable = st.sampled_from(["yes", "no", "unknown"])
_layer = st.builds(HoleLayer, _depth, _depth, _usable, st.text(max_size=30), st.text(max_size=12))
_hole = st.builds(
    Hole,
    st.text(max_size=20),
    st.just(0.0),
    st.just(0.0),
    depth_cm=_depth,
    water_cm=_depth,
    elevation_m=st.one_of(st.none(), st.floats(-500, 9000)),
    layers=st.lists(_layer, max_size=5).map(tuple),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(_hole, max_size=6))
def test_any_holes_can_be_drawn(holes):
    drawing = hole_section(holes)
    assert "nan" not in drawing.svg().replace("nano", "")
    parsed(drawing)


@given(st.lists(st.floats(0, 100), max_size=20), st.floats(0.1, 10))
def test_labels_are_kept_apart_within_their_limits(places, least):
    moved = kept_apart(places, least, 0.0, 100.0)
    assert all(-1e-6 <= place <= 100.0 + 1e-6 for place in moved)
    ordered = sorted(moved)
    room = min(least, 100.0 / max(len(places) - 1, 1))
    assert all(b - a >= room - 1e-6 for a, b in itertools.pairwise(ordered))

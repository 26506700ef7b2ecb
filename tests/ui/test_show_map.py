"""The map's text: local files only, data that cannot run, one map for every state."""

import json
import re

import pytest
import streamlit_folium

from prospect.ui.show_map import (
    Click,
    MapState,
    Rank,
    Target,
    TileSheet,
    ViewLayer,
    as_click,
    build_content,
    build_map,
)

TARGET = Target("n1", (-1.0, -1.0, 1.0, 1.0))


def text_of(group):
    """The script that goes to the browser, made the way it is made in the app."""
    canvas = build_map(MapState(TARGET))
    canvas.render()
    return streamlit_folium._get_feature_group_string(group, canvas)


def map_text(state):
    canvas = build_map(state)
    return canvas.get_root().render(), canvas


def test_every_file_of_the_map_is_the_apps_own():
    page, canvas = map_text(MapState(TARGET))
    links = [address for _, address in (*canvas.default_js, *canvas.default_css)]
    assert all(address.startswith("../../assets/") for address in links)
    drawn = re.findall(r'(?:src|href)="(http[^"]*)"', page)
    assert drawn == []


def test_the_map_itself_is_the_same_for_every_state():
    def bare(state):
        canvas = build_map(state)
        canvas.render()
        return streamlit_folium._get_map_string(canvas)

    one = MapState(TARGET)
    other = MapState(Target("n2", (0, 0, 1, 1)), ranks=(Rank(1, 0.5, 0.5, True),), spot=(0.1, 0.2))
    assert bare(one) == bare(other)


def test_content_holds_tiles_views_marks_and_target():
    state = MapState(
        TARGET,
        (TileSheet("../../tiles/best/r1/{z}/{x}/{y}.png", "colour", 0.9, (-1, -1, 1, 1)),),
        (ViewLayer("../../data/water.geojson?v=1", "Creeks", "lines", {"weight": 2}, ("name",)),),
        (Rank(1, 0.5, 0.25),),
        (0.1, 0.2),
    )
    script = text_of(build_content(state))
    given = json.loads(re.search(r"claywalk\.show\(map_div, (.*)\);", script)[1])
    assert given["tiles"][0]["url"] == "../../tiles/best/r1/{z}/{x}/{y}.png"
    assert given["views"][0]["label"] == ["name"]
    assert given["ranks"] == [{"site": 1, "lon": 0.5, "lat": 0.25, "chosen": False}]
    assert given["spot"] == [0.1, 0.2]


def test_hostile_words_come_through_verbatim_and_inert(hostile):
    state = MapState(
        Target(hostile, (0, 0, 1, 1)), views=(ViewLayer(hostile, hostile, "lines", {}, (hostile,)),)
    )
    script = text_of(build_content(state))
    assert "1337" not in script
    data = re.search(r"claywalk\.show\(map_div, (.*)\);", script)[1]
    assert not any(piece in data for piece in ("{{", "{%", "${", "<", "`", "_abc123"))
    given = json.loads(re.search(r"claywalk\.show\(map_div, (.*)\);", script)[1])
    assert given["target"]["nonce"] == hostile
    assert given["views"][0]["title"] == hostile


@pytest.mark.parametrize(
    "answer",
    [
        None,
        {},
        {"last_clicked": None},
        {"last_clicked": {"lat": "5", "lng": 5}},
        {"last_clicked": {"lat": 91, "lng": 0}},
        {"last_clicked": {"lat": float("nan"), "lng": 0}},
        {"last_clicked": {"lat": 0, "lng": 181.0}},
    ],
)
def test_what_is_no_place_is_no_click(answer):
    assert as_click(answer) is None


def test_a_click_is_longitude_and_latitude():
    assert as_click({"last_clicked": {"lat": -47.5, "lng": -123.0}}) == Click(-123.0, -47.5)

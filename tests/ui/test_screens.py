"""The screens, run without a browser; only the map itself is replaced by an answer."""

import shutil
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from prospect.ui.open_ground import GROUND_VARIABLE, workspace
from prospect.ui.screens import ground as ground_screen
from prospect.ui.show_map import Click

MAIN = str(Path(ground_screen.__file__).parents[1] / "main.py")
PATIENCE_S = 120


class FakeMap:
    """Stands where the map is drawn: keeps what it was asked to show and answers with a click."""

    def __init__(self):
        self.click = None
        self.shown = []

    def __call__(self, state, *, key):
        self.shown.append(state)
        return self.click


@pytest.fixture
def ground_map(monkeypatch):
    fake = FakeMap()
    monkeypatch.setattr(ground_screen, "show_map", fake)
    return fake


@pytest.fixture
def app(small_ground, monkeypatch, ground_map):
    monkeypatch.setenv(GROUND_VARIABLE, str(small_ground))
    workspace.cache_clear()
    yield AppTest.from_file(MAIN, default_timeout=PATIENCE_S).run()
    workspace.cache_clear()


def shown(app):
    """All words of the screen's own HTML."""
    return " ".join(element.proto.body for element in app.get("html"))


def test_the_first_screen_lists_the_ranked_sites(app, ground_map):
    assert not app.exception
    assert "Where to look first" in shown(app)
    state = ground_map.shown[-1]
    assert state.tiles[0].url.startswith("../../tiles/best/")
    assert [rank.site for rank in state.ranks] == list(range(1, len(state.ranks) + 1))


def test_choosing_a_site_moves_the_map_and_opens_its_page(app, ground_map):
    before = ground_map.shown[-1].target
    app.button(key="read-1").click().run()
    after = ground_map.shown[-1].target
    assert after.nonce != before.nonce
    assert (after.bounds[2] - after.bounds[0]) < (before.bounds[2] - before.bounds[0])
    assert "Site 1 ·" in shown(app)
    app.button(key="back").click().run()
    assert "Where to look first" in shown(app)


def test_pointing_at_the_map_opens_a_page_and_leaves_the_map_where_it_is(app, ground_map):
    rank = ground_map.shown[-1].ranks[0]
    ground_map.click = Click(rank.lon, rank.lat)
    before = ground_map.shown[-1].target
    app.run()
    assert "Why" in shown(app)
    assert "Good ground for valley (alluvial) clay" in shown(app)
    assert ground_map.shown[-1].target == before


def test_an_old_click_does_not_come_back(app, ground_map):
    rank = ground_map.shown[-1].ranks[0]
    ground_map.click = Click(rank.lon, rank.lat)
    app.run()
    app.button(key="back").click().run()
    assert "Where to look first" in shown(app)


def test_a_click_beside_the_ground_is_answered_calmly(app, ground_map):
    ground_map.click = Click(10.0, 50.0)
    app.run()
    assert not app.exception
    assert "Off the map" in shown(app)


def test_another_kind_of_ground_changes_map_and_list(app, ground_map):
    app.selectbox(key="kind").set_value("residual").run()
    assert ground_map.shown[-1].tiles[0].url.startswith("../../tiles/residual/")
    ground_map.click = Click(ground_map.shown[0].ranks[0].lon, ground_map.shown[0].ranks[0].lat)
    app.run()
    assert "as residual (primary) clay" in shown(app)


def test_another_purpose_is_scored_anew(app, ground_map):
    before = ground_map.shown[-1].tiles[0].url
    app.selectbox(key="use").set_value("white").run()
    assert not app.exception
    assert ground_map.shown[-1].tiles[0].url != before


def test_lines_and_colours_can_be_chosen(app, ground_map):
    app.checkbox(key="over-parcels").check().run()
    assert any("parcels.geojson" in view.url for view in ground_map.shown[-1].views)
    app.radio(key="colour").set_value("rocks").run()
    assert ground_map.shown[-1].views[0].pane == "fills"
    assert not any("/best/" in sheet.url for sheet in ground_map.shown[-1].tiles)
    app.checkbox(key="over-sites").uncheck().run()
    assert ground_map.shown[-1].ranks == ()


def test_what_is_missing_is_said_beside_the_sites(app):
    assert "Not on the shelf, and what that costs" in shown(app)


def test_a_folder_that_is_no_ground(tmp_path, monkeypatch, ground_map):
    monkeypatch.setenv(GROUND_VARIABLE, str(tmp_path))
    workspace.cache_clear()
    app = AppTest.from_file(MAIN, default_timeout=PATIENCE_S).run()
    workspace.cache_clear()
    assert not app.exception
    assert "No ground here" in shown(app)


def test_an_empty_ground_says_what_to_do(small_ground, tmp_path, monkeypatch, ground_map):
    folder = tmp_path / "empty"
    folder.mkdir()
    shutil.copy(small_ground / "records.gpkg", folder)
    monkeypatch.setenv(GROUND_VARIABLE, str(folder))
    workspace.cache_clear()
    app = AppTest.from_file(MAIN, default_timeout=PATIENCE_S).run()
    workspace.cache_clear()
    assert not app.exception
    assert "An empty shelf" in shown(app)


@pytest.mark.parametrize(
    ("room", "words"), [("layers", "on the shelf"), ("samples", "A1"), ("cautions", "dig")]
)
def test_the_other_screens(small_ground, monkeypatch, room, words):
    monkeypatch.setenv(GROUND_VARIABLE, str(small_ground))
    workspace.cache_clear()
    script = f"from prospect.ui.screens import {room}\n{room}.screen()\n"
    app = AppTest.from_string(script, default_timeout=PATIENCE_S).run()
    workspace.cache_clear()
    assert not app.exception
    assert words in shown(app)


def test_a_place_given_in_numbers_is_read_and_the_map_goes_there(app, ground_map):
    rank = ground_map.shown[-1].ranks[0]
    before = ground_map.shown[-1].target
    app.text_input[0].set_value(f"{rank.lat:.5f}, {rank.lon:.5f}")
    app.button[-1].click().run()
    target = ground_map.shown[-1].target
    assert target.nonce != before.nonce
    assert target.bounds[0] < rank.lon < target.bounds[2]
    assert "Why" in shown(app)


def test_a_place_that_is_none_is_answered(app):
    app.text_input[0].set_value("over there")
    app.button[-1].click().run()
    assert "Expected latitude and longitude" in shown(app)


def test_a_fault_of_the_programs_own_is_told_without_its_insides(app, monkeypatch, ground_map):
    def broken(*_):
        raise RuntimeError("inside words")

    monkeypatch.setattr(ground_screen, "map_state", broken)
    app.run()
    assert not app.exception
    assert "The program itself failed" in shown(app)
    assert "inside words" not in shown(app)

"""The app in a real browser: offline, hostile names inert, a spot read, narrow screens."""

from __future__ import annotations

import shutil

import geopandas as gpd
import pytest

from prospect.layerfile import LayerSource, read_source, read_vector_layer, write_layer

playwright_api = pytest.importorskip("playwright.sync_api", reason="the Python package playwright is missing")

pytestmark = pytest.mark.e2e

HOSTILE = (
    "{{7*191}}{% for x in y %}</script><script>window.ran=1</script><img src=x onerror=window.ran=1>"
    "`${window.ran=1}`\\'\" _abc123 ![x](http://evil.example/x.png)"
)
LONG_MS = 90_000


@pytest.fixture(scope="module")
def hostile_ground(small_ground, tmp_path_factory):
    """A ground whose rock names and owners are payloads."""
    folder = tmp_path_factory.mktemp("grounds") / "hostile"
    shutil.copytree(small_ground, folder, ignore=shutil.ignore_patterns("derived"))
    layers = folder / "layers"
    for name, columns in (("parcels", ("owner",)), ("geology", ("name", "age"))):
        frame: gpd.GeoDataFrame = read_vector_layer(layers, name)
        source: LayerSource = read_source(layers, name)
        for column in columns:
            frame[column] = frame[column].fillna("").astype(str) + " " + HOSTILE
        write_layer(layers, name, frame, source)
    return folder


@pytest.fixture(scope="module")
def address(hostile_ground, serve, tmp_path_factory):
    """Address of the running app."""
    with serve(hostile_ground, tmp_path_factory.mktemp("output") / "app.txt") as running:
        yield running


class Visit:
    """One visitor's page with everything it asked for and every error it met."""

    def __init__(self, browser, address, width, height, scheme="light"):
        self.context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
        self.page = self.context.new_page()
        self.page.set_default_timeout(LONG_MS)
        self.asked, self.errors = [], []
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.on("pageerror", lambda error: self.errors.append(str(error)))
        self.page.goto(address)
        self.map = self.page.frame_locator('iframe[title*="folium"]')
        self.map.locator(".leaflet-container").wait_for()
        self.map.locator("img.leaflet-tile-loaded").first.wait_for()

    def elsewhere(self, address):
        own = (address, address.replace("http", "ws", 1), "data:", "blob:")
        return [url for url in self.asked if not url.startswith(own)]

    def point_at(self, across, down):
        box = self.page.locator('iframe[title*="folium"]').bounding_box()
        self.page.mouse.click(box["x"] + box["width"] * across, box["y"] + box["height"] * down)
        self.page.locator(".cw-page").wait_for()

    def ran(self):
        return [frame.url for frame in self.page.frames if frame.evaluate("window.ran !== undefined")]


@pytest.fixture
def visit(browser, address):
    visitor = Visit(browser, address, 1280, 900)
    yield visitor
    visitor.context.close()


def test_a_spot_is_read_offline(visit, address):
    visit.point_at(0.4, 0.5)
    expect = playwright_api.expect
    expect(visit.page.locator(".cw-page")).to_contain_text("how much we know")
    expect(visit.page.locator(".cw-criteria").first).to_contain_text("of the score")
    assert visit.elsewhere(address) == []
    assert visit.errors == []


def test_another_kind_of_ground_is_shown_and_read(visit, address):
    visit.page.get_by_label("Kind of ground").click()
    visit.page.get_by_role("option", name="residual (primary) clay").click()
    visit.map.locator('img.leaflet-tile-loaded[src*="/tiles/residual/"]').first.wait_for()
    visit.point_at(0.4, 0.5)
    playwright_api.expect(visit.page.locator(".cw-kind")).to_have_text("as residual (primary) clay")
    assert visit.elsewhere(address) == []


def test_a_site_is_reached_by_keyboard_and_the_map_follows(visit):
    button = visit.page.get_by_role("button", name="Read site 1", exact=True)
    button.focus()
    visit.page.keyboard.press("Enter")
    visit.page.locator(".cw-page").wait_for()
    playwright_api.expect(visit.page.locator(".cw-place")).to_contain_text("Site 1 ·")
    mark = visit.map.locator(".cw-rank.chosen")
    mark.wait_for()
    at, frame = mark.bounding_box(), visit.page.locator('iframe[title*="folium"]').bounding_box()
    assert frame["x"] < at["x"] < frame["x"] + frame["width"]
    assert frame["y"] < at["y"] < frame["y"] + frame["height"]
    visit.page.get_by_role("button", name="Ranked sites").click()
    playwright_api.expect(visit.page.get_by_text("Where to look first")).to_be_visible()


def test_hostile_names_are_shown_as_they_are_and_run_nowhere(visit, address):
    visit.page.get_by_role("button", name="What the map shows").click()
    visit.page.get_by_text("which rock lies there").click()
    visit.page.get_by_text("Parcel lines").click()
    visit.page.keyboard.press("Escape")
    visit.page.wait_for_timeout(2500)
    visit.point_at(0.4, 0.5)
    box = visit.page.locator('iframe[title*="folium"]').bounding_box()
    visit.page.mouse.move(box["x"] + box["width"] * 0.41, box["y"] + box["height"] * 0.52)
    word = visit.map.locator(".cw-word")
    word.wait_for()
    assert HOSTILE in word.inner_text()
    assert HOSTILE in visit.page.locator(".cw-page").text_content()
    assert "1337" not in visit.page.content()
    assert visit.ran() == []
    assert visit.elsewhere(address) == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_narrow_screen_has_everything_without_sideways_scrolling(browser, address, scheme):
    visit = Visit(browser, address, 390, 844, scheme)
    visit.point_at(0.4, 0.5)
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= 390
    wide = "[...document.querySelectorAll('.cw-page *')].filter(e => e.getBoundingClientRect().right > 391).length"
    assert visit.page.evaluate(wide) == 0
    assert visit.elsewhere(address) == []
    visit.context.close()


def test_the_other_rooms_open(visit, address):
    for room, words in (
        ("Layers", "on the shelf"),
        ("Samples", "What was dug"),
        ("Before you dig", "Before you go"),
    ):
        visit.page.get_by_role("link", name=room).click()
        playwright_api.expect(visit.page.get_by_text(words).first).to_be_visible()
    assert visit.elsewhere(address) == []
    assert visit.errors == []


def test_a_file_is_read_on_the_layers_screen(visit, tmp_path):
    path = tmp_path / "dug.csv"
    path.write_text("sample_id,lon,lat,usable\nB1,-129.0,-47.6,yes\nB2,north,-47.6,no\n", encoding="utf-8")
    visit.page.get_by_role("link", name="Layers").click()
    visit.page.get_by_label("What it holds").click()
    visit.page.get_by_role("option", name="samples", exact=False).first.click()
    chosen = playwright_api.expect(visit.page.get_by_label("What it holds"))
    chosen.to_have_value("Samples")
    visit.page.locator('input[type="file"]').set_input_files(str(path))
    visit.page.get_by_text("dug.csv").first.wait_for()
    chosen.to_have_value("Samples")
    visit.page.get_by_role("button", name="Read it").click()
    report = visit.page.locator(".cw-land h3", has_text="Accepted with notes")
    report.wait_for()
    playwright_api.expect(visit.page.locator(".cw-table").first).to_contain_text("north")

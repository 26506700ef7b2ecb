"""Every hostile word in every field of a ground, in the live app and in every export, in a real browser."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass, field, replace
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
from pyproj import Transformer
from shapely.geometry import LineString, Point, box

from prospect.cartography.legend import Key
from prospect.cli import run
from prospect.issues import Issue, IssueLog
from prospect.layerfile import LayerSource, write_layer
from prospect.pipeline import LayerState
from prospect.records import (
    CriterionReading,
    Fact,
    GateReading,
    GroundReport,
    LandCheck,
    Looked,
    ModelReading,
    ParcelHit,
    Permission,
    Sample,
    Site,
)
from prospect.store import Ground, Pending
from prospect.text import csv_cell, file_name, plain
from prospect.ui.cards import layer_card, map_key, reading_report, site_card, sites_as_text
from prospect.ui.permission_cards import (
    ledger_list,
    parcel_row,
    parcel_rows,
    reminders_card,
    standing_card,
)
from prospect.ui.reading import spot_page
from prospect.ui.sample_cards import pending_card, sample_page, sample_row

playwright_api = pytest.importorskip("playwright.sync_api", reason="the Python package playwright is missing")

pytestmark = pytest.mark.e2e

WORDS = [
    item["text"]
    for item in json.loads((Path(__file__).parents[1] / "hostile_words.json").read_text(encoding="utf-8"))
]
NAME = " ¦ ".join(word[:30] for word in WORDS if not any(0xD800 <= ord(c) < 0xE000 for c in word))
LONG_MS = 90_000
WEST, NORTH, CRS = 500_000.0, 4_737_000.0, "EPSG:32709"
ACROSS, WIDE, HIGH = 6, 400.0, 300.0
COMPONENT = {
    "percent": 80.0, "major": True, "has_horizons": True, "layer_top_cm": 25.0, "layer_bottom_cm": 62.0,
    "clay_pct": 47.0, "sand_pct": 34.0, "silt_pct": 19.0, "liquid_limit_pct": 40.5, "plasticity_index": 16.4,
    "linear_extensibility_pct": 2.6, "cec_per_clay": 0.16, "ksat_um_s": 7.0, "carbonate_pct": 0.0,
    "gypsum_pct": 0.0, "ec_ds_m": 0.2, "sodium_adsorption_ratio": 0.0, "organic_matter_pct": 0.5,
    "rock_fragments_pct": 3.0, "lime_nodules": False, "slope_pct": 5.0, "profile_bottom_cm": 203.0,
    "restriction_depth_cm": None, "lithic_depth_cm": None, "paralithic_depth_cm": None, "annual_rain_mm": 1240.0,
    "water_table_cm": None, "clayey_top_cm": 18.0, "clayey_thickness_cm": 106.0, "clayey_clay_pct": 45.0,
}  # fmt: skip
COMPONENT_WORDS = (
    "mineralogy", "drainage_class", "restriction_kind", "parent_material", "parent_kinds", "landform", "flooding",
)  # fmt: skip


def storable(word: str) -> str:
    """Return a word as a layer's file can hold it: no NUL, no half of a surrogate pair."""
    return "".join(char for char in word if char != "\0" and not 0xD800 <= ord(char) < 0xE000)


def middle(number: int) -> tuple[float, float]:
    """Return the middle of the cell where a word stands, m."""
    down, across = divmod(number, ACROSS)
    return WEST + (across + 0.5) * WIDE, NORTH - (down + 0.5) * HIGH


def lonlat(spot: tuple[float, float]) -> tuple[float, float]:
    return Transformer.from_crs(CRS, "EPSG:4326", always_xy=True).transform(*spot)


LAYERS = (
    "parcels", "geology", "soil", "water", "wetlands", "roads", "structures", "keepouts", "leads", "faces", "samples",
)  # fmt: skip


def place_of(layer: str, number: int) -> int:
    """Return which word stands in a cell of a layer; no two layers have the same word in one cell."""
    return (number + 5 * LAYERS.index(layer)) % len(WORDS)


def planted(layer: str) -> list[str]:
    """Return the words of a layer, cell by cell."""
    return [storable(WORDS[place_of(layer, number)]).strip() for number in range(len(WORDS))]


def plant(folder: Path) -> None:
    """Put every word into every field of a ground that has only its elevation, each word in a cell of its own."""
    words = [storable(word) for word in WORDS]
    spots = [middle(number) for number in range(len(words))]
    cells = [box(x - WIDE / 2, y - HIGH / 2, x + WIDE / 2, y + HIGH / 2) for x, y in spots]
    lines = [LineString([(x - 150, y + 40), (x + 150, y + 40)]) for x, y in spots]
    dots = [Point(x + 30, y + 30) for x, y in spots]
    rounds = [Point(x, y).buffer(50) for x, y in spots]

    def told(layer, *columns):
        return dict.fromkeys(columns, planted(layer))

    mark = ("kind", "name", "source", "note")
    rocks = {"rocks": [f"granite, {word}" for word in planted("geology")]}
    layers = {
        "parcels": (cells, told("parcels", "parcel_id", "owner", "source")),
        "geology": (cells, told("geology", "unit", "name", "age", "description", "confidence") | rocks),
        "soil": (cells, {"mukey": [f"m{k}" for k in range(len(words))]} | told("soil", "musym", "name")),
        "water": (lines, told("water", *mark) | {"kind": ["stream"] * len(words)}),
        "wetlands": (rounds, told("wetlands", *mark)),
        "roads": (lines, told("roads", *mark)),
        "structures": (lines, told("structures", *mark)),
        "keepouts": (rounds, told("keepouts", *mark)),
        "leads": (dots, told("leads", *mark, "seen_on")),
        "faces": (dots, told("faces", *mark, "access", "season", "layers_seen")),
        "outline": ([box(WEST, NORTH - 3000, WEST + 2400, NORTH)], {"name": [words[3]]}),
    }
    components = pd.DataFrame(
        [
            {
                "mukey": f"m{k}", "cokey": f"c{k}", "component_name": word, **COMPONENT,
                **dict.fromkeys(COMPONENT_WORDS, word),
            }
            for k, word in enumerate(planted("soil"))
        ]
    )  # fmt: skip
    for name, (shapes, columns) in layers.items():
        source = LayerSource(
            name,
            origin=f"{name} {WORDS[3][:40]}",
            imported="2026-05-02",
            licence=WORDS[4],
            attribution=WORDS[7],
            vintage=WORDS[11],
            counts={"read": 1, "kept": 1, "repaired": 0, "refused": 0},
            notes=tuple(words),
        )
        frame = gpd.GeoDataFrame(columns, geometry=shapes, crs=CRS)
        tables = {"components": components} if name == "soil" else None
        write_layer(folder / "layers", name, frame, source, tables)
    ground = Ground.open(folder)
    ground.change_settings(name=NAME)
    ground.add_samples(
        Sample(
            f"{number} {word}"[:3000],
            *lonlat((x - 20, y - 20)),
            hole_id=word,
            date=word[:40],
            usable="yes",
            top_cm=20,
            bottom_cm=60,
            note=word,
            fields={word: word},
        )
        for number, (word, (x, y)) in enumerate(zip(planted("samples"), spots, strict=True))
    )
    for number, word in enumerate(words):
        said = {"person": word, "note": word, "conditions": word, "how": word, "speaks_as": word}
        ground.permit(Permission(planted("parcels")[number], "asked", **said))
        seen = {"seen": word, "ticket": word, "person": word, "seen_on": "2026-04-01"}
        ground.note_looked(Looked("utility_lines", *lonlat(spots[number]), clear=True, **seen))
    for word in planted("geology")[:20]:
        ground.correct_rock(word, "granite:0.7,pegmatite:0.3")


@pytest.fixture(scope="module")
def folder(small_files, tmp_path_factory):
    ground = tmp_path_factory.mktemp("grounds") / "hostile words"
    assert run(["new", str(ground)]) == 0
    assert run(["add", str(ground), "elevation", str(small_files["elevation"])]) == 0
    plant(ground)
    return ground


@dataclass
class App:
    """A running app and where its output goes."""

    address: str
    folder: Path
    output: Path

    def said(self) -> str:
        return self.output.read_text(encoding="utf-8", errors="replace")


@pytest.fixture(scope="module")
def app(folder, serve, tmp_path_factory):
    output = tmp_path_factory.mktemp("output") / "app.txt"
    with serve(folder, output) as address:
        yield App(address, folder, output)


FOREIGN_NODES = """() => {
  const found = [];
  for (const node of document.querySelectorAll('*')) {
    for (const a of node.attributes) {
      const value = a.value.trim().toLowerCase();
      if (a.name.startsWith('on') && a.value.includes('ran')) found.push(a.name + '=' + a.value);
      if (['href', 'src', 'action', 'xlink:href', 'formaction'].includes(a.name) &&
          (value.startsWith('javascript:') || value.includes('evil.example') || value === 'x' || value === 'x.png'))
        found.push(node.tagName + ' ' + a.name + '=' + a.value);
    }
    if (node.hasAttribute('srcdoc')) found.push('srcdoc');
    if (node.tagName === 'SCRIPT' && /^\\s*(window\\.ran|x$)/.test(node.textContent)) found.push(node.outerHTML);
    if (node.tagName === 'STYLE' && node.textContent.includes('display:none!important')) found.push(node.outerHTML);
  }
  return found;
}"""
MISSING = "words => { const text = document.body.textContent; return words.filter(w => !text.includes(w)); }"
PIXEL = "([lon, lat]) => { const p = window.map.latLngToContainerPoint([lat, lon]); return [p.x, p.y]; }"
PAGE_SAYS = """word => {
  const page = document.querySelector('.cw-page');
  return page !== null && page.textContent.includes(word);
}"""
LEAF_TURNED = "was => document.querySelector('.st-key-rows').textContent !== was"
# What the map's own listener puts under the pointer at each place.
LABELS = """places => places.map(([lon, lat]) => {
  const at = L.latLng(lat, lon);
  window.map.fire('mousemove', {
    latlng: at, layerPoint: window.map.latLngToLayerPoint(at), containerPoint: window.map.latLngToContainerPoint(at),
  });
  return document.querySelector('.cw-word').textContent;
})"""
COUNTS = (
    "words => { const text = document.body.textContent; return words.map(w => text.split(w).length - 1); }"
)


@dataclass
class Witness:
    """A page, and everything in it that would show that a word was taken for more than text."""

    page: object
    own: tuple[str, ...]
    elsewhere: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)
    dialogs: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.page.set_default_timeout(LONG_MS)
        self.page.on("request", self._asked)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("console", lambda line: line.type == "error" and self.complaints.append(line.text))
        self.page.on("dialog", self._dialog)
        self.page.context.on("page", lambda other: self.complaints.append(f"another page: {other.url}"))

    def _asked(self, request) -> None:
        if not request.url.startswith((*self.own, "data:", "blob:")):
            self.elsewhere.append(request.url)

    def _dialog(self, dialog) -> None:
        self.dialogs.append(dialog.message)
        dialog.dismiss()

    def nothing_ran(self) -> None:
        for frame in self.page.frames:
            assert frame.evaluate("window.ran === undefined"), frame.url
            assert frame.evaluate(FOREIGN_NODES) == [], frame.url
        assert (self.elsewhere, self.complaints, self.dialogs) == ([], [], [])

    def missing(self, words) -> list[str]:
        return self.page.evaluate(MISSING, list(words))


def shown(word: str, most: int = 110) -> str:
    """Return how a word begins wherever it is shown: as `plain` gives it, and long ones cut."""
    return plain(storable(word), most).removesuffix("…").strip()


SHOWN = [shown(word) for word in WORDS]


@pytest.fixture
def visit(browser, app):
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    own = (app.address, app.address.replace("http", "ws", 1))
    witness = Witness(context.new_page(), own)
    witness.page.goto(app.address)
    witness.map = witness.page.frame_locator('iframe[title*="folium"]')
    witness.map.locator(".leaflet-container").wait_for()
    witness.map.locator("img.leaflet-tile-loaded").first.wait_for()
    yield witness
    context.close()


def map_frame(visit):
    return next(frame for frame in visit.page.frames if "streamlit_folium" in frame.url)


def begins(layer: str, number: int) -> str:
    """Return how the word in a cell of a layer begins wherever it is shown."""
    return SHOWN[place_of(layer, number)]


def test_every_spot_is_read_with_its_words_as_they_are(visit, figures):
    frame, page = map_frame(visit), visit.page
    page.wait_for_timeout(500)
    least = dict.fromkeys(("parcels", "geology", "soil"), 10**6)
    for number in range(len(WORDS)):
        x, y = frame.evaluate(PIXEL, lonlat(middle(number)))
        corner = page.locator('iframe[title*="folium"]').bounding_box()
        page.mouse.click(corner["x"] + x, corner["y"] + y)
        page.wait_for_function(PAGE_SAYS, arg=f"Sample {number} ")
        said = page.evaluate("document.querySelector('.cw-page').textContent")
        for sentence in (
            f"parcel {begins('parcels', number)}",
            f"Keep-out ({begins('keepouts', number)}",
            f"Wetland ({begins('wetlands', number)}",
            shown(f"{number} {planted('samples')[number]}"),
        ):
            assert sentence in said, (number, sentence)
        for layer, count in least.items():
            least[layer] = min(count, said.count(begins(layer, number)))
    assert least["parcels"] >= 3
    assert least["geology"] >= 5
    assert least["soil"] >= 15
    visit.nothing_ran()
    figures["hostile words on the page of a spot"] = (
        f"{len(WORDS)} words on {len(WORDS)} pages, each at least {sum(least.values())} times, scripts run 0"
    )


OVERLAYS = {
    "water": ("Creeks and ponds", (0, 40)),
    "parcels": ("Parcel lines", (-120, 100)),
    "soil": ("Soil outlines", (-120, 100)),
    "keepouts": ("Keep-outs", (0, 0)),
    "wetlands": ("Wetlands", (0, 0)),
    "roads": ("Roads", (0, 40)),
    "structures": ("Faults, dykes and beds", (0, 40)),
    "faces": ("Open faces", (30, 30)),
    "leads": ("Leads", (30, 30)),
    "samples": ("Samples", (-20, -20)),
}


def test_every_label_of_every_overlay_is_its_words(visit, figures):
    frame, page = map_frame(visit), visit.page
    page.get_by_role("button", name="What the map shows").click()
    page.get_by_text("which rock lies there").click()
    _labels_are_right(frame, "geology", (-120, 100))
    for layer, (title, offset) in OVERLAYS.items():
        box_of = page.get_by_test_id("stCheckbox").filter(has_text=title)
        if not box_of.locator("input").is_checked():
            box_of.locator("label").click()
        else:  # the layer drawn last speaks first
            box_of.locator("label").click()
            page.wait_for_timeout(700)
            box_of.locator("label").click()
        _labels_are_right(frame, layer, offset)
    visit.nothing_ran()
    assert visit.map.locator("img.leaflet-tile-loaded").count() > 0
    assert visit.map.locator("canvas").count() >= 2
    figures["hostile words on the map"] = (
        f"{len(WORDS)} words in the labels of {len(OVERLAYS) + 1} layers, scripts run 0"
    )


def _labels_are_right(frame, layer, offset) -> None:
    """Point at every word's cell until the layer's label there begins with the word; the fetch takes a moment."""
    spots = [lonlat((x + offset[0], y + offset[1])) for x, y in map(middle, range(len(WORDS)))]
    wrong: list[tuple[str, str]] = []
    for _ in range(40):
        labels = frame.evaluate(LABELS, spots)
        wrong = [
            (label[:90], begins(layer, number))
            for number, label in enumerate(labels)
            if begins(layer, number) not in label
        ]
        if not wrong:
            return
        frame.page.wait_for_timeout(250)
    raise AssertionError((layer, len(wrong), wrong[:3]))


def _until_drawn(page) -> None:
    """Wait until the app's script has run to its end."""
    page.wait_for_timeout(200)
    page.locator('.stApp[data-test-script-state="notRunning"]').wait_for()


def _through_the_leaves(visit) -> str:
    """Return what all leaves of a list say."""
    page, told = visit.page, ""
    page.locator(".st-key-rows .cw-row").nth(5).wait_for()
    _until_drawn(page)
    older = page.get_by_role("button", name="Older →")
    while True:
        leaf = page.locator(".st-key-rows").text_content()
        told += leaf
        visit.nothing_ran()
        if not older.count() or older.is_disabled():
            return told
        older.click()
        page.wait_for_function(LEAF_TURNED, arg=leaf)
        _until_drawn(page)


def test_the_lists_show_their_words_as_they_are(visit, app, figures):
    page = visit.page
    page.get_by_text("The same sites as a table").click()
    page.locator(".cw-table").first.wait_for(state="attached")
    assert shown(NAME) in page.locator(".cw-name").text_content()
    sites = page.locator(".cw-table").first.text_content()
    assert sum(word in sites for word in SHOWN) >= 10
    visit.nothing_ran()
    page.get_by_role("link", name="Layers").click()
    page.locator(".cw-card").nth(10).wait_for()
    counts = page.evaluate(COUNTS, SHOWN)
    assert min(counts) >= len(LAYERS) - 1, sorted(zip(counts, SHOWN, strict=True))[:3]
    assert visit.missing([f"parcels {WORDS[3][:40]}, {WORDS[11]}; imported"]) == []
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    page.wait_for_timeout(300)
    visit.nothing_ran()
    page.get_by_role("link", name="Samples").click()
    page.get_by_text("What was dug").wait_for()
    told = _through_the_leaves(visit)
    assert [word for word in SHOWN if told.count(word) < 2] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 1280
    page.get_by_role("button", name="of the list", exact=False).last.click()
    page.locator(".cw-page h1").wait_for()
    assert page.locator(".cw-page").text_content().count(begins("samples", 0)) >= 5
    visit.nothing_ran()
    page.get_by_role("button", name="Change it").click()
    page.locator("textarea").first.wait_for()
    visit.nothing_ran()
    page.get_by_role("button", name="Put it away").click()
    page.get_by_role("button", name="Change it").wait_for()
    page.get_by_role("link", name="Permissions").click()
    page.get_by_text("Who gave leave for what").wait_for()
    told = _through_the_leaves(visit)
    assert [word for word in SHOWN if told.count(word) < 2] == []
    page.get_by_role("button", name="Open parcel", exact=False).first.click()
    page.get_by_text("All that was said").wait_for()
    visit.nothing_ran()
    page.get_by_role("link", name="What was done").click()
    page.locator(".cw-deeds li").first.wait_for()
    _until_drawn(page)
    visit.nothing_ran()
    deeds = page.locator(".cw-deeds").text_content()
    assert [word for number in range(12, 20) if (word := begins("geology", number)[:40]) not in deeds] == []
    figures["hostile words in the lists"] = (
        f"{len(WORDS)} words in the notes of {len(LAYERS) - 1} layers and in samples, leave and deeds, scripts run 0"
    )


REPORT_NAMES = """name => [...document.querySelectorAll('.st-key-adding .cw-land, .st-key-adding [role=alert]')]
  .some(part => part.textContent.includes(name))"""


def _put_on_the_shelf(page, kind: str, name: str, content: bytes) -> str:
    """Send a file on the Layers screen and return what is said of it."""
    page.get_by_role("link", name="Before you dig").click()  # the last file is put away
    page.get_by_text("Before you go").first.wait_for()
    page.get_by_role("link", name="Layers").click()
    page.get_by_label("What it holds").wait_for()
    _until_drawn(page)
    page.get_by_label("What it holds").click()
    page.get_by_role("option", name=kind, exact=False).first.click()
    page.locator('input[type="file"]').set_input_files(
        {"name": name, "mimeType": "application/octet-stream", "buffer": content}
    )
    page.get_by_test_id("stFileChip").first.wait_for()
    page.get_by_role("button", name="Read it").click()
    page.wait_for_function(REPORT_NAMES, arg=file_name(name)[:60])
    _until_drawn(page)  # the table of remarks follows the verdict
    return page.locator(".st-key-adding").text_content()


def test_what_is_said_of_hostile_files_is_only_said(visit, app, figures):
    page = visit.page
    # A table is text: what no text holds is taken out here, and met in the files of tests/hostile.
    words = [word for word in map(storable, WORDS) if word.isprintable() and len(word) < 1000]
    table = io.StringIO(newline="")
    writer = csv.writer(table)
    writer.writerow(["sample_id", "lon", "lat", "usable", "note", *words[:20]])
    for number, word in enumerate(words):
        writer.writerow([f"U{number}", csv_cell(word), "-47.6", *[csv_cell(word)] * 22])
    name = "<img src=x onerror=window.ran=1> {{7*191}} `${window.ran=1}` [a](javascript:b) $\\frac{ .csv"
    said = _put_on_the_shelf(page, "samples", name, table.getvalue().encode())
    absent = [word for word in words if plain(word) not in said]
    assert absent == []
    visit.nothing_ran()
    for name, content in (
        (f"{'W' * 250}.csv", b"sample_id,lon,lat\nV1,north,-47.6\n"),
        ("</script><script>window.ran=1</script>.gpx", b"<!DOCTYPE gpx [<!ENTITY e 'x'>]><gpx>&e;</gpx>"),
    ):
        said = _put_on_the_shelf(page, "samples", name, content)
        assert "The program itself failed" not in said
        visit.nothing_ran()
    output = app.said()
    assert "Traceback" not in output
    assert str(app.folder) not in output
    assert [word for word in words if len(word) > 12 and word in output] == []
    figures["hostile words in reports of files"] = (
        f"{len(words)} words in 6 fields and 20 headings, 3 file names, scripts run 0"
    )


def test_hostile_addresses_and_numbers_are_only_said(visit, app):
    page = visit.page
    page.get_by_text("Read a place by its numbers").click()
    for word in ("<img src=x onerror=window.ran=1>", "`${window.ran=1}`", "![x](https://evil.example/x.png)"):
        page.get_by_label("Latitude and longitude").fill(word)
        page.get_by_role("button", name="Read it").click()
        page.locator('.stHtml [role="alert"]').filter(has_text=word[:20]).wait_for()
        visit.nothing_ran()
    for path in (
        "%3Cimg%20src=x%20onerror=window.ran=1%3E",
        "?lat=%3Cscript%3Ewindow.ran=1%3C/script%3E&x={{7*191}}",
    ):
        page.goto(f"{app.address}/{path}")
        page.locator(".cw-name").wait_for(state="attached")
        page.wait_for_timeout(300)
        assert page.evaluate("window.ran === undefined")
        assert page.evaluate(FOREIGN_NODES) == []


INJECT = """() => {
  const heard = [];
  document.addEventListener('securitypolicyviolation', (event) => heard.push(event.effectiveDirective));
  const put = (text) => {
    const div = document.body.appendChild(document.createElement('div'));
    div.innerHTML = text;
    return div;
  };
  put('<img src="data:image/png;base64,!" onerror="window.broke=1">');
  put('<img src="https://evil.example/x.png">');
  put('<iframe src="https://evil.example/"></iframe><object data="https://evil.example/"></object>');
  put('<form action="https://evil.example/"><button>x</button></form>').querySelector('button').click();
  put('<a href="javascript:window.broke=1">x</a>').querySelector('a').click();
  const script = document.createElement('script');
  script.textContent = 'window.broke=1';
  document.body.appendChild(script);
  const far = document.createElement('script');
  far.src = 'https://evil.example/x.js';
  document.body.appendChild(far);
  const base = document.createElement('base'); base.href = 'https://evil.example/'; document.head.appendChild(base);
  // Out of the reach of the driver, which may evaluate what it likes.
  setTimeout(() => { try { (0, eval)('window.broke=1'); } catch (error) { heard.push('eval'); } }, 50);
  return fetch('https://evil.example/').catch(() => 0)
    .then(() => new Promise((done) => setTimeout(done, 700)))
    .then(() => [heard, window.broke === undefined, document.baseURI.includes('evil')]);
}"""
# What each attempt runs into (Content Security Policy Level 3, 6.1 and 6.3).
BLOCKED = {
    "script-src-attr", "img-src", "frame-src", "object-src", "form-action", "script-src-elem", "base-uri",
    "connect-src", "eval",
}  # fmt: skip


def _tried(page) -> None:
    heard, whole, moved = page.evaluate(INJECT)
    assert set(heard) >= BLOCKED, BLOCKED - set(heard)
    assert whole
    assert not moved


def test_the_policy_of_the_app_stops_what_would_slip_through(browser, app):
    context = browser.new_context()
    page = context.new_page()
    page.goto(app.address)
    page.frame_locator('iframe[title*="folium"]').locator("img.leaflet-tile-loaded").first.wait_for()
    _tried(page)
    frame = next(frame for frame in page.frames if "streamlit_folium" in frame.url)
    reached = "url => fetch(url).then(() => true, () => false)"
    assert not frame.evaluate(reached, "https://evil.example/")
    assert not frame.evaluate(reached, app.address.replace("127.0.0.1", "localhost"))
    context.close()


def test_a_word_of_5000_letters_does_not_break_the_page(browser, app):
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(app.address)
    page.frame_locator('iframe[title*="folium"]').locator("img.leaflet-tile-loaded").first.wait_for()
    page.locator(".cw-site").first.wait_for()
    for room in ("Ground map", "Layers", "Samples"):
        page.get_by_role("link", name=room).click()
        page.locator("h1, h2").first.wait_for()
        page.wait_for_timeout(600)
        page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
        assert page.evaluate("document.documentElement.scrollWidth") <= 390, room
        wide = "[...document.querySelectorAll('.stHtml *')].filter(e => e.getBoundingClientRect().right > 391).length"
        assert page.evaluate(wide) == 0, room
    context.close()


def every_card(word: str) -> str:
    """Return all the pieces that the screens are made of, with one word in every argument."""
    criterion = CriterionReading(word, word, word, 0.5, 0.5, 0.5, word, note=word, defining=True)
    part = replace(criterion, level=1, membership=None, share=None)
    gate = GateReading(word, word, 0.5, word, word)
    lead = ModelReading(word, word, 0.7, 0.7, 0.8, True, word, (criterion, part), (gate,), (word,))
    land = LandCheck("ask first", (word, word), (ParcelHit(word, word, 0.9, 3.0),), (word,))
    other = replace(lead, deposit="other", favourability=None, can_lead=False)
    report = GroundReport(
        0, 0, 0, 0, word, lead, (lead, other), (Fact(word, word, word),), land, (word,), (word,)
    )
    site = Site(1, word, 0.5, 0.5, 1.0, 0, 0, 0, 0, word, 1.0, 1.0, (word, word), word, (word,))
    there = LayerState(word, word, present=True, source=word, counts={"read": 1}, notes=(word,))
    sample = Sample(word, 0, 0, word, 3.0, 20, 60, word, "yes", 0.5, word, {word: word})
    leave = Permission(
        word, "granted", "dig", word, word, word, conditions=word, note=word, recorded="2026-05-01"
    )
    log = IssueLog(word, word, issues=[Issue("error", word, word, word, word, word, word)])
    return "".join(
        (
            spot_page(report),
            spot_page(replace(report, lead=None)),
            site_card(site, word, "metric", chosen=True),
            sites_as_text((site,), {word: word}, "us"),
            layer_card(there),
            layer_card(LayerState(word, word, present=False, costs=word, where=(word,))),
            reading_report(log),
            map_key("rocks", (Key(word, "#123456", "patch", word),), hatched=True),
            sample_row(sample, "metric"),
            sample_page(sample, "us"),
            pending_card(Pending("sample 1", word, {"name": word, "of": word})),
            *(parcel_row(row, names_people=True) for row in parcel_rows((leave,), "2026-05-02")),
            standing_card((leave,), word, "2026-05-02"),
            ledger_list((leave,), "metric", names_people=True),
            reminders_card((word,)),
        )
    )


def test_every_piece_of_the_screens_shows_every_word(browser, tmp_path, figures):
    path = tmp_path / "cards.html"
    pieces = "".join(f"<section>{every_card(storable(word))}</section>" for word in WORDS)
    path.write_text(f'<!doctype html><meta charset="utf-8"><body>{pieces}</body>', encoding="utf-8")
    context = browser.new_context(offline=True)
    witness = Witness(context.new_page(), ("file:",))
    witness.page.goto(path.as_uri())
    counts = witness.page.evaluate(
        "words => [...document.querySelectorAll('body > section')]"
        ".map((piece, number) => piece.textContent.split(words[number]).length - 1)",
        SHOWN,
    )
    assert len(counts) == len(WORDS)
    assert min(counts) >= 60, sorted(zip(counts, SHOWN, strict=True))[:3]
    witness.nothing_ran()
    context.close()
    figures["hostile words in every piece of a screen"] = (
        f"{len(WORDS)} words, each shown at least {min(counts)} times in 15 pieces, scripts run 0"
    )

"""Every hostile word in every field of what is shared, for every audience: read back strictly, opened in a browser."""

from __future__ import annotations

import csv
import html
import io
import json
import re
import zipfile
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from defusedxml import ElementTree
from pypdf import PdfReader
from shapely.geometry import box

from prospect.grid import Grid, Raster
from prospect.layerfile import LayerSource
from prospect.records import (
    CriterionReading,
    Fact,
    GateReading,
    GroundReport,
    LandCheck,
    ModelReading,
    ParcelHit,
    Sample,
    Site,
)
from prospect.share import (
    EXCHANGE_SUFFIXES,
    Audience,
    FieldMapContent,
    Request,
    letter_sheet,
    parcel_view,
    slip_sheet,
    write_exchange,
    write_field_map,
)
from prospect.text import plain, read_csv_cell

WORDS = [
    item["text"]
    for item in json.loads((Path(__file__).parents[1] / "hostile_words.json").read_text(encoding="utf-8"))
]
WORDS_IN_FULL = [plain(word, 2000) for word in WORDS]
CELL, ACROSS = 25.0, 10
PARCEL_OF_AN_OWNER = 3


def storable(word: str) -> str:
    """Return a word as a layer's file can hold it: no NUL, no half of a surrogate pair."""
    return "".join(char for char in word if char != "\0" and not 0xD800 <= ord(char) < 0xE000)


def spread() -> FieldMapContent:
    """A ground with a parcel, a site, a sample, a model and a layer for each word, which stands in all their fields."""
    down = -(-len(WORDS) // ACROSS)
    grid = Grid(12 * down, 12 * ACROSS, 500_000.0, 5_000_000.0, CELL, "EPSG:32633")
    rows, cols = np.mgrid[: grid.rows, : grid.cols]
    best = Raster.of(0.5 + 0.4 * np.sin(rows / 9) * np.cos(cols / 11), grid, "1", WORDS[3])
    cells, sites, readings, samples = [], [], {}, []
    for number, word in enumerate(WORDS):
        west, north = grid.west + (number % ACROSS) * 300, grid.north - (number // ACROSS) * 300
        cells.append(box(west, north - 300, west + 300, north))
        x, y = west + 150.0, north - 150.0
        lon, lat = grid.to_lonlat(x, y)
        rank = number + 1
        sites.append(
            Site(
                rank,
                f"m{number}",
                0.9,
                0.8,
                1.0,
                lon,
                lat,
                x,
                y,
                word,
                6.0,
                12.0,
                (storable(word),),
                word,
                (word,),
            )
        )
        readings[rank] = _report(lon, lat, f"m{number}", word)
        lon, lat = grid.to_lonlat(x + 90, y + 90)
        samples.append(Sample(word, lon, lat, word, 3.0, 20, 60, word, "yes", 0.5, word, {word: word}))
    words = [storable(word) for word in WORDS]
    return FieldMapContent(
        name=" ¦ ".join(word[:30] for word in WORDS),
        grid=grid,
        best=best,
        favourability={f"m{number}": best for number in range(len(WORDS))},
        titles={f"m{number}": word for number, word in enumerate(WORDS)},
        sites=tuple(sites),
        outlines=gpd.GeoDataFrame(
            {"site": [site.site for site in sites]},
            geometry=[
                box(site.easting - 60, site.northing - 60, site.easting + 60, site.northing + 60)
                for site in sites
            ],
            crs=grid.crs,
        ),
        completeness=best,
        readings=readings,
        parcels=gpd.GeoDataFrame({"parcel_id": words, "owner": words}, geometry=cells, crs=grid.crs),
        samples=tuple(samples),
        layers=tuple(LayerSource("geology", word, "2026-05-02", word, word, vintage=word) for word in WORDS),
        attributions=tuple(WORDS),
        missing=tuple(WORDS),
        made_on=WORDS[3],
    )


def _report(lon: float, lat: float, deposit: str, word: str) -> GroundReport:
    criterion = CriterionReading("rock", word, word, 0.9, 0.6, 0.7, word, word, defining=True)
    lead = ModelReading(
        deposit,
        word,
        0.8,
        0.8,
        0.8,
        True,
        word,
        (criterion,),
        (GateReading("g", word, 0.8, word, word),),
        (word,),
    )
    land = LandCheck("ask first", (word, word), (ParcelHit(word, word, 1.0, 40.0),), (word,))
    return GroundReport(
        lon, lat, 0, 0, word, lead, (lead,), (Fact(word, word, word),), land, (word,), (word,)
    )


CONTENT = spread()
AUDIENCES = {
    "self": Audience("self"),
    "helper": Audience("helper"),
    "owner": Audience("owner", storable(WORDS[PARCEL_OF_AN_OWNER])),
    "public": Audience(),
}


@pytest.fixture(scope="module", params=AUDIENCES)
def shared(request, tmp_path_factory):
    """Return who a ground was shared for and the folder with it in every form."""
    folder = tmp_path_factory.mktemp(request.param)
    for suffix in EXCHANGE_SUFFIXES:
        write_exchange(folder / f"a{suffix}", CONTENT, AUDIENCES[request.param])
    return request.param, folder


def seen(who: str, everything: list[str]) -> list[str]:
    """Return what of a list by parcel an audience may see: an owner their own parcel's, the public nothing."""
    return {"owner": everything[PARCEL_OF_AN_OWNER : PARCEL_OF_AN_OWNER + 1], "public": []}.get(
        who, everything
    )


def test_csv_holds_no_formula_and_gives_the_words_back(shared):
    who, folder = shared
    raw = (folder / "a.csv").read_bytes().decode("utf-8")
    rows = list(csv.DictReader(io.StringIO(raw, newline="")))
    # The signs that begin a formula: OWASP, "CSV Injection".
    assert not [
        cell
        for row in rows
        for cell in row.values()
        if cell[:1] in tuple("=+-@\t\r\0＝＋－＠") and not _number(cell)
    ]
    titles = WORDS_IN_FULL[PARCEL_OF_AN_OWNER : PARCEL_OF_AN_OWNER + 1] if who == "owner" else WORDS_IN_FULL
    assert [read_csv_cell(row["deposit_title"]) for row in rows] == titles
    # The public is told the kind of rock that a comparison is about, and no parcel.
    assert [read_csv_cell(row["rock"]) for row in rows] == (WORDS_IN_FULL if who == "public" else titles)
    parcels = [plain(storable(word), 2000) for word in WORDS]
    assert [text for row in rows if (text := read_csv_cell(row["parcels"]))] == seen(who, parcels)


def _number(cell: str) -> bool:
    return re.fullmatch(r"-?[\d.]+(e-?\d+)?", cell) is not None


def test_geojson_is_strict_and_gives_the_words_back(shared):
    who, folder = shared

    def refuse(constant):
        raise ValueError(f"{constant} is not JSON")  # RFC 8259, 6

    content = json.loads((folder / "a.geojson").read_bytes().decode("utf-8"), parse_constant=refuse)
    told = [feature["properties"] for feature in content["features"]]
    sites = [item for item in told if item["kind"] == "site"]
    titles = WORDS_IN_FULL[PARCEL_OF_AN_OWNER : PARCEL_OF_AN_OWNER + 1] if who == "owner" else WORDS_IN_FULL
    assert [item["deposit_title"] for item in sites] == titles
    samples = [item for item in told if item["kind"] == "sample"]
    assert [item["note"] for item in samples] == (WORDS_IN_FULL if who in ("self", "helper") else [])
    assert [item["sample_id"] for item in samples] == [item["note"] for item in samples]


@pytest.mark.parametrize("suffix", ["gpx", "kml", "kmz"])
def test_xml_is_strict_and_gives_the_words_back(shared, suffix):
    who, folder = shared
    path = folder / f"a.{suffix}"
    raw = zipfile.ZipFile(path).read("doc.kml") if suffix == "kmz" else path.read_bytes()
    root = ElementTree.fromstring(raw, forbid_dtd=True)
    space = root.tag[: root.tag.index("}") + 1]
    assert {node.tag.removeprefix(space) for node in root.iter()} <= KNOWN_TAGS
    names = [node.text or "" for node in root.iter(f"{space}name")]
    titles = WORDS_IN_FULL[PARCEL_OF_AN_OWNER : PARCEL_OF_AN_OWNER + 1] if who == "owner" else WORDS_IN_FULL
    if suffix == "gpx":
        kinds = [node.text for node in root.iter(f"{space}type")]
        assert kinds[: len(titles)] == titles
        told = [node.text or "" for node in root.iter(f"{space}desc")]
    else:
        wanted = [plain(f"Site {rank}: {title}", 2000) for rank, title in _ranked(who, titles)]
        assert [name for name in names if name.startswith("Site ")] == wanted
        # A viewer reads a description as HTML.
        told = [html.unescape(node.text or "") for node in root.iter(f"{space}description")]
        assert not [node.text for node in root.iter(f"{space}description") if "<" in (node.text or "")]
    if who in ("self", "helper"):
        samples = told[len(titles) :]
        assert samples == WORDS_IN_FULL
        before = "" if suffix == "gpx" else "Sample "
        assert names[-len(WORDS) :] == [plain(f"{before}{word}", 2000) for word in WORDS]


KNOWN_TAGS = {
    "gpx", "metadata", "name", "wpt", "desc", "type", "kml", "Document", "Style", "LineStyle", "PolyStyle", "color",
    "width", "fill", "Folder", "Placemark", "description", "styleUrl", "Point", "coordinates", "MultiGeometry",
    "Polygon", "outerBoundaryIs", "innerBoundaryIs", "LinearRing",
}  # fmt: skip


def _ranked(who, titles):
    return [(PARCEL_OF_AN_OWNER + 1, titles[0])] if who == "owner" else list(enumerate(titles, start=1))


def test_geopackage_gives_the_words_back(shared):
    who, folder = shared
    titles = WORDS_IN_FULL[PARCEL_OF_AN_OWNER : PARCEL_OF_AN_OWNER + 1] if who == "owner" else WORDS_IN_FULL
    assert list(gpd.read_file(folder / "a.gpkg", layer="sites")["deposit_title"]) == titles
    if who == "public":
        return
    parcels = gpd.read_file(folder / "a.gpkg", layer="parcels")
    whole = [plain(storable(word), 2000) for word in WORDS]
    assert list(parcels["parcel_id"]) == seen(who, whole)
    if who != "owner":
        assert list(parcels["owner"]) == whole
        samples = gpd.read_file(folder / "a.gpkg", layer="samples")
        for column in ("sample_id", "hole_id", "date", "note"):
            assert list(samples[column]) == WORDS_IN_FULL, column


def test_geotiff_opens_and_holds_no_word(shared):
    who, folder = shared
    with rasterio.open(folder / "a.tif") as source:
        assert source.read(1).size > 0
        said = repr((source.tags(), source.descriptions))
    assert who in ("self", "helper") or "onerror" not in said


@pytest.mark.slow
def test_every_parcel_s_owner_can_be_given_a_copy(tmp_path, figures):
    for number, word in enumerate(WORDS):
        audience = Audience("owner", storable(word))
        for suffix in (".csv", ".gpx"):
            write_exchange(tmp_path / f"{number}{suffix}", CONTENT, audience)
        root = ElementTree.parse(tmp_path / f"{number}.gpx", forbid_dtd=True).getroot()
        assert plain(word, 60).removesuffix("…") in "".join(root.itertext())
    figures["hostile words as parcels"] = f"{len(WORDS)} owners' copies in 2 forms, all read back"


@pytest.mark.slow
def test_letters_and_slips_are_set_from_any_word(figures):
    """Every word stands somewhere on a sheet; nothing in the file is active, and no word is taken for anything else."""
    every, sheets = 4, 0
    for number in range(0, len(WORDS), every):
        texts = [plain(WORDS[(number + k) % len(WORDS)], 80) for k in range(6)]
        writer, owner, place, tools, note, use = texts
        request = Request((writer,), (owner,), place, tools=tools, note=note, clay_use=use)
        view = parcel_view(CONTENT.parcels, storable(WORDS[number]), source=CONTENT.layers[number])
        make = letter_sheet if number % (3 * every) else slip_sheet
        pdf = make(view, request, units="metric", made_on="2026-05-02").pdf
        reader = PdfReader(io.BytesIO(pdf), strict=True)
        assert len(reader.pages) == 1
        # ISO 32000-1, 12.6: nothing in the file acts; 12.3.2.2: it opens with a view of its page.
        bare = re.sub(rb"stream\r?\n.*?endstream", b"", pdf, flags=re.DOTALL)
        assert not re.search(rb"/(JavaScript|JS|AA|Launch|URI|EmbeddedFile)\b", bare)
        assert reader.trailer["/Root"].get("/OpenAction", ["", "/FitH"])[1] == "/FitH"
        if make is letter_sheet:
            said = re.sub(r"\s+", "", reader.pages[0].extract_text())
            ours = [text for text in (tools, note, use) if text.isascii()]
            assert [text for text in ours if re.sub(r"\s+", "", text) not in said] == []
        sheets += 1
    figures["hostile words on paper"] = f"{sheets} letters and slips with every word, nothing active in them"


FOREIGN_NODES = """() => {
  const strange = (a) => (a.name.startsWith('on') && a.value.includes('ran')) || a.name === 'srcdoc' ||
    (['src', 'href', 'action'].includes(a.name) && /^(javascript:|x$|x.png|https?:)/i.test(a.value.trim()));
  return [...document.querySelectorAll('*')]
    .filter((node) => [...node.attributes].some(strange) ||
      (node.tagName === 'SCRIPT' && /^\\s*window.ran/.test(node.textContent)))
    .map((node) => node.outerHTML.slice(0, 200));
}"""
POPUPS = """async selector => {
  const said = [];
  for (const mark of document.querySelectorAll(selector)) {
    mark.dispatchEvent(new MouseEvent('click', { bubbles: true }));
    await new Promise(done => setTimeout(done, 15));
    said.push([...document.querySelectorAll('.leaflet-popup-content')].map(p => p.textContent).join(' '));
  }
  return said;
}"""
INJECT = """() => {
  const heard = [];
  document.addEventListener('securitypolicyviolation', (event) => heard.push(event.effectiveDirective));
  const put = (text) => {
    const div = document.body.appendChild(document.createElement('div'));
    div.innerHTML = text;
    return div;
  };
  put('<img src="data:image/png;base64,!" onerror="window.broke=1">');
  put('<img src="https://evil.example/x.png"><iframe src="https://evil.example/"></iframe>');
  put('<form action="https://evil.example/"><button>x</button></form>').querySelector('button').click();
  put('<p style="color:red">x</p>');
  const script = document.createElement('script');
  script.textContent = 'window.broke=1';
  document.body.appendChild(script);
  setTimeout(() => { try { (0, eval)('window.broke=1'); } catch (error) { heard.push('eval'); } }, 20);
  return fetch('https://evil.example/').catch(() => 0)
    .then(() => new Promise((done) => setTimeout(done, 400))).then(() => [heard, window.broke === undefined]);
}"""


@pytest.mark.e2e
@pytest.mark.parametrize("who", AUDIENCES)
def test_the_field_map_shows_every_word_and_runs_none(browser, tmp_path, figures, who):
    path = tmp_path / "map.html"
    write_field_map(path, CONTENT, AUDIENCES[who])
    context = browser.new_context(viewport={"width": 1280, "height": 900}, offline=True)
    page = context.new_page()
    page.set_default_timeout(30_000)
    asked: list[str] = []
    complaints: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda line: line.type == "error" and complaints.append(line.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("dialog", lambda dialog: complaints.append(dialog.message) or dialog.dismiss())
    page.goto(path.as_uri())
    page.wait_for_selector("html[data-ready=yes]")
    begun = [plain(word, 70).removesuffix("…") for word in WORDS]
    counts = page.evaluate(
        "words => words.map(word => document.body.textContent.split(word).length - 1)",
        begun,
    )
    assert min(counts) >= 1, sorted(zip(counts, begun, strict=True))[:3]
    ranks = [PARCEL_OF_AN_OWNER] if who == "owner" else range(len(WORDS))
    if who in ("self", "helper"):
        for number in ranks:
            item = page.locator(f"#site-{number + 1}").evaluate("node => node.textContent")
            assert item.count(begun[number]) >= 8, (number, item[:300])
        notes = page.evaluate(POPUPS, ".spot")
        assert [text for text, word in zip(notes, begun, strict=True) if text.count(word) < 2] == []
    popups = page.evaluate(POPUPS, ".badge")
    assert len(popups) == len(ranks)
    if who != "public":
        assert [
            text[:90] for text, number in zip(popups, ranks, strict=True) if begun[number][1:] not in text
        ] == []
    assert page.locator("img.sheet").count() >= 1
    assert page.evaluate("[...document.querySelectorAll('img.sheet')].every(i => i.naturalWidth > 0)")
    assert page.evaluate("window.ran === undefined")
    assert page.evaluate(FOREIGN_NODES) == []
    assert [url for url in asked if not url.startswith(("file:", "data:", "blob:"))] == []
    assert complaints == []
    for width in (1280, 390):
        page.set_viewport_size({"width": width, "height": 844})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    policy = page.locator("meta[http-equiv=Content-Security-Policy]").get_attribute("content")
    assert policy.startswith("default-src 'none';")
    assert "unsafe" not in policy
    heard, whole = page.evaluate(INJECT)
    # What each attempt runs into (Content Security Policy Level 3, 6.1).
    assert set(heard) >= {
        "script-src-attr",
        "script-src-elem",
        "img-src",
        "frame-src",
        "form-action",
        "connect-src",
        "style-src-attr",
        "eval",
    }
    assert whole
    context.close()
    figures[f"hostile words in the field map for {who}"] = (
        f"{len(WORDS)} words in every field, shown {sum(counts)} times, scripts run 0"
    )

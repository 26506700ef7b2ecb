from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import shapely
from scipy import ndimage

from prospect.grid import Grid, Raster
from prospect.records import (
    CriterionReading,
    GateReading,
    GroundReport,
    LandCheck,
    ModelReading,
    Sample,
    Site,
)
from prospect.share import Audience, FieldMapContent, write_field_map

pytestmark = pytest.mark.e2e

# One string with everything that runs somewhere when it is not encoded: markup, script ends, template literals,
# page templates, attribute breaks, entity tricks, direction changes.
HOSTILE = (
    "</script><script>window.bad=1</script><img src=x onerror=window.bad=1>`${window.bad=1}`{{7*191}}{% if %}"
    "\" onmouseover='window.bad=1' x=\" &#60;b&#62; \u202egnp\u202c <!-- ]]> \\"
)
TITLES = {
    "residual": "Residual (primary) clay",
    "valley_fill": "Valley-fill (alluvial) clay",
    "lake_bed": "Lake-bed clay",
    "mudrock": "Weathered shale (mudrock)",
}
SIZES = [(1280, 900), (390, 844)]


def invented_ground(rows: int = 300, cols: int = 360, hostile: str = "") -> FieldMapContent:
    """An invented ground: hills, a stream, four deposit models, sites cut from the headline, parcels, samples."""
    grid = Grid(rows, cols, 412_000.0, 4_655_000.0, 20.0, "EPSG:32616")
    rng = np.random.default_rng(7)
    rough = sum(
        ndimage.gaussian_filter(rng.standard_normal(grid.shape), s, mode="reflect") * s**1.6
        for s in (4, 12, 36)
    )
    height = (rough - rough.min()) / (rough.max() - rough.min()) * 160
    shade = _shade(height, grid.cell_m)
    smooth = {
        key: _unit(ndimage.gaussian_filter(rng.standard_normal(grid.shape), 14 + 4 * k))
        for k, key in enumerate(TITLES)
    }
    smooth["residual"] = _unit(smooth["residual"] + height / 160)
    smooth["valley_fill"] = _unit(smooth["valley_fill"] + 1 - height / 160)
    models = {key: Raster.of(value, grid, "1", "invented") for key, value in smooth.items()}
    lake = (np.hypot(*np.meshgrid(np.arange(cols) - cols * 0.7, np.arange(rows) - rows * 0.75)) < 30).T.T
    best = np.max(list(smooth.values()), axis=0)
    best[lake] = np.nan
    completeness = _unit(ndimage.gaussian_filter(rng.standard_normal(grid.shape), 30)) * 0.9 + 0.1
    sites, outlines, readings = _sites(grid, best, smooth, hostile)
    return FieldMapContent(
        name=hostile or "Fennick Hollow",
        grid=grid,
        best=Raster.of(best, grid, "1", "invented"),
        favourability=models,
        titles={key: hostile or title for key, title in TITLES.items()} if hostile else TITLES,
        sites=sites,
        outlines=outlines,
        hillshade=Raster.of(shade, grid, "1", "invented"),
        completeness=Raster.of(completeness, grid, "1", "invented"),
        readings=readings,
        parcels=_parcels(grid, hostile),
        samples=_samples(grid, hostile),
        attributions=(hostile or "Geologic map of Fennick county, 1:24,000, 1998, public domain.",),
        missing=(hostile or "No wetland map: wet ground is not taken out, and the score cannot warn of it.",),
        made_on="2026-05-02",
    )


def _unit(values: np.ndarray) -> np.ndarray:
    return (values - values.min()) / (values.max() - values.min())


def _shade(height: np.ndarray, cell: float) -> np.ndarray:
    down, right = np.gradient(height, cell)
    slope, aspect = np.arctan(3 * np.hypot(down, right)), np.arctan2(down, -right)
    lit = np.sin(np.pi / 4) * np.cos(slope) + np.cos(np.pi / 4) * np.sin(slope) * np.cos(
        3 * np.pi / 4 - aspect
    )
    return np.clip(lit, 0, 1) * 255


def _sites(grid: Grid, best: np.ndarray, models: dict[str, np.ndarray], hostile: str):
    keys = list(models)
    labels, count = ndimage.label(np.nan_to_num(best) > 0.82)
    rows = []
    for label in range(1, count + 1):
        cells = np.argwhere(labels == label)
        if len(cells) < 40:
            continue
        shape = shapely.union_all([_cell(grid, *cell) for cell in cells])
        top = cells[np.argmax(best[tuple(cells.T)])]
        rows.append((float(best[labels == label].mean()), shape, top))
    rows.sort(key=lambda row: -row[0])
    sites, shapes, readings = [], [], {}
    for rank, (value, shape, top) in enumerate(rows[:9], start=1):
        easting, northing = grid.xy(*top)
        lon, lat = grid.to_lonlat(easting, northing)
        deposit = keys[int(np.argmax([models[key][tuple(top)] for key in keys]))]
        sites.append(
            Site(
                rank,
                deposit,
                value,
                0.83 - 0.05 * rank,
                shape.area / 1e4,
                lon,
                lat,
                easting,
                northing,
                hostile or "Hollin granite",
                6.0,
                14.0,
                ("014-07",),
                "not asked",
                (hostile,) if hostile else (),
            )
        )
        shapes.append(shape)
        readings[rank] = _report(lon, lat, deposit, value, hostile)
    frame = gpd.GeoDataFrame({"site": range(1, len(shapes) + 1)}, geometry=shapes, crs=grid.crs)
    return tuple(sites), frame, readings


def _cell(grid: Grid, row: int, col: int):
    x, y = grid.xy(row, col)
    half = grid.cell_m / 2
    return shapely.box(x - half, y - half, x + half, y + half)


def _report(lon: float, lat: float, deposit: str, value: float, hostile: str) -> GroundReport:
    criteria = (
        CriterionReading(
            "rock",
            hostile or "Rock that weathers to clay",
            "granite",
            0.95,
            0.34,
            0.41,
            hostile or "Geologic map, 1998",
            defining=True,
        ),
        CriterionReading("slope", "Slope", "6 %", 0.88, 0.2, 0.24, "Elevation, 2021"),
        CriterionReading("position", "Place on the hill", "flat upland", 0.9, 0.19, 0.22, "Elevation, 2021"),
        CriterionReading(
            "soil", "What the soil survey says", "not known", None, 0.27, None, "", "no soil layer"
        ),
    )
    lead = ModelReading(
        deposit,
        TITLES[deposit],
        value,
        value - 0.03,
        0.73,
        True,
        "",
        criteria,
        (GateReading("water", "Open water near", 0.8, hostile or "A pond 40 m away.", "Water, 2020"),),
        (hostile or "High iron is likely: fires red.",),
    )
    sentence = hostile or (
        "Good ground for residual (primary) clay: granite weathered in place, 6 % slope, high and dry. "
        "Not known: how deep."
    )
    land = LandCheck(
        "ask first",
        (hostile or "No permission is on record for parcel 014-07: ask the owner first.",),
        (),
        (),
    )
    return GroundReport(lon, lat, 0.0, 0.0, sentence, lead, (lead,), (), land)


def _parcels(grid: Grid, hostile: str) -> gpd.GeoDataFrame:
    box = grid.bounds
    xs, ys = np.linspace(box.west, box.east, 7), np.linspace(box.south, box.north, 6)
    shapes = [shapely.box(xs[i], ys[j], xs[i + 1], ys[j + 1]) for i in range(6) for j in range(5)]
    ids = [f"014-{k:02d}" for k in range(len(shapes))]
    return gpd.GeoDataFrame(
        {"parcel_id": ids, "owner": [hostile or f"Ottoline Brackwater {k}" for k in range(len(ids))]},
        geometry=shapes,
        crs=grid.crs,
    )


def _samples(grid: Grid, hostile: str) -> tuple[Sample, ...]:
    samples = []
    for k, usable in enumerate(("yes", "no", "unknown", "yes", "no")):
        lon, lat = grid.to_lonlat(*grid.xy(60 + 40 * k, 60 + 50 * k))
        samples.append(
            Sample(
                f"S{k}",
                lon,
                lat,
                top_cm=30,
                bottom_cm=60,
                date="2026-04-11",
                usable=usable,
                note=hostile or "blue-grey, coils well",
            )
        )
    return tuple(samples)


@pytest.fixture(scope="module")
def own_map(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("map") / "own.html"
    write_field_map(path, invented_ground(), Audience("self"))
    return path


@pytest.fixture(scope="module")
def hostile_map(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("map") / "hostile.html"
    write_field_map(path, invented_ground(120, 140, hostile=HOSTILE), Audience("helper"))
    return path


class Visit:
    """One page opened offline, with everything it asked for and complained about."""

    def __init__(self, browser, path: Path, width: int, height: int, scheme: str = "light") -> None:
        self.context = browser.new_context(
            viewport={"width": width, "height": height}, offline=True, color_scheme=scheme
        )
        self.page = self.context.new_page()
        self.page.set_default_timeout(20_000)
        self.requests: list[str] = []
        self.complaints: list[str] = []
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.on(
            "console", lambda line: line.type in ("error", "warning") and self.complaints.append(line.text)
        )
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.goto(path.as_uri())
        self.page.wait_for_selector("html[data-ready=yes]")

    def __enter__(self) -> Visit:
        return self

    def __exit__(self, *_: object) -> None:
        self.context.close()

    def outside(self) -> list[str]:
        return [url for url in self.requests if not url.startswith(("file:", "data:", "blob:"))]

    def files(self) -> list[str]:
        return [url for url in self.requests if url.startswith("file:")]


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_opens_offline_without_asking_for_anything(browser, own_map, width, height):
    with Visit(browser, own_map, width, height) as visit:
        visit.page.wait_for_timeout(600)
        assert visit.outside() == []
        assert visit.files() == [own_map.as_uri()]
        assert visit.complaints == []
        assert visit.page.locator(".leaflet-container").is_visible()
        assert visit.page.locator("img.sheet").count() >= 2
        shown = visit.page.evaluate(
            "[...document.querySelectorAll('img.sheet')].every(i => i.naturalWidth > 0)"
        )
        assert shown


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_nothing_is_wider_than_the_screen(browser, own_map, width, height):
    with Visit(browser, own_map, width, height) as visit:
        assert visit.page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_tap_reads_the_ground(browser, own_map):
    with Visit(browser, own_map, 1280, 900) as visit:
        visit.page.locator("label", has_text="Sites").locator("input").uncheck()
        visit.page.locator("label", has_text="Samples").locator("input").uncheck()
        visit.page.wait_for_timeout(300)
        visit.page.locator("#map").click(position={"x": 330, "y": 300})
        text = visit.page.locator(".leaflet-popup-content").inner_text()
        assert "worth a look" in text.lower() or "long shot" in text.lower()
        assert "about 0." in text
        assert "what matters is known" in text or "too little" in text.lower()
        assert "Ottoline Brackwater" in text
        assert visit.complaints == []


def test_the_list_leads_to_the_map_and_back(browser, own_map):
    with Visit(browser, own_map, 390, 844) as visit:
        visit.page.locator("button[data-site='2']").click()
        visit.page.locator(".leaflet-popup-content").get_by_text("Read why").click()
        assert visit.page.locator("#site-2 details").get_attribute("open") is not None
        assert visit.complaints == []


def test_another_kind_of_clay_can_be_chosen(browser, own_map):
    with Visit(browser, own_map, 1280, 900) as visit:
        before = visit.page.locator(".leaflet-colours-pane img").get_attribute("src")
        visit.page.locator("#looking-for").select_option("mudrock")
        after = visit.page.locator(".leaflet-colours-pane img").get_attribute("src")
        assert before != after
        assert visit.page.locator(".leaflet-colours-pane img").count() == 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_can_be_read_in_both_themes(browser, own_map, scheme):
    # Web Content Accessibility Guidelines 2.2, success criterion 1.4.3: contrast of 4.5:1 for body text.
    with Visit(browser, own_map, 1280, 900, scheme) as visit:
        for selector in (".site .worth", ".site .small", "summary", ".made", ".lead"):
            ratio = visit.page.evaluate(CONTRAST, selector)
            assert ratio >= 4.5, (selector, ratio)


def test_hostile_text_is_shown_and_never_run(browser, hostile_map):
    with Visit(browser, hostile_map, 1280, 900) as visit:
        visit.page.locator("button[data-site='1']").click()
        visit.page.wait_for_timeout(200)
        visit.page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
        visit.page.locator(".spot").first.dispatch_event("click")
        visit.page.locator("#map").click(position={"x": 200, "y": 420})
        visit.page.wait_for_timeout(200)
        assert visit.page.evaluate("window.bad") is None
        assert visit.page.locator("img[src=x]").count() == 0
        assert visit.complaints == []
        assert visit.outside() == []
        told = visit.page.locator("#site-1 .reason").inner_text()
        assert "</script><script>window.bad=1</script>" in told
        assert "{{7*191}}" in told
        assert "`${window.bad=1}`" in told


CONTRAST = """selector => {
  const rgb = text => text.match(/[\\d.]+/g).slice(0, 3).map(Number);
  const light = c => { const v = c.map(k => { k /= 255; return k <= .03928 ? k / 12.92 : ((k + .055) / 1.055) ** 2.4 });
    return .2126 * v[0] + .7152 * v[1] + .0722 * v[2]; };
  const text = light(rgb(getComputedStyle(document.querySelector(selector)).color));
  const ground = light(rgb(getComputedStyle(document.body).backgroundColor));
  return (Math.max(text, ground) + .05) / (Math.min(text, ground) + .05);
}"""

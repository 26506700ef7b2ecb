"""Bars made, dried, fired and boiled on a phone in a real browser, loaded anew in between; photos find holes."""

from __future__ import annotations

import io
import shutil

import pytest
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from prospect.pipeline.log_photos import photo_names
from prospect.records import Hole, LogBook, Sample
from prospect.store import Ground

playwright_api = pytest.importorskip("playwright.sync_api", reason="the Python package playwright is missing")

expect = playwright_api.expect
pytestmark = [pytest.mark.e2e, pytest.mark.slow]

PATIENCE_MS = 20_000
LON, LAT = -128.991, -47.5285
NAMES = ("C1-a", "C1-b", "C1-c", "C1-d")
STAGES = {
    "Made": {"Between the marks, when made (mm)": ("100", "100", "100", "100")},
    "Bone-dry": {"Between the marks, bone-dry (mm)": ("94", "94.2", "93,9", "94")},
    "Fired": {
        "Cone that went down": ("06", "06", "02", "02"),
        "Between the marks, fired (mm)": ("92", "92.1", "90", "90.2"),
    },
    "Boiled": {
        "Weight, fired and dry (g)": ("50", "50", "50", "50"),
        "Weight after boiling, wiped (g)": ("57", "57", "55", "55"),
    },
}


@pytest.fixture(scope="module")
def folder(small_ground, tmp_path_factory):
    """A ground that the test may change, with a hole and a sample."""
    folder = tmp_path_factory.mktemp("grounds") / "bench"
    shutil.copytree(small_ground, folder, ignore=shutil.ignore_patterns("derived", "records.lock"))
    hole = Hole("H1", LON, LAT, "auger", position_error_m=5.0, date="2026-05-02")
    ground = Ground.open(folder)
    ground.add_log(LogBook(holes=(hole,), samples=(Sample("C1", LON, LAT, hole_id="H1"),)))
    return folder


@pytest.fixture(scope="module")
def address(folder, serve, tmp_path_factory):
    """Address of the running app."""
    with serve(folder, tmp_path_factory.mktemp("output") / "app.txt") as running:
        yield running


@pytest.fixture
def page(browser):
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    context.route("**/*.woff2", lambda route: route.abort())  # letters of another face come up sooner
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    yield page
    context.close()


def write(page, label, texts):
    """Type one text into each bar's field of a name."""
    for number, text in enumerate(texts):
        box = page.get_by_label(label, exact=True).nth(number)
        box.fill(text)
        page.keyboard.press("Tab")
        expect(box).to_have_value(text)


def press(page, words, **more):
    page.get_by_role("button", name=words, exact=True, **more).first.tap()


def open_sample(page, address):
    """Open the page of sample C1."""
    page.goto(f"{address}/samples")
    rows = page.locator(".cw-row:not(.cw-row-head)")
    rows.filter(has_text="C1").first.wait_for()
    at = next(place for place, text in enumerate(rows.all_inner_texts(), 1) if text.startswith("C1"))
    press(page, f"Open sample {at} of the list")


def test_bars_go_through_their_stages_and_the_clay_speaks(page, address, folder):
    open_sample(page, address)
    press(page, "Make bars")
    for stage, fields in STAGES.items():
        page.get_by_role("heading", name=stage, exact=True).wait_for()
        if stage == "Made":
            write(page, "Name, as scratched into it", NAMES)
        for label, texts in fields.items():
            write(page, label, texts)
            page.locator(".st-key-entry").get_by_text("Kept as a draft at").first.wait_for()
            page.wait_for_timeout(600)
            page.reload()  # the draft holds it, not only the page
            for place, text in enumerate(texts):
                expect(page.get_by_label(label, exact=True).nth(place)).to_have_value(text)
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        press(page, "Save")
        expect(page.locator(".cw-said")).to_contain_text("Saved")
        page.goto(f"{address}/bench")
        page.get_by_role("heading", name="On the bench").wait_for()
        if stage != "Boiled":
            press(page, "Open set 1 of what waits")
    ground = Ground.open(folder, read_only="the app is running")
    bars = {bar.bar_id: bar for bar in ground.bars()}
    assert set(bars) == set(NAMES)
    assert [bars[name].dry_mm for name in NAMES] == [94, 94.2, 93.9, 94]
    assert [bars[name].cone for name in NAMES] == ["06", "06", "02", "02"]
    assert {bar.saturated_g for bar in bars.values()} == {57, 55}
    open_sample(page, address)
    # ASTM C373: (57 - 50) / 50 = 14 %, (55 - 50) / 50 = 10 %.
    page.get_by_role("cell", name="14.0 %").wait_for()
    page.get_by_role("cell", name="10.0 %").wait_for()
    page.get_by_text("What it is fit for").wait_for()


def picture(shade, taken="", *, placed=False):
    """Return a photo with tags by Pillow (CIPA DC-008: 0x9003 time, GPS 1 to 4)."""
    exif = Image.Exif()
    if taken:
        exif.get_ifd(0x8769)[0x9003] = taken
    if placed:
        place = exif.get_ifd(0x8825)
        place[1], place[3] = "S", "W"
        place[2], place[4] = (
            (IFDRational(round(abs(value) * 1e6), 1_000_000), IFDRational(0), IFDRational(0))
            for value in (LAT, LON)
        )
    sink = io.BytesIO()
    Image.new("RGB", (640, 480), (shade, 90, 60)).save(sink, "JPEG", exif=exif)
    return sink.getvalue()


def test_photos_of_a_walk_find_their_hole(page, address, folder):
    page.goto(f"{address}/holes")
    press(page, "Bring in a log you have")
    files = {
        "at the hole.jpg": picture(150, "2026:05:02 10:00:00", placed=True),
        "soon after.jpg": picture(120, "2026:05:02 10:02:00"),
        "bare.jpg": picture(90),
    }
    page.locator("input[type=file]").set_input_files(
        [{"name": name, "mimeType": "image/jpeg", "buffer": content} for name, content in files.items()]
    )
    page.get_by_text("Which hole do these belong to?").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    press(page, "Keep these photos")
    expect(page.locator(".cw-said")).to_contain_text("2 photos attached.")
    ground = Ground.open(folder, read_only="the app is running")
    kept = photo_names(ground.on_record("hole", "H1").item)
    assert {(ground.photos_folder / name).read_bytes() for name in kept} == {
        files["at the hole.jpg"],
        files["soon after.jpg"],
    }
    press(page, "Open hole 1 of the list")
    shown = page.locator("img.cw-photo")
    expect(shown).to_have_count(2)
    assert all(shown.nth(number).evaluate("one => one.naturalWidth") == 360 for number in range(2))

"""A hole noted on a phone in a real browser, with refreshes and a cut connection in between: nothing is lost."""

from __future__ import annotations

import shutil

import pytest

from prospect.store import Ground

playwright_api = pytest.importorskip("playwright.sync_api", reason="the Python package playwright is missing")

expect = playwright_api.expect
pytestmark = [pytest.mark.e2e, pytest.mark.slow]

PATIENCE_MS = 20_000
LAYERS = (
    ("+ 25 cm", "breaks", "much, like sand", "many"),
    ("+ 10 cm", "bends with cracks", "a little", "few"),
    ("+ 25 cm", "bends without cracks", "none, smooth as butter", "none"),
)


BOTTOMS = (25, 35, 60)


@pytest.fixture(scope="module")
def folder(small_ground, tmp_path_factory):
    """A ground that the test may change."""
    folder = tmp_path_factory.mktemp("grounds") / "logged"
    shutil.copytree(small_ground, folder, ignore=shutil.ignore_patterns("derived", "records.lock"))
    return folder


@pytest.fixture(scope="module")
def address(folder, serve, tmp_path_factory):
    """Address of the running app."""
    with serve(folder, tmp_path_factory.mktemp("output") / "app.txt") as running:
        yield running


class Thumb:
    """A thumb on a phone, whose taps are counted."""

    def __init__(self, page):
        self.page = page
        self.taps = 0

    def tap(self, role, name, **more):
        self.page.get_by_role(role, name=name, **more).first.tap()
        self.taps += 1

    def drawn(self, top, *things):
        """Wait until a layer is drawn whole, from its depth to what will be tapped, and the one before it is gone."""
        self.page.wait_for_function(
            """([top, things]) => {
                 const from = [...document.querySelectorAll('input[aria-label="From (cm)"]')];
                 const all = [...document.querySelectorAll("button, [role=radio]")];
                 const words = all.map((one) => one.innerText.trim());
                 return from.length === 1 && from[0].value === top && things.every((one) => words.includes(one[1]));
               }""",
            arg=[top, [list(thing) for thing in things]],
        )

    def in_a_blink(self, *things):
        """Tap several things before the app can answer the first: the browser still sends what stood there before."""
        self.page.evaluate(
            """(things) => things.forEach(([role, words]) => {
                 const all = [...document.querySelectorAll(role === "button" ? "button" : "[role=radio]")];
                 all.find((one) => one.innerText.trim() === words).click();
               })""",
            [list(thing) for thing in things],
        )
        self.taps += len(things)

    def settled(self):
        """Wait until what was tapped is kept."""
        self.page.locator(".st-key-entry").get_by_text("Kept as a draft at").first.wait_for()
        self.page.wait_for_timeout(600)


def test_a_hole_with_three_layers_and_a_sample_on_a_phone(browser, address, folder, figures):
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    context.route("**/*.woff2", lambda route: route.abort())  # letters of another face come up sooner
    page.goto(f"{address}/holes")
    thumb = Thumb(page)
    thumb.tap("button", "Note a hole")
    thumb.tap("radio", "auger")
    page.get_by_label("Latitude and longitude").fill("47.5285 S, 128.991 W")
    page.keyboard.press("Tab")
    page.reload()
    expect(page.get_by_label("Latitude and longitude")).to_have_value("47.5285 S, 128.991 W")
    thumb.tap("button", "Save and first layer")
    per_layer = []
    for number, (deeper, coil, grit, roots) in enumerate(LAYERS, 1):
        page.get_by_role("heading", name=f"Layer {number}").wait_for()
        top = str(BOTTOMS[number - 2]) if number > 1 else "0"
        thumb.drawn(top, ("button", deeper), ("radio", coil), ("radio", grit))
        before = thumb.taps
        thumb.in_a_blink(("button", deeper), ("radio", coil), ("radio", grit))
        page.locator(".stButtonGroup", has_text="Roots").get_by_role("radio", name=roots, exact=True).tap()
        thumb.taps += 1
        thumb.settled()
        if number == 1:
            page.reload()  # the draft holds it, not only the page
            page.get_by_role("heading", name="Layer 1").wait_for()
        if number == 2:
            page.get_by_label("Smell").fill("earthy")
            page.keyboard.press("Tab")
            thumb.settled()
            page.reload()
            expect(page.get_by_label("Smell")).to_have_value("earthy")
            expect(page.get_by_role("radio", name=coil, exact=True)).to_be_checked()
        expect(page.get_by_label("To (cm)", exact=True)).to_have_value(str(BOTTOMS[number - 1]))
        if number == 3:
            page.get_by_text("A bag of it goes home").tap()
            thumb.taps += 1
            page.get_by_text("Write on the bag").wait_for()
            context.set_offline(True)
            page.get_by_label("Smell").fill("none")
            page.wait_for_timeout(1500)
            context.set_offline(False)
            page.reload()
            expect(page.get_by_label("Smell")).to_have_value("none")
            page.get_by_text("Write on the bag").wait_for()
            expect(page.get_by_label("To (cm)", exact=True)).to_have_value("60")
            page.wait_for_timeout(2000)
            expect(page.get_by_label("To (cm)", exact=True)).to_have_value("60")
        last = "Save, that was the last" if number == len(LAYERS) else "Save and next layer"
        thumb.tap("button", last)
        per_layer.append(thumb.taps - before)
    page.get_by_role("heading", name="The end of it").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    thumb.tap("button", "Save and close")
    expect(page.locator(".cw-said")).to_contain_text("Saved: H1, 3 layers")
    context.close()
    figures["taps to note a layer on a phone"] = (
        f"{', '.join(map(str, per_layer))} (depth, coil, grit, roots, save; the last with a bag); {thumb.taps} in all"
    )
    ground = Ground.open(folder, read_only="the app is running")
    hole = ground.on_record("hole", "H1").item
    assert [(layer.top_cm, layer.bottom_cm) for layer in hole.layers] == [(0, 25), (25, 35), (35, 60)]
    assert [layer.coil for layer in hole.layers] == ["breaks", "cracks", "bends"]
    assert [layer.roots for layer in hole.layers] == ["many", "few", "none"]
    assert [layer.smell for layer in hole.layers] == ["", "earthy", "none"]
    bag = ground.recorded("H1-1").sample
    assert (bag.hole_id, bag.top_cm, bag.bottom_cm) == ("H1", 35, 60)

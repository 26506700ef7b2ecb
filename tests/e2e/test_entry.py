"""Samples noted in a real browser while the page is loaded anew: nothing saved and no field that was left is lost."""

from __future__ import annotations

import random
import shutil
from dataclasses import dataclass, field

import pytest

from prospect.layerfile import read_source, read_vector_layer, write_layer
from prospect.store import Ground

playwright_api = pytest.importorskip("playwright.sync_api", reason="the Python package playwright is missing")

expect = playwright_api.expect
pytestmark = [pytest.mark.e2e, pytest.mark.slow]

SEED, REFRESHES, MOST_KEYS = 20261126, 50, 20
PATIENCE_MS = 20_000
PARCELS = [
    ":red[x] **b**",
    "$x^2$ `c`",
    "<img src=x onerror=window.ran=1>",
    "{{7*191}} [l](http://evil.example)",
]
"""Words that a page could take for Markdown, a formula, an element or a template."""
FIELDS = {
    "Latitude and longitude": "47.49 S, 128.99 W",
    "Hole": "pit 7",
    "From (cm)": "12,5",
    "To (cm)": "61",
    "Smell": "earthy",
    "Note": "by the ash tree",
}


@pytest.fixture(scope="module")
def folder(small_ground, tmp_path_factory):
    """A ground that the test may change."""
    folder = tmp_path_factory.mktemp("grounds") / "entered"
    shutil.copytree(small_ground, folder, ignore=shutil.ignore_patterns("derived", "records.lock"))
    parcels = read_vector_layer(folder / "layers", "parcels")
    parcels["parcel_id"] = PARCELS
    write_layer(folder / "layers", "parcels", parcels, read_source(folder / "layers", "parcels"))
    return folder


@pytest.fixture(scope="module")
def address(folder, serve, tmp_path_factory):
    """Address of the running app."""
    with serve(folder, tmp_path_factory.mktemp("output") / "app.txt") as running:
        yield running


class LoadedAnew(Exception):
    """The page was loaded anew."""


@dataclass
class Person:
    """Somebody who notes one sample after the other while the page is loaded anew under their hands.

    Attributes
    ----------
    left
        Fields that were typed and left, by label.
    typing
        The field being typed; empty when none is.
    typed
        What was typed into it so far.
    saved
        Names of which the screen said that they are saved.
    lost, partly
        Fields that were left and not there again (there must be none), and fields that were lost while they were typed.
    """

    page: object
    rng: random.Random
    left: dict[str, str] = field(default_factory=dict)
    typing: str = ""
    typed: str = ""
    saved: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)
    partly: int = 0
    refreshes: int = 0
    keys_left: int = 0

    def begin(self) -> None:
        self.page.get_by_role("button", name="Note a sample").click()
        self.page.get_by_text("Where was it?").wait_for()
        self.left.clear()

    def note_one(self) -> None:
        """Type every field and save; raises when the page was loaded anew meanwhile."""
        for label, text in FIELDS.items():
            if self.left.get(label) != text:
                self._type(label, text)
        name = self.page.get_by_label("Name on the bag").input_value()
        self._strike()
        self.page.get_by_role("button", name="Save", exact=True).click()
        self._strike()
        self.page.get_by_text(f"Saved: {name}").wait_for()
        self.saved.append(name)
        self._strike()

    def come_back(self) -> None:
        """Look what is there again."""
        form, listed = self.page.get_by_text("Where was it?"), self.page.get_by_text("What was dug")
        form.or_(listed).first.wait_for()
        if listed.is_visible():
            said = self.page.locator(".cw-said").all_text_contents()
            name = said[0].split("Saved: ")[1].split(",")[0] if said and "Saved: " in said[0] else ""
            if name and name not in self.saved:
                self.saved.append(name)
            self.begin()
            return
        self.page.get_by_label("Note", exact=True).wait_for()
        for label, text in list(self.left.items()):
            try:
                expect(self.page.get_by_label(label, exact=True)).to_have_value(text, timeout=3000)
            except AssertionError:
                self.lost.append(f"{label}: {self.page.get_by_label(label, exact=True).input_value()!r}")
                del self.left[label]
        if self.typing:
            box = self.page.get_by_label(self.typing, exact=True)
            try:
                expect(box).to_have_value(self.typed, timeout=3000)
            except AssertionError:
                self.partly += 1

    def _type(self, label: str, text: str) -> None:
        box = self.page.get_by_label(label, exact=True)
        box.fill("")
        self.typing = label
        self.typed = ""
        while self.typed != text:
            keys = text[len(self.typed) :][: max(1, self.keys_left + 1)]
            self.page.keyboard.type(keys)
            self.typed += keys
            self._strike(len(keys))
        expect(box).to_have_value(text, timeout=1000)
        self.page.keyboard.press("Tab")
        self.left[label], self.typing = text, ""
        self._strike()

    def _strike(self, keys: int = 1) -> None:
        self.keys_left -= keys
        if self.keys_left < 0 and self.refreshes < REFRESHES:
            self.page.wait_for_timeout(self.rng.choice((0, 0, 0, 5, 20, 80, 160)))
            self.page.reload(wait_until="commit")
            self.refreshes += 1
            self.keys_left = self.rng.randint(1, MOST_KEYS)
            raise LoadedAnew


def test_no_saved_row_and_no_field_that_was_left_is_lost(browser, address, folder, figures):
    rng = random.Random(SEED)
    context = browser.new_context(viewport={"width": 800, "height": 1000})
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    context.route("**/*.woff2", lambda route: route.abort())  # letters of another face come up sooner
    page.goto(f"{address}/samples")
    page.get_by_text("What was dug").wait_for()
    person = Person(page, rng, keys_left=rng.randint(1, MOST_KEYS))
    person.begin()
    while person.refreshes < REFRESHES:
        try:
            person.note_one()
            person.begin()
        except LoadedAnew:
            person.come_back()
    context.close()
    on_record = {
        sample.sample_id: sample for sample in Ground.open(folder, read_only="the app is running").samples()
    }
    missing = [name for name in person.saved if name not in on_record]
    figures["page refreshes during entry"] = (
        f"{person.refreshes} refreshes, {len(person.saved)} samples said to be saved, {len(missing)} lost; "
        f"{len(person.lost)} fields lost that were left, {person.partly} lost while being typed"
    )
    assert missing == []
    assert person.lost == []
    assert len(person.saved) >= 3
    for name in person.saved:
        sample = on_record[name]
        assert (sample.lat, sample.lon, sample.top_cm, sample.bottom_cm) == (-47.49, -128.99, 12.5, 61.0)
        assert (sample.hole_id, sample.note) == ("pit 7", FIELDS["Note"])
        assert sample.fields["smell"] == "earthy"


def test_parcels_to_choose_from_are_shown_as_the_words_they_are(browser, address):
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    page.goto(f"{address}/permissions")
    page.get_by_role("button", name="Write down an answer").click()
    page.get_by_label("Parcel", exact=True).click()
    page.get_by_role("option").first.wait_for()
    assert sorted(page.get_by_role("option").all_inner_texts()) == sorted(PARCELS)
    for number, parcel in enumerate(PARCELS):
        if number:
            page.get_by_label("Parcel", exact=True).click()
        page.get_by_role("option").filter(has_text=parcel).click()
        page.get_by_text("Kept as a draft at").wait_for()
        expect(page.get_by_label("Parcel", exact=True)).to_have_value(parcel)
    page.get_by_role("radio", name="refused").click()
    expect(page.locator(".cw-reads")).to_contain_text(PARCELS[-1])
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator(".cw-said")).to_contain_text(f"Saved: parcel {PARCELS[-1]}")
    expect(page.locator(".cw-row b").first).to_have_text(PARCELS[-1])
    assert page.evaluate(
        "window.ran === undefined && !document.querySelector('.katex, a[href*=evil], img[src=x]')"
    )
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    context.close()

"""The page of a spot: everything on it, nothing invented, nothing that runs."""

import html
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from prospect.cartography import Key
from prospect.issues import Issue, IssueLog
from prospect.pipeline import LayerState
from prospect.records import Setback
from prospect.ui.cards import layer_card, map_key, reading_report, site_card, sites_as_text
from prospect.ui.reading import spot_page


class Reader(HTMLParser):
    """Collects tags, attributes and text as a browser's parser would see them (standard library's parser)."""

    def __init__(self):
        super().__init__()
        self.tags, self.attributes, self.text = [], [], ""

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data):
        self.text += data


def read(page):
    reader = Reader()
    reader.feed(page)
    return reader


def test_every_criterion_with_value_weight_share_and_source(make_report):
    text = read(spot_page(make_report())).text
    for words in ("Parent rock", "granite", "suits 0.90 of 1", "weight 0.4", "carries 55 % of the score"):
        assert words in text
    assert "from rock map, 1998" in text
    assert "needed for this kind of ground" in text
    assert "Weighing the same lines by plain adding gives 0.71" in text


def test_missing_is_not_zero_and_zero_is_not_missing(make_report):
    page = spot_page(make_report())
    missing = page[page.index("Depth to rock") : page.index("Slope")]
    assert "cw-none" in missing
    assert "left out of the score, not counted as poor" in missing
    zero = page[page.index('<span class="cw-line"><span>Slope') :][:400]
    assert "suits 0.00 of 1" in zero
    assert "width:0.0%" in zero


def test_gates_cautions_land_and_what_is_not_known(make_report):
    text = read(spot_page(make_report())).text
    for words in (
        "Held back: Ice-scoured ground",
        "multiplies the score by 0.5",
        "Green rock near by.",
        "No soil survey: depth cannot be said.",
        "◐ Ask first",
        "97 % sure to be inside",
        "38.05000° S, 86.25000° W",
    ):
        assert words in text


def test_other_models_are_there_and_cannot_say_stays_so(make_report):
    page = spot_page(make_report())
    others = page[page.index("Other kinds of ground here") :]
    assert "lake clay" in others
    assert "cannot say" in others
    assert "The rock map is missing here." in others


def test_a_chosen_model_is_read_first_even_when_it_cannot_lead(make_report):
    text = read(spot_page(make_report(), deposit="lake_bed")).text
    assert text.index("as lake clay") < text.index("residual (primary) clay", text.index("Other kinds"))
    assert "Cannot say" in text


def test_parts_of_a_criterion_are_folded_under_it(make_report):
    page = spot_page(make_report())
    assert re.search(r"Parent rock.*?<details><summary>What it is made of.*?Grain size", page, re.S)


@pytest.mark.parametrize("draw", ["page", "site", "table", "layer", "log"])
def test_hostile_words_are_shown_and_nothing_more(draw, hostile, make_report, make_site):
    issue = Issue("warning", hostile, hostile, hostile, hostile, hostile, hostile)
    log = IssueLog(hostile, "geology", 1, 0, 1, 0, [issue])
    page = {
        "page": lambda: spot_page(make_report(hostile)),
        "site": lambda: site_card(make_site(hostile), hostile, "metric", chosen=True),
        "table": lambda: sites_as_text((make_site(hostile),), {"residual": hostile}, "us"),
        "layer": lambda: layer_card(
            LayerState(hostile, hostile, present=False, costs=hostile, where=(hostile,))
        ),
        "log": lambda: reading_report(log),
    }[draw]()
    reader = read(page)
    assert not {"script", "img", "iframe", "a", "form", "object"} & set(reader.tags)
    assert not [name for name, _ in reader.attributes if name.startswith("on") or name in ("src", "href")]
    assert hostile in reader.text
    assert not any(piece in page for piece in ("{{", "{%", "${", "<img", "<script"))
    assert html.unescape(page).count(hostile) >= 1


def test_a_site_card_says_words_numbers_and_units(make_site):
    text = read(site_card(make_site(), "residual (primary) clay", "us", chosen=False)).text
    assert "Well worth a look" in text
    assert "0.81" in text
    assert "6.2 acres" in text  # 2.5 ha; 1 acre = 0.40468564224 ha (international acre)
    assert "parcel 1, 2, 3 and more" in text
    assert "leave: not asked" in text
    assert "creek" not in text


def test_layers_say_what_they_cost_and_where_they_come_from():
    absent = read(
        layer_card(LayerState("soil", "Soil survey", present=False, costs="No depth.", where=("here",)))
    )
    assert "Not here. No depth." in absent.text
    there = LayerState(
        "soil", "Soil survey", present=True, source="a.zip, 2019", counts={"read": 3, "kept": 2}
    )
    assert "3 read, 2 kept" in read(layer_card(there)).text


def test_the_key_changes_with_what_the_colour_says():
    assert "well worth a look" in map_key("worth", (), hatched=False)
    assert "too little is known to say" in map_key("worth", (), hatched=True)
    rocks = map_key("rocks", (Key("granite and its kin", "#D9A48F", "patch", "crosses"),), hatched=False)
    assert "granite and its kin" in rocks
    assert "worth" not in rocks
    assert map_key("relief", (), hatched=False) == ""


def test_a_long_reading_report_says_that_it_was_cut():
    issue = Issue("error", "a.csv", "row 1", "x", "?", "a number", "Left out.")
    log = IssueLog("a.csv", "samples", 250, 0, 0, 250, [issue] * 250)
    text = read(reading_report(log)).text
    assert "The first 200 of 250 remarks" in text
    assert "■ Refused" in text


def test_the_setback_is_one_sentence_in_the_units_of_the_ground(make_report):
    report = make_report()
    setbacks = (Setback(0.9, 8.8), Setback(0.95, 11.3, own_m=3.0))
    land = replace(report.land, setbacks=setbacks)
    text = read(spot_page(replace(report, land=land))).text
    assert "stay off the mapped line by 8.8 m for 90 %, 14 m for 95 %" in text
    assert "29 ft for 90 %" in read(spot_page(replace(report, land=land), units="us")).text


def test_whoever_reads_only_the_first_line_is_not_misled(make_report):
    page = spot_page(make_report())
    assert page.index("Ask first") < page.index("Worth a look") < page.index("Whose ground")
    assert read(page[: page.index("<h2>")]).text.count("Nobody has given leave yet.") == 1


def test_go_says_what_it_is_for_and_what_it_is_not_for(make_report):
    report = make_report()
    go = replace(report.land, verdict="go", reasons=("Leave to auger is on record.",))
    text = read(spot_page(replace(report, land=go))).text
    assert "● Go · for an auger hole" in text
    assert "Digging and taking clay away need leave of their own" in text
    assert "Digging and taking" not in read(spot_page(report)).text
    shut = replace(report.land, verdict="stay out")
    assert "for an auger hole" not in read(spot_page(replace(report, land=shut))).text


def test_no_caution_is_said_twice(make_report):
    report = make_report()
    told = replace(
        report,
        cautions=("Wait for the marks.",),
        land=replace(report.land, cautions=("Wait for the marks.",)),
    )
    assert read(spot_page(told)).text.count("Wait for the marks.") == 1

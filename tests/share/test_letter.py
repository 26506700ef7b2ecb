"""Letters and slips: one page, every promise, nothing beyond the line, lines to fill in for what was not said."""

from __future__ import annotations

import io
import json
import math
import os
import re
import subprocess
import sys
import time
import zlib
from datetime import date
from functools import cache
from pathlib import Path

import geopandas as gpd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from pypdf.generic import ContentStream
from pyproj import Geod, Transformer
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from prospect.cli import run
from prospect.errors import DefinitionError, InputRefused, NothingToWorkWith, WrongUsage
from prospect.layerfile import LayerSource
from prospect.records import Permission
from prospect.share import (
    ParcelView,
    Request,
    letter_sheet,
    parcel_view,
    read_request,
    signed_by,
    slip_sheet,
    write_letter,
)
from prospect.share.parcel_map import scale_length, spread
from prospect.share.request import day_text, days, length_text, rows, volume_text
from prospect.share.wording import wording
from prospect.store import Ground

WEST, NORTH, CRS = 500_000.0, 4_737_000.0, "EPSG:32709"
TO_LONLAT = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
FIELD = Polygon(
    [(WEST + x, NORTH - y) for x, y in ((100, 100), (420, 60), (510, 190), (480, 420), (300, 400), (90, 430))]
)
FAR = {
    "neighbour": "Peverell Stook",
    "neighbour's parcel": "P-9932",
    "road": "Mottram private drive",
    "water": "Withycombe spring",
    "file": "Zanthe-tax-roll",
    "telephone": "01632 960142",
}
"""What lies beyond the line, or names people and files, and must not be in an owner's letter."""
FULL = Request(
    writer=("Rowan Alder", "12 Kiln Lane, Hollin", "01632 960001", "rowan@example.org"),
    place="the meadow behind the barn",
    scope="take",
    holes=5,
    width_cm=15,
    depth_cm=80,
    volume_l=60,
    buckets=4,
    tools="a hand auger and a spade",
    machine="none",
    vehicle="a small van, left on the track by the gate",
    days="two dry days",
    days_from=date(2026, 5, 4),
    days_until=date(2026, 5, 16),
    people=2,
    clay_use="a test, and then pots",
    sold=True,
)
SHEETS = {"letter": letter_sheet, "slip": slip_sheet}
HOSTILE = (
    r"$\frac{x}{0}",
    "{name} {parcel} {0}",
    "**bold** __under__ --strike--",
    "\u202egro.live\u2066\x00\x1b[31m",
    "line\nline\r\nline\u2028line",
    "Zażółć " * 800,
    "x" * 5_000,
    "中文 " * 40,
    "😀👩‍👩‍👧",
    "(paren\\)) endstream endobj %%EOF",
    "<script>alert(1)</script>",
    "e\u0301" * 300,
)


def parcels(owner: str = "Wilmot Tarn", shape: Polygon | MultiPolygon = FIELD, parcel: str = "P-4417"):
    return gpd.GeoDataFrame(
        {
            "parcel_id": [parcel, FAR["neighbour's parcel"]],
            "owner": [owner, FAR["neighbour"]],
            "phone": [FAR["telephone"]] * 2,
        },
        geometry=[shape, box(WEST + 600, NORTH - 400, WEST + 900, NORTH)],
        crs=CRS,
    )


def line(name: str, *places: tuple[float, float]) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(
        {"kind": ["line"], "name": [name]},
        geometry=[LineString([(WEST + x, NORTH - y) for x, y in places])],
        crs=CRS,
    )


def spots(*places: tuple[float, float]) -> list[tuple[float, float]]:
    return [TO_LONLAT.transform(WEST + x, NORTH - y) for x, y in places]


SPOTS = spots((200, 250), (214, 255), (330, 240), (400, 360), (450, 200))


def view(owner: str = "Wilmot Tarn", at=SPOTS, shape=FIELD, parcel: str = "P-4417") -> ParcelView:
    return parcel_view(
        parcels(owner, shape, parcel),
        parcel,
        at,
        water=line(FAR["water"], (-900, 330), (220, 330), (300, 280), (2700, 260)),
        roads=line(FAR["road"], (-900, 150), (350, 150), (2700, 100)),
        source=LayerSource(
            "parcels", f"{FAR['file']}.gpkg", "2026-01-02", attribution="Land Registry of Tarn"
        ),
    )


def made(kind: str, what: ParcelView, request: Request = FULL, units: str = "metric"):
    return SHEETS[kind](what, request, units=units, made_on="2026-04-02")


@cache
def usual(kind: str, request: Request = FULL, units: str = "metric"):
    """Return the sheet about the usual parcel."""
    return made(kind, view(), request, units)


def text_of(pdf: bytes) -> str:
    return " ".join(PdfReader(io.BytesIO(pdf)).pages[0].extract_text().split())


def everything_in(pdf: bytes) -> bytes:
    """Return the bytes, every stream unpacked (ISO 32000-1, 7.3.8), the text, and the words about the file."""
    found = [pdf]
    for packed in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL):
        try:
            found.append(zlib.decompress(packed))
        except zlib.error:
            found.append(packed)
    reader = PdfReader(io.BytesIO(pdf))
    found += [text_of(pdf).encode(), repr(reader.metadata).encode(), repr(reader.xmp_metadata).encode()]
    return b"\n".join(found)


def paths(pdf: bytes) -> list[tuple[float, list[tuple[float, float]]]]:
    """Return every path drawn, as its pen's width and its points, mm from the upper left corner."""
    page = PdfReader(io.BytesIO(pdf)).pages[0]
    mm, high = 25.4 / 72, float(page.mediabox.height)
    found, points, pen = [], [], 0.0
    for operands, operator in ContentStream(page.get_contents(), page.pdf).operations:
        numbers = [float(number) for number in operands] if operator in (b"m", b"l", b"c", b"w") else []
        if operator == b"w":
            pen = numbers[0] * mm
        elif numbers:
            points += [(x * mm, (high - y) * mm) for x, y in zip(numbers[::2], numbers[1::2], strict=True)]
        elif operator in (b"S", b"s", b"f", b"F", b"B", b"b", b"n", b"f*"):
            if points:
                found.append((pen, points))
            points = []
    return found


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("kind", SHEETS)
@pytest.mark.parametrize("request_", [FULL, Request(), Request(scope="walk")], ids=["full", "empty", "walk"])
def test_one_page_in_readable_type(kind, units, request_):
    sheet = usual(kind, request_, units)
    page, *more = PdfReader(io.BytesIO(sheet.pdf)).pages
    assert more == []
    # A4: ISO 216. US Letter: ANSI/ASME Y14.1, size A. In points of 1/72 inch.
    wide, high = (595.28, 841.89) if units == "metric" else (612.0, 792.0)
    assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx((wide, high), abs=0.1)
    assert sheet.type_pt >= 10
    assert sheet.notes == ()
    margin = 15.0
    for pen, points in paths(sheet.pdf):
        for x, y in points:
            assert margin - pen <= x <= wide * 25.4 / 72 - margin + pen
            assert margin - pen <= y <= high * 25.4 / 72 - margin + pen


@pytest.mark.parametrize("kind", SHEETS)
def test_every_font_is_inside(kind):
    page = PdfReader(io.BytesIO(made(kind, view("Zażółć Łódź שלום")).pdf)).pages[0]
    fonts = [font.get_object() for font in page["/Resources"]["/Font"].get_object().values()]
    assert len(fonts) >= 3
    for font in fonts:
        inner = font["/DescendantFonts"].get_object()[0].get_object()
        assert "/FontFile2" in inner["/FontDescriptor"].get_object(), font["/BaseFont"]
        assert "/ToUnicode" in font, "the words could not be searched or read aloud"


def test_the_letter_says_what_is_asked_and_promises_everything():
    said, words = text_of(usual("letter").pdf), wording()
    for sentence in (
        *words.letter.digging,
        *words.letter.always,
        words.letter.opening,
        words.letter.no,
        words.letter.withdraw,
        words.letter.others,
        words.letter.enclosed,
        words.law.letter,
        "Dear Wilmot Tarn,",
        "dig, and take some clay away",
        "the meadow behind the barn: 5 spots, numbered on the map",
        "5 holes, 15 cm across, up to 80 cm deep",
        "60 L, about 4 buckets",
        "two dry days, 4 May 2026 to 16 May 2026",
        "2 people",
        "what I make of it may be sold",
        "2 April 2026",
        "Parcel P-4417, 13 ha.",
        "Lines as mapped, not a survey.",
        "Map of parcels: Land Registry of Tarn.",
        *FULL.writer,
        FULL.vehicle,
        FULL.tools,
    ):
        assert sentence in said, sentence
    assert " ".join(words.letter.digging).count("1.2 m (4 ft)") == 1


def test_what_the_promises_are_about():
    """The promises that the paper must hold, by their words, in the letter and in the slip."""
    letter = " ".join((*wording().letter.digging, wording().letter.withdraw, wording().letter.no))
    slip = " ".join(wording().slip.rules)
    for words in (letter, slip):
        for needed in ("located and marked", "1.2 m (4 ft)", "the same day", "sod", "photos", "One message"):
            assert needed.lower() in words.lower(), needed
    assert "not be asked again" in letter
    for note in (wording().law.letter, wording().law.slip):
        assert "looked over by someone who knows the law" in note
        assert "no promise in law" in note


def test_walking_asks_for_nothing_that_opens_the_ground():
    said = text_of(usual("letter", Request(scope="walk")).pdf)
    assert wording().letter.closed_ground[0] in said
    for word in ("sod", "hole", "auger", "bucket", "Machine"):
        assert word not in said


def test_us_units_stand_beside():
    said = text_of(usual("letter", FULL, "us").pdf)
    assert "up to 80 cm (2 ft 7 in) deep" in said
    assert "60 L (15.9 US gal)" in said
    assert "April 2, 2026" in said
    assert "acres" in said


def test_what_was_not_said_is_a_line_to_fill_in():
    sheet = made("letter", view(owner="", at=[]), Request())
    said, labels = text_of(sheet.pdf), wording().letter.labels
    for label in (
        labels.scope,
        labels.where,
        labels.holes,
        labels.amount,
        labels.days,
        labels.people,
        labels.sold,
    ):
        assert label in said
    assert wording().letter.greeting_nameless in said
    asked = said.split(labels.scope)[1].split(wording().letter.promises)[0]
    assert re.findall(r"\d+", asked.replace("P-4417", "").replace("13 ha", "").replace("200 m", "")) == []
    rules = [
        points for pen, points in paths(sheet.pdf) if len(points) == 2 and pen == pytest.approx(0.2, abs=0.01)
    ]
    assert len(rules) >= 11 + 2 * 3 + 1, "a line for each thing asked, three for each person, one to sign on"


def test_the_slip_is_ticked_by_nobody_and_sets_no_limit():
    bare, asked = usual("slip", Request()), usual("slip")
    slip = wording().slip
    said = text_of(asked.pdf)
    for words in (
        slip.tick,
        slip.look,
        slip.walk,
        slip.auger,
        slip.dig,
        slip.take,
        slip.by_hand,
        slip.machine,
        slip.may_sell,
        slip.conditions,
        slip.alone,
        slip.shared,
        slip.tenant,
        slip.mineral,
        slip.mineral_other,
        slip.signature,
        slip.other_owner,
        *slip.rules,
        wording().law.slip,
        "Rowan Alder",
        "P-4417",
        "Asked for: dig, and take some clay away; 5 holes, 15 cm across, up to 80 cm deep; 60 L, about 4 buckets",
        "Asked for: two dry days, 4 May 2026 to 16 May 2026",
    ):
        assert words in said, words
    assert "Asked for" not in text_of(bare.pdf)
    assert said.count("80 cm") == 1

    def boxes(pdf: bytes) -> int:
        page = PdfReader(io.BytesIO(pdf)).pages[0]
        return sum(op == b"re" for _, op in ContentStream(page.get_contents(), page.pdf).operations)

    assert boxes(bare.pdf) == boxes(asked.pdf) == 5 + 2 + 2 + 3 + 3


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("request_", [FULL, Request()], ids=["full", "empty"])
def test_every_box_has_its_words_beside_it(request_, units):
    page = PdfReader(io.BytesIO(usual("slip", request_, units).pdf)).pages[0]
    boxes = [
        [float(number) for number in operands]
        for operands, operator in ContentStream(page.get_contents(), page.pdf).operations
        if operator == b"re"
    ]
    starts = [
        (float(operands[0]), float(operands[1]))
        for operands, operator in ContentStream(page.get_contents(), page.pdf).operations
        if operator == b"Td"
    ]
    for x, y, wide, high in boxes:
        low, top = sorted((y, y + high))
        beside = [start for start in starts if 0 < start[0] - (x + wide) < 8 and low - 2 < start[1] < top]
        assert len(beside) == 1, (x, y)


@pytest.mark.parametrize("kind", SHEETS)
def test_nothing_beyond_the_line(kind):
    found = everything_in(usual(kind).pdf)
    for what, secret in FAR.items():
        for way in {secret, secret.lower(), secret.upper(), re.sub(r"\W", "", secret)}:
            for code in ("utf-8", "utf-16-be", "utf-16-le"):
                assert way.encode(code) not in found, what
    own = everything_in(usual(kind).pdf)
    assert (b"Wilmot Tarn" in own) == (kind == "letter"), "the search would not find what is there"


@pytest.mark.parametrize("kind", SHEETS)
def test_the_map_draws_nothing_outside_the_parcel(kind):
    """Road and stream run on for kilometres; on paper they end at the parcel's line, to the width of its pen."""
    drawn = paths(made(kind, view(at=[])).pdf)
    outline = next(Polygon(points) for pen, points in drawn if pen == pytest.approx(0.5, abs=0.01))
    west, north, east, south = outline.bounds
    within = [
        points
        for pen, points in drawn
        if pen < 0.35 and all(west - 3 <= x <= east + 3 and north - 3 <= y <= south for x, y in points)
    ]
    assert len(within) >= 2, "the road and the stream"
    allowed = outline.buffer(0.1)
    for points in within:
        assert all(allowed.covers(Point(point)) for point in points)


def test_the_scale_is_true_and_north_is_up():
    """The parcel's corners by the scale bar, against geodesics on the WGS 84 ellipsoid (Karney 2013, by PROJ)."""
    pdf = made("letter", view(at=[])).pdf
    drawn = paths(pdf)
    outline = next(points for pen, points in drawn if pen == pytest.approx(0.5, abs=0.01))
    (bar,) = (points for _, points in drawn if len(points) == 4 and points[1][1] == points[2][1])
    assert "200 m" in text_of(pdf)
    m_per_mm = 200 / (bar[2][0] - bar[1][0])
    first, *_ = corners = [TO_LONLAT.transform(*corner) for corner in FIELD.exterior.coords[:-1]]
    expected = []
    for corner in corners:
        azimuth, _, far_m = Geod(ellps="WGS84").inv(*first, *corner)
        expected.append((far_m * math.sin(math.radians(azimuth)), -far_m * math.cos(math.radians(azimuth))))
    found = [(x * m_per_mm, y * m_per_mm) for x, y in outline]
    (east, south), (x0, y0) = (
        (min(x for x, _ in places), min(y for _, y in places)) for places in (expected, found)
    )
    for x, y in expected:
        nearest = min(math.dist((x - east, y - south), (fx - x0, fy - y0)) for fx, fy in found)
        assert nearest < 1.0, "m on the ground: a third of a millimetre on paper"


@pytest.mark.parametrize("words", HOSTILE, ids=lambda words: ascii(words[:14]))
def test_hostile_words_show_as_themselves(words):
    kind = "slip" if HOSTILE.index(words) % 3 == 0 else "letter"
    given_ = Request(writer=(words[:90],), note=words[:900], tools=words[:120], place=words[:90])
    sheet = made(kind, view(words, parcel=words[:120].replace("\x00", "") or "x"), given_)
    reader = PdfReader(io.BytesIO(sheet.pdf))
    assert len(reader.pages) == 1
    assert "/JavaScript" not in str(reader.trailer["/Root"])
    said = text_of(sheet.pdf)
    assert wording().law.letter[-40:] in said or wording().law.slip[-40:] in said
    for char in "\u202e\u2066\x00\x1b\u2028":
        assert char not in said


def test_words_in_braces_are_not_filled_in_twice():
    said = text_of(made("letter", view("{parcel} {name}"), Request(note="{count} **{day}**")).pdf)
    assert "Dear {parcel} {name}," in said
    assert "{count} **{day}**" in said


def test_a_character_without_a_glyph_is_shown_and_told():
    sheet = made("letter", view("Wang 中 Tarn"))
    assert "Dear Wang □ Tarn," in text_of(sheet.pdf)
    assert any("U+4E2D" in note and "by hand" in note for note in sheet.notes)
    assert made("letter", view("Ștefan Łukasz Ðurđa Þór Ŵyn Ħal Ољга Σωκράτης Աննա ნინო")).notes == ()


def test_a_name_that_is_cut_is_told():
    sheet = made("letter", view("Tarn " * 1000))
    assert any("cut to 120" in note for note in sheet.notes)


def test_what_does_not_fit_is_refused_with_what_to_shorten(tmp_path):
    wordy = Request(
        writer=("w" * 90,) * 6,
        owner=("o" * 90,) * 6,
        note="long " * 300,
        tools="tools " * 50,
        vehicle="carts " * 50,
        machine="horse " * 50,
        days="rainy " * 50,
        clay_use="bricks " * 42,
    )
    with pytest.raises(InputRefused, match=r"one page.*Shorten note \(1499 characters\)"):
        write_letter(tmp_path / "a.pdf", view(), wordy, units="us", made_on="2026-04-02")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("kind", SHEETS)
def test_the_file_says_its_title_and_date_and_nothing_else(kind):
    metadata = PdfReader(io.BytesIO(usual(kind).pdf)).metadata
    assert set(metadata) == {"/Title", "/CreationDate"}
    assert metadata["/CreationDate"] == "D:20260402000000Z"
    assert metadata["/Title"] == (wording().letter.title if kind == "letter" else wording().slip.title)


_AGAIN = """
import hashlib
import geopandas as gpd
from shapely.geometry import box
from prospect.share import Request, letter_sheet, parcel_view, slip_sheet
names = {"parcel_id": ["1"], "owner": ["Ysolde 中 שלום"]}
frame = gpd.GeoDataFrame(names, geometry=[box(5e5, 4e6, 6e5, 5e6)], crs=32709)
for sheet in (letter_sheet, slip_sheet):
    pdf = sheet(parcel_view(frame, "1"), Request(holes=3), units="us", made_on="2026-04-02").pdf
    print(hashlib.sha256(pdf).hexdigest())
"""


@pytest.mark.slow
def test_the_same_input_gives_the_same_bytes(tmp_path, capsys):
    """In another process, at another time, in another time zone, hash seed and folder."""
    exec(_AGAIN, {})
    here = capsys.readouterr().out
    there = subprocess.run(
        [sys.executable, "-c", _AGAIN],
        env={**os.environ, "TZ": "Pacific/Auckland", "PYTHONHASHSEED": "77"},
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    )
    assert there.stdout == here
    assert len(here.split()) == 2


def test_the_library_is_loaded_only_for_a_pdf():
    code = "import sys, prospect.cli; print({'fpdf', 'matplotlib', 'fontTools'} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"


def test_shapes_of_every_kind_are_drawn():
    sliver = Polygon([(WEST, NORTH), (WEST + 1000, NORTH - 10), (WEST + 1000, NORTH - 14), (WEST, NORTH - 4)])
    tall = Polygon([(WEST, NORTH), (WEST + 4, NORTH), (WEST + 10, NORTH - 900), (WEST + 6, NORTH - 900)])
    yard = Polygon(
        FIELD.exterior.coords, [box(WEST + 230, NORTH - 320, WEST + 340, NORTH - 210).exterior.coords]
    )
    bow = Polygon([(WEST, NORTH), (WEST + 90, NORTH - 90), (WEST + 90, NORTH), (WEST, NORTH - 90)])
    tiny = box(WEST, NORTH - 2, WEST + 2, NORTH)
    wide = box(WEST - 40_000, NORTH - 30_000, WEST + 40_000, NORTH)
    apart = MultiPolygon([FIELD, box(WEST + 3000, NORTH - 300, WEST + 3050, NORTH - 200)])
    for shape in (sliver, tall, yard, bow, tiny, wide, apart):
        sheet = made("letter", view(at=[], shape=shape))
        assert len(PdfReader(io.BytesIO(sheet.pdf)).pages) == 1


def test_a_spot_must_lie_on_the_parcel_and_not_in_its_gaps():
    with pytest.raises(WrongUsage, match="does not lie on parcel P-4417"):
        view(at=spots((700, 200)))
    with pytest.raises(WrongUsage, match="Longitude comes first"):
        view(at=[(SPOTS[0][1], SPOTS[0][0])])
    with pytest.raises(WrongUsage, match="too many"):
        view(at=SPOTS[:1] * 25)
    for nowhere in ((float("nan"), 0.0), (0.0, float("inf"))):
        with pytest.raises(WrongUsage):
            view(at=[nowhere])


def test_a_parcel_without_shape_or_layer_is_told():
    with pytest.raises(NothingToWorkWith, match="no layer 'parcels'"):
        parcel_view(None, "P-4417")
    with pytest.raises(NothingToWorkWith, match="no parcel 'Q'"):
        parcel_view(parcels(), "Q")
    empty = parcels()
    empty.loc[0, "geometry"] = None
    with pytest.raises(NothingToWorkWith, match="no shape"):
        parcel_view(empty, "P-4417")


def test_several_owners_are_all_greeted():
    two = parcels()
    two["parcel_id"] = "P-4417"
    assert parcel_view(two, "P-4417").owners == ("Wilmot Tarn", FAR["neighbour"])
    said = text_of(made("letter", parcel_view(two, "P-4417"), Request()).pdf)
    assert "Dear Wilmot Tarn and Peverell Stook," in said


@pytest.mark.parametrize(
    ("length_cm", "words"),
    [
        (80, "80 cm (2 ft 7 in)"),
        (30.48, "30.5 cm (1 ft)"),
        (120, "1.2 m (3 ft 11 in)"),
        (2.54, "2.54 cm (1 in)"),
    ],
)
def test_lengths(length_cm, words):
    # 1 in = 2.54 cm exactly: NIST SP 811, appendix B.8.
    assert length_text(length_cm, "us").replace("\u00a0", " ") == words
    assert length_text(length_cm, "metric").replace("\u00a0", " ") == words.split(" (")[0]


@pytest.mark.parametrize(
    ("volume_l", "words"),
    [(37.85411784, "37.9 L (10 US gal)"), (999.9, "1000 L (264 US gal)"), (1500, "1.5 m³ (396 US gal)")],
)
def test_volumes(volume_l, words):
    # 1 US gal = 3.785 411 784 L: NIST SP 811, appendix B.8.
    assert volume_text(volume_l, "us").replace("\u00a0", " ") == words
    assert volume_text(volume_l, "metric").replace("\u00a0", " ") == words.split(" (")[0]


def test_days():
    words, first = wording(), date(2026, 5, 4)
    assert day_text(first, "metric", words) == "4 May 2026"
    assert days(Request(days_from=first), "us", words) == "from May 4, 2026"
    assert days(Request(days_until=first), "metric", words) == "until 4 May 2026"
    assert days(Request(days_from=first, days_until=first), "metric", words) == "4 May 2026"
    assert days(Request(days="any Sunday"), "metric", words) == "any Sunday"
    assert days(Request(), "metric", words) == ""


def test_one_is_not_many():
    said = dict(rows(Request(holes=1, people=1, buckets=1), 1, "metric", wording()))
    assert said["Holes"] == "1 hole"
    assert said["Who comes"] == "1 person"
    assert said["Clay I take"] == "1 bucket"
    assert said["Where"] == "the spot numbered on the map"


@given(st.floats(0.5, 500_000), st.sampled_from(["metric", "us"]))
def test_the_scale_bar_is_round_and_fits(most_m, units):
    length, words = scale_length(most_m, units)
    assert 0.35 * most_m <= length <= most_m * (1 + 1e-9)
    amount, unit = words.replace(",", "").split()
    assert amount.strip("0.") in {"1", "2", "5"}
    assert length == pytest.approx(float(amount) * {"m": 1, "km": 1000, "ft": 0.3048}[unit])


@given(st.lists(st.tuples(st.floats(0, 70), st.floats(0, 60)), min_size=1, max_size=12, unique=True))
@settings(max_examples=60, deadline=None)
def test_numbers_do_not_cover_each_other(points):
    places = spread(points, 5.0, (box(0, 0, 70, 60), box(-10, -10, 80, 70)))
    assert len(places) == len(points)
    close = [
        (i, j)
        for i, one in enumerate(places)
        for j, other in enumerate(places[:i])
        if (one[0] - other[0]) ** 2 + (one[1] - other[1]) ** 2 < 25 - 1e-6
    ]
    assert not close
    assert all(
        ((x - px) ** 2 + (y - py) ** 2) ** 0.5 <= 4.8 * 5 + 1e-6
        for (x, y), (px, py) in zip(places, points, strict=True)
    )


def test_who_asks_is_read_from_one_text():
    assert signed_by(Request(), "Rowan\ud800\u202e; \x00Hollin").writer == ("Rowan", "Hollin")
    assert signed_by(Request(), "Rowan Alder; 12 Kiln Lane, Hollin; 01632").writer == (
        "Rowan Alder",
        "12 Kiln Lane, Hollin",
        "01632",
    )
    assert signed_by(Request(), "Rowan Alder, Hollin, 01632").writer == ("Rowan Alder", "Hollin, 01632")
    assert signed_by(FULL, "Rowan").holes == 5
    for text in ("", " ; ", "a;b;c;d;e;f;g", "x" * 91):
        with pytest.raises(WrongUsage, match="--from"):
            signed_by(Request(), text)


def test_every_fault_of_a_request_is_named(tmp_path):
    path = tmp_path / "request.toml"
    path.write_text(
        'writer = ["a", "' + "b" * 91 + '"]\nholes = 0\ndepth_cm = nan\ncolour = "red"\nscope = "mine"\n'
        "days_from = 2026-05-04\n",
        encoding="utf-8",
    )
    with pytest.raises(DefinitionError) as caught:
        read_request(path)
    assert {issue.place or issue.field for issue in caught.value.issues} >= {
        "writer[1]",
        "holes",
        "depth_cm",
        "colour",
        "scope",
    }
    path.write_text("days_from = 2026-05-04\ndays_until = 2026-05-01\n", encoding="utf-8")
    with pytest.raises(DefinitionError, match="days_until lies before days_from"):
        read_request(path)


def test_the_wording_fills_in_only_what_is_known():
    text = (Path(__file__).resolve().parents[2] / "layers" / "wording" / "request.toml").read_text("utf-8")
    body = text.split("\n\n", 1)[1]
    assert set(re.findall(r"\{(\w+)\}", body)) <= {
        "day",
        "month",
        "year",
        "parcel",
        "source",
        "name",
        "count",
        "length",
        "from",
        "until",
        "what",
    }
    assert set(wording().letter.scopes) == {"look", "walk", "auger", "dig", "take"}


def test_how_long_a_letter_takes(figures):
    made("letter", view())
    began = time.perf_counter()
    sheet = made("letter", view())
    figures["letter as PDF"] = f"{time.perf_counter() - began:.2f} s, {len(sheet.pdf) / 1000:.0f} kB"
    assert len(sheet.pdf) < 200_000


# The command.


@pytest.fixture(scope="module")
def ground(small_files, tmp_path_factory) -> Path:
    """A small ground with a well on parcel 001 and a neighbour who is not to be asked."""
    folder = tmp_path_factory.mktemp("letters") / "behind-the-Ludgrove-barn"
    assert run(["new", str(folder)]) == 0
    for kind in ("elevation", "geology", "parcels"):
        assert run(["add", str(folder), kind, str(small_files[kind])]) == 0
    well = gpd.GeoDataFrame(
        {"kind": ["well"], "name": ["old well of the Ludgroves"]}, geometry=[Point(*WELL).buffer(2)], crs=CRS
    )
    well.to_file(folder.parent / "wells.gpkg", layer="wells", driver="GPKG")
    assert run(["add", str(folder), "keepouts", str(folder.parent / "wells.gpkg")]) == 0
    opened = Ground.open(folder)
    opened.permit(Permission("002", "do-not-ask", person="Tov Brandle"))
    opened.permit(Permission("004", "refused", person="Orsa Quill"))
    return folder


WELL = (WEST + 600, NORTH - 700)


def at(x: float, y: float) -> str:
    lon, lat = TO_LONLAT.transform(WEST + x, NORTH - y)
    return f"{lon:.7f},{lat:.7f}"


def share(capsys, *words: object, code: int = 0) -> dict:
    capsys.readouterr()
    assert run(["share", *(str(word) for word in words), "--json"]) == code
    out, err = capsys.readouterr()
    assert "Traceback" not in err
    return json.loads(out) if code == 0 else {"said": err}


def test_the_command_writes_a_letter_for_the_best_spots(ground, tmp_path, capsys):
    path = tmp_path / "letter.pdf"
    told = share(capsys, ground, "--to", path, "--for", "owner:001", "--from", "Rowan Alder; Hollin")
    assert set(told) == {"file", "for", "product", "sites", "spots", "left_out", "notes"}
    assert told["product"] == "letter"
    said = text_of(path.read_bytes())
    assert "Dear Mirel Ashdown," in said
    assert told["spots"] == 0 or f"{told['spots']} spots" in said or "the spot numbered" in said
    found = everything_in(path.read_bytes())
    for secret in (
        "Tov Brandle",
        "Orsa Quill",
        "Ludgrove",
        "parcels.gpkg",
        "wells.gpkg",
        "old well",
        str(ground),
        str(tmp_path),
    ):
        assert secret.encode() not in found
    assert [entry.name for entry in tmp_path.iterdir()] == ["letter.pdf"]


def test_the_command_takes_spots_and_a_request(ground, tmp_path, capsys):
    request = tmp_path / "request.toml"
    request.write_text('scope = "auger"\nholes = 3\ndays_from = 2026-05-04\n', encoding="utf-8")
    lon, lat = at(300, 400).split(",")
    (tmp_path / "spots.csv").write_text(f"id,lon,lat\na,{lon},{lat}\n", encoding="utf-8")
    for product in ("letter", "slip"):
        path = tmp_path / f"{product}.pdf"
        told = share(
            capsys,
            ground,
            "--to",
            path,
            "--for",
            "owner:001",
            "--product",
            product,
            "--request",
            request,
            "--at",
            at(200, 300),
            "--spots",
            tmp_path / "spots.csv",
        )
        assert told["spots"] == 2
        assert "3 holes" in text_of(path.read_bytes())


def test_a_spot_that_a_keep_out_forbids_is_left_out_and_told(ground, tmp_path, capsys):
    path = tmp_path / "letter.pdf"
    places = ("--at", at(605, 703), "--at", at(200, 300), "--at", at(1195, 300))
    told = share(capsys, ground, "--to", path, "--for", "owner:001", *places)
    assert told["spots"] == 2
    assert any("Left out, the spot" in note and "ell" in note for note in told["notes"])
    assert any("5 m from the parcel line" in note for note in told["notes"])


def test_somebody_who_is_not_to_be_asked_gets_no_letter(ground, tmp_path, capsys):
    for product in ("letter", "slip"):
        path = tmp_path / f"{product}.pdf"
        words = ("--for", "owner:002", "--product", product, "--at", at(1500, 300))
        said = share(capsys, ground, "--to", path, *words, code=4)["said"]
        assert "No letter is written" in said
        assert not path.exists()
    told = share(capsys, ground, "--to", tmp_path / "r.pdf", "--for", "owner:004", "--at", at(1500, 2000))
    assert any("refused" in note for note in told["notes"])


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("x.pdf",), 2, "--for owner:PARCEL"),
        (("x.pdf", "--for", "self", "--product", "slip"), 2, "for one owner"),
        (("x.pdf", "--product", "map"), 2, ".html"),
        (("x.html", "--for", "owner:001", "--product", "letter"), 2, ".pdf"),
        (("x.pdf", "--for", "owner:001", "--product", "portfolio"), 2, "portfolio"),
        (("x.pdf", "--for", "owner:nowhere"), 4, "no parcel 'nowhere'"),
        (("x.pdf", "--for", "owner:001", "--at", "here"), 2, "LON,LAT"),
        (("x.pdf", "--for", "owner:001", "--at", "10,50"), 2, "does not lie on parcel 001"),
        (("x.pdf", "--for", "owner:001", "--request", "none.toml"), 3, "none.toml"),
        (("x.html", "--from", "Rowan"), 2, "belong to a letter"),
    ],
)
def test_the_command_refuses_with_words(ground, tmp_path, capsys, monkeypatch, words, code, said):
    monkeypatch.chdir(tmp_path)
    assert said in share(capsys, ground, "--to", *words, code=code)["said"]
    assert list(tmp_path.iterdir()) == []


def test_a_ground_without_parcels_is_told(small_files, tmp_path, capsys):
    folder = tmp_path / "bare"
    assert run(["new", str(folder), "--bbox", "-129.0,-47.53,-128.97,-47.51"]) == 0
    said = share(capsys, folder, "--to", tmp_path / "x.pdf", "--for", "owner:001", code=4)["said"]
    assert "no layer 'parcels'" in said


def test_a_letter_needs_no_ranking(small_files, tmp_path, capsys):
    folder = tmp_path / "lines-only"
    assert run(["new", str(folder), "--bbox", "-129.0,-47.53,-128.97,-47.51"]) == 0
    assert run(["add", str(folder), "parcels", str(small_files["parcels"])]) == 0
    told = share(capsys, folder, "--to", tmp_path / "x.pdf", "--for", "owner:001")
    assert told["spots"] == 0
    assert any("No spot is proposed" in note or "No ranked site" in note for note in told["notes"])

"""The encoders, checked against the standards of what they write into."""

import csv
import io
import json
import re
import unicodedata
from html import unescape
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jinja2 import Environment

from prospect.text import (
    csv_cell,
    escape_html,
    escape_script,
    file_name,
    plain,
    printable_json,
    read_csv_cell,
    xml_text,
)

PAYLOAD = (
    "<img src=x onerror=alert(1)> </script><script>x</script> `${alert(1)}` {{7*7}} {% raw %} {# c #} _abc12 '"
    '";\\ \u2028'
)
HOSTILE = {
    item["what"]: item["text"]
    for item in json.loads((Path(__file__).parent / "hostile_words.json").read_text(encoding="utf-8"))
}


def test_html_comes_back_verbatim_from_an_html_parser():
    # HTML named and numeric character references (WHATWG HTML, 13.5)
    assert unescape(escape_html(PAYLOAD)) == PAYLOAD


def test_html_has_nothing_that_starts_markup_a_literal_or_a_template():
    assert not re.search(r"[<>\"'`${}\\%]", escape_html(PAYLOAD))


@given(st.text())
def test_html_round_trip(text):
    # html.unescape follows the WHATWG rule for references only; ours are always well formed
    assert unescape(escape_html(text)) == text


def test_script_is_json_and_comes_back_verbatim():
    value = {PAYLOAD: [PAYLOAD, 1, 2.5, None, True, {"a": {"b": {}}}], "lon": float("nan")}
    text = escape_script(value)
    assert json.loads(text) == {**value, "lon": None}  # RFC 8259


def test_script_strings_hold_none_of_the_characters_that_template_engines_read():
    text = escape_script([PAYLOAD])
    assert not re.search(r"[{}<>&`$%#_]", text)
    assert text.isascii()  # so U+2028 and U+2029 too (ECMA-262 line terminators)


def test_structural_braces_never_touch():
    text = escape_script({"a": {"b": {"c": {}}}, "d": [{}, {}]})
    for pair in ("{{", "}}", "{%", "{#", "%}", "#}"):
        assert pair not in text


def test_template_engine_leaves_it_alone():
    # jinja2 is the engine that folium renders with
    value = {"name": PAYLOAD, "deep": {"er": {"still": "{{ 7 * 7 }}"}}}
    rendered = Environment(autoescape=False).from_string(escape_script(value)).render()
    assert json.loads(rendered) == value


def test_script_refuses_what_is_not_data():
    with pytest.raises(TypeError):
        escape_script(object())


@given(st.recursive(st.none() | st.booleans() | st.integers() | st.text(), st.lists, max_leaves=20))
def test_script_round_trip(value):
    assert json.loads(escape_script(value)) == value


@pytest.mark.parametrize("text", ["=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", "\0x"])
def test_formula_cells_are_quoted(text):
    # OWASP ASVS 4 1.2.10 / CWE-1236: a leading single quote before = + - @ tab and NUL
    assert csv_cell(text) == "'" + text


@pytest.mark.parametrize("value", [1, -2.5, "−", "12", "-12.5", "+3", "-1e-3", "plain", "", None])
def test_other_cells_stay(value):
    assert csv_cell(value) == value


@given(st.text(alphabet=st.characters(exclude_categories=["Cs"])))
def test_reading_strips_exactly_what_writing_added(text):
    assert read_csv_cell(csv_cell(text)) == text


def test_formula_survives_a_real_csv_round_trip():
    sink = io.StringIO(newline="")
    csv.writer(sink).writerow([csv_cell('=HYPERLINK("x";"y")'), csv_cell("'=quoted")])
    row = next(csv.reader(io.StringIO(sink.getvalue(), newline="")))
    assert [read_csv_cell(cell) for cell in row] == ['=HYPERLINK("x";"y")', "'=quoted"]


def test_xml_text_parses_and_drops_what_xml_forbids():
    # W3C XML 1.0, production 2 Char
    text = xml_text(f"a\x00\x0b\ufffe{PAYLOAD}]]>&lt;")
    element = ET.fromstring(f'<a b="{text}">{text}</a>')
    assert element.text == f"a{PAYLOAD}]]>&lt;" == element.get("b")


def test_plain_drops_control_and_direction_marks_and_is_bounded():
    assert plain("a\x00\x1b[31mb\u202ec\u2066\nd\te") == "a[31mbc d e"
    assert plain("x" * 1000, 10) == "x" * 9 + "…"
    assert plain("one\r\ntwo", lines=True) == "one\ntwo"
    assert plain(None) == ""
    assert plain("Tonschiefer – glimmerführend") == "Tonschiefer – glimmerführend"


@pytest.mark.parametrize("what", HOSTILE)
def test_a_hostile_word_is_nothing_but_text_in_an_element_and_an_attribute(what):
    shown = plain(HOSTILE[what])
    seen: list[tuple[str, object]] = []

    class Reader(HTMLParser):
        def handle_starttag(self, tag, attrs):
            seen.append((tag, attrs))

        def handle_data(self, data):
            seen.append(("", data))

    reader = Reader()
    reader.feed(f'<p title="{escape_html(shown)}">{escape_html(shown)}</p>')
    reader.close()
    texts = "".join(str(data) for tag, data in seen if not tag)
    assert (seen[0], texts) == (("p", [("title", shown)]), shown)


@pytest.mark.parametrize("what", HOSTILE)
def test_a_hostile_word_comes_back_from_every_encoder(what):
    text = HOSTILE[what]
    assert json.loads(escape_script({text: text})) == {text: text}
    assert read_csv_cell(csv_cell(text)) == text
    assert str(csv_cell(text))[:1] not in tuple("=+-@\t\r\n\0＝＋－＠") or not text
    element = ET.fromstring(f'<a b="{xml_text(plain(text))}">{xml_text(plain(text))}</a>')
    assert (element.text or "") == (element.get("b") or "") == plain(text)


def test_plain_keeps_the_spelling_of_every_script():
    # Unicode 15, 23.2: the two joiners are part of how words of Persian and of Indic scripts are written, and of
    # pictures made of several.
    for word in ("می\u200cخواهم", "क्\u200dष", "👨\u200d🌾", "Tho\u0302\u0301", "1\ufe0f\u20e3"):
        assert plain(word) == word
    assert plain("As\u200ch\u200ddown") == "Ashdown"  # in a Latin word they only hide


def test_plain_keeps_letters_of_a_later_unicode_and_drops_what_is_none():
    # Unicode 15, 23.7: the 66 noncharacters are never assigned; what merely has no name yet may be a letter.
    assert plain("a\u0378b\U0001fae8c") == "a\u0378b\U0001fae8c"
    assert plain("a\uffffb\U0010fffec\ufdd0d\ud800e\ue000f\U000e0041g") == "abcdefg"


def test_plain_takes_every_line_break_for_one():
    # Unicode 15, 5.8, newline function: CR, LF, CRLF, NEL, VT, FF, LS, PS.
    for end in ("\r", "\n", "\r\n", "\x85", "\v", "\f", "\u2028", "\u2029"):
        assert plain(f"one{end}two") == "one two"
        assert plain(f"one{end}two", lines=True) == "one\ntwo"


def test_plain_bounds_the_marks_on_one_letter():
    # UAX #15, 13: at most 30 non-starters in a row in the stream-safe text format.
    assert plain("e" + "\u0301" * 4999) == "e" + "\u0301" * 30


@given(st.text(), st.integers(1, 40))
def test_plain_settles_and_is_bounded(text, most):
    shown = plain(text, most)
    assert len(shown) <= most
    assert plain(shown, most) == shown
    assert not [char for char in shown if unicodedata.category(char) in ("Cc", "Cs", "Co", "Zl", "Zp")]


@pytest.mark.parametrize("what", HOSTILE)
def test_a_hostile_word_becomes_a_file_in_the_folder_and_nowhere_else(what, tmp_path):
    path = tmp_path / file_name(HOSTILE[what] + ".csv")
    path.write_bytes(b"x")
    assert [entry.name for entry in tmp_path.iterdir()] == [path.name]
    assert path.parent == tmp_path
    assert path.suffix == ".csv"


@pytest.mark.parametrize(
    ("given", "name"),
    [
        ("dug last week.csv", "dug last week.csv"),
        ("soil_ZZ001_[2026-01-15].zip", "soil_ZZ001_[2026-01-15].zip"),
        ("N35W084.SRTMGL1.hgt", "N35W084.SRTMGL1.hgt"),
        ("Höhen (alt).tif", "Höhen (alt).tif"),
        ("../../x.csv", "x.csv"),
        ("C:\\Users\\somebody\\x.csv", "x.csv"),
        ("..", "file"),
        ("", "file"),
        (None, "file"),
        (".csv", "file.csv"),
        ("a\0b.csv", "ab.csv"),
        ("<img src=x>.csv", "_img src=x_.csv"),
        # Names of devices, "Naming Files, Paths, and Namespaces" (Win32 documentation), from memory.
        ("con.csv", "file con.csv"),
    ],
)
def test_file_names(given, name):
    assert file_name(given) == name


@given(st.text())
def test_file_names_are_short_whole_and_without_a_folder(text):
    name = file_name(text)
    assert 0 < len(name.encode()) <= 170
    assert not set(name) & set('/\\:*?"<>|\0')
    assert name not in (".", "..")
    assert file_name(name) == name


@pytest.mark.parametrize("what", HOSTILE)
def test_printed_json_says_the_same_and_steers_no_terminal(what):
    value = {HOSTILE[what]: [HOSTILE[what]]}
    text = printable_json(json.dumps(value, ensure_ascii=False, indent=1))
    assert json.loads(text) == value
    assert not [
        char for char in text if char != "\n" and unicodedata.category(char) in ("Cc", "Cf", "Cs", "Co")
    ]

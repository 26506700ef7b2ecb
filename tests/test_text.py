"""The encoders, checked against the standards of what they write into."""

import csv
import io
import json
import re
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jinja2 import Environment

from prospect.text import csv_cell, escape_html, escape_script, plain, read_csv_cell, xml_text

PAYLOAD = (
    "<img src=x onerror=alert(1)> </script><script>x</script> `${alert(1)}` {{7*7}} {% raw %} {# c #} _abc12 '"
    '";\\ \u2028'
)


def test_html_comes_back_verbatim_from_an_html_parser():
    from html import unescape  # HTML named and numeric character references (WHATWG HTML, 13.5)

    assert unescape(escape_html(PAYLOAD)) == PAYLOAD


def test_html_has_nothing_that_starts_markup_a_literal_or_a_template():
    assert not re.search(r"[<>\"'`${}\\%]", escape_html(PAYLOAD))


@given(st.text())
def test_html_round_trip(text):
    # html.unescape follows the WHATWG rule for references only; ours are always well formed
    from html import unescape

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

"""Any text into every parser: a result, or an error of ours that says what was expected, never another exception."""

from __future__ import annotations

import math
import os
import tempfile
from pathlib import Path

import pytest
from controls import make_control
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from reading_as import TODAY, check_log, read_as

from prospect.cartography import place_in_words, read_place
from prospect.definitions import read_toml, shown
from prospect.errors import DefinitionError, ProspectError
from prospect.guard.address import address_fault, host_fault, is_public
from prospect.guard.inspection import file_name
from prospect.land.permission import in_date
from prospect.records import Permission
from prospect.rock import parse_rock
from prospect.rock.corrections import parse_correction
from prospect.rock.wording import read_coded
from prospect.settings import SETTING_TEXTS, parse_setting
from prospect.sources.coordinates import read_degrees, read_position, settle
from prospect.sources.exif import read_exif
from prospect.sources.numbers import names_unit, read_length, read_number, read_range, unit_of_heading
from prospect.sources.reading import Wording
from prospect.sources.sample_rows import date_fault, read_date, read_usable
from prospect.text import csv_cell, plain, read_csv_cell
from prospect.types import Bounds

EXAMPLES = int(os.environ.get("CLAYWALK_EXAMPLES", "150"))
settings.register_profile(
    "hostile",
    max_examples=EXAMPLES,
    deadline=None,
    # The same texts each time, unless somebody asks for more of them.
    derandomize=EXAMPLES <= 150,
    suppress_health_check=list(HealthCheck),
)
settings.load_profile("hostile")
FEW = settings(max_examples=max(30, EXAMPLES // 5))

PIECES = st.sampled_from(
    [
        *"0123456789.,-+eE°'\"NSEWOnsew:;/|_ \t",
        *("－", "１", "٣", "²", "½", "∞", "−", "\x00", "\u202e", "\ud800", "1e400", "NaN", "inf"),
        *(
            "UTM",
            "17S",
            "ft",
            "cm",
            "m",
            "to",
            "bis",
            "..",
            "2026",
            "-05-",
            "31",
            "\n",
            "=",
            "(",
            ")",
            "[",
            "%",
            "{",
        ),
    ]
)
TEXT = st.one_of(st.text(max_size=80), st.lists(PIECES, max_size=25).map("".join))


@given(TEXT, st.booleans())
@example("²", False)
@example("1" * 5000, True)
@example("1" * 400 + ",1", False)
def test_numbers(text, comma):
    value = read_number(text, decimal_comma=comma)
    assert value is None or math.isfinite(value)
    for unit in ("cm", "m"):
        length = read_length(text, unit, decimal_comma=comma)
        assert length is None or not math.isnan(length)
        both = read_range(text, unit, decimal_comma=comma)
        assert both is None or len(both) == 2
    assert isinstance(names_unit(text), str)
    assert isinstance(unit_of_heading(text), str)


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e9, max_value=1e9))
def test_numbers_read_back(number):
    assert read_number(f"{number!r}") == number
    assert read_number(f"{number:.3f}".replace(".", ","), decimal_comma=True) == pytest.approx(
        number, abs=5.01e-4
    )


@given(TEXT, st.booleans())
@example("NS", False)
@example("°", False)
@example("-", True)
@example("½ N", False)
def test_coordinates(text, comma):
    for axis in ("lon", "lat"):
        angle = read_degrees(text, axis, decimal_comma=comma)
        assert angle is None or not math.isnan(angle)
    place = read_position(text)
    assert place is None or all(math.isfinite(part) for part in place)


@given(
    st.integers(0, 70),
    st.sampled_from("CDEFGHJKLMNPQRSTUVWXYZ"),
    st.integers(0, 10**8),
    st.integers(0, 10**8),
    st.text("ABCDEFGHJKLMNPQRSTUVWXYZ", min_size=2, max_size=2),
)
def test_grid_positions(zone, band, x, y, letters):
    for text in (
        f"{zone}{band} {x} {y}",
        f"{zone}{band}{letters}{x}",
        f"{zone}{band}{letters}{x:05d}{y:05d}",
    ):
        place = read_position(text)
        assert place is None or (abs(place[0]) <= 360 and abs(place[1]) <= 90)


@given(st.floats(allow_nan=False), st.floats(allow_nan=False))
def test_settled_positions(lon, lat):
    for ground in (None, Bounds(-9.1, -47.1, -9.0, -47.0)):
        spot = settle(lon, lat, ground)
        assert spot is None or (abs(spot.lon) <= 180 and abs(spot.lat) <= 90)


@given(st.floats(-179.9, 179.9), st.floats(-89.9, 89.9))
def test_coordinates_read_back(lon, lat):
    assert read_degrees(f"{lon:.7f}", "lon") == pytest.approx(lon, abs=1e-7)
    side = "S" if lat < 0 else "N"
    whole = int(abs(lat))
    minutes = min((abs(lat) - whole) * 60, 59.999999)
    assert read_degrees(f"{whole}°{minutes:.6f}'{side}", "lat") == pytest.approx(lat, abs=1e-6)
    found = read_place(place_in_words(lon, lat))
    assert found == pytest.approx((lon, lat), abs=0.01)


@given(TEXT)
@example("1" * 400 + ", 1")
def test_places_in_words(text):
    try:
        lon, lat = read_place(text)
    except ProspectError:
        return
    assert abs(lon) <= 180
    assert abs(lat) <= 90


@given(TEXT)
@example("٢٠٢٦-٠٥-٣١")
@example("²²²²-05-31")
@example("9999-99-99")
@example("00000000")
def test_dates(text):
    found = read_date(text)
    assert found is None or (len(found[0]) == 10 and found[0].isascii())
    assert isinstance(date_fault(text, TODAY), str)
    assert read_usable(text) in ("yes", "no", "unknown", None)


@given(st.dates())
def test_dates_read_back(day):
    assert read_date(day.isoformat()) == (day.isoformat(), False)
    assert read_date(f"{day.day}.{day.month}.{day.year:04d}") == (day.isoformat(), True)


@given(TEXT, TEXT, TEXT)
def test_permission_dates(first, last, on):
    held, why = in_date(Permission("1", "granted", valid_from=first, valid_until=last), on)
    assert held or why


@given(TEXT)
@example("=" * 10)
@example("Kg=granite:" + "9" * 5000)
@example("a=b:1e400")
@example("a=granite:²")
def test_rock_wording(text):
    parse_rock(text)
    read_coded(text)
    try:
        unit, rocks = parse_correction(text)
    except ProspectError:
        return
    assert unit
    assert rocks


@given(st.one_of(TEXT, st.tuples(st.sampled_from([*SETTING_TEXTS]), TEXT).map("=".join)))
@example("cell_m=nan")
@example("cell_m=inf")
@example("cell_m=" + "9" * 5000)
@example("name=\x1b[31mred")
@example("name=\ud800")
@example("purpose=any;DROP TABLE x")
@example("__class__=x")
@example("west=0")
def test_settings(pair):
    try:
        key, value = parse_setting(pair)
    except ProspectError as error:
        if len(str(error)) > 1000:
            raise AssertionError("a value of any length is shown cut") from error
        return
    assert key in SETTING_TEXTS
    if isinstance(value, float):
        assert math.isfinite(value)
    if isinstance(value, str):
        assert value.isprintable()


@given(TEXT)
def test_cells_of_tables_read_back(text):
    cell = csv_cell(text)
    assert read_csv_cell(str(cell)) == text
    assert plain(text) == plain(plain(text))


@given(TEXT)
@example("https://[")
@example("https://[::1]:99999/")
@example("https://a.b:port/")
def test_addresses(text):
    for whole in (text, f"https://{text}", f"https://data.publisher.org/{text}"):
        assert isinstance(address_fault(whole), str)
    assert isinstance(host_fault(text), str)
    assert is_public(text) in (True, False)


@given(st.one_of(TEXT, st.binary(max_size=60).map(os.fsdecode)))
def test_names_of_files(text):
    name = file_name(Path(text))
    name.encode("utf-8")
    assert len(name) <= 130
    assert "\n" not in name


@given(st.one_of(st.binary(max_size=300), st.binary(max_size=300).map(lambda b: b"II*\0\x08\0\0\0" + b)))
def test_tags_of_photos(block):
    tags = read_exif(block)
    assert all(isinstance(value, (str, tuple)) for value in tags.values.values())


TOML = st.lists(
    st.sampled_from(
        [
            "key",
            "=",
            '"x"',
            "[",
            "]",
            "[[criteria]]",
            "\n",
            "weight",
            "0.5",
            "nan",
            "{",
            "}",
            ",",
            ".",
            "#",
            "'''",
            "1979-05-27",
        ]
    ),
    max_size=40,
).map("".join)


@given(st.one_of(TOML, st.text(max_size=200)))
@FEW
def test_definitions(text):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "mine.toml"
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        try:
            content = read_toml(path)
            assert isinstance(shown(content), str)
        except DefinitionError:
            pass
        log, message = read_as("deposit", path, Wording()) if text else (None, "")
        if log is not None:
            check_log(log, message, path)


ROW = st.lists(TEXT, min_size=1, max_size=9)
HEADINGS = st.lists(
    st.sampled_from(
        [
            "sample_id",
            "lon",
            "lat",
            "x",
            "y",
            "gps",
            "depth",
            "top_cm",
            "date",
            "usable",
            "quality",
            "note",
            "",
        ]
    ),
    min_size=1,
    max_size=9,
)


@given(HEADINGS, st.lists(ROW, max_size=6), st.sampled_from(",;\t|"), st.booleans())
@FEW
def test_rows_of_tables(headings, rows, delimiter, quoted):
    def cell(text: str) -> str:
        return '"' + text.replace('"', '""') + '"' if quoted else text

    lines = [delimiter.join(headings), *(delimiter.join(cell(text) for text in row) for row in rows)]
    _read("samples", "holes.csv", "\n".join(lines))


@given(TEXT, TEXT, TEXT)
@FEW
def test_waypoints(name, lat, lon):
    def safe(text: str) -> str:
        return text.translate({ord(c): f"&#{ord(c)};" for c in "<>&\"'"})

    _read(
        "samples",
        "walk.gpx",
        f'<gpx><wpt lat="{safe(lat)}" lon="{safe(lon)}"><name>{safe(name)}</name></wpt></gpx>',
    )
    _read("samples", "walk.gpx", f'<gpx><wpt lat="{lat}" lon="{lon}"><name>{name}</name></wpt></gpx>')
    point = f"<Point><coordinates>{safe(lon)},{safe(lat)}</coordinates></Point>"
    _read("samples", "walk.kml", f"<kml><Placemark><name>{safe(name)}</name>{point}</Placemark></kml>")


@given(st.lists(st.lists(TEXT, min_size=1, max_size=5), max_size=4))
@settings(max_examples=25)
def test_rows_of_legends(rows):
    with tempfile.TemporaryDirectory() as folder:
        path = make_control("gpkg", Path(folder))
        legend = Path(folder) / "legend.csv"
        lines = ["unit,name,age,description,rocks", *(",".join(row) for row in rows)]
        legend.write_bytes("\n".join(lines).encode("utf-8", "surrogatepass"))
        log, message = read_as("geology", path, Wording(legend=legend))
        check_log(log, message, path)


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=8) | st.integers(),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            st.sampled_from(["type", "coordinates", "geometry", "properties", "features", "crs", "x"]),
            inner,
            max_size=4,
        )
    ),
    max_leaves=12,
)


@given(JSON, JSON)
@settings(max_examples=60)
def test_features(geometry, properties):
    import json

    one = {"type": "Feature", "properties": properties, "geometry": geometry}
    good = {
        "type": "Feature",
        "properties": {"rocks": "clay"},
        "geometry": {"type": "Polygon", "coordinates": [[[-9, -47], [-8, -47], [-8, -46], [-9, -47]]]},
    }
    for content in (one, geometry, {"type": "FeatureCollection", "features": [good, one]}):
        _read("geology", "map.geojson", json.dumps(content))


@given(st.floats(), st.floats(), st.floats(), st.floats())
def test_bounds(west, south, east, north):
    try:
        box = Bounds(west, south, east, north)
    except ValueError:
        return
    assert box.west <= box.east
    assert box.south <= box.north


def _read(kind: str, name: str, text: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        log, message = read_as(kind, path, Wording(today=TODAY))
        check_log(log, message, path)

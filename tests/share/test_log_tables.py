"""The whole log goes out as plain tables and comes back equal, to the last digit, blank and apostrophe."""

from __future__ import annotations

import csv
import io
import zipfile
from pathlib import Path
from typing import Any, get_type_hints

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from prospect.errors import InputRefused, NothingToWorkWith, WrongUsage
from prospect.records import Bar, Batch, BenchTest, Hole, HoleLayer, LogBook, Sample
from prospect.share import Audience, write_log_tables
from prospect.sources.log_exact import README
from prospect.sources.log_reading import Asked, read_log

HARD = (
    "",
    "=1+1",
    "'=x",
    "''",
    "'",
    "0",
    "-5",
    "+1",
    "@a",
    "\ta",
    '"',
    'a"b,c',
    "a\nb",
    "a\r\nb",
    "\r",
    " x ",
    "Ünïcødé 粘土",
    "-",
    "n/a",
    "１",
    "＝1",
)
TEXT = st.one_of(st.sampled_from(HARD), st.text(st.characters(exclude_categories=("Cs",)), max_size=12))
NAME = st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=8)
NUMBER = st.floats(0, 1e9, allow_nan=False)
OWN = st.dictionaries(NAME | st.just(""), TEXT, max_size=3)
BY_TYPE: dict[str, st.SearchStrategy[Any]] = {
    "<class 'str'>": TEXT,
    "float | None": st.none() | NUMBER | st.sampled_from([0.0, 0.1, 1e-9, 1 / 3]),
    "<class 'bool'>": st.booleans(),
    "tuple[str, ...]": st.lists(TEXT, max_size=3).map(tuple),
    "typing.Literal['yes', 'no', 'unknown']": st.sampled_from(["yes", "no", "unknown"]),
    "dict[str, str]": OWN,
    "dict[str, float]": st.dictionaries(NAME, st.floats(allow_nan=False, allow_infinity=False), max_size=3),
}


def items(made: type, **given: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    parts = {name: BY_TYPE.get(str(kind), st.nothing()) for name, kind in get_type_hints(made).items()}
    return st.builds(made, **{**parts, **given})


def in_order(item: Any) -> bool:
    return item.top_cm is None or item.bottom_cm is None or item.top_cm <= item.bottom_cm


PLACE = {"lon": st.floats(-180, 180), "lat": st.floats(-90, 90)}
LAYERS = st.lists(items(HoleLayer).filter(in_order), max_size=3).map(tuple)
BOOKS = st.builds(
    LogBook,
    holes=st.lists(
        items(Hole, hole_id=NAME, layers=LAYERS, elevation_m=st.none() | st.floats(-400, 9000), **PLACE),
        max_size=2,
        unique_by=lambda i: i.hole_id,
    ).map(tuple),
    samples=st.lists(
        items(Sample, sample_id=NAME, **PLACE).filter(in_order), max_size=2, unique_by=lambda i: i.sample_id
    ).map(tuple),
    bars=st.lists(items(Bar, bar_id=NAME), max_size=2, unique_by=lambda i: i.bar_id).map(tuple),
    tests=st.lists(
        items(BenchTest, test_id=NAME).filter(lambda t: not set(t.values) & set(t.words)),
        max_size=2,
        unique_by=lambda i: i.test_id,
    ).map(tuple),
    batches=st.lists(items(Batch, batch_id=NAME), max_size=2, unique_by=lambda i: i.batch_id).map(tuple),
)
FULL = LogBook(
    (
        Hole(
            "=H'1",
            -9.020000000000001,
            -47.1,
            "auger",
            3.3,
            "2026-05-31",
            0.0,
            "stone",
            None,
            "yes",
            359.9,
            -2.5,
            (
                HoleLayer(0.0, 0.1 + 0.2, "no", "loam", fields={"=own": "", "": "x"}),
                HoleLayer(None, None, note="two\nlines"),
            ),
            "'quoted'",
            {"water": "-", "empty": ""},
        ),
    ),
    (Sample("S1", -9.0, -47.0, "=H'1", quality=0.0, note="'=1", fields={"a": "=b"}),),
    (
        Bar(
            "B1",
            "S1",
            plastic_mm=0.0,
            faults=("lime pops", "odd, word", ""),
            looked_for_faults=True,
            cone="06",
        ),
    ),
    (BenchTest("T1", "S1", "limits", values={"liquid_limit_pct": 1 / 3}, words={"how": "", "seen": "-"}),),
    (Batch("K1", "=H'1", buckets=4.0, pots=0.0),),
)


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(book=BOOKS.filter(bool))
@example(book=FULL)
def test_any_log_comes_back_equal(tmp_path_factory: pytest.TempPathFactory, book: LogBook) -> None:
    path = tmp_path_factory.mktemp("log") / "log.zip"
    write_log_tables(path, book, Audience("self"))
    reading = read_log(path, "log", Asked())
    assert reading.book == book
    assert reading.log.refused == reading.log.repaired == 0


def test_zero_is_not_empty_and_no_cell_is_a_formula(tmp_path: Path) -> None:
    write_log_tables(tmp_path / "log.zip", FULL, Audience("self"))
    with zipfile.ZipFile(tmp_path / "log.zip") as archive:
        assert README in archive.namelist()
        assert "never means zero" in archive.read(README).decode()
        tables = {name: archive.read(name).decode() for name in archive.namelist() if name.endswith(".csv")}
    hole = next(csv.DictReader(io.StringIO(tables["holes.csv"])))
    assert (hole["depth_cm"], hole["water_cm"]) == ("0.0", "")
    for text in tables.values():
        for row in csv.reader(io.StringIO(text)):
            assert not any(cell.startswith(("=", "+", "@", "\t")) for cell in row)


def test_only_oneself_gets_it(tmp_path: Path) -> None:
    for who in ("public", "helper", "owner:1"):
        with pytest.raises(WrongUsage, match="yourself alone"):
            write_log_tables(tmp_path / "log.zip", FULL, Audience.named(who))
    with pytest.raises(NothingToWorkWith):
        write_log_tables(tmp_path / "log.zip", LogBook(), Audience("self"))
    assert not list(tmp_path.iterdir())


def _changed(folder: Path, book: LogBook, *changes: tuple[str, str, str]) -> Path:
    """Return an export of a book in which texts of members were replaced by others."""
    write_log_tables(folder / "log.zip", book, Audience("self"))
    with zipfile.ZipFile(folder / "log.zip") as archive:
        members = {name: archive.read(name).decode() for name in archive.namelist()}
    for member, before, after in changes:
        assert before in members[member], members[member]
        members[member] = members[member].replace(before, after)
    with zipfile.ZipFile(folder / "changed.zip", "w") as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return folder / "changed.zip"


SMALL = LogBook(
    (Hole("H1", -9.0, -47.0, facing_deg=359.9, layers=(HoleLayer(0.0, 30.0),), fields={"crew": "two"}),),
    (Sample("S1", -9.0, -47.0, "H1"),),
    tests=(BenchTest("T1", "S1", "limits", values={"liquid_limit_pct": 45.0}, words={"seen": "x"}),),
)


def test_a_change_that_hangs_together_is_read(tmp_path: Path) -> None:
    changes = (
        ("measured.csv", "45.0", "46.50"),
        ("own_columns.csv", "two", "three"),
        ("holes.csv", "-47.0", "-47.25"),
    )
    book = read_log(_changed(tmp_path, SMALL, *changes), "log", Asked()).book
    assert book.tests[0].values == {"liquid_limit_pct": 46.5}
    assert book.tests[0].words == {"seen": "x"}
    assert (book.holes[0].fields, book.holes[0].lat) == ({"crew": "three"}, -47.25)


@pytest.mark.parametrize(
    ("change", "place", "field", "value"),
    [
        (("holes.csv", "359.9", "west"), "holes.csv, row 2", "facing_deg", "west"),
        (("holes.csv", "-47.0", "-97"), "holes.csv, row 2", "lat", "-97"),
        (("measured.csv", "45.0", '"46,5"'), "measured.csv, row 2", "number", "46,5"),
        (("measured.csv", "T1,liquid", "T9,liquid"), "measured.csv, row 2", "test_id", "T9"),
        (("own_columns.csv", "H1", "H7"), "own_columns.csv, row 2", "name", "H7"),
        (("layers.csv", "H1,1,", "H1,2,"), "layers.csv, row 2", "layer", "2"),
        (("layers.csv", "H1,1,", "H3,1,"), "layers.csv, row 2", "hole_id", "H3"),
        (("layers.csv", "0.0,30.0", "40.0,30.0"), "layers.csv, row 2", "bottom_cm", "30"),
        (("samples.csv", "sample_id,", "label,"), "samples.csv, row 1", "", None),
    ],
)
def test_a_change_that_does_not_is_refused_whole_with_its_cell(tmp_path, change, place, field, value) -> None:
    with pytest.raises(InputRefused, match="Nothing of the archive was read") as caught:
        read_log(_changed(tmp_path, SMALL, change), "log", Asked())
    errors = [issue for issue in caught.value.log.issues if issue.severity == "error"]
    assert [(issue.place, issue.field) for issue in errors] == [(place, field)]
    assert value is None or errors[0].value == value


def test_all_wrong_cells_are_told_at_once_and_without_the_marker_it_is_anybodys_table(tmp_path: Path) -> None:
    path = _changed(tmp_path, FULL, ("holes.csv", "359.9", "west"), ("measured.csv", "T1", "T9"))
    with pytest.raises(InputRefused) as caught:
        read_log(path, "log", Asked())
    assert {issue.place.split(",")[0] for issue in caught.value.log.issues} == {"holes.csv", "measured.csv"}
    with zipfile.ZipFile(path) as archive:
        members = {name: archive.read(name) for name in archive.namelist() if name != README}
    with zipfile.ZipFile(tmp_path / "bare.zip", "w") as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    reading = read_log(tmp_path / "bare.zip", "log", Asked())
    assert reading.book.holes[0].facing_deg is None
    assert any(issue.value == "west" and "holes.csv" in issue.place for issue in reading.log.issues)

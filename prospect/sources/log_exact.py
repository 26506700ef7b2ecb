"""Writes a log book as plain tables and reads it back equal, to the last digit and blank."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, get_type_hints

from prospect.records import Bar, Batch, BenchTest, Hole, HoleLayer, LogBook, Sample
from prospect.sources.csv_rows import MOST_IN_CELL, MOST_ROWS
from prospect.text import csv_cell, read_csv_cell

README = "README.txt"
FIRST_LINE = "Claywalk log, tables of version 1"
MEASURED = ("test_id", "field", "number", "words")
OWN = ("table", "name", "layer", "column", "text")
_MOST_BYTES = 100_000_000

_Rows = list[dict[str, str]]


@dataclass(frozen=True, slots=True)
class _Kind:
    """How one kind of item is laid in a table."""

    table: str
    made: type
    name: str


_KINDS = (
    _Kind("samples", Sample, "sample_id"),
    _Kind("bars", Bar, "bar_id"),
    _Kind("batches", Batch, "batch_id"),
)
_APART = ("fields", "layers", "values", "words")
"""Fields of a record that have tables of their own."""


class _NotExact(Exception):
    """The tables are not as they were written."""


def exact_tables(book: LogBook) -> dict[str, bytes]:
    """Return CSV tables by file name: UTF-8, our own names, one for each kind.

    A number is written with all its digits, what is not known is empty, and a cell that a spreadsheet might take for
    a formula begins with an apostrophe; `read_exact` gives back an equal book. Own columns of a record and
    measurements of bench tests have tables of their own (`own_columns.csv`, `measured.csv`).
    """
    own: list[tuple[str, str, int, str, str]] = []
    layers: list[list[object]] = []
    for hole in book.holes:
        own += [("holes", hole.hole_id, 0, *pair) for pair in hole.fields.items()]
        for number, layer in enumerate(hole.layers, 1):
            layers.append([hole.hole_id, number, *_cells(layer)])
            own += [("layers", hole.hole_id, number, *pair) for pair in layer.fields.items()]
    tables = {
        "holes.csv": _table(_columns(Hole), map(_cells, book.holes)),
        "layers.csv": _table(("hole_id", "layer", *_columns(HoleLayer)), layers),
    }
    for kind in _KINDS:
        items = getattr(book, kind.table)
        tables[f"{kind.table}.csv"] = _table(_columns(kind.made), map(_cells, items))
        own += [
            (kind.table, getattr(one, kind.name), 0, *pair) for one in items for pair in one.fields.items()
        ]
    tables["tests.csv"] = _table(_columns(BenchTest), map(_cells, book.tests))
    measured: list[tuple[object, ...]] = []
    for test in book.tests:
        measured += [(test.test_id, key, value, None) for key, value in test.values.items()]
        # A word that is there and empty is not one that is not there.
        measured += [(test.test_id, key, None, text) for key, text in test.words.items()]
    tables["measured.csv"] = _table(MEASURED, measured)
    tables["own_columns.csv"] = _table(OWN, own)
    return tables


def read_exact(files: Iterable[Path]) -> LogBook | None:
    """Return the book that tables were written from; None where they are not exactly such tables.

    A table that somebody changed is read if each cell is still one that could have been written, and as anybody's
    table otherwise.
    """
    named = {file.name: file for file in files}
    marker = named.get(README)
    try:
        if marker is None or marker.stat().st_size > 100_000:
            return None
        if not marker.read_text(encoding="utf-8").startswith(FIRST_LINE):
            return None
        return _book({name: _read(file) for name, file in named.items() if name != README})
    except (_NotExact, OSError, UnicodeDecodeError, csv.Error):
        return None


def _book(tables: Mapping[str, tuple[list[str], list[list[str]]]]) -> LogBook:
    own: dict[tuple[str, str, str], dict[str, str]] = {}
    for row in _rows(tables, "own_columns", OWN):
        of = own.setdefault((row["table"], row["name"], row["layer"]), {})
        if row["column"] in of:
            raise _NotExact
        of[row["column"]] = row["text"]
    layers: dict[str, list[HoleLayer]] = {}
    for row in _rows(tables, "layers", ("hole_id", "layer", *_columns(HoleLayer))):
        of_hole = layers.setdefault(row.pop("hole_id"), [])
        number = row.pop("layer")
        if number != str(len(of_hole) + 1):
            raise _NotExact
        of_hole.append(HoleLayer(**_values(HoleLayer, row), fields={}))
    for hole_id, of_hole in layers.items():
        layers[hole_id] = [
            _with_fields(layer, own.pop(("layers", hole_id, str(number)), {}))
            for number, layer in enumerate(of_hole, 1)
        ]
    holes = []
    for row in _rows(tables, "holes", _columns(Hole)):
        values = _values(Hole, row)
        name = values["hole_id"]
        extra = own.pop(("holes", name, "0"), {})
        holes.append(Hole(**values, layers=tuple(layers.pop(name, ())), fields=extra))
    found: dict[str, tuple[Any, ...]] = {}
    for kind in _KINDS:
        items = []
        for row in _rows(tables, kind.table, _columns(kind.made)):
            values = _values(kind.made, row)
            items.append(kind.made(**values, fields=own.pop((kind.table, values[kind.name], "0"), {})))
        found[kind.table] = tuple(items)
    tests = _tests(tables)
    if own or layers:
        raise _NotExact
    book = LogBook(tuple(holes), found["samples"], found["bars"], tests, found["batches"])
    if not book or not all(map(_can_be, _all(book))) or not _each_once(book):
        raise _NotExact
    return book


def _tests(tables: Mapping[str, tuple[list[str], list[list[str]]]]) -> tuple[BenchTest, ...]:
    numbers: dict[str, dict[str, float]] = {}
    words: dict[str, dict[str, str]] = {}
    for row in _rows(tables, "measured", MEASURED):
        of: dict[str, Any] = (words if row["number"] == "" else numbers).setdefault(row["test_id"], {})
        if row["field"] in of or (row["number"] and row["words"]):
            raise _NotExact
        of[row["field"]] = row["words"] if row["number"] == "" else _number(row["number"])
    tests = []
    for row in _rows(tables, "tests", _columns(BenchTest)):
        values = _values(BenchTest, row)
        name = values["test_id"]
        tests.append(BenchTest(**values, values=numbers.pop(name, {}), words=words.pop(name, {})))
    if numbers or words:
        raise _NotExact
    return tuple(tests)


def _columns(made: type) -> tuple[str, ...]:
    return tuple(item.name for item in fields(made) if item.name not in _APART)


def _cells(item: object) -> list[object]:
    return [getattr(item, name) for name in _columns(type(item))]


def _table(columns: Sequence[str], rows: Iterable[Iterable[object]]) -> bytes:
    out = io.StringIO(newline="")
    table = csv.writer(out, lineterminator="\r\n")
    table.writerow(columns)
    for row in rows:
        table.writerow([_written(cell) for cell in row])
    return out.getvalue().encode("utf-8")


def _written(cell: object) -> object:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, (int, float)):
        return repr(float(cell)) if isinstance(cell, float) else str(cell)
    if isinstance(cell, tuple):
        return csv_cell(_listed(cell))
    return csv_cell(cell)


def _listed(words: tuple[str, ...]) -> str:
    """Return words with commas between them, those that hold one in quotes."""
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\r\n").writerow(words)
    return out.getvalue().removesuffix("\r\n")


def _read(file: Path) -> tuple[list[str], list[list[str]]]:
    if file.stat().st_size > _MOST_BYTES:
        raise _NotExact
    text = file.read_bytes().decode("utf-8")
    rows: list[list[str]] = []
    for row in csv.reader(io.StringIO(text, newline=""), strict=True):
        if len(rows) > MOST_ROWS or any(len(cell) > MOST_IN_CELL for cell in row):
            raise _NotExact
        rows.append(row)
    if not rows:
        raise _NotExact
    return rows[0], rows[1:]


def _rows(
    tables: Mapping[str, tuple[list[str], list[list[str]]]], name: str, columns: Sequence[str]
) -> Iterator[dict[str, str]]:
    heading, rows = tables.get(f"{name}.csv", ([], []))
    if heading != list(columns):
        raise _NotExact
    for row in rows:
        if len(row) != len(columns):
            raise _NotExact
        yield {column: read_csv_cell(cell) for column, cell in zip(columns, row, strict=True)}


def _values(made: type, row: Mapping[str, str]) -> dict[str, Any]:
    hints = get_type_hints(made)
    return {name: _READERS[str(hints[name])](text) for name, text in row.items()}


def _number(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        raise _NotExact from None
    if not math.isfinite(value) or repr(value) not in (text, f"{text}.0"):
        raise _NotExact
    return value


def _bool(text: str) -> bool:
    if text not in ("yes", "no"):
        raise _NotExact
    return text == "yes"


def _usable(text: str) -> str:
    if text not in ("yes", "no", "unknown"):
        raise _NotExact
    return text


def _words(text: str) -> tuple[str, ...]:
    return tuple(next(csv.reader(io.StringIO(text, newline=""), strict=True), [])) if text else ()


_READERS: dict[str, Callable[[str], Any]] = {
    "<class 'str'>": lambda text: text,
    "<class 'float'>": _number,
    "float | None": lambda text: None if text == "" else _number(text),
    "<class 'bool'>": _bool,
    "tuple[str, ...]": _words,
    "typing.Literal['yes', 'no', 'unknown']": _usable,
}


def _with_fields(layer: HoleLayer, own: dict[str, str]) -> HoleLayer:
    layer.fields.update(own)
    return layer


def _all(book: LogBook) -> Iterator[object]:
    for hole in book.holes:
        yield hole
        yield from hole.layers
    for items in (book.samples, book.bars, book.tests, book.batches):
        yield from items


def _each_once(book: LogBook) -> bool:
    """Whether every name is there and once."""
    names = (
        [one.hole_id for one in book.holes],
        [one.sample_id for one in book.samples],
        [one.bar_id for one in book.bars],
        [one.test_id for one in book.tests],
        [one.batch_id for one in book.batches],
    )
    return all(len(set(of)) == len(of) and "" not in of for of in names)


def _can_be(item: object) -> bool:
    """Whether the numbers of an item can be; what cannot is left to the reader that says so row by row."""
    for name in _columns(type(item)):
        value = getattr(item, name)
        if not isinstance(value, float):
            continue
        if name in ("lon", "lat"):
            if abs(value) > (180 if name == "lon" else 90):
                return False
        elif name == "elevation_m":
            if abs(value) > 10_000:
                return False
        elif not 0 <= value <= 1e9:
            return False
    top, bottom = getattr(item, "top_cm", None), getattr(item, "bottom_cm", None)
    return top is None or bottom is None or top <= bottom

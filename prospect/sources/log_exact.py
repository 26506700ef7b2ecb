"""Writes a log book as plain tables and reads it back equal, to the last digit and blank."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple, get_type_hints

from prospect.records import Bar, Batch, BenchTest, Hole, HoleLayer, LogBook, Sample
from prospect.sources.csv_rows import MOST_IN_CELL, MOST_ROWS
from prospect.text import csv_cell, read_csv_cell

README = "README.txt"
FIRST_LINE = "Claywalk log, tables of version 1"
MEASURED = ("test_id", "field", "number", "words")
OWN = ("table", "name", "layer", "column", "text")
TABLES = (
    *("holes.csv", "layers.csv", "samples.csv", "bars.csv", "batches.csv"),
    *("tests.csv", "measured.csv", "own_columns.csv"),
)
MOST_WRONG = 20
"""How many wrong cells are told at a time."""
_MOST_BYTES = 100_000_000


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


class Wrong(NamedTuple):
    """What in the tables could not have been written: where, which column, what stands there, and what could."""

    place: str
    field: str
    value: str
    expected: str


class NotAsWritten(Exception):
    """The tables are ours and are not as they were written; `wrong` holds where, the first ones of many."""

    def __init__(self, wrong: Sequence[Wrong]) -> None:
        super().__init__(f"{len(wrong)} wrong cells")
        self.wrong = tuple(wrong[:MOST_WRONG])


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
    """Return the book that tables were written from; None where they are not ours (`README` begins otherwise).

    A table that somebody changed is read where each cell is still one that could have been written.

    Raises
    ------
    NotAsWritten
        When a cell is not. Nothing is read then: what the tables hold hangs together, and a measurement whose test
        has another name now would be lost without a word.
    """
    named = {file.name: file for file in files}
    marker = named.get(README)
    if marker is None or not _is_ours(marker):
        return None
    read = _Reading()
    for name in TABLES:
        read.load(name, named.get(name))
    book = _book(read)
    if not read.wrong:
        read.check(book)
    if read.wrong:
        raise NotAsWritten(read.wrong)
    return book


def _is_ours(marker: Path) -> bool:
    try:
        return marker.stat().st_size < 100_000 and marker.read_text(encoding="utf-8").startswith(FIRST_LINE)
    except (OSError, UnicodeDecodeError):
        return False


@dataclass(slots=True)
class _Reading:
    """The tables by name, and what is wrong in them so far."""

    tables: dict[str, tuple[list[str], list[list[str]]]] = field(default_factory=dict)
    wrong: list[Wrong] = field(default_factory=list)

    def load(self, name: str, file: Path | None) -> None:
        """Take up a table; one that cannot be read, or is not there, is wrong."""
        try:
            if file is None:
                raise ValueError("the table is not in the archive")
            self.tables[name] = _read(file)
        except (OSError, ValueError, csv.Error) as error:
            self.wrong.append(Wrong(name, "", str(error), "a table of UTF-8 text with commas"))

    def rows(self, table: str, columns: Sequence[str]) -> Iterator[tuple[str, dict[str, str]]]:
        """Yield each row with its place in words; rows of another length, and other headings, are wrong."""
        name = f"{table}.csv"
        heading, rows = self.tables.get(name, (list(columns), []))
        if heading != list(columns):
            self.wrong.append(Wrong(f"{name}, row 1", "", ",".join(heading)[:200], ",".join(columns)))
            return
        for number, row in enumerate(rows, 2):
            place = f"{name}, row {number}"
            if len(row) == len(columns):
                yield place, {column: read_csv_cell(cell) for column, cell in zip(columns, row, strict=True)}
            elif any(row):
                self.wrong.append(Wrong(place, "", f"{len(row)} cells", f"{len(columns)} cells"))

    def value(self, place: str, column: str, kind: str, text: str) -> Any:
        """Return what a cell holds; the text of one that could not have been written is wrong."""
        read, expected = _READERS[kind]
        try:
            return read(text)
        except (ValueError, csv.Error):
            self.wrong.append(Wrong(place, column, text, expected))
            return _INSTEAD.get(kind)

    def values(self, place: str, made: type, row: Mapping[str, str]) -> dict[str, Any]:
        """Return what the cells of a row hold, by field."""
        kinds = _kinds_of(made)
        return {name: self.value(place, name, kinds[name], text) for name, text in row.items()}

    def once(self, there: Mapping[str, object], key: str, place: str, column: str) -> None:
        """Say where a name stands that is there already."""
        if key in there:
            self.wrong.append(Wrong(place, column, key, "each only once"))

    def nobody(self, place: str, column: str, name: str) -> None:
        """Say where a name stands that nothing goes by."""
        self.wrong.append(Wrong(place, column, name, "the name of something in the other tables"))

    def check(self, book: LogBook) -> None:
        """Say which numbers cannot be, and which names are not there or there twice."""
        for part in ("holes", "samples", "bars", "tests", "batches"):
            column = f"{part[:-1] if part != 'batches' else 'batch'}_id"
            seen: set[str] = set()
            for number, item in enumerate(getattr(book, part), 2):
                place, name = f"{part}.csv, row {number}", getattr(item, column)
                if not name or name in seen:
                    self.wrong.append(Wrong(place, column, name, "a name that nothing else has"))
                seen.add(name)
                self.wrong += [Wrong(place, *why) for why in _cannot_be(item)]
        number = 2
        for hole in book.holes:
            for layer in hole.layers:
                self.wrong += [Wrong(f"layers.csv, row {number}", *why) for why in _cannot_be(layer)]
                number += 1


def _book(read: _Reading) -> LogBook:
    own = _own_columns(read)
    layers = _layers(read, own)
    holes = []
    for place, row in read.rows("holes", _columns(Hole)):
        values = read.values(place, Hole, row)
        name = values["hole_id"]
        extra = own.pop(("holes", name, "0"), ({}, ""))[0]
        holes.append(Hole(**values, layers=tuple(layers.pop(name, ([], ""))[0]), fields=extra))
    found: dict[str, tuple[Any, ...]] = {}
    for kind in _KINDS:
        items = []
        for place, row in read.rows(kind.table, _columns(kind.made)):
            values = read.values(place, kind.made, row)
            extra = own.pop((kind.table, values[kind.name], "0"), ({}, ""))[0]
            items.append(kind.made(**values, fields=extra))
        found[kind.table] = tuple(items)
    tests = _tests(read)
    for (_, name, _), (_, place) in own.items():
        read.nobody(place, "name", name)
    for name, (_, place) in layers.items():
        read.nobody(place, "hole_id", name)
    return LogBook(tuple(holes), found["samples"], found["bars"], tests, found["batches"])


def _own_columns(read: _Reading) -> dict[tuple[str, str, str], tuple[dict[str, str], str]]:
    own: dict[tuple[str, str, str], tuple[dict[str, str], str]] = {}
    for place, row in read.rows("own_columns", OWN):
        of, _ = own.setdefault((row["table"], row["name"], row["layer"]), ({}, place))
        read.once(of, row["column"], place, "column")
        of[row["column"]] = row["text"]
    return own


def _layers(
    read: _Reading, own: dict[tuple[str, str, str], tuple[dict[str, str], str]]
) -> dict[str, tuple[list[HoleLayer], str]]:
    layers: dict[str, tuple[list[HoleLayer], str]] = {}
    for place, row in read.rows("layers", ("hole_id", "layer", *_columns(HoleLayer))):
        hole_id, number = row.pop("hole_id"), row.pop("layer")
        of_hole, _ = layers.setdefault(hole_id, ([], place))
        if number != str(len(of_hole) + 1):
            read.wrong.append(
                Wrong(place, "layer", number, f"{len(of_hole) + 1}, the next layer of its hole")
            )
        extra = own.pop(("layers", hole_id, number), ({}, ""))[0]
        of_hole.append(HoleLayer(**read.values(place, HoleLayer, row), fields=extra))
    return layers


def _tests(read: _Reading) -> tuple[BenchTest, ...]:
    numbers: dict[str, dict[str, float]] = {}
    words: dict[str, dict[str, str]] = {}
    places: dict[str, str] = {}
    for place, row in read.rows("measured", MEASURED):
        of: dict[str, Any] = (words if row["number"] == "" else numbers).setdefault(row["test_id"], {})
        places.setdefault(row["test_id"], place)
        read.once(of, row["field"], place, "field")
        if row["number"] and row["words"]:
            read.wrong.append(Wrong(place, "words", row["words"], "either a number or words"))
        number = row["number"]
        of[row["field"]] = (
            row["words"] if number == "" else read.value(place, "number", "<class 'float'>", number)
        )
    tests = []
    for place, row in read.rows("tests", _columns(BenchTest)):
        values = read.values(place, BenchTest, row)
        name = values["test_id"]
        places.pop(name, None)
        tests.append(BenchTest(**values, values=numbers.pop(name, {}), words=words.pop(name, {})))
    for name, place in places.items():
        read.nobody(place, "test_id", name)
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
    """Return headings and rows of a table.

    Raises
    ------
    OSError, ValueError, csv.Error
        When it is no such table, or larger than any of ours.
    """
    if file.stat().st_size > _MOST_BYTES:
        raise ValueError(f"more than {_MOST_BYTES:,} bytes")
    text = file.read_bytes().decode("utf-8-sig")
    rows: list[list[str]] = []
    for row in csv.reader(io.StringIO(text, newline=""), strict=True):
        if len(rows) > MOST_ROWS or any(len(cell) > MOST_IN_CELL for cell in row):
            raise ValueError(f"more than {MOST_ROWS:,} rows, or {MOST_IN_CELL:,} characters in a cell")
        rows.append(row)
    if not rows:
        raise ValueError("an empty table")
    return rows[0], rows[1:]


@lru_cache(maxsize=16)
def _kinds_of(made: type) -> Mapping[str, str]:
    return {name: str(hint) for name, hint in get_type_hints(made).items()}


def _number(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError
    return value


def _bool(text: str) -> bool:
    if text not in ("yes", "no"):
        raise ValueError
    return text == "yes"


def _usable(text: str) -> str:
    if text not in ("yes", "no", "unknown"):
        raise ValueError
    return text


def _words(text: str) -> tuple[str, ...]:
    return tuple(next(csv.reader(io.StringIO(text, newline=""), strict=True), [])) if text else ()


_READERS: dict[str, tuple[Callable[[str], Any], str]] = {
    "<class 'str'>": (str, "text"),
    "<class 'float'>": (_number, "a number with a decimal point"),
    "float | None": (
        lambda text: None if text == "" else _number(text),
        "a number with a decimal point, or nothing",
    ),
    "<class 'bool'>": (_bool, "yes or no"),
    "tuple[str, ...]": (_words, "words with commas between them"),
    "typing.Literal['yes', 'no', 'unknown']": (_usable, "yes, no or unknown"),
}
_INSTEAD: dict[str, Any] = {"<class 'float'>": 0.0, "<class 'bool'>": False, "tuple[str, ...]": ()}
"""What stands for a wrong cell while the rest is looked at; nothing of it is kept."""


def _cannot_be(item: object) -> Iterator[tuple[str, str, str]]:
    """Yield column, value and what could be, for each number of an item that cannot."""
    for name in _columns(type(item)):
        value = getattr(item, name)
        if not isinstance(value, float):
            continue
        low, high = _LIMITS.get(name, (0.0, 1e9))
        if not low <= value <= high:
            yield name, f"{value:g}", f"{low:g} to {high:g}"
    top, bottom = getattr(item, "top_cm", None), getattr(item, "bottom_cm", None)
    if top is not None and bottom is not None and top > bottom:
        yield "bottom_cm", f"{bottom:g}", f"{top:g}, where it begins, or more"


_LIMITS = {"lon": (-180.0, 180.0), "lat": (-90.0, 90.0), "elevation_m": (-10_000.0, 10_000.0)}

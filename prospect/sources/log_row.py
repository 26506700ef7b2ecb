"""Reads the cells of one row of a paper log into values by field; what cannot be read stays with the row as text."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from prospect.sources.coordinates import Spot
from prospect.sources.log_cells import (
    Found,
    read_colour,
    read_cone,
    read_depths,
    read_faults,
    read_quantity,
    read_temperature,
    read_test_kind,
    read_word,
    read_yes_no,
)
from prospect.sources.log_names import Column, LogField, Reads, columns_of, field_of, log_names, which_table
from prospect.sources.log_vocabulary import bench_field
from prospect.sources.numbers import read_range
from prospect.sources.point_rows import Cells
from prospect.sources.sample_rows import date_fault, read_date
from prospect.sources.tally import Tally
from prospect.text import plain

STAYS = "Taken as not known; the text stays with the row."
_AS_RANGE = "Read as a range of depths."
LONGEST_NAME = 80
LONGEST_TEXT = 4000


@dataclass(slots=True)
class LogRows:
    """One table of a log as it was written, and what its columns are taken for.

    Attributes
    ----------
    name
        Of the file or the lines above it.
    kind
        Which table it is.
    columns
        What columns are taken for.
    own
        Columns that are no field of ours.
    rows
        Number of each item and its cells by heading.
    tally
        What happened to each item so far.
    decimal_comma
        Whether numbers are written with a decimal comma.
    spots
        Positions that are known already, as of waypoints.
    placed
        Whether the source itself places its rows, so that one without a spot is refused already.
    crs
        As the source says.
    """

    name: str
    kind: str
    columns: list[Column]
    own: list[str]
    rows: list[tuple[int, Cells]]
    tally: Tally
    decimal_comma: bool = False
    spots: dict[int, Spot] = field(default_factory=dict)
    placed: bool = False
    crs: str = "EPSG:4326"

    def of(self, table: str, number: int | None = None) -> list[Column]:
        """Return the columns of one table, of one bar or layer of the row where a number is given."""
        return [c for c in self.columns if c.table == table and (number is None or c.number == number)]

    def numbers(self, table: str) -> list[int]:
        """Return which bars or layers of a row there are, 0 = one without a number."""
        return sorted({column.number for column in self.columns if column.table == table})

    def heading(self, name: str) -> str:
        """Return the heading of a field, the field's own name when there is none."""
        return next((column.heading for column in self.columns if column.field == name), name)


@dataclass(slots=True)
class Values:
    """What one row says of one thing: values by field, and what stays as text by heading."""

    values: dict[str, Any] = field(default_factory=dict)
    own: dict[str, str] = field(default_factory=dict)


def log_rows(
    name: str,
    headings: list[str],
    rows: list[tuple[int, Cells]],
    tally: Tally,
    *,
    usual: str,
    kind: str = "",
    mapping: Mapping[str, str] | None = None,
) -> LogRows | None:
    """Return a table with its columns recognised; None where its headings are those of no table.

    Parameters
    ----------
    name
        Of the file, or the line above the table.
    headings, rows
        As written.
    tally
        Where each row is counted.
    usual
        The kind that a list of places is taken for where nothing else tells.
    kind
        The kind, where it is known.
    mapping
        Field → heading, as the user says.
    """
    said = {heading.lower(): key for key, heading in (mapping or {}).items() if key != "layer"}
    told = [said.get(heading.lower(), heading) for heading in headings]
    kind = kind or which_table(told, name, usual)[0]
    if not kind:
        return None
    back = dict(zip(told, headings, strict=True))
    columns = [Column(back[c.heading], c.table, c.field, c.unit, c.number) for c in columns_of(told, kind)]
    used = {column.heading for column in columns}
    own = [heading for heading in headings if heading not in used]
    cleaned = _cleaned(rows, headings, tally)
    result = LogRows(name, kind, columns, own, cleaned, tally)
    result.decimal_comma = _decimal_comma(result)
    _note_units(result)
    return result


def read_values(
    table: LogRows, item: int, cells: Cells, columns: Iterable[Column], today: str = ""
) -> Values:
    """Read the cells of some columns of a row; the tally says what was turned, mended or not understood."""
    result = Values()
    for column in columns:
        text = cells.get(column.heading, "")
        if text:
            _read_one(table, item, column, text, result, today)
    return result


def spec_of(column: Column) -> LogField:
    """Return how a column is read."""
    if column.table != "measured":
        return log_names().table(column.table).fields[column.field]
    return measured_spec(*column.field.split(".", 1))


def measured_spec(kind: str, key: str) -> LogField:
    """Return how a bench measurement is read."""
    item = bench_field(kind, key)
    if not item.is_number:
        return LogField("word" if item.choices else "text", (item.title,))
    reads: dict[str, Reads] = {
        **dict.fromkeys(("mm", "cm", "m"), "length"),
        **dict.fromkeys(("g", "kg"), "weight"),
        "%": "percent",
        "°C": "firing",
    }
    return LogField(reads.get(item.unit, "number"), (item.title,), item.unit, item.least, item.most)


def read_measured(kind: str, key: str, text: str, unit: str, *, decimal_comma: bool) -> Found:
    """Read a bench measurement: a number in its unit, one of its words, or words of one's own."""
    item, spec = bench_field(kind, key), measured_spec(kind, key)
    if item.choices:
        words = {form.lower(): word for form, word in item.choices.items()}
        word = words.get(" ".join(text.lower().split()))
        expected = f"one of {', '.join(dict.fromkeys(item.choices.values()))}"
        return Found(word) if word else Found(None, expected=expected)
    if not item.is_number:
        return Found(plain(text, LONGEST_TEXT, lines=True))
    if spec.reads == "firing":
        return read_temperature(text, spec, unit, decimal_comma=decimal_comma)
    if spec.reads == "number":
        text = text.removesuffix(item.unit).strip() if item.unit else text
        spec, unit = LogField("number", spec.names, "", spec.least, spec.most), ""
    return read_quantity(text, spec, unit, decimal_comma=decimal_comma)


def own_fields(table: LogRows, cells: Cells) -> dict[str, str]:
    """Return what stands in columns that are no field of ours."""
    return {
        plain(heading, LONGEST_NAME): plain(cells[heading], LONGEST_TEXT, lines=True)
        for heading in table.own
        if cells.get(heading)
    }


def _read_one(table: LogRows, item: int, column: Column, text: str, result: Values, today: str) -> None:
    spec, tally, name = spec_of(column), table.tally, column.field
    if name == "water_cm" and text.lower().strip(" .") in log_names().dry:
        result.values.setdefault("dry", "yes")
        return
    if spec.reads == "firing" and not column.unit and (cone := read_cone(text).value) is not None:
        result.values.setdefault("cone", cone)
        return
    found = _found(table, column, text, spec, today)
    heading = plain(column.heading, LONGEST_NAME)
    if found.value is None:
        ranged = name in ("top_cm", "bottom_cm") and read_range(text, "cm") is not None
        tally.repair(item, column.heading, text, found.expected, _AS_RANGE if ranged else STAYS)
        result.own[heading] = plain(text, LONGEST_TEXT, lines=True)
        return
    if found.said:
        tally.repair(item, column.heading, text, _wanted(spec), found.said)
    if found.expected:
        tally.repair(item, column.heading, text, found.expected, "What is no word of the log stays as text.")
        result.own[heading] = plain(text, LONGEST_TEXT)
    if name == "faults":
        result.values.setdefault("looked_for_faults", True)
    result.values[name] = found.value == "yes" if name == "looked_for_faults" else found.value


def _found(table: LogRows, column: Column, text: str, spec: LogField, today: str) -> Found:
    comma = table.decimal_comma
    if column.table == "measured":
        kind, key = column.field.split(".", 1)
        return read_measured(kind, key, text, column.unit, decimal_comma=comma)
    if spec.reads in _NUMBERS:
        return _NUMBERS[spec.reads](text, spec, column.unit, decimal_comma=comma)
    if spec.reads in _WORDS:
        return _WORDS[spec.reads](text)
    if spec.reads == "word":
        return read_word(column.field, text)
    if spec.reads == "date":
        return _date(text, today)
    lines = spec.reads == "text"
    return Found(plain(text, LONGEST_TEXT if lines else LONGEST_NAME, lines=lines))


_NUMBERS: dict[str, Callable[..., Found]] = {
    **dict.fromkeys(("length", "weight", "percent", "bearing", "number"), read_quantity),
    "depths": read_depths,
    "firing": read_temperature,
}
_WORDS: dict[str, Callable[[str], Found]] = {
    **dict.fromkeys(("usable", "yes_no"), read_yes_no),
    "colour": lambda text: Found(plain(read_colour(text), LONGEST_TEXT)),
    "faults": read_faults,
    "cone": read_cone,
    "test": read_test_kind,
}


def _date(text: str, today: str) -> Found:
    found = read_date(text)
    fault = "a date such as 2026-05-31" if found is None else date_fault(found[0], today)
    if found is None or fault:
        return Found(None, expected=fault)
    return Found(found[0], f"Read as {found[0]}." if found[1] else "")


def _wanted(spec: LogField) -> str:
    if spec.reads == "date":
        return "a date such as 2026-05-31"
    if spec.reads in ("word", "faults", "test"):
        return "a word of the log"
    return f"a value in {spec.unit}" if spec.unit else "a value"


def _cleaned(rows: list[tuple[int, Cells]], headings: list[str], tally: Tally) -> list[tuple[int, Cells]]:
    """Return the rows with what stands for nothing taken out and ditto marks filled in from above."""
    names = log_names()
    above: dict[str, str] = {}
    cleaned = []
    for item, cells in rows:
        kept: Cells = {}
        for heading in headings:
            text = cells.get(heading, "")
            bare = text.lower()
            if bare in names.ditto:
                kept[heading] = above.get(heading, "")
                if not kept[heading]:
                    action = "Taken as not known: nothing stands above it."
                    tally.repair(item, heading, text, "something above a ditto mark", action)
            else:
                kept[heading] = "" if bare in names.nothing else text
            above[heading] = kept[heading]
        cleaned.append((item, kept))
    return cleaned


def _decimal_comma(table: LogRows) -> bool:
    """Whether numbers of a table have decimal commas: some do, and none has a point."""
    reads = ("length", "weight", "percent", "number", "depths", "firing")
    headings = [
        c.heading
        for c in table.columns
        if c.field in ("lon", "lat", "x", "y") or (c.field in _fields(c.table) and spec_of(c).reads in reads)
    ]
    texts = [cells[heading] for _, cells in table.rows[:500] for heading in headings if cells.get(heading)]
    return any("," in text for text in texts) and not any(
        "." in text.strip(". ") or text.count(",") > 1 for text in texts
    )


def _fields(table: str) -> Mapping[str, object]:
    return log_names().table(table).fields if table not in ("measured", "place") else {}


def _note_units(table: LogRows) -> None:
    for column in table.columns:
        if column.field not in _fields(column.table):
            continue
        spec = spec_of(column)
        said = column.unit.lstrip("°")
        if (
            said
            and spec.unit
            and said != spec.unit
            and spec.reads in ("length", "weight", "depths", "firing")
        ):
            action = f"Read as {column.unit} and turned into {spec.unit}."
            table.tally.note(column.heading, column.heading, f"values in {spec.unit}", action)


def measured_field(kind: str, heading: str) -> tuple[str, str]:
    """Return the key of a kind's field that a heading or word stands for, and the unit it names; '' for none."""
    where, unit = field_of("measured", f"{kind} {heading}")
    if where.startswith(f"{kind}."):
        return where.removeprefix(f"{kind}."), unit
    where, unit = field_of("measured", heading)
    return (where.removeprefix(f"{kind}."), unit) if where.startswith(f"{kind}.") else ("", "")

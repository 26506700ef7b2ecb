"""Knows what the columns of a paper log are called, which table it is, and in what unit a column is written."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import field
from functools import cache
from typing import Literal

from pydantic.dataclasses import dataclass

from prospect.definitions import STRICT, layers_folder, read_definition
from prospect.sources.field_names import field_names
from prospect.sources.log_vocabulary import bench_fields, bench_titles

Reads = Literal[
    "name",
    "text",
    "word",
    "date",
    "usable",
    "yes_no",
    "colour",
    "faults",
    "cone",
    "firing",
    "test",
    "depths",
    "length",
    "weight",
    "percent",
    "bearing",
    "number",
]
PLACE_FIELDS = ("lon", "lat", "x", "y", "position", "position_error_m")
_PLACE = "place"
TABLES = ("holes", "layers", "samples", "bars", "tests", "batches")

# The international pound is 0.45359237 kg and the ounce a sixteenth of it by definition (1959).
GRAMS = {
    "mg": 0.001,
    "g": 1.0,
    "gr": 1.0,
    "gram": 1.0,
    "grams": 1.0,
    "kg": 1000.0,
    "oz": 28.349523125,
    "ounce": 28.349523125,
    "ounces": 28.349523125,
    "lb": 453.59237,
    "lbs": 453.59237,
    "pound": 453.59237,
    "pounds": 453.59237,
    "t": 1e6,
}
LENGTHS = ("mm", "cm", "dm", "m", "in", "inch", "inches", "ft", "foot", "feet")
OTHERS = ("c", "°c", "degc", "f", "°f", "degf", "%", "pct", "percent", "deg", "°", "days", "day", "mesh")
_TOO_COMMON = ("all", "kept", "lead", "lime", "water", "handle")
_UNITS = {*LENGTHS, *GRAMS, *OTHERS}
_UNIT = re.compile(r"^(.*?)[\s_,.(\[/]+(?:in\s+)?(°\s?[a-z]|°|%|[a-z]{1,8})\s*[)\]]?$")
_NUMBERED = re.compile(
    r"^(?P<what>bar|tile|brick|layer|horizon|test bar)\s*_?#?\s*(?P<number>\d{1,2})\b[\s_:.–-]*(?P<rest>.+)$"
)


@dataclass(frozen=True, config=STRICT)
class LogField:
    """How one field of a table goes by in other people's logs.

    Attributes
    ----------
    reads
        How a cell is read.
    names
        What its column is called.
    unit
        Unit that the value is kept in.
    least, most
        Smallest and largest value that can be meant.
    """

    reads: Reads
    names: tuple[str, ...]
    unit: str = ""
    least: float = 0.0
    most: float = 1e9


@dataclass(frozen=True, config=STRICT)
class LogTable:
    """One kind of table.

    Attributes
    ----------
    title
        What it is called in messages.
    titles
        Names that such a table, its file or the line above it has.
    needs
        Fields without which it is none.
    fields
        Its fields by key.
    """

    title: str
    titles: tuple[str, ...]
    needs: tuple[str, ...]
    fields: dict[str, LogField]


@dataclass(frozen=True, config=STRICT)
class LogNames:
    """The whole file of names."""

    reference: str
    nothing: tuple[str, ...]
    ditto: tuple[str, ...]
    dry: tuple[str, ...]
    sound: tuple[str, ...]
    holes: LogTable
    layers: LogTable
    samples: LogTable
    bars: LogTable
    tests: LogTable
    batches: LogTable
    bench: dict[str, tuple[str, ...]] = field(default_factory=dict)
    said: dict[str, dict[str, tuple[str, ...]]] = field(default_factory=dict)

    def table(self, kind: str) -> LogTable:
        """Return one kind of table."""
        found: LogTable = getattr(self, kind)
        return found


@dataclass(frozen=True, config=STRICT)
class Column:
    """What a column of a file was taken for.

    Attributes
    ----------
    heading
        As the file has it.
    table, field
        Whose field it is; for a position `place`, for a bench measurement `measured` and `kind.field`.
    unit
        Unit that its heading names; empty when it names none.
    number
        Which bar or layer of the row it speaks of; 0 when it names none.
    """

    heading: str
    table: str
    field: str
    unit: str = ""
    number: int = 0


@cache
def log_names() -> LogNames:
    """Return the names that travel with the program."""
    return read_definition(layers_folder() / "vocabularies" / "log_names.toml", LogNames)


@cache
def names_of(table: str) -> Mapping[str, str]:
    """Return bare heading → field of one kind of table; of samples also what point files call them."""
    names: dict[str, str] = {}
    for key, item in log_names().table(table).fields.items():
        for name in (key, *item.names):
            names.setdefault(_bare(name), key)
    if table == "samples":
        for key, groups in field_names().samples.fields.items():
            for group in groups:
                if len(group) == 1:
                    names.setdefault(_bare(group[0]), key)
    if table in ("holes", "samples"):
        for key in PLACE_FIELDS:
            for group in field_names().samples.fields[key]:
                names.setdefault(_bare(group[0]), key)
    return names


@cache
def measured_names() -> Mapping[str, str]:
    """Return bare heading → `kind.field` of every bench measurement."""
    names: dict[str, str] = {}
    short = log_names().bench
    forms: dict[str, list[str]] = {}
    for item in bench_fields():
        without_unit = item.key.rsplit("_", 1)[0] if item.unit else item.key
        own = [item.key, item.title, without_unit, *short.get(item.key, ())]
        own += [f"{name} {unit}" for name in own[1:3] for unit in ("%", "pct") if item.unit == "%"]
        own += [f"{name} {item.unit}" for name in own[1:3] if item.unit not in ("", "%")]
        forms[f"{item.kind}.{item.key}"] = own
        for name in own:
            names.setdefault(_bare(f"{item.kind} {name}"), f"{item.kind}.{item.key}")
            names.setdefault(_bare(f"{bench_titles()[item.kind]} {name}"), f"{item.kind}.{item.key}")
    for where, own in forms.items():
        for name in own:
            # A name that stands for several things says nothing without the name of its test.
            elsewhere = any(_bare(name) in names_of(table) for table in TABLES)
            others = any(_bare(name) in map(_bare, other) for at, other in forms.items() if at != where)
            if not elsewhere and not others and name not in _TOO_COMMON:
                names.setdefault(_bare(name), where)
    return names


def split_heading(heading: str) -> tuple[str, str]:
    """Return a heading without the unit at its end, and the unit (`Depth (in)` → `depth`, `in`)."""
    plain = " ".join(heading.lower().split())
    match = _UNIT.match(plain)
    unit = match[2].replace(" ", "") if match else ""
    if match is None or unit not in _UNITS or not match[1].strip():
        return plain, ""
    return match[1].strip(" ([_,."), unit


def field_of(table: str, heading: str) -> tuple[str, str]:
    """Return the field of a table that a heading stands for and the unit it names; '' for none."""
    names = measured_names() if table == "measured" else names_of(table)
    bare, unit = split_heading(heading)
    return names.get(_bare(heading), "") or names.get(_bare(bare), ""), unit


def titled(text: str) -> str:
    """Return the kind of table that a title, a file name or a line above a table speaks of; '' for none."""
    bare = _bare(re.sub(r"\.[a-z]{2,4}$", "", text.lower().rsplit("/", 1)[-1]))
    return next((t for t in TABLES if any(bare == _bare(n) for n in log_names().table(t).titles)), "")


def which_table(headings: Iterable[str], title: str = "", usual: str = "samples") -> tuple[str, int]:
    """Return the kind of table that headings are of and how many of them it knows; '' where it is none.

    Parameters
    ----------
    headings
        As in the file.
    title
        Title or file name, which decides between kinds that fit nearly as well.
    usual
        The kind that a list of places is taken for where nothing else tells.
    """
    headings = [heading for heading in headings if heading]
    best, best_score, known = "", 0.0, 0
    said = titled(title)
    for table in TABLES:
        found = {name for heading in headings if (name := field_of(table, heading)[0])}
        if table == "tests":
            found |= {name for heading in headings if (name := field_of("measured", heading)[0])}
        if not set(log_names().table(table).needs) <= found:
            continue
        own = {_bare(name) for heading in headings for name in (heading,)}
        score = len(found) + 2.5 * (table == said) + 0.5 * (table == usual)
        # A column that bears the table's own key says which table it is.
        score += 0.75 * any(_bare(key) in own for key in log_names().table(table).needs)
        score += 2.0 * (table in _MARKS and bool(found & _MARKS[table]))
        if score > best_score:
            best, best_score, known = table, score, len(found)
    return best, known


def columns_of(headings: Iterable[str], table: str) -> list[Column]:
    """Return what each column is taken for: a field of its own table, or of one that may stand beside it in a row."""
    columns = []
    taken: set[tuple[str, str, int]] = set()
    for heading in headings:
        column = _column(heading, table)
        if column is None or (column.table, column.field, column.number) in taken:
            continue
        taken.add((column.table, column.field, column.number))
        columns.append(column)
    return columns


_BESIDE = {
    "holes": ("layers",),
    "layers": ("holes",),
    "samples": ("bars", "measured"),
    "bars": ("measured",),
    "tests": ("measured",),
    "batches": (),
}
_MARKS = {
    "layers": {"texture", "ribbon_cm", "coil", "fizz", "mottles", "moist_colour", "stickiness"},
    "bars": {"plastic_mm", "dry_mm", "fired_mm", "cone", "faults", "bar_id"},
    "holes": {"stopped_by", "water_cm", "facing_deg", "depth_cm"},
    "batches": {"buckets", "wet_kg", "sieved_kg", "mesh", "batch_id"},
    "tests": {"kind"},
}
_NOT_BESIDE = {
    # A note, a date or a name belongs to what the row is about; so does a place.
    "layers": {"hole_id", "note", "usable"},
    "holes": {"hole_id", "note"},
    "bars": {"bar_id", "specimen", "note", "date", "preparation", "photo"},
}


def _column(heading: str, table: str) -> Column | None:
    numbered = _NUMBERED.match(" ".join(heading.lower().split()))
    if numbered:
        about = "layers" if numbered["what"] in ("layer", "horizon") else "bars"
        name, unit = field_of(about, numbered["rest"])
        return Column(heading, about, name, unit, int(numbered["number"])) if name else None
    name, unit = field_of(table, heading)
    if name:
        return Column(heading, _PLACE if name in PLACE_FIELDS else table, name, unit)
    for other in _BESIDE[table]:
        name, unit = field_of(other, heading)
        if name and name not in _NOT_BESIDE.get(other, set()):
            return Column(heading, _PLACE if name in PLACE_FIELDS else other, name, unit)
    return None


def _bare(name: str) -> str:
    return re.sub(r"[^0-9a-z°%/?+]", "", name.lower().replace("colour", "color")).rstrip("?") or name.lower()

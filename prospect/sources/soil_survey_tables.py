"""Reads the pipe-delimited tables of a soil survey export, saying every line that could not be used."""

from __future__ import annotations

import csv
import io
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from prospect.guard.refusal import refuse_file
from prospect.issues import Issue, IssueLog, Severity
from prospect.sources.soil_survey_words import soil_words
from prospect.types import BoolArray, FloatArray

# The dictionary's own layout; it cannot describe itself.
_DICTIONARY_TABLES = ("tabphyname", "tablogname", "tablabel", "tabdesc", "iefilename")
_DICTIONARY_COLUMNS = ("tabphyname", "colsequence", "colphyname")
_LONGEST_FIELD = 50_000_000
_MOST_BYTES = 500_000_000
_MOST_SHOWN = 20

Row = tuple[int, list[str]]


@dataclass(frozen=True, slots=True)
class Dictionary:
    """What an export says of its own tables; empty when it ships no dictionary."""

    files: Mapping[str, str]
    columns: Mapping[str, tuple[str, ...]]


@dataclass(slots=True)
class SurveyTable:
    """The wanted columns of one table as text, with what was wrong on which line.

    Attributes
    ----------
    name
        Table name.
    file
        File name, inside the export.
    frame
        One row per line that had the right number of fields, text columns and `line`.
    refused_lines
        Issues of the lines that never became a row.
    faults
        Issues by position in `frame`.
    dropped
        True for rows that were refused, shape (rows,).
    """

    name: str
    file: str
    frame: pd.DataFrame
    refused_lines: list[Issue] = field(default_factory=list)
    faults: dict[int, list[Issue]] = field(default_factory=lambda: defaultdict(list))
    dropped: BoolArray = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))

    def __post_init__(self) -> None:
        if len(self.dropped) != len(self.frame):
            self.dropped = np.zeros(len(self.frame), dtype=np.bool_)

    def text(self, column: str) -> list[str]:
        """Return a column as text; all '' when the export does not have it."""
        if column not in self.frame:
            return [""] * len(self.frame)
        return [str(value) for value in self.frame[column].tolist()]

    def lower(self, column: str) -> list[str]:
        """Return a column as lower-case text."""
        return [value.lower() for value in self.text(column)]

    def numbers(self, column: str) -> FloatArray:
        """Return a column as numbers, NaN where empty; what is no number or out of range is said and NaN."""
        text = self.text(column)
        values = np.full(len(text), np.nan)
        low, high = soil_words().ranges[column]
        for position, found in enumerate(text):
            if not found:
                continue
            value = _as_number(found)
            if low <= value <= high:
                values[position] = value
            else:
                self.mend(position, column, found, f"a number from {low:g} to {high:g}", "Taken as unknown.")
        return values

    def mend(self, position: int, column: str, value: str, expected: str, action: str) -> None:
        """Say that a row was repaired."""
        issue = self._issue("warning", position, column, value, expected, action)
        self.faults[position].append(issue)

    def refuse(self, position: int, column: str, value: str, expected: str, action: str) -> None:
        """Say that a row was left out."""
        self.dropped[position] = True
        issue = self._issue("error", position, column, value, expected, action)
        self.faults[position].append(issue)

    def kept(self) -> list[int]:
        """Return the positions of the rows that were not left out."""
        return [int(position) for position in np.flatnonzero(~self.dropped)]

    def log(self) -> IssueLog:
        """Return the counts of this table's lines; they add up."""
        log = IssueLog(self.file, f"table {self.name}")
        for issue in self.refused_lines:
            log.refuse(issue)
        for position in range(len(self.frame)):
            issues = self.faults.get(position, [])
            if self.dropped[position]:
                log.refuse(*issues)
            elif issues:
                log.repair(*issues)
            else:
                log.keep()
        return log.add_up()

    def _issue(self, severity: Severity, position: int, *what: str) -> Issue:
        place = f"table {self.name}, line {self.frame['line'].iloc[position]}"
        return Issue(severity, self.file, place, *what)


def read_dictionary(files: Mapping[str, Path], log: IssueLog) -> Dictionary:
    """Return the dictionary inside an export, or an empty one.

    Parameters
    ----------
    files
        Lower-case file name without ending to path, of the tables of one survey area.
    log
        Where remarks about a file as a whole go.
    """
    names: dict[str, str] = {}
    columns: dict[str, list[tuple[float, str]]] = defaultdict(list)
    if "mstab" in files:
        for _, row in _rows(files["mstab"], log):
            if len(row) == len(_DICTIONARY_TABLES) and row[0]:
                names[row[0].lower()] = row[4].lower()
    if "mstabcol" in files:
        for _, row in _rows(files["mstabcol"], log):
            if len(row) >= len(_DICTIONARY_COLUMNS) and np.isfinite(_as_number(row[1])):
                columns[row[0].lower()].append((_as_number(row[1]), row[2].lower()))
    ordered = {table: tuple(name for _, name in sorted(listed)) for table, listed in columns.items()}
    return Dictionary(names, ordered)


def read_table(
    files: Mapping[str, Path],
    table: str,
    wanted: Sequence[str],
    dictionary: Dictionary,
    log: IssueLog,
    required: Iterable[str] = (),
) -> SurveyTable | None:
    """Return one table, or None when the export does not have it.

    Parameters
    ----------
    files
        Lower-case file name without ending to path.
    table
        Table name, as in the published layouts.
    wanted
        Columns to keep.
    dictionary
        The export's own dictionary; wins over the published column order.
    log
        Where remarks about the file as a whole go.
    required
        Columns without which the table means nothing.

    Raises
    ------
    InputRefused
        When the dictionary or heading does not have a required column.
    """
    layout = soil_words().tables[table]
    path = next(
        (files[name] for name in (dictionary.files.get(table, ""), layout.file, table) if name in files), None
    )
    if path is None:
        return None
    rows = _rows(path, log)
    names = _column_names(table, path, rows, dictionary, log)
    missing = sorted(set(required) - set(names))
    if missing:
        refuse_file(
            log,
            f"no column {', '.join(missing)}",
            f"the columns {', '.join(sorted(required))}",
            "Export the survey again with its full tables.",
            place=f"table {table}",
            field=missing[0],
        )
    where = {name: names.index(name) for name in wanted if name in names}
    good: list[Row] = []
    refused: list[Issue] = []
    for line, row in rows:
        fault = _fault(row, len(names), where.values())
        if fault is None:
            good.append((line, row))
            continue
        action = "The line was left out: which value is which cannot be told."
        refused.append(Issue("error", path.name, f"table {table}, line {line}", "", *fault, action))
    content: dict[str, Sequence[object]] = {
        name: [row[position] for _, row in good] for name, position in where.items()
    }
    content["line"] = [line for line, _ in good]
    return SurveyTable(table, path.name, pd.DataFrame(content), refused)


def _fault(row: list[str], width: int, used: Iterable[int]) -> tuple[str, str] | None:
    """Return what is wrong with the shape of a line, and what was expected; None when nothing is."""
    if len(row) != width:
        return f"{len(row)} fields: {'|'.join(row)[:60]}", f"{width} fields"
    # Only long texts that we do not use hold line breaks; in a name or key it is a quote never closed.
    broken = next((row[position] for position in used if "\n" in row[position]), None)
    return None if broken is None else (broken[:60], "no line break inside a value")


def say_table(table: SurveyTable, log: IssueLog) -> dict[str, int]:
    """Add a table's issues to the survey's log, the first of each kind in full, and return its counts."""
    own = table.log()
    shown: Counter[tuple[str, str]] = Counter()
    for issue in own.issues:
        kind = (issue.severity, issue.field + issue.expected)
        shown[kind] += 1
        if shown[kind] <= _MOST_SHOWN:
            log.note(issue)
    more = sum(count - _MOST_SHOWN for count in shown.values() if count > _MOST_SHOWN)
    if more:
        expected = "lines without fault"
        text = f"{more} more lines like these"
        log.note(Issue("warning", table.file, f"table {table.name}", "", text, expected, "Treated alike."))
    if own.refused:
        text = f"{own.read} lines read, {own.kept} kept, {own.repaired} repaired, {own.refused} refused"
        log.note(
            Issue("warning", table.file, f"table {table.name}", "", text, "every line usable", "See each.")
        )
    return {f"{table.name}_{count}": getattr(own, count) for count in ("read", "kept", "repaired", "refused")}


def _rows(path: Path, log: IssueLog) -> list[Row]:
    """Return the rows with the line each starts on; values are stripped, blank lines skipped."""
    size = path.stat().st_size
    if size > _MOST_BYTES:
        found, expected = f"{size / 1e6:,.0f} MB", f"at most {_MOST_BYTES / 1e6:,.0f} MB"
        refuse_file(log, found, expected, "Give the export of one survey area.", place=path.name)
    text = _decoded(path.read_bytes(), path.name, log)
    rows: list[Row] = []
    before = csv.field_size_limit(_LONGEST_FIELD)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter="|", quotechar='"')
    start = 1
    try:
        for row in reader:
            if row:
                rows.append((start, [value.strip() for value in row]))
            start = reader.line_num + 1
    except csv.Error as error:
        place, expected = f"{path.name}, line {start}", "text parted by pipes"
        action = "What follows this line was left out."
        log.note(Issue("error", path.name, place, "", str(error), expected, action))
    finally:
        csv.field_size_limit(before)
    return rows


def _decoded(raw: bytes, name: str, log: IssueLog) -> str:
    expected = "text in UTF-8"
    how = ""
    try:
        if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
            how = "utf-32" if raw[2:4] == b"\x00\x00" else "utf-16"
            text = raw.decode(how, errors="replace")
        else:
            text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        how = "Windows text (cp1252)"
        text = raw.decode("cp1252", errors="replace")
    if how:
        log.note(Issue("warning", name, name, "encoding", "other bytes", expected, f"Read as {how}."))
    if "\x00" in text:
        place = f"{name}, line {text.count(chr(10), 0, text.index(chr(0))) + 1}"
        action = "Taken out; look at the line."
        log.note(Issue("warning", name, place, "", "a NUL character", "text", action))
        text = text.replace("\x00", "")
    return text


def _column_names(
    table: str, path: Path, rows: list[Row], dictionary: Dictionary, log: IssueLog
) -> tuple[str, ...]:
    """Return the names that go with the rows; a heading line is taken off `rows`."""
    published = soil_words().tables[table].names()
    own = dictionary.columns.get(table)
    if rows and {name.lower() for name in rows[0][1]} >= {published[-1], published[-2]}:
        return tuple(name.lower() for name in rows.pop(0)[1])
    names = own or published
    widths = Counter(len(row) for _, row in rows)
    usual = widths.most_common(1)[0][0] if widths else len(names)
    if usual != len(names) and usual == len(published):
        found = f"{len(names)} columns in the dictionary, {usual} fields in the lines"
        action = "The published order of columns was used."
        log.note(Issue("warning", path.name, f"table {table}", "", found, "the same number", action))
        return published
    return names


def _as_number(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        return float("nan")
    return value if np.isfinite(value) and "_" not in text and text.isascii() else float("nan")

"""Reads a table of text whatever its delimiter, encoding and decimal sign, row by row, within limits."""

from __future__ import annotations

import csv
import io
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from prospect.guard.inspection import file_name, inspect_file
from prospect.guard.refusal import refuse_file
from prospect.issues import Issue, IssueLog
from prospect.sources.numbers import read_number
from prospect.text import read_csv_cell

MOST_ROWS = 100_000
MOST_COLUMNS = 300
MOST_IN_CELL = 32_000
MOST_IN_HEADING = 1_000
MOST_CELLS = 2_000_000
MOST_LINES = 1_000_000
LONGEST_LINE = 1_000_000
_DELIMITERS = (",", ";", "\t", "|")
_CHUNK = 8_000_000


@dataclass(slots=True)
class CsvRows:
    """A table of text.

    Attributes
    ----------
    columns
        Headings; those that came without a name are `column 3`, those that came twice get a number.
    rows
        Line number in the file and the cells by heading; cells are stripped, missing ones empty.
    odd
        Line numbers of rows with more cells than headings.
    shifted
        Those of them that may have been cut up at a comma inside a number or a text: which value is which cannot
        be told.
    log
        Notes about encoding and the like; rows are counted by whoever uses them.
    delimiter
        What separates the cells.
    """

    columns: list[str]
    rows: list[tuple[int, dict[str, str]]]
    odd: set[int]
    shifted: set[int]
    log: IssueLog
    delimiter: str

    def frame(self) -> pd.DataFrame:
        """Return the rows as a frame of text."""
        return pd.DataFrame([cells for _, cells in self.rows], columns=self.columns, dtype=object).fillna("")


def read_csv_rows(path: Path, kind: str, log: IssueLog | None = None) -> CsvRows:
    """Read a CSV file.

    Raises
    ------
    InputRefused
        When it is no table, has no rows, or is beyond the limits.
    """
    log = log or IssueLog(file_name(path), kind)
    return rows_of_text(table_text(path, kind, log), log)


def table_text(path: Path, kind: str, log: IssueLog) -> str:
    """Return the text of a table, whatever its encoding.

    Raises
    ------
    InputRefused
        When it is no text, or beyond the limits.
    """
    inspect_file(path, kind, ("table",))
    return _decoded(path, log)


def rows_of_text(text: str, log: IssueLog, above: int = 0) -> CsvRows:
    """Return the rows of a text, as `read_csv_rows` does of a file; `above` lines of the file stand above it."""
    delimiter = _delimiter(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        heading, rows, odd, shifted = _split(reader, text, log, above)
    except csv.Error as error:
        refuse_file(
            log,
            str(error),
            "a table of text",
            "Export it again as CSV.",
            place=f"row {reader.line_num + above}",
        )
    return CsvRows(heading, rows, odd, shifted, log, delimiter)


def _decoded(path: Path, log: IssueLog) -> str:
    data = path.read_bytes()
    _bounded(data, log)
    encodings: tuple[str, ...] = ("utf-8-sig", "cp1252", "latin-1")
    if data.startswith((b"\xff\xfe\x00\x00", b"\x00\x00\xfe\xff")):
        encodings = ("utf-32",)
    elif data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings = ("utf-16",)
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if encoding in ("cp1252", "latin-1"):
            action = "Read as Western European text (Windows-1252); look at names with accents."
            log.note(Issue("note", log.file, "whole file", "encoding", "", "UTF-8", action))
        if "\x00" in text:
            place = f"row {text.count(chr(10), 0, text.index(chr(0))) + 1}"
            action = "Taken out; look at the row."
            log.note(Issue("warning", log.file, place, "", "a NUL character", "text", action))
        return text.replace("\x00", "")
    refuse_file(log, "text in an unknown encoding", "UTF-8 text", "Export it again as CSV in UTF-8.")
    return ""


def _bounded(data: bytes, log: IssueLog) -> None:
    """Refuse lines without end and lines without number before any of them becomes text."""
    lines, last = 0, -1
    for start in range(0, len(data), _CHUNK):
        part = np.frombuffer(data, dtype=np.uint8, count=min(_CHUNK, len(data) - start), offset=start)
        ends = np.flatnonzero((part == 10) | (part == 13)) + start
        gaps = np.diff(ends, prepend=last, append=start + len(part))
        if len(gaps) and int(gaps.max()) > LONGEST_LINE:
            row = lines + int(gaps.argmax()) + 1
            expected = f"at most {LONGEST_LINE:,} characters in a line"
            refuse_file(log, "a line without end", expected, "Is this the right file?", place=f"row {row}")
        lines += len(ends)
        last = int(ends[-1]) if len(ends) else last
        if lines > 2 * MOST_LINES:
            expected = f"at most {MOST_LINES:,} lines"
            refuse_file(log, f"more than {MOST_LINES:,} lines", expected, "Split it.", place=f"row {lines}")


def _delimiter(text: str) -> str:
    """Return the delimiter that cuts the first lines into most cells, the same number on most lines."""
    if text[:4].lower() == "sep=" and len(text) > 4 and not (text[4].isalnum() or text[4] in "\"'\r\n"):
        return text[4]
    sample = "\n".join(text.splitlines()[:50])
    best, best_score = ",", 0.0
    for delimiter in _DELIMITERS:
        try:
            widths = [len(row) for row in csv.reader(io.StringIO(sample), delimiter=delimiter) if any(row)]
        except csv.Error:
            continue
        if not widths or widths[0] < 2:
            continue
        width, times = Counter(widths).most_common(1)[0]
        # A decimal comma splits every line of numbers but not the heading: the heading's width must agree too.
        score = (times / len(widths)) * min(width, 12) * (1.0 if widths[0] == width else 0.3)
        if score > best_score:
            best, best_score = delimiter, score
    return best


def _split(
    reader: Any, text: str, log: IssueLog, above: int
) -> tuple[list[str], list[tuple[int, dict[str, str]]], set[int], set[int]]:
    heading: list[str] = []
    rows: list[tuple[int, dict[str, str]]] = []
    odd: set[int] = set()
    shifted: set[int] = set()
    start = end = above
    for cells in reader:
        line = reader.line_num + above
        start, end = end, line
        if not any(cell.strip() for cell in cells) or (not heading and cells[0].lower().startswith("sep=")):
            continue
        if not heading:
            heading = _heading(cells, log)
            continue
        if len(rows) >= MOST_ROWS:
            found, expected = f"more than {MOST_ROWS:,} rows", f"at most {MOST_ROWS:,}"
            refuse_file(log, found, expected, "Split the file.", place=f"row {line}")
        if len(rows) * len(heading) > MOST_CELLS:
            found, expected = f"more than {MOST_CELLS:,} cells", f"at most {MOST_CELLS:,}"
            refuse_file(log, found, expected, "Leave out columns.", place=f"row {line}")
        long = next((cell for cell in cells if len(cell) > MOST_IN_CELL), None)
        if long is not None:
            expected = f"at most {MOST_IN_CELL:,} characters in a cell"
            refuse_file(
                log, f"{len(long):,} characters", expected, "Is a quote missing?", place=f"row {line}"
            )
        if len(cells) > len(heading):
            odd.add(line)
            if _is_shifted(cells, len(heading)):
                shifted.add(line)
        padded = [*cells, *[""] * (len(heading) - len(cells))]
        rows.append(
            (line, {name: read_csv_cell(cell.strip()) for name, cell in zip(heading, padded, strict=False)})
        )
    if _open_quote(text, start - above, reader.dialect.delimiter):
        action = "Everything after it was read as one cell; close the quote."
        problem = ("a quote that is not closed", "quotes in pairs", action)
        log.note(Issue("warning", log.file, f"row {start + 1}", "", *problem))
    if not heading or not rows:
        found = "only a heading" if heading else "no rows"
        refuse_file(log, found, "a heading and at least one row", "Check the file.")
    return heading, rows, odd, shifted


def _is_shifted(cells: list[str], width: int) -> bool:
    """Whether a number stands at or beyond the last heading of a row that is too long.

    A comma in a remark that comes last leaves text there; one further to the left moves the numbers.
    """
    beyond = cells[width:]
    return any(cell.strip() for cell in beyond) and any(
        read_number(cell) is not None for cell in cells[width - 1 :]
    )


def _open_quote(text: str, start: int, delimiter: str) -> bool:
    """Whether the last row, which begins after `start` lines, ends inside a quote."""
    last = "\n".join(text.splitlines()[start:])
    try:
        for _ in csv.reader(io.StringIO(last, newline=""), delimiter=delimiter, strict=True):
            pass
    except csv.Error as error:
        return "unexpected end" in str(error)
    return False


def _heading(cells: list[str], log: IssueLog) -> list[str]:
    if len(cells) > MOST_COLUMNS:
        found, expected = f"{len(cells):,} columns", f"at most {MOST_COLUMNS}"
        refuse_file(log, found, expected, "Is this the right file?", place="row 1")
    long = max(len(cell) for cell in cells)
    if long > MOST_IN_HEADING:
        expected = f"at most {MOST_IN_HEADING} characters in a heading"
        refuse_file(log, f"{long:,} characters", expected, "Is a quote missing?", place="row 1")
    names: list[str] = []
    for number, cell in enumerate(cells, 1):
        name = cell.strip().lstrip("\ufeff") or f"column {number}"
        same = sum(1 for other in names if other == name or other.startswith(f"{name} ("))
        if same:
            action = "Took the second one as a column of its own."
            log.note(Issue("warning", log.file, "row 1", name, name, "each heading once", action))
            name = f"{name} ({same + 1})"
        names.append(name)
    return names

"""Cuts the text of a paper log into its tables: by the lines above them, by headings, at blank lines."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from typing import NoReturn

from prospect.guard.refusal import refuse_file
from prospect.issues import Issue, IssueLog
from prospect.sources.csv_rows import CsvRows, rows_of_text
from prospect.sources.log_names import field_of, log_names, titled, which_table

_DELIMITERS = "\t;,|"
_DITTO = re.compile(r'(?:(?<=^)|(?<=[\t;,|]))[ ]*"[ ]*(?=$|[\t;,|])')
_WIDE_GAP = re.compile(r" {3,}")
MOST_TABLES = 60
_USUAL_HEADINGS = {
    "holes": "hole, lon, lat, depth",
    "layers": "hole, from, to, texture",
    "samples": "sample, hole, from, to",
    "bars": "bar, sample, plastic mm, dry mm, fired mm, cone",
    "tests": "sample, test, result",
    "batches": "batch, hole, buckets",
}


@dataclass(frozen=True, slots=True)
class Piece:
    """One table of a text.

    Attributes
    ----------
    title
        The line above it, or the name of its file; empty when there is none.
    first_line
        Number of its first line in the text, counted from 0.
    table
        Its rows; their numbers are lines of the whole text.
    """

    title: str
    first_line: int
    table: CsvRows


def split_tables(text: str, log: IssueLog, *, title: str = "", usual: str = "samples") -> list[Piece]:
    """Return the tables of a text, each with a heading.

    Parameters
    ----------
    text
        Tables under each other, parted by tabs, commas or semicolons, each with its heading.
    log
        Where notes go.
    title
        What a table without a line above it is called.
    usual
        The kind that a list of places is taken for.

    Raises
    ------
    InputRefused
        When no line is a heading of a log, or there are too many tables.
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if not any(delimiter in text for delimiter in _DELIMITERS) and _WIDE_GAP.search(text):
        lines = [_WIDE_GAP.sub("\t", line.rstrip()) for line in lines]
    starts = _starts(lines, usual)
    if not starts:
        _no_heading(lines, log)
    if len(starts) > MOST_TABLES:
        refuse_file(log, f"{len(starts)} tables", f"at most {MOST_TABLES}", "Give them in several files.")
    pieces = []
    ends = [start for start, _ in starts[1:]] + [len(lines)]
    for (start, above), end in zip(starts, ends, strict=True):
        body = lines[start:end]
        while body and (not body[-1].strip() or _is_title(body[-1])):
            body.pop()
        whole = "\n".join(ditto_marked(line) for line in body)
        if whole.count("\n") == 0:
            log.note(_only_heading(log, start, above or title))
            continue
        table = rows_of_text(whole, log, start)
        pieces.append(Piece(above or title, start, table))
    if not pieces:
        refuse_file(log, "only headings", "a heading and at least one row under it", "Check the text.")
    return pieces


def ditto_marked(line: str) -> str:
    """Return a line whose cells that hold nothing but a quote hold a ditto mark, which is no quote to a table."""
    if '"' not in line:
        return line
    marked = _DITTO.sub("〃", line)
    if any(cell.lstrip().startswith('"') for cell in re.split(r"[\t;,|]", marked)):
        return line
    return marked


def _starts(lines: list[str], usual: str) -> list[tuple[int, str]]:
    """Return the lines that are headings, each with the line above it where that is a title."""
    starts: list[tuple[int, str]] = []
    above, fresh, quoted = "", True, False
    for number, line in enumerate(lines):
        if not line.strip():
            fresh = True
            continue
        if _is_title(line):
            above, fresh = _bare_title(line), True
            continue
        if not quoted and (fresh or _all_known(line)) and _is_heading(line, above, usual, first=not starts):
            starts.append((number, above))
        above, fresh = "", False
        # Inside a quoted cell that goes on over lines nothing is a heading.
        if ditto_marked(line).count('"') % 2 and re.search(r'(^|[\t;,|])\s*"', ditto_marked(line)):
            quoted = not quoted
        elif quoted and re.search(r'"\s*($|[\t;,|])', line):
            quoted = False
    return starts


def _is_title(line: str) -> bool:
    return bool(titled(_bare_title(line)))


def _bare_title(line: str) -> str:
    return line.strip(" #*=:\t;,|-_").strip()


def _is_heading(line: str, above: str, usual: str, *, first: bool) -> bool:
    cells = _cells(line)
    kind, known = which_table(cells, above, usual)
    if not kind or known < 2 or any(_is_number(cell) for cell in cells):
        return False
    return first or known >= max(2, 0.5 * len(cells))


def _all_known(line: str) -> bool:
    """Whether every cell of a line is a heading, so that it starts a table without a blank line above it."""
    cells = [cell for cell in _cells(line) if cell]
    tables = ("holes", "layers", "samples", "bars", "tests", "batches")
    return len(cells) >= 3 and any(all(field_of(table, cell)[0] for cell in cells) for table in tables)


def _cells(line: str) -> list[str]:
    delimiter = max(_DELIMITERS, key=lambda one: line.count(one)) if line else ","
    try:
        row = next(csv.reader(io.StringIO(line), delimiter=delimiter), [])
    except csv.Error:
        return []
    return [cell.strip().lstrip("\ufeff") for cell in row]


def _is_number(cell: str) -> bool:
    return bool(re.fullmatch(r"[+-]?\d+([.,]\d+)?", cell))


def _only_heading(log: IssueLog, start: int, title: str) -> Issue:
    action = "Passed over: it has no rows."
    return Issue("note", log.file, f"row {start + 1}", "", title or "a heading", "rows under it", action)


def _no_heading(lines: list[str], log: IssueLog) -> NoReturn:
    first = next((line.strip() for line in lines if line.strip()), "")
    wanted = "; ".join(f"{log_names().table(kind).title}: {names}" for kind, names in _USUAL_HEADINGS.items())
    action = "Put a line with the names of the columns above the rows."
    refuse_file(log, first[:100] or "no rows", f"a line of headings, such as {wanted}", action, place="row 1")

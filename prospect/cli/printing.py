"""What the command prints: JSON for programs, plain tables and sentences for people."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, is_dataclass
from pathlib import Path
from typing import Any

import click
import pandas as pd

from prospect.issues import IssueLog
from prospect.share.atomic import whole_file
from prospect.text import csv_cell, plain, printable_json


def say(text: object, *, err: bool = False) -> None:
    """Print text that no terminal takes for an order: each line keeps its indentation and loses what is not shown."""
    for line in str(text).split("\n"):
        words = line.lstrip(" ")
        click.echo(" " * (len(line) - len(words)) + plain(words, most=len(words) + 1), err=err)


def print_json(content: Mapping[str, object]) -> None:
    """Print one JSON object; a number that is not known becomes null."""
    click.echo(printable_json(json.dumps(_clean(content), ensure_ascii=False, indent=1)))


def print_table(rows: Sequence[Mapping[str, object]], columns: Mapping[str, str]) -> None:
    """Print rows as a table of text.

    Parameters
    ----------
    rows
        What to show.
    columns
        Key in a row → heading.
    """
    cells = [[_indent(row.get(key)) + _cell(row.get(key)) for key in columns] for row in rows]
    headings = list(columns.values())
    widths = [max([len(head), *(len(line[i]) for line in cells)]) for i, head in enumerate(headings)]
    numeric = [all(isinstance(row.get(key), (int, float, type(None))) for row in rows) for key in columns]
    for line in (headings, *cells):
        padded = [
            text.rjust(width) if right else text.ljust(width)
            for text, width, right in zip(line, widths, numeric, strict=True)
        ]
        say("  ".join(padded).rstrip())


def print_log(log: IssueLog, *, to_stderr: bool = False) -> None:
    """Print how the reading of a file went, with every problem on a line of its own."""
    say(
        f"{plain(log.file)}: {log.verdict}. Read {log.read}, kept {log.kept}, repaired {log.repaired}, "
        f"refused {log.refused}.",
        err=to_stderr,
    )
    for issue in log.issues:
        say(f"  {plain(issue.sentence())}", err=to_stderr)


def write_csv(path: Path, table: pd.DataFrame) -> None:
    """Write a table as CSV in one step; no cell can be taken for a formula, what is not known is empty."""
    rows = [
        ["" if pd.isna(cell) else csv_cell(cell) for cell in row] for row in table.itertuples(index=False)
    ]
    with whole_file(path) as part, part.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.writer(handle)
        writer.writerow(table.columns)
        writer.writerows(rows)


def note(text: str) -> None:
    """Print a line about progress; never part of the answer."""
    say(text, err=True)


def percent(share: float | None) -> str:
    """Return a share as a percentage, `–` when not known."""
    return "–" if share is None or math.isnan(share) else f"{share:.0%}"


def _indent(value: object) -> str:
    return " " * (len(value) - len(value.lstrip(" "))) if isinstance(value, str) else ""


def _cell(value: object) -> str:
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return "–"
    if isinstance(value, float):
        return f"{value:.2f}"
    if isinstance(value, (tuple, list)):
        return plain(", ".join(str(item) for item in value)) or "–"
    return plain(str(value))


def _clean(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return _clean(asdict(value))
    if isinstance(value, Mapping):
        return {str(key): _clean(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_clean(item) for item in value]
    if isinstance(value, float):
        return round(value, 6) if math.isfinite(value) else None
    if hasattr(value, "item"):
        return _clean(value.item())
    return value

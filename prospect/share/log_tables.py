"""Writes the whole log as plain tables in one zip, for its owner alone; it can be read back equal."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

from prospect.errors import NothingToWorkWith, WrongUsage
from prospect.records import LogBook
from prospect.share.atomic import write_whole
from prospect.share.audience import Audience
from prospect.sources.log_exact import FIRST_LINE, README, exact_tables

_ZIP_DATE = (1980, 1, 1, 0, 0, 0)
_WORDS = f"""{FIRST_LINE}

holes.csv        a row for each hole or face
layers.csv       a row for each layer; hole_id says of which hole, layer counts from the top
samples.csv      a row for each sample; hole_id, top_cm and bottom_cm tie it to a hole
bars.csv         a row for each test bar; specimen names its sample or batch
tests.csv        a row for each bench test of another kind
measured.csv     what those tests measured: a number, or words
batches.csv      a row for each batch that was dug to work with
own_columns.csv  columns of your own, from whatever table they came

The tables are text in UTF-8 with commas between the cells. A heading names its unit: cm, mm, m, g, kg, c (degrees
Celsius), deg (degrees of the compass), pct (percent). An empty cell is not known; it never means zero. An apostrophe in
front of a cell keeps a spreadsheet from taking it for a formula, and is taken off again when it is read.

It holds exact places and notes: it is for yourself. Read it into a ground with: claywalk log DIR FILE.zip
"""


def write_log_tables(path: Path, book: LogBook, audience: Audience) -> tuple[str, ...]:
    """Write a log as a zip of tables; return a sentence for each thing that was left out.

    Parameters
    ----------
    path
        The zip; replaced only when the new one is whole.
    book
        The whole log.
    audience
        Who it is for; only `self` gets it.

    Raises
    ------
    WrongUsage
        For anybody else: a log holds exact places, names and notes.
    NothingToWorkWith
        When nothing was logged yet.
    """
    if audience.role != "self":
        raise WrongUsage(
            "The log holds exact places and your own notes, so it is written for yourself alone: add --for self. "
            f"What may be seen by others ({audience.title()}) is a map (.html)."
        )
    if not book:
        raise NothingToWorkWith("Nothing is logged on this ground yet. Add holes or samples first.")
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in {README: _WORDS.encode("utf-8"), **exact_tables(book)}.items():
            entry = zipfile.ZipInfo(name, _ZIP_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, content)
    write_whole(path, out.getvalue())
    return ("Photos: they stay in the ground's folder.",) if _has_photos(book) else ()


def _has_photos(book: LogBook) -> bool:
    fields = [hole.fields for hole in book.holes] + [sample.fields for sample in book.samples]
    return any(bar.photo for bar in book.bars) or any(
        {"picture", "photo", "photos"} & of.keys() for of in fields
    )

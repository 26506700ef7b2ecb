"""Copies a foreign database file aside, settles its unfinished writes and checks it, before anything reads it."""

from __future__ import annotations

import contextlib
import itertools
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path

from prospect.guard.inspection import file_name
from prospect.guard.refusal import refuse_file
from prospect.issues import IssueLog

_COMPANIONS = ("-wal", "-journal")
_MOST_STEPS = 20_000
"""Times 100,000 instructions of the database engine; a whole check of a large file needs far fewer."""


@contextlib.contextmanager
def open_database(path: Path, kind: str) -> Iterator[Path]:
    """Give the path of a checked copy of a GeoPackage or other SQLite file; it is deleted when the block ends.

    The copy takes the unfinished writes beside the file along, so what was saved last is there; the file itself
    is never opened by a database library.

    Raises
    ------
    InputRefused
        When the file is damaged, or so built that reading it does not end.
    """
    log = IssueLog(file_name(path), kind)
    with tempfile.TemporaryDirectory(prefix="claywalk-") as name:
        copy = Path(name) / "data.gpkg"
        try:
            shutil.copyfile(path, copy)
            for companion in _COMPANIONS:
                beside = path.with_name(path.name + companion)
                if beside.is_file():
                    shutil.copyfile(beside, copy.with_name(copy.name + companion))
        except OSError as error:
            action = "Check its permissions and the free disk space."
            refuse_file(log, error.strerror or str(error), "a file that can be copied aside", action)
        _check(copy, log)
        yield copy


def _check(copy: Path, log: IssueLog) -> None:
    steps = itertools.count()
    try:
        with contextlib.closing(sqlite3.connect(copy, timeout=5)) as connection:
            connection.set_progress_handler(lambda: next(steps) > _MOST_STEPS, 100_000)
            connection.execute("PRAGMA trusted_schema=OFF")
            connection.execute("PRAGMA cell_size_check=ON")
            connection.execute("PRAGMA journal_mode=DELETE").fetchone()
            verdict = str(connection.execute("PRAGMA quick_check(1)").fetchone()[0])
            views = connection.execute("SELECT name FROM sqlite_master WHERE type = 'view'").fetchall()
            tables = {
                row[0]
                for row in connection.execute(
                    "SELECT name FROM sqlite_master WHERE type = 'table'"
                ).fetchall()
            }
    except (sqlite3.Error, UnicodeDecodeError) as error:
        refuse_file(log, f"a damaged database ({error})", "a whole file", "Export or download it again.")
    if verdict.lower() != "ok":
        refuse_file(log, f"a damaged database ({verdict})", "a whole file", "Export or download it again.")
    if "gpkg_contents" not in tables:
        refuse_file(log, "a database without gpkg_contents", "a GeoPackage", "Export it as GeoPackage.")
    # A view is a query of the maker's choice and may never end; GeoPackages as published have none.
    if views:
        action = "Export the layer into a GeoPackage of its own."
        refuse_file(
            log, f"{len(views)} view(s)", "tables only", action, place=f"view {str(views[0][0])[:80]}"
        )

"""Looks at the parts of a shapefile together: all there, of one length, with a projection that can be read."""

from __future__ import annotations

import struct
from pathlib import Path

from pyproj import CRS
from pyproj.exceptions import CRSError

from prospect.guard.refusal import refuse_file
from prospect.issues import Issue, IssueLog

_HEAD, _ENTRY = 100, 8
MOST_IN_PROJECTION = 64_000


def whole_shapefile(path: Path, log: IssueLog) -> None:
    """Refuse a shapefile that lacks a part, and say when its parts are not of one length.

    Raises
    ------
    InputRefused
        When `.shx` or `.dbf` is missing, or its projection cannot be read.
    """
    beside = {p.suffix.lower(): p for p in path.parent.iterdir() if p.stem == path.stem and p.is_file()}
    missing = [suffix for suffix in (".shx", ".dbf") if suffix not in beside]
    if missing:
        found = f"no {path.stem}{' and no '.join(missing)}"
        action = "Copy all files of the shapefile that have the same name, or give it as one zip archive."
        refuse_file(log, found, f"{path.name} with .shx and .dbf beside it", action)
    _projection(beside.get(".prj"), log)
    shapes, rows = _shapes(beside[".shx"]), _rows(beside[".dbf"])
    if shapes != rows:
        found, action = (
            f"{shapes:,} shapes and {rows:,} rows",
            "Read all the same; is its .dbf that of another?",
        )
        log.note(
            Issue("warning", log.file, "whole file", "features", found, "as many rows as shapes", action)
        )


def _projection(path: Path | None, log: IssueLog) -> None:
    if path is None:
        return
    action = "Remove the .prj file and say which CRS it is: --crs EPSG:n"
    if path.stat().st_size > MOST_IN_PROJECTION:
        found = "a .prj file that is none"
        refuse_file(log, found, "a coordinate reference system", action, field="crs")
    try:
        text = path.read_bytes().decode("utf-8-sig").strip("\x00 \r\n\t")
    except UnicodeDecodeError:
        found = "a .prj file in bytes that are no text"
        refuse_file(log, found, "a coordinate reference system", action, field="crs")
    if not text:
        return
    try:
        CRS.from_wkt(text)
    except CRSError:
        found = f"a .prj file that cannot be read ({text[:40]})"
        refuse_file(log, found, "a coordinate reference system", action, field="crs")


def _shapes(path: Path) -> int:
    # ESRI shapefile description: a head of 100 bytes, then 8 for each record.
    return max(path.stat().st_size - _HEAD, 0) // _ENTRY


def _rows(path: Path) -> int:
    with path.open("rb") as handle:
        head = handle.read(8)
    return int(struct.unpack("<I", head[4:8])[0]) if len(head) == 8 else 0

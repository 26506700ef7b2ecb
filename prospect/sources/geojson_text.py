"""Looks over the text of a GeoJSON file before the library: whether it is whole, how deep, what its service says."""

from __future__ import annotations

import codecs
import json
import math
import re
from collections.abc import Iterator
from pathlib import Path

from prospect.guard.refusal import refuse_file
from prospect.issues import Issue, IssueLog

MOST_DEPTH = 64
WHOLE_BELOW = 8_000_000
"""Files up to this many bytes are looked over whole; of larger ones the bytes, the beginning and the end."""

_CHUNK = 4_000_000
_EDGE = 64_000
_TOKEN = re.compile(rb'"(?:[^"\\]|\\.)*"|[\[\]{}]', re.DOTALL)
_SHAPES = (
    "Point",
    "LineString",
    "Polygon",
    "MultiPoint",
    "MultiLineString",
    "MultiPolygon",
    "GeometryCollection",
)
_CUT = re.compile(rb'"exceededTransferLimit"\s*:\s*true|"rel"\s*:\s*"next"')
_COUNT = re.compile(rb'"(numberMatched|numberReturned)"\s*:\s*(\d{1,15})')
_MOST_FIGURES = 300
_REPEATED = "\0repeated"


def look_over(path: Path, log: IssueLog) -> dict[str, object] | None:
    """Refuse what is no whole GeoJSON, with the place, and say when a service gave only a part.

    Returns
    -------
    dict or None
        The content where it is features in the form of a GeoServices answer, which is not GeoJSON.

    Raises
    ------
    InputRefused
        When the text breaks, goes too deep, or is a message of a service instead of data.
    """
    _characters(path, log)
    if path.stat().st_size > WHOLE_BELOW:
        with path.open("rb") as handle:
            head = handle.read(_EDGE)
            handle.seek(-_EDGE, 2)
            _partial(head + handle.read(), log)
        return None
    raw = path.read_bytes()
    _depth(raw, log)
    content = _parsed(raw, log)
    own_form = _recognised(content, log)
    _partial(raw if len(raw) <= 2 * _EDGE else raw[:_EDGE] + raw[-_EDGE:], log)
    return content if own_form and isinstance(content, dict) else None


def _characters(path: Path, log: IssueLog) -> None:
    decoder = codecs.getincrementaldecoder("utf-8")()
    done, valid = 0, True
    with path.open("rb") as handle:
        while chunk := handle.read(_CHUNK):
            if (at := chunk.find(b"\x00")) >= 0:
                action = "Export or download it again."
                refuse_file(log, "a NUL character", "text", action, place=f"byte {done + at + 1}")
            if valid:
                try:
                    decoder.decode(chunk)
                except UnicodeDecodeError as error:
                    valid = False
                    place, found = f"about byte {done + error.start + 1}", "bytes that are no UTF-8"
                    action = "Read as Western European text (Windows-1252); look at names with accents."
                    log.note(Issue("warning", log.file, place, "encoding", found, "text in UTF-8", action))
            done += len(chunk)


def _depth(raw: bytes, log: IssueLog) -> None:
    depth = 0
    for token in _TOKEN.finditer(raw):
        sign = token[0]
        if sign in b"[{":
            depth += 1
            if depth > MOST_DEPTH:
                place = f"line {raw.count(10, 0, token.start()) + 1}, byte {token.start() + 1}"
                found = f"more than {MOST_DEPTH} lists inside each other"
                refuse_file(log, found, "features as published", "Export it again.", place=place)
        elif sign in b"]}":
            depth -= 1


def _pairs(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found: dict[str, object] = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        found[_REPEATED] = next(name for name in names if names.count(name) > 1)
    return found


def _parsed(raw: bytes, log: IssueLog) -> object:
    text = raw.decode("utf-8-sig", errors="replace")
    try:
        return json.loads(text, object_pairs_hook=_pairs, parse_int=_whole_number, strict=False)
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        action = "Export or download it again; perhaps it was cut off on the way."
        refuse_file(log, f"broken JSON ({error.msg.lower()})", "a whole document", action, place=place)


def _whole_number(text: str) -> float:
    return int(text) if len(text) < _MOST_FIGURES else math.inf


def _recognised(content: object, log: IssueLog) -> bool:
    """Refuse what has no features; whether they are in the form of a GeoServices answer."""
    expected = "a GeoJSON collection of features"
    if not isinstance(content, dict):
        refuse_file(log, f"JSON of a {_word(content)}", expected, "Export it again as GeoJSON.")
    error = content.get("error")
    if "features" not in content and (error is not None or "message" in content):
        said = error.get("message") if isinstance(error, dict) else error or content.get("message")
        action = "The service gave no data; ask it again."
        refuse_file(log, f"a message of a service ({str(said)[:80]})", expected, action)
    sort = content.get("type")
    features = content.get("features")
    own_form = sort is None and isinstance(features, list) and bool(features)
    if not own_form and not (sort in ("FeatureCollection", "Feature") or sort in _SHAPES):
        refuse_file(log, f"JSON of the type {str(sort)[:40]}", expected, "Is this the right file?")
    if _REPEATED in content:
        name = str(content[_REPEATED])[:80]
        action = "Export it again: which of the two holds cannot be told."
        refuse_file(log, f"the key '{name}' twice", "each key once", action, field=name)
    if sort == "FeatureCollection" and not (isinstance(features, list) and features):
        refuse_file(log, "no features", expected, "Ask for the place of your ground again.")
    system = content.get("crs")
    if isinstance(system, dict) and str(system.get("type")).lower() in ("link", "url"):
        action = "Take the member crs out of the file and say which CRS it is: --crs EPSG:n"
        refuse_file(log, "a CRS that is an address", "a CRS that stands by itself", action, field="crs")
    for number, name in _repeated_in(features if isinstance(features, list) else [content]):
        action = "The last value was taken."
        log.note(
            Issue("warning", log.file, f"feature {number}", name[:80], "a key twice", "each key once", action)
        )
    return own_form


def _repeated_in(features: list[object]) -> Iterator[tuple[int, str]]:
    for number, feature in enumerate(features, 1):
        for part in (feature, feature.get("properties") if isinstance(feature, dict) else None):
            if isinstance(part, dict) and _REPEATED in part:
                yield number, str(part[_REPEATED])


def _partial(edges: bytes, log: IssueLog) -> None:
    counts = {name.decode(): int(count) for name, count in _COUNT.findall(edges)}
    matched, returned = counts.get("numberMatched", 0), counts.get("numberReturned", 0)
    found = ""
    if 0 < returned < matched:
        found = f"{returned:,} of {matched:,} features"
    elif _CUT.search(edges):
        found = "a part of the features"
    if found:
        action = "Kept; the service has more: ask for the rest, or for a smaller area."
        expected = "all features of the area"
        log.note(Issue("warning", log.file, "whole file", "features", found, expected, action))


def _word(content: object) -> str:
    return {list: "list", str: "text", int: "number", float: "number", bool: "yes or no"}.get(
        type(content), "nothing"
    )

"""Reads the points of GPX and KML files, with entity expansion and outside references off."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element, ParseError

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import iterparse

from prospect.guard.refusal import refuse_file
from prospect.issues import Issue, IssueLog

MOST_POINTS = 100_000
MOST_DEPTH = 64
MOST_IN_TEXT = 32_000
MOST_IN_NUMBER = 100
_MARKUP = re.compile(r"<[^>]*>")
_LINE = re.compile(r"<br\s*/?>|</(?:p|div|li|tr)>|\n", re.IGNORECASE)


@dataclass(slots=True)
class Waypoints:
    """Points with their text.

    Attributes
    ----------
    cells
        One mapping for each point; `lon` and `lat` as text among them, empty when absent.
    """

    cells: list[dict[str, str]]


def read_gpx(path: Path, log: IssueLog) -> Waypoints:
    """Read the waypoints of a GPX 1.0 or 1.1 file; tracks and routes are passed over and said.

    Raises
    ------
    InputRefused
        When it is no readable GPX, has entities, or has no waypoint.
    """
    root = _parsed(path, log)
    if _local(root.tag) != "gpx":
        refuse_file(log, f"an XML document <{_local(root.tag)}>", "a GPX document", "Export it again as GPX.")
    cells = [_gpx_point(element) for element in _children(root, "wpt")]
    tracks = len(_children(root, "trk")) + len(_children(root, "rte"))
    if tracks:
        action = "Only single waypoints were read."
        log.note(
            Issue(
                "note", log.file, "whole file", "trk", f"{tracks} track(s) or route(s)", "waypoints", action
            )
        )
    return _checked(cells, log)


def read_kml(path: Path, log: IssueLog) -> Waypoints:
    """Read the point placemarks of a KML file; other placemarks are passed over and said, links never followed."""
    root = _parsed(path, log)
    if _local(root.tag) != "kml":
        refuse_file(log, f"an XML document <{_local(root.tag)}>", "a KML document", "Export it again as KML.")
    marks = [element for element in root.iter() if _local(element.tag) == "Placemark"]
    each = [_kml_points(mark) for mark in marks]
    cells = [point for points in each for point in points]
    if not all(each):
        passed = f"{sum(not points for points in each)} placemark(s) without a point"
        log.note(Issue("note", log.file, "whole file", "Placemark", passed, "points", "Passed over."))
    return _checked(cells, log)


def _parsed(path: Path, log: IssueLog) -> Element:
    """Parse piece by piece, so that depth is bounded before the tree is deep."""
    depth = 0
    root: Element | None = None
    try:
        with path.open("rb") as handle:
            for event, element in iterparse(handle, ("start", "end"), forbid_dtd=True):
                root = element if root is None else root
                depth += 1 if event == "start" else -1
                if depth > MOST_DEPTH:
                    found = f"more than {MOST_DEPTH} elements inside each other"
                    place = f"element <{_local(element.tag)[:40]}>"
                    refuse_file(log, found, "a flat document", "Export it again.", place=place)
    except DefusedXmlException:
        refuse_file(log, "an XML document with entities or a DOCTYPE", "plain XML", "Export it again.")
    except ParseError as error:
        line, column = error.position
        reason = str(error).split(":")[0]
        action = "Export or download it again."
        place = f"line {line}, column {column + 1}"
        refuse_file(log, f"broken XML ({reason})", "a whole document", action, place=place)
    except (ValueError, LookupError):
        action = "Export it again in UTF-8."
        refuse_file(log, "an encoding that cannot be read", "text in UTF-8", action, place="line 1")
    except OSError as error:
        refuse_file(log, error.strerror or "cannot be read", "a readable file", "Check its permissions.")
    if root is None:
        refuse_file(log, "no XML element", "a whole document", "Export or download it again.")
    return root


def _gpx_point(element: Element) -> dict[str, str]:
    cells = {axis: element.get(axis, "")[:MOST_IN_NUMBER] for axis in ("lon", "lat")}
    for child in element:
        name = _local(child.tag)
        if name == "extensions":
            for extra in child.iter():
                if len(extra) == 0 and extra is not child:
                    cells.setdefault(_local(extra.tag), _text(extra))
        elif name != "link":
            cells.setdefault(name, _text(child))
    return cells


def _kml_points(mark: Element) -> list[dict[str, str]]:
    """Return each point of a placemark with the placemark's text."""
    points = [element for element in mark.iter() if _local(element.tag) == "Point"]
    texts = _kml_text(mark) if points else {}
    return [texts | _kml_place(point) for point in points]


def _kml_place(point: Element) -> dict[str, str]:
    where = next((e for e in point.iter() if _local(e.tag) == "coordinates"), None)
    text = _text(where) if where is not None else ""
    numbers = [number.strip()[:MOST_IN_NUMBER] for number in text.split(",")]
    # OGC KML 2.2, 9.8: longitude, latitude and perhaps a height. More are decimal commas, or several places.
    if len(numbers) not in (2, 3):
        return {"lon": text[:MOST_IN_NUMBER], "lat": ""}
    return {"lon": numbers[0], "lat": numbers[1]}


def _kml_text(mark: Element) -> dict[str, str]:
    cells: dict[str, str] = {}
    for child in mark:
        name = _local(child.tag)
        if name in ("name", "description"):
            lines = _LINE.sub("\n", _text(child)).split("\n")
            cells[name] = "\n".join(
                filter(None, (" ".join(_MARKUP.sub(" ", line).split()) for line in lines))
            )
    for data in mark.iter():
        if _local(data.tag) == "Data":
            value = next((e for e in data if _local(e.tag) == "value"), None)
            cells.setdefault(data.get("name", "data"), "" if value is None else _text(value))
        elif _local(data.tag) == "SimpleData":
            cells.setdefault(data.get("name", "data"), _text(data))
    return cells


def _checked(cells: list[dict[str, str]], log: IssueLog) -> Waypoints:
    if not cells:
        refuse_file(log, "no point in it", "at least one point", "Mark waypoints and export them.")
    if len(cells) > MOST_POINTS:
        place = f"waypoint {MOST_POINTS + 1}"
        refuse_file(log, f"{len(cells):,} points", f"at most {MOST_POINTS:,}", "Split the file.", place=place)
    return Waypoints(cells)


def _children(root: Element, name: str) -> list[Element]:
    return [child for child in root if _local(child.tag) == name]


def _local(tag: Any) -> str:
    return tag.rsplit("}", 1)[-1] if isinstance(tag, str) else ""


def _text(element: Element) -> str:
    return (element.text or "").strip()[:MOST_IN_TEXT]

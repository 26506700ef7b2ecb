"""Turns the features of a saved GeoServices answer, a map service's own form of JSON, into GeoJSON."""

from __future__ import annotations

import contextlib
import json
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path

import shapely

from prospect.issues import Issue, IssueLog

# Numbers that services of this kind use for systems that have one of their own in the EPSG register.
_OTHER_NUMBERS = {102100: 3857, 102113: 3857, 104199: 4326}
_FIRST_NOT_EPSG = 32_768

Ring = list[list[float]]


@contextlib.contextmanager
def as_geojson(answer: Mapping[str, object], log: IssueLog) -> Iterator[Path]:
    """Give the path of a GeoJSON file with the features of an answer; it is deleted when the block ends.

    Notes
    -----
    GeoServices REST Specification 1.0: outer rings run clockwise, holes the other way. A feature whose shape cannot
    be turned keeps its number and has none, so that it is refused by itself.
    """
    features = answer.get("features")
    found = features if isinstance(features, list) else []
    content: dict[str, object] = {
        "type": "FeatureCollection",
        "features": [_feature(one if isinstance(one, dict) else {}) for one in found],
    }
    name = _system(answer.get("spatialReference"))
    if name:
        content["crs"] = {"type": "name", "properties": {"name": name}}
    action = "Read all the same; GeoJSON (f=geojson) is the safer form."
    problem = ("features in a service's own form", "GeoJSON", action)
    log.note(Issue("note", log.file, "whole file", "features", *problem))
    with tempfile.TemporaryDirectory(prefix="claywalk-") as folder:
        path = Path(folder) / "answer.geojson"
        path.write_text(json.dumps(content), encoding="utf-8")
        yield path


def _feature(one: Mapping[str, object]) -> dict[str, object]:
    cells = one.get("attributes")
    shape = one.get("geometry")
    return {
        "type": "Feature",
        "properties": cells if isinstance(cells, dict) else {},
        "geometry": _shape(shape) if isinstance(shape, dict) else None,
    }


def _shape(shape: Mapping[str, object]) -> dict[str, object] | None:
    if "x" in shape and "y" in shape:
        return {"type": "Point", "coordinates": [shape["x"], shape["y"]]}
    if "points" in shape:
        return {"type": "MultiPoint", "coordinates": shape["points"]}
    if "paths" in shape:
        return {"type": "MultiLineString", "coordinates": shape["paths"]}
    rings = shape.get("rings")
    if not isinstance(rings, list) or not all(_is_ring(ring) for ring in rings):
        return None
    return {"type": "MultiPolygon", "coordinates": _polygons(rings)}


def _is_ring(ring: object) -> bool:
    return isinstance(ring, list) and all(
        isinstance(place, list)
        and len(place) >= 2
        and all(isinstance(number, (int, float)) and not isinstance(number, bool) for number in place)
        for place in ring
    )


def _polygons(rings: list[Ring]) -> list[list[Ring]]:
    """Return each outer ring with its holes; a hole that lies in none is taken for an outer ring."""
    outer = [[ring] for ring in rings if _turns(ring) <= 0]
    areas = [shapely.Polygon(polygon[0]) if len(polygon[0]) >= 4 else None for polygon in outer]
    for ring in rings:
        if _turns(ring) <= 0:
            continue
        spot = shapely.Point(ring[0][:2])
        home = next((at for at, area in enumerate(areas) if area is not None and area.intersects(spot)), None)
        if home is None:
            outer.append([ring])
        else:
            outer[home].append(ring)
    return outer


def _turns(ring: Ring) -> float:
    """Return twice the area of a ring, above 0 where it runs counter-clockwise (the shoelace formula)."""
    following = ring[1:] + ring[:1]
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, following, strict=True))


def _system(said: object) -> str:
    if not isinstance(said, dict):
        return ""
    number = said.get("latestWkid", said.get("wkid"))
    if not isinstance(number, int) or isinstance(number, bool) or number <= 0:
        return ""
    number = _OTHER_NUMBERS.get(number, number)
    return f"EPSG:{number}" if number < _FIRST_NOT_EPSG else f"ESRI:{number}"

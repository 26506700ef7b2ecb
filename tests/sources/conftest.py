"""Small files of every sort that the readers are tried on; all places and people are invented."""

from __future__ import annotations

import json
from pathlib import Path

import pytest


@pytest.fixture
def write_geojson(tmp_path):
    """Return a function that writes features (geometry, properties) and gives the path."""

    def write(name: str, features, crs: str = "") -> Path:
        content = {
            "type": "FeatureCollection",
            "features": [
                {"type": "Feature", "properties": properties, "geometry": geometry}
                for geometry, properties in features
            ],
        }
        if crs:
            content["crs"] = {"type": "name", "properties": {"name": crs}}
        path = tmp_path / name
        path.write_text(json.dumps(content), encoding="utf-8")
        return path

    return write


def square(west: float, south: float, side: float = 0.01):
    east, north = west + side, south + side
    ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    return {"type": "Polygon", "coordinates": [ring]}


@pytest.fixture
def square_at():
    """Return a function that makes a square as GeoJSON geometry."""
    return square

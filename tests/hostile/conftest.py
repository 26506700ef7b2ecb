"""What holds for every hostile input: no network, nothing written outside, no library's error, counts that add up."""

from __future__ import annotations

import socket
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import rasterio
from affine import Affine
from shapely.geometry import box

from prospect.errors import InputRefused
from prospect.issues import IssueLog
from prospect.sources.elevation import read_elevation
from prospect.sources.geology import read_geologic_units
from prospect.sources.keepouts import read_keepouts
from prospect.sources.parcels import read_parcels
from prospect.sources.points import read_points
from prospect.sources.structures import read_structures
from prospect.sources.water import read_water

READERS: dict[str, Callable] = {
    "elevation": read_elevation,
    "geology": read_geologic_units,
    "keepouts": read_keepouts,
    "parcels": read_parcels,
    "samples": read_points,
    "structures": read_structures,
    "water": read_water,
}


@pytest.fixture(autouse=True)
def _no_network(monkeypatch):
    def refuse(*args, **kwargs):
        raise AssertionError("an input made the program reach for the network")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)


@pytest.fixture
def outcome() -> Callable[[str, Path], tuple[str, IssueLog]]:
    """Return a function that reads a file as a kind and gives the verdict and the log.

    Anything but a refusal with a full log fails the test: every message must name the file, and what was read
    must be kept, repaired or refused.
    """

    def read(kind: str, path: Path) -> tuple[str, IssueLog]:
        message = ""
        try:
            _, log, source = READERS[kind](path)
            counted = source.counts["read"]
        except InputRefused as refused:
            log, message = refused.log, str(refused)
            counted = 0 if log is None else log.read
        assert log is not None, "refused without a log"
        assert (log.verdict == "refused") == bool(message)
        assert counted == log.read
        assert not message or path.name in message
        assert str(path.parent) not in message, "the message shows where the file lies"
        assert log.add_up() is log
        assert all(issue.file and issue.expected and issue.action for issue in log.issues)
        return log.verdict, log

    return read


@pytest.fixture
def control(tmp_path) -> Callable[[str], Path]:
    """Return a function that makes a good file of a form: `tif`, `gpkg`, `shp`, `geojson`, `csv`, `gpx`, `zip`."""

    def frame() -> gpd.GeoDataFrame:
        shapes = [box(-83 + i / 100, 35.5, -82.99 + i / 100, 35.51) for i in range(20)]
        words = [f"unit {i % 4}" for i in range(20)]
        return gpd.GeoDataFrame({"unit": words, "rocks": ["granite"] * 20}, geometry=shapes, crs="EPSG:4326")

    def make(form: str) -> Path:
        path = tmp_path / f"control.{form}"
        if form == "tif":
            values = np.random.default_rng(1).random((60, 60), dtype="float32") + 500
            profile = {
                "driver": "GTiff",
                "height": 60,
                "width": 60,
                "count": 1,
                "dtype": "float32",
                "compress": "deflate",
            }
            transform = Affine(10, 0, 300_000, 0, -10, 3_930_000)
            with rasterio.open(path, "w", crs="EPSG:26917", transform=transform, **profile) as target:
                target.write(values, 1)
        elif form in ("gpkg", "shp", "geojson"):
            pyogrio.write_dataframe(frame(), path)
        elif form == "csv":
            rows = [
                f"S{i},{-83 + i / 100},{35.5 + i / 100},{i},{i + 20},yes,2026-05-0{i % 9 + 1}"
                for i in range(20)
            ]
            path.write_text("sample_id,lon,lat,top_cm,bottom_cm,usable,date\n" + "\n".join(rows) + "\n")
        elif form == "gpx":
            points = "".join(
                f'<wpt lat="{35 + i / 100}" lon="-83"><name>P{i}</name></wpt>' for i in range(20)
            )
            path.write_text(f'<?xml version="1.0"?><gpx version="1.1" creator="t">{points}</gpx>')
        else:
            import zipfile

            pyogrio.write_dataframe(frame(), tmp_path / "inner.shp")
            with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
                for part in sorted(tmp_path.glob("inner.*")):
                    archive.write(part, part.name)
        return path

    return make

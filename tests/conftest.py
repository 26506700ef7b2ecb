"""What every test shares: where the open data lies, and a small ground made by the command itself."""

from __future__ import annotations

# isort: off
import prospect  # noqa: F401 - first of all: it sets the GDAL variables, which the libraries read as they load

# isort: on
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from pyproj import Transformer
from shapely.geometry import box

from prospect.cli import run

_FIGURES = pytest.StashKey[dict[str, str]]()


def pytest_configure(config: pytest.Config) -> None:
    config.stash[_FIGURES] = {}


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Hand what was counted to the process that prints, where the tests run in several."""
    if hasattr(session.config, "workeroutput"):
        session.config.workeroutput["figures"] = session.config.stash[_FIGURES]


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any, error: object) -> None:
    """Take over what was counted in another process; what two of them counted of one thing stands side by side."""
    held = node.config.stash[_FIGURES]
    for name, said in getattr(node, "workeroutput", {}).get("figures", {}).items():
        held[name] = f"{held[name]} + {said}" if name in held else said


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Print what was counted and measured, so that a log shows it without any switch."""
    figures = config.stash[_FIGURES]
    if figures:
        terminalreporter.section("figures")
        for name in sorted(figures):
            terminalreporter.write_line(f"{name}: {figures[name]}")


@pytest.fixture(scope="session")
def figures(pytestconfig: pytest.Config) -> dict[str, str]:
    """Return where a test puts what it counted, by a name; all of it is printed at the end of the run."""
    return pytestconfig.stash[_FIGURES]


def _open_data_folder() -> Path:
    given = os.environ.get("CLAYWALK_REAL_DATA")
    return Path(given) if given else Path(__file__).resolve().parents[2] / "shared" / "real"


@pytest.fixture(scope="session")
def real_data() -> Callable[[str], Path]:
    """Return a function from a name to a path inside the folder of real open data; skips when it is not here."""

    def find(name: str) -> Path:
        path = _open_data_folder() / name
        if not path.exists():
            pytest.skip(f"open data '{name}' is not on this machine (set CLAYWALK_REAL_DATA)")
        return path

    return find


WEST, NORTH, CELL = 500_000.0, 4_737_000.0, 20.0
"""Corner and cell of the small ground, UTM zone 9 south: open ocean."""


@pytest.fixture(scope="session")
def small_files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Return files of a small ground: a valley cut into a slope, granite above, alluvium below, four parcels."""
    folder = tmp_path_factory.mktemp("small files")
    rows, cols = np.mgrid[0:150, 0:120]
    heights = 60.0 + 0.25 * np.abs(cols - 60) + 0.1 * (150 - rows)
    with rasterio.open(
        folder / "heights.tif",
        "w",
        driver="GTiff",
        height=150,
        width=120,
        count=1,
        dtype="float32",
        crs="EPSG:32709",
        transform=rasterio.Affine(CELL, 0, WEST, 0, -CELL, NORTH),
        nodata=-9999,
    ) as target:
        target.write(heights.astype("float32"), 1)
    south, east = NORTH - 150 * CELL, WEST + 120 * CELL
    units = gpd.GeoDataFrame(
        {
            "unit": ["Kg", "Qal", "Ls"],
            "name": ["Deeply weathered granite", "Alluvium of the valley floor", "Limestone"],
            "age": ["Cretaceous", "Holocene", "Devonian"],
            "description": [
                "coarse granite, weathered to clay",
                "clay and silt of the flood plain",
                "limestone",
            ],
            "rocks": ["granite", "clay and silt", "limestone"],
        },
        geometry=[
            box(WEST, south, WEST + 50 * CELL, NORTH),
            box(WEST + 50 * CELL, south, WEST + 70 * CELL, NORTH),
            box(WEST + 70 * CELL, south, east, NORTH),
        ],
        crs="EPSG:32709",
    )
    units.to_file(folder / "rocks.gpkg", layer="units", driver="GPKG")
    middle, half = WEST + 60 * CELL, NORTH - 75 * CELL
    parcels = gpd.GeoDataFrame(
        {
            "parcel_id": ["001", "002", "003", "004"],
            "owner": ["Mirel Ashdown", "Tov Brandle", "", "Orsa Quill"],
        },
        geometry=[
            box(WEST, half, middle, NORTH),
            box(middle, half, east, NORTH),
            box(WEST, south, middle, half),
            box(middle, south, east, half),
        ],
        crs="EPSG:32709",
    )
    parcels.to_file(folder / "parcels.gpkg", layer="parcels", driver="GPKG")
    to_lonlat = Transformer.from_crs("EPSG:32709", "EPSG:4326", always_xy=True)
    lon, lat = to_lonlat.transform(WEST + 600, NORTH - 900)
    (folder / "samples.csv").write_text(
        "sample_id,lon,lat,top_cm,bottom_cm,usable,note\n"
        f"A1,{lon:.6f},{lat:.6f},40,80,yes,quivering\n"
        f"A2,{lon + 0.002:.6f},{lat:.6f},30,60,no,=1+1\n"
        f"A3,{lon:.6f},north,30,60,no,\n",
        encoding="utf-8",
    )
    (folder / "points.csv").write_text(
        f"id,lon,lat\nhere,{lon:.6f},{lat:.6f}\nfar,10.0,50.0\n", encoding="utf-8"
    )
    names = {
        "elevation": "heights.tif",
        "geology": "rocks.gpkg",
        "parcels": "parcels.gpkg",
        "samples": "samples.csv",
        "points": "points.csv",
    }
    return {kind: folder / name for kind, name in names.items()}


@pytest.fixture(scope="session")
def small_ground(small_files: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a ground made of the small files by the command itself; tests must not change it."""
    folder = tmp_path_factory.mktemp("grounds") / "small"
    assert run(["new", str(folder)]) == 0
    for kind in ("elevation", "geology", "parcels", "samples"):
        assert run(["add", str(folder), kind, str(small_files[kind])]) == 0
    return folder


@pytest.fixture(scope="session")
def demo_ground(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demo ground, made and scored by the command itself; tests must not change it."""
    folder = tmp_path_factory.mktemp("grounds") / "demo"
    assert run(["demo", str(folder), "--no-app"]) == 0
    return folder

"""Every raster is opened, and every layer written, by a driver that is named; vector files are read in few places."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).resolve().parents[2] / "prospect"
ANY_DRIVER = {"sources/self_test.py"}
"""Where any driver may try, because that none succeeds is what is tested."""

VECTOR_DOORS = {
    "layerfile.py",
    "sources/opening.py",
    "sources/self_test.py",
    "sources/soil_survey_polygons.py",
    "sources/vector.py",
}
"""pyogrio has no way to name a driver: these read our own files, or after `opened` has looked at a foreign one."""


def calls() -> Iterator[tuple[str, str, ast.Call]]:
    for path in sorted(PACKAGE.rglob("*.py")):
        place = path.relative_to(PACKAGE).as_posix()
        if place.startswith(("_layers", "_demo")):
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                yield place, ast.unparse(node.func), node


def test_every_raster_is_opened_by_a_named_driver():
    found = 0
    for place, name, call in calls():
        if name != "rasterio.open" or place in ANY_DRIVER:
            continue
        found += 1
        words = {word.arg: word.value for word in call.keywords}
        writes = len(call.args) > 1 or None in words
        assert writes or "driver" in words, f"{place}, line {call.lineno}: rasterio.open without driver="
        driver = words.get("driver")
        assert not (isinstance(driver, ast.Constant) and driver.value is None), f"{place}, line {call.lineno}"
    assert found >= 2


def test_every_layer_is_written_by_a_named_driver():
    found = 0
    for place, name, call in calls():
        if name == "pyogrio.write_dataframe":
            found += 1
            assert "driver" in {word.arg for word in call.keywords}, f"{place}, line {call.lineno}"
    assert found >= 2


def test_vector_files_are_read_only_where_they_were_looked_at_first():
    for place, name, call in calls():
        assert not name.endswith((".to_file", "gpd.read_file", "geopandas.read_file")), (
            f"{place}, line {call.lineno}"
        )
        if name.startswith(("pyogrio.read", "pyogrio.list_layers")):
            assert place in VECTOR_DOORS, f"{place}, line {call.lineno}"

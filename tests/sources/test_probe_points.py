"""Points to probe: every row is a place on the earth, or the table is refused with the line."""

from __future__ import annotations

from pathlib import Path

import pytest

from prospect.errors import InputRefused, WrongUsage
from prospect.sources.probe_points import read_points_to_probe


def _read(folder: Path, text: str, crs: str = "") -> list[tuple[str, float, float]]:
    path = folder / "points.csv"
    path.write_text(text, "utf-8")
    frame = read_points_to_probe(path, crs)
    return [(str(row.id), float(row.lon), float(row.lat)) for row in frame.itertuples()]


def test_delimiters_and_decimal_signs(tmp_path: Path) -> None:
    wanted = [("A", -9.125, -47.5)]
    assert _read(tmp_path, "id,lon,lat\nA,-9.125,-47.5\n") == wanted
    assert _read(tmp_path, "Id;Lat;Lon\nA;-47,5;-9,125\n") == wanted


def test_metres_are_placed(tmp_path: Path) -> None:
    # 500,000 m east is the middle meridian of a UTM zone, 9° W in zone 29; 0 m north the equator.
    assert _read(tmp_path, "id,x,y\nA,500000,0\n", "EPSG:32629")[0][1:] == pytest.approx((-9, 0))


@pytest.mark.parametrize(
    "row",
    ["A,-9,1,-47,4", "A,inf,-47", "A,500,-47", "A,-9,-95", "A,-9,", "A,nan,-47", "A,1e400,-47"],
)
def test_rows_that_are_no_place_are_named(tmp_path: Path, row: str) -> None:
    with pytest.raises(WrongUsage, match="line 3"):
        _read(tmp_path, f"id,lon,lat\nB,-9,-47\n{row}\n")


def test_systems_of_heights_and_of_files_are_refused(tmp_path: Path) -> None:
    # EPSG:5703 counts heights, EPSG:4978 from the middle of the earth.
    for crs in ("EPSG:5703", "EPSG:4978", "+proj=longlat +nadgrids=/etc/passwd"):
        with pytest.raises(InputRefused, match="crs"):
            _read(tmp_path, "id,x,y\nA,1,2\n", crs)
    with pytest.raises(WrongUsage, match="no place where EPSG:32629 is used"):
        _read(tmp_path, "id,x,y\nA,4700000,500000\n", "EPSG:32629")

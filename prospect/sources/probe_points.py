"""Reads the points to probe from a small table."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from prospect.errors import NothingToWorkWith, WrongUsage
from prospect.guard.inspection import file_name
from prospect.issues import IssueLog
from prospect.sources.coordinates import is_used_at, to_lonlat
from prospect.sources.csv_rows import CsvRows, read_csv_rows
from prospect.sources.numbers import read_number
from prospect.sources.placing import crs_text, read_crs


def read_points_to_probe(path: Path, crs: str) -> pd.DataFrame:
    """Return `id, lon, lat` from a CSV with `id` and `lon,lat` or `x,y` (then `crs` says which).

    Raises
    ------
    NothingToWorkWith, WrongUsage
        When the columns are not there or a number cannot be read; the row is named.
    InputRefused
        When it is no table, too large, or there is no such CRS.
    """
    if not path.exists():
        raise NothingToWorkWith(f"There is no file {path}.")
    log = IssueLog(file_name(path), "points")
    table = read_csv_rows(path, "points", log)
    names = {name.strip().lower(): name for name in reversed(table.columns)}
    axes = ("lon", "lat") if {"lon", "lat"} <= names.keys() else ("x", "y")
    if not {"id", *axes} <= names.keys():
        found = ", ".join(name.lower() for name in table.columns)
        raise WrongUsage(f"{path.name} needs the columns id and lon,lat (or x,y); it has {found}.")
    if axes == ("x", "y") and not crs:
        raise WrongUsage(f"{path.name} has x and y: say in which CRS with --crs EPSG:n.")
    system = crs_text(read_crs(crs, log)) if axes == ("x", "y") else ""
    pair = (names[axes[0]], names[axes[1]])
    places = _places(table, pair, system, path.name)
    identifiers = [cells[names["id"]] for _, cells in table.rows]
    return pd.DataFrame(
        {"id": identifiers, "lon": [lon for lon, _ in places], "lat": [lat for _, lat in places]}
    )


def _places(table: CsvRows, pair: tuple[str, str], system: str, name: str) -> list[tuple[float, float]]:
    """Return longitude and latitude of every row."""
    texts = [cells[axis] for _, cells in table.rows for axis in pair]
    decimal_comma = any("," in text for text in texts) and not any("." in text for text in texts)
    places = []
    for line, cells in table.rows:
        shown = f"'{cells[pair[0]]}', '{cells[pair[1]]}'"
        if line in table.shifted:
            raise WrongUsage(f"{name}, line {line}: more cells than headings; which is which cannot be told.")
        x, y = (read_number(cells[axis], decimal_comma=decimal_comma) for axis in pair)
        if x is None or y is None:
            raise WrongUsage(f"{name}, line {line}: {shown} are not two numbers.")
        place = (x, y)
        if system:
            moved = to_lonlat(system, x, y)
            if moved is None or not is_used_at(system, *moved):
                raise WrongUsage(f"{name}, line {line}: {shown} is no place where {system[:20]} is used.")
            place = moved
        if abs(place[0]) > 180 or abs(place[1]) > 90:
            raise WrongUsage(f"{name}, line {line}: {shown} are no longitude and latitude.")
        places.append(place)
    return places

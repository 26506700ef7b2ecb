"""Reads the points to probe from a small table."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError

from prospect.errors import NothingToWorkWith, WrongUsage
from prospect.guard.inspection import inspect_file


def read_points_to_probe(path: Path, crs: str) -> pd.DataFrame:
    """Return `id, lon, lat` from a CSV with `id` and `lon,lat` or `x,y` (then `crs` says which).

    Raises
    ------
    NothingToWorkWith, WrongUsage
        When the columns are not there or a number cannot be read; the row is named.
    InputRefused
        When it is no table, or too large.
    """
    if not path.exists():
        raise NothingToWorkWith(f"There is no file {path}.")
    inspect_file(path, "points", ("table",))
    try:
        table = pd.read_csv(path, dtype=str, keep_default_na=False, encoding="utf-8-sig")
    except (UnicodeDecodeError, pd.errors.ParserError, pd.errors.EmptyDataError) as error:
        raise WrongUsage(f"{path.name} is not a readable CSV file: {error}") from error
    table.columns = [str(name).strip().lower() for name in table.columns]
    pair = ("lon", "lat") if {"lon", "lat"} <= set(table.columns) else ("x", "y")
    if not {"id", *pair} <= set(table.columns):
        raise WrongUsage(
            f"{path.name} needs the columns id and lon,lat (or x,y); it has {', '.join(table.columns)}."
        )
    if pair == ("x", "y") and not crs:
        raise WrongUsage(f"{path.name} has x and y: say in which CRS with --crs EPSG:n.")
    numbers = {name: pd.to_numeric(table[name], errors="coerce") for name in pair}
    for line, bad in enumerate(numbers[pair[0]].isna() | numbers[pair[1]].isna(), start=2):
        if bad:
            row = table.iloc[line - 2]
            raise WrongUsage(
                f"{path.name}, line {line}: '{row[pair[0]]}', '{row[pair[1]]}' are not two numbers."
            )
    points = pd.DataFrame({"id": table["id"], "lon": numbers[pair[0]], "lat": numbers[pair[1]]})
    if pair == ("x", "y"):
        points["lon"], points["lat"] = _to_lonlat(points["lon"], points["lat"], crs)
    return points


def _to_lonlat(x: pd.Series, y: pd.Series, crs: str) -> tuple[np.ndarray, np.ndarray]:
    try:
        system = CRS.from_user_input(crs)
    except CRSError as error:
        raise WrongUsage(f"'{crs}' is not a CRS; write EPSG:n.") from error
    return Transformer.from_crs(system, "EPSG:4326", always_xy=True).transform(x.to_numpy(), y.to_numpy())

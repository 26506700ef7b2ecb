"""Reads the map unit polygons of a soil survey export, mending crossing outlines and saying so."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError

from prospect.errors import InputRefused
from prospect.guard.inspection import inspect_member
from prospect.guard.refusal import refuse_file
from prospect.issues import Issue, IssueLog
from prospect.sources.mending import is_tangled
from prospect.sources.opening import OVER_BAD_FILES, refuse_bad_system
from prospect.sources.placing import read_crs
from prospect.types import Bounds

PUBLISHED_CRS = "EPSG:4326"
"""Coordinates of every published export, used when the file does not say its own."""


def read_polygons(paths: Sequence[Path], crs: str, bounds: Bounds | None, log: IssueLog) -> gpd.GeoDataFrame:
    """Return the map unit polygons of one survey area.

    Parameters
    ----------
    paths
        Shapefiles with the fields MUKEY and MUSYM.
    crs
        What the coordinates are in, when the user says so; wins over the file.
    bounds
        Degrees west, south, east, north (EPSG:4326); only polygons that reach into the box are read.
    log
        Every polygon is counted here as kept, repaired or refused.

    Returns
    -------
    GeoDataFrame
        `mukey, musym, geometry`, text keys, valid polygons, in the CRS of the first file.

    Raises
    ------
    InputRefused
        When a file cannot be read, has no field MUKEY, or its coordinates cannot be what it says.
    """
    frames = [_read_one(path, crs, bounds, log) for path in paths]
    if len(frames) == 1:
        return frames[0]
    return pd.concat([frame.to_crs(frames[0].crs) for frame in frames], ignore_index=True)


def _read_one(path: Path, crs: str, bounds: Bounds | None, log: IssueLog) -> gpd.GeoDataFrame:
    raw, used = _load(path, crs, bounds, log)
    fields = {str(name).upper(): str(name) for name in raw.columns}
    if "MUKEY" not in fields or "geometry" not in raw.columns:
        expected = "polygons with the field MUKEY"
        found = "no such field or no outlines"
        refuse_file(log, found, expected, "Export the survey again.", place=path.name, field="MUKEY")
    mukey = _keys(raw[fields["MUKEY"]])
    musym = _keys(raw[fields["MUSYM"]]) if "MUSYM" in fields else [""] * len(raw)
    shapes = np.asarray(raw.geometry.array, dtype=object)
    places = [int(fid) + 1 for fid in raw.index]
    sound, keep = _mend(path, shapes, places, mukey, log)
    frame = gpd.GeoDataFrame({"mukey": mukey, "musym": musym}, geometry=sound, crs=used)
    return frame[keep].reset_index(drop=True)


def _load(path: Path, crs: str, bounds: Bounds | None, log: IssueLog) -> tuple[gpd.GeoDataFrame, str]:
    """Return what the file holds, and the CRS its coordinates are in; an outline that is none becomes None."""
    inspect_member(path, log, ("shapefile",))
    # GDAL speaks of what it mended on its own in warnings; they belong in the log, not on the terminal.
    with warnings.catch_warnings(record=True) as spoken:
        warnings.simplefilter("always")
        try:
            info = pyogrio.read_info(path, force_total_bounds=True)
            used = _crs_of(path, info, crs, log)
            box = tuple(_in_crs(bounds, used)) if bounds else None
            columns = [name for name in info["fields"] if name.upper() in ("MUKEY", "MUSYM")]
            raw = pyogrio.read_dataframe(
                path, columns=columns, bbox=box, fid_as_index=True, on_invalid="ignore"
            )
        except InputRefused:
            raise
        except UnboundLocalError:
            refuse_bad_system(log)
        except OVER_BAD_FILES as error:
            found = str(error)[:200] or type(error).__name__
            expected = "a readable shapefile with its .shx, .dbf and .prj"
            refuse_file(log, found, expected, "Unpack or download the export again.", place=path.name)
    for remark in sorted({str(warning.message)[:200] for warning in spoken}):
        expected = "a file read without remarks"
        log.note(Issue("note", path.name, path.name, "", remark, expected, "Read all the same."))
    return raw, used


def _mend(
    path: Path, shapes: np.ndarray, places: list[int], mukeys: list[str], log: IssueLog
) -> tuple[np.ndarray, np.ndarray]:
    """Return sound polygons and which to keep, counting every one."""
    sound = shapely.force_2d(shapes)
    keep = np.ones(len(sound), dtype=np.bool_)
    bad = shapely.is_missing(sound) | shapely.is_empty(sound) | ~shapely.is_valid(sound)
    bad |= shapely.get_dimensions(sound) < 2
    log.keep(int(len(sound) - bad.sum()))
    for position in np.flatnonzero(bad):
        shape = sound[position]
        reason = "no outline" if shape is None or shape.is_empty else shapely.is_valid_reason(shape)
        place = f"feature {places[position]}, mukey {mukeys[position]}"
        hopeless = shape is None or is_tangled(shape)
        mended = None if hopeless else _areas_of(shapely.make_valid(shape))
        if mended is None:
            keep[position] = False
            action = "Left out: no area can be made of it."
            log.refuse(Issue("error", path.name, place, "geometry", reason, "a polygon", action))
            continue
        sound[position] = mended
        expected = "an outline that does not cross itself"
        action = "The outline was mended; its area is the same or nearly so."
        if not _alike(shape.area, mended.area):
            action = (
                f"The outline was mended; its area is now {mended.area / max(shape.area, 1e-30):.3g} times."
            )
        log.repair(Issue("warning", path.name, place, "geometry", reason, expected, action))
    return sound, keep


def _alike(one: float, other: float) -> bool:
    return abs(one - other) <= 0.01 * max(one, other)


def _areas_of(shape: shapely.Geometry) -> shapely.Geometry | None:
    """Return the polygons in a shape, without the lines and points that mending can leave, or None."""
    parts = [
        part for part in shapely.get_parts(shape, return_index=False) if shapely.get_dimensions(part) == 2
    ]
    if not parts:
        return None
    whole = shapely.union_all(parts)
    return whole if whole.area > 0 and whole.is_valid else None


def _crs_of(path: Path, info: dict[str, object], asked: str, log: IssueLog) -> str:
    """Return the CRS to read the file in; refuses coordinates that cannot be in it."""
    own = info.get("crs")
    used = asked or (str(own) if own else PUBLISHED_CRS)
    try:
        parsed = read_crs(asked, log) if asked else CRS.from_user_input(used)
        same = not (asked and own) or CRS.from_user_input(own) == parsed
    except CRSError:
        refuse_file(
            log, used, "a known coordinate system", "Give it, as EPSG:4326.", place=path.name, field="crs"
        )
    if not own and not asked:
        action = f"Taken as {PUBLISHED_CRS}, as published."
        log.note(
            Issue(
                "note", path.name, path.name, "crs", "none in the file (.prj)", "a coordinate system", action
            )
        )
    if not same:
        action = f"Taken as {asked}, as you said."
        log.note(Issue("warning", path.name, path.name, "crs", str(own)[:60], asked, action))
    _refuse_impossible(path, info, parsed, log)
    epsg = parsed.to_epsg()
    return f"EPSG:{epsg}" if epsg else used


def _refuse_impossible(path: Path, info: dict[str, object], crs: CRS, log: IssueLog) -> None:
    extent = info.get("total_bounds")
    if not isinstance(extent, tuple) or not info.get("features"):
        return
    west, south, east, north = (float(value) for value in extent)
    degrees = max(abs(west), abs(east)) <= 360 and max(abs(south), abs(north)) <= 90
    if degrees == crs.is_geographic and np.isfinite([west, south, east, north]).all():
        return
    found = f"coordinates {west:.6g}, {south:.6g} to {east:.6g}, {north:.6g} said to be in {crs.name}"
    unit = "degrees" if crs.is_geographic else "metres or feet"
    action = "Say what the coordinates really are in, with the coordinate system asked for on import."
    refuse_file(log, found, f"coordinates in {unit}", action, place=path.name, field="crs")


def _in_crs(bounds: Bounds, crs: str) -> Bounds:
    if CRS.from_user_input(crs).is_geographic:
        return bounds
    transformer = Transformer.from_crs(PUBLISHED_CRS, crs, always_xy=True)
    west, south, east, north = bounds
    return Bounds(*transformer.transform_bounds(west, south, east, north, densify_pts=21))


def _keys(column: pd.Series) -> list[str]:
    """Return a key column as text; a tool that saved keys as numbers has made 565248.0 of 565248."""
    if pd.api.types.is_numeric_dtype(column):
        return ["" if pd.isna(value) else f"{int(value)}" for value in column]
    return ["" if pd.isna(value) else str(value).strip() for value in column]

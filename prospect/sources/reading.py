"""Reads one file of any kind through its own reader, and keeps nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import geopandas as gpd
import pandas as pd

from prospect.errors import InputRefused, WrongUsage
from prospect.guard.drivers import require_restricted
from prospect.issues import IssueLog
from prospect.layerfile import LayerSource
from prospect.records import Sample
from prospect.sources.elevation import ElevationSource, read_elevation
from prospect.sources.geology import read_geologic_units
from prospect.sources.keepouts import read_keepouts
from prospect.sources.parcels import read_parcels
from prospect.sources.points import read_points
from prospect.sources.soil_survey import read_soil_survey
from prospect.sources.structures import read_structures
from prospect.sources.water import read_water
from prospect.types import Bounds

KINDS: tuple[str, ...] = (
    "elevation",
    "soil",
    "geology",
    "structures",
    "water",
    "wetlands",
    "parcels",
    "roads",
    "keepouts",
    "outline",
    "leads",
    "faces",
    "samples",
    "holes",
)
RECORD_KINDS = ("samples", "holes")


@dataclass(frozen=True, slots=True)
class Wording:
    """What the user says about a file that it does not say itself.

    Attributes
    ----------
    crs
        `EPSG:n` of its coordinates; empty = as the file says.
    mapping
        Field of the normal form → column of the file; for elevation `vertical_unit` → m, ft or us-ft.
    legend
        CSV with the words behind a map's codes.
    bounds
        Longitudes and latitudes of the ground, to leave out what lies elsewhere and to recognise swapped
        coordinates; None = take everything.
    """

    crs: str = ""
    mapping: Mapping[str, str] = field(default_factory=dict)
    legend: Path | None = None
    bounds: Bounds | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """What one file held.

    Attributes
    ----------
    kind
        One of `KINDS`.
    log
        Read, kept, repaired, refused, and every problem.
    source
        Where it came from.
    elevation, shapes, samples
        The content; the one that fits the kind.
    tables
        Tables that belong to `shapes`.
    """

    kind: str
    log: IssueLog
    source: LayerSource
    elevation: ElevationSource | None = None
    shapes: gpd.GeoDataFrame | None = None
    samples: tuple[Sample, ...] = ()
    tables: Mapping[str, pd.DataFrame] = field(default_factory=dict)


FileReader = Callable[[str, Path, Wording], Reading]
"""Reads a file as a kind; `read_file` is one."""


def read_file(kind: str, path: Path, wording: Wording) -> Reading:
    """Read a file as one kind of layer or record.

    Raises
    ------
    WrongUsage
        When there is no such kind.
    InputRefused
        When the file cannot be used; the exception's log says why.
    ProspectError
        When a geo library was imported before this package, so that its drivers are not restricted.
    """
    require_restricted()
    reader = _READERS.get(kind)
    if reader is None:
        raise WrongUsage(f"There is no kind '{kind}'. The kinds are: {', '.join(KINDS)}.")
    if not path.exists():
        raise InputRefused(f"There is no file {path}.", IssueLog(path.name, kind))
    reading = reader(kind, path, wording)
    reading.log.add_up()
    if reading.log.verdict == "refused":
        raise InputRefused(f"{path.name} cannot be used as {kind}.", reading.log)
    return reading


def _elevation(kind: str, path: Path, wording: Wording) -> Reading:
    unit = wording.mapping.get("vertical_unit", "")
    content, log, source = read_elevation(path, crs=wording.crs, vertical_unit=unit, bounds=wording.bounds)
    return Reading(kind, log, source, elevation=content)


def _soil(kind: str, path: Path, wording: Wording) -> Reading:
    shapes, components, log, source = read_soil_survey(path, crs=wording.crs, bounds=wording.bounds)
    return Reading(kind, log, source, shapes=shapes, tables={"components": components})


def _geology(kind: str, path: Path, wording: Wording) -> Reading:
    shapes, log, source = read_geologic_units(
        path, crs=wording.crs, mapping=wording.mapping, legend=wording.legend, bounds=wording.bounds
    )
    return Reading(kind, log, source, shapes=shapes)


def _drawn(read: Callable[..., tuple[gpd.GeoDataFrame, IssueLog, LayerSource]]) -> FileReader:
    def reader(kind: str, path: Path, wording: Wording) -> Reading:
        shapes, log, source = read(path, crs=wording.crs, mapping=wording.mapping, bounds=wording.bounds)
        return Reading(kind, log, source, shapes=shapes)

    return reader


def _marks(kind: str, path: Path, wording: Wording) -> Reading:
    shapes, log, source = read_keepouts(
        path, kind=kind, crs=wording.crs, mapping=wording.mapping, bounds=wording.bounds
    )
    return Reading(kind, log, source, shapes=shapes)


def _points(kind: str, path: Path, wording: Wording) -> Reading:
    samples, log, source = read_points(
        path,
        crs=wording.crs,
        mapping=wording.mapping,
        bounds=wording.bounds,
        kind="holes" if kind == "holes" else "samples",
    )
    return Reading(kind, log, source, samples=samples)


_READERS: dict[str, FileReader] = {
    "elevation": _elevation,
    "soil": _soil,
    "geology": _geology,
    "structures": _drawn(read_structures),
    "parcels": _drawn(read_parcels),
    "water": _drawn(read_water),
    **dict.fromkeys(("wetlands", "roads", "keepouts", "outline", "leads", "faces"), _marks),
    **dict.fromkeys(RECORD_KINDS, _points),
}

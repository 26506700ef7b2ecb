"""Reads one file of any kind through its own reader, and keeps nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import geopandas as gpd
import pandas as pd

from prospect.errors import InputRefused, WrongUsage
from prospect.guard.drivers import require_restricted
from prospect.guard.inspection import check_path, file_name
from prospect.issues import IssueLog
from prospect.layerfile import LayerSource
from prospect.records import LogBook, Sample
from prospect.sources.elevation import ElevationSource, read_elevation
from prospect.sources.geology import read_geologic_units
from prospect.sources.keepouts import read_keepouts
from prospect.sources.log_reading import Asked, Known, read_log
from prospect.sources.parcels import read_parcels
from prospect.sources.photos import Photo, as_samples, holds_photos, read_photos
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
RECORD_KINDS = ("samples", "holes", "log")
LOG_KINDS = ("holes", "log")
"""Kinds that are read as a log, whatever tables are in it."""
CHECKED_KINDS: tuple[str, ...] = (*KINDS, "log", "photos")
"""What a file may be checked as; photos are taken in as samples."""


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
    today
        ISO date, to notice dates that lie in the future; empty = not known.
    known
        For a log: what is on record already.
    """

    crs: str = ""
    mapping: Mapping[str, str] = field(default_factory=dict)
    legend: Path | None = None
    bounds: Bounds | None = None
    today: str = ""
    known: Known = field(default_factory=Known)


@dataclass(frozen=True, slots=True)
class Reading:
    """What one file held.

    Attributes
    ----------
    kind
        One of `CHECKED_KINDS`.
    log
        Read, kept, repaired, refused, and every problem.
    source
        Where it came from.
    elevation, shapes, samples, book
        The content; the one that fits the kind.
    tables
        Tables that belong to `shapes`.
    photos, photos_from
        Where the samples come from photos: the photos, and the file, folder or archive that holds them.
    """

    kind: str
    log: IssueLog
    source: LayerSource
    elevation: ElevationSource | None = None
    shapes: gpd.GeoDataFrame | None = None
    samples: tuple[Sample, ...] = ()
    book: LogBook = field(default_factory=LogBook)
    tables: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    photos: tuple[Photo, ...] = ()
    photos_from: Path | None = None


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
        raise WrongUsage(f"There is no kind '{kind}'. The kinds are: {', '.join(CHECKED_KINDS)}.")
    check_path(path, IssueLog(file_name(path), kind))
    reading = reader(kind, path, wording)
    reading.log.add_up()
    if reading.log.verdict == "refused":
        raise InputRefused(f"{reading.log.file} cannot be used as {kind}.", reading.log)
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
    if holds_photos(path):
        return _photos(kind, path, wording)
    samples, log, source = read_points(
        path,
        crs=wording.crs,
        mapping=wording.mapping,
        bounds=wording.bounds,
        today=wording.today,
    )
    return Reading(kind, log, source, samples=samples)


def _log(kind: str, path: Path, wording: Wording) -> Reading:
    if holds_photos(path):
        return _photos(kind, path, wording)
    usual = "holes" if kind == "holes" else "samples"
    asked = Asked(usual, wording.crs, wording.mapping, wording.bounds, wording.today, wording.known)
    found = read_log(path, kind, asked)
    return Reading(kind, found.log, found.source, book=found.book)


def _photos(kind: str, path: Path, wording: Wording) -> Reading:
    photos, log, source = read_photos(path, kind=kind, bounds=wording.bounds, today=wording.today)
    return Reading(kind, log, source, samples=as_samples(photos), photos=photos, photos_from=path)


_READERS: dict[str, FileReader] = {
    "elevation": _elevation,
    "soil": _soil,
    "geology": _geology,
    "structures": _drawn(read_structures),
    "parcels": _drawn(read_parcels),
    "water": _drawn(read_water),
    **dict.fromkeys(("wetlands", "roads", "keepouts", "outline", "leads", "faces"), _marks),
    "samples": _points,
    **dict.fromkeys(LOG_KINDS, _log),
    "photos": _photos,
}

"""Takes a file that was read into the ground: onto its grid, beside what is there, with its source on record."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
from pyproj import CRS, Transformer
from shapely.geometry import box

from prospect.errors import InputRefused, WrongUsage
from prospect.grid import Raster
from prospect.issues import Issue, IssueLog
from prospect.layerfile import (
    LayerSource,
    delete_layer,
    read_raster_layer,
    read_source,
    read_table,
    read_vector_layer,
    write_layer,
)
from prospect.pipeline.area import ground_lonlat, settings_area, working_crs
from prospect.pipeline.lay_elevation import Laid, box_in, lay_elevation, lonlat_of
from prospect.pipeline.log_intake import known_names, take_log
from prospect.pipeline.pictures import keep_pictures
from prospect.pipeline.reading import (
    LOG_KINDS,
    RECORD_KINDS,
    FileReader,
    LogReading,
    Reading,
    Wording,
    read_file_guarded,
)
from prospect.pipeline.surroundings import AROUND_M, forget_surroundings, keep_surroundings, surroundings
from prospect.sources.elevation import ElevationSource
from prospect.store import Ground
from prospect.types import Bounds

_TURNING = 0.05


@dataclass(frozen=True, slots=True)
class Intake:
    """What was taken in, and what deserves a word."""

    kind: str
    log: IssueLog
    source: LayerSource
    notes: tuple[str, ...] = ()


def add_layer(
    ground: Ground,
    kind: str,
    path: Path,
    wording: Wording,
    *,
    today: str,
    replace_layer: bool = False,
    read: FileReader = read_file_guarded,
) -> Intake:
    """Read a file and keep what it held.

    Parameters
    ----------
    ground
        Where it goes.
    kind
        One of `prospect.pipeline.reading.KINDS`.
    path
        The file or folder.
    wording
        What the user says about the file.
    today
        ISO date, written into the layer's source.
    replace_layer
        Put the new content in place of what is there, instead of joining the two.
    read
        What reads the file; `read_file` saves time with files of our own making.

    Raises
    ------
    InputRefused
        When nothing of the file can be used or it lies elsewhere; the ground is as it was.
    """
    reading = read_for(ground, kind, path, replace(wording, today=today), read=read)
    return take_in(ground, reading, today=today, replace_layer=replace_layer)


def read_for(
    ground: Ground, kind: str, path: Path, wording: Wording, *, read: FileReader = read_file_guarded
) -> Reading:
    """Read a file for a ground and keep nothing: what lies elsewhere is left out where the area is settled.

    Parameters
    ----------
    ground, kind, path, wording
        As for `add_layer`.
    read
        What reads the file, in a process of its own unless said otherwise.

    Raises
    ------
    InputRefused
        When nothing of the file can be used.
    """
    wording = replace(wording, bounds=_bounds_for(ground, kind))
    if kind in LOG_KINDS:
        wording = replace(wording, known=known_names(ground.log_book()))
    return read(kind, path, wording)


def take_in(ground: Ground, reading: Reading, *, today: str, replace_layer: bool = False) -> Intake:
    """Keep what a file held.

    Parameters
    ----------
    ground
        Where it goes.
    reading
        From `read_for`.
    today, replace_layer
        As for `add_layer`.

    Raises
    ------
    InputRefused
        When it lies elsewhere; the ground is as it was.
    """
    reading = replace(reading, source=replace(reading.source, imported=today, counts=_counts(reading.log)))
    kind = reading.kind
    if kind in LOG_KINDS and reading.photos_from is None:
        taken = take_log(ground, LogReading(reading.book, reading.log, reading.source))
        return Intake(kind, reading.log, reading.source, taken.notes)
    if kind in RECORD_KINDS:
        return _keep_samples(ground, reading)
    if reading.elevation is not None:
        notes = _keep_elevation(ground, reading, reading.elevation, replace_layer)
    else:
        notes = _keep_shapes(ground, reading, replace_layer)
    detail = json.dumps({"kind": kind, "origin": reading.source.origin}, ensure_ascii=False)
    ground.note_action("replace layer" if replace_layer else "add layer", detail)
    return Intake(kind, reading.log, reading.source, notes)


def remove_layer(ground: Ground, name: str) -> None:
    """Take a layer out; records are never taken out this way."""
    if name in RECORD_KINDS:
        raise WrongUsage(
            "Samples, holes and the rest of the log are your records, not a layer; they are not removed this way."
        )
    delete_layer(ground.layers_folder, name)
    if name == "elevation":
        forget_surroundings(ground)
    ground.note_action("remove layer", json.dumps({"kind": name}))


def _bounds_for(ground: Ground, kind: str) -> Bounds | None:
    """Return the box to read in: none where the file may still set or widen the ground."""
    setter = ground.settings.area_set_by
    widens = setter != "you" and (kind in ("elevation", setter) or setter in ("geology", "soil", "outline"))
    return None if widens else ground_lonlat(ground, AROUND_M if kind == "elevation" else 0.0)


def _keep_samples(ground: Ground, reading: Reading) -> Intake:
    if reading.photos_from is not None:
        keep_pictures(ground.folder, reading.photos_from, reading.photos)
    before = len(ground.samples())
    clashes = ground.add_samples(reading.samples, origin=reading.source.origin)
    added = len(ground.samples()) - before
    same = len(reading.samples) - len(clashes) - added
    notes = [f"{added} saved."]
    if same:
        notes.append(f"{same} were on record already, word for word.")
    for sample in clashes:
        reading.log.note(
            Issue(
                "warning",
                reading.log.file,
                f"sample {sample.sample_id}",
                "sample_id",
                sample.sample_id,
                "a name that no other sample has",
                "A different sample of that name is on record and was kept; give this one another name.",
            )
        )
    if clashes:
        notes.append(f"{len(clashes)} not saved: a different sample of the same name is on record.")
    return Intake(reading.kind, reading.log, reading.source, tuple(notes))


def _keep_elevation(
    ground: Ground, reading: Reading, content: ElevationSource, fresh: bool
) -> tuple[str, ...]:
    settings, folder = ground.settings, ground.layers_folder
    there = None if fresh or "elevation" not in ground.layers() else read_raster_layer(folder, "elevation")
    cropped = settings.area_set_by == "you"
    if there is not None and not _near(there.grid.bounds, box_in(content, there.grid.crs)):
        raise _elsewhere(reading, lonlat_of(content), ground_lonlat(ground))
    area = settings_area(settings) if cropped else None
    wide = _laid_around(ground, content, there, area)
    laid = wide.over(area) if wide is not None and area is not None else None
    if laid is None:
        laid = lay_elevation(content, there, area, settings.crs, settings.cell_m)
    if not np.isfinite(laid.values).any():
        raise _elsewhere(reading, lonlat_of(content), ground_lonlat(ground))
    if not cropped and there is None and settings.area_set_by not in ("", "elevation"):
        area = settings_area(settings)
        if area is not None and not area.overlaps(laid.grid.bounds):
            raise _elsewhere(reading, lonlat_of(content), ground_lonlat(ground))
    source = replace(reading.source, notes=(*reading.source.notes, *laid.notes))
    write_layer(folder, "elevation", Raster.of(laid.values, laid.grid, "m", source.sentence()), source)
    if wide is None:
        forget_surroundings(ground)
    else:
        keep_surroundings(
            ground, Raster.of(wide.values, wide.grid, "m", source.sentence()), laid.grid, source
        )
    if not cropped:
        _set_area(ground, laid.grid.crs, laid.grid.bounds, "elevation")
    return laid.notes


def _laid_around(
    ground: Ground, content: ElevationSource, there: Raster | None, area: Bounds | None
) -> Laid | None:
    """Return the elevation laid over the ground and what lies around it; None where only the ground itself will do."""
    around = None if there is None else surroundings(ground)
    if area is None or (there is not None and around is None):
        return None
    settings = ground.settings
    try:
        return lay_elevation(content, around, area.padded(AROUND_M), settings.crs, settings.cell_m)
    except WrongUsage:  # more cells than a laptop holds
        return None


def _near(ground: Bounds, tile: Bounds) -> bool:
    """Whether a tile lies within one width of the ground, so that joining it makes sense."""
    return all(math.isfinite(edge) for edge in tile) and tile.overlaps(
        ground.padded(max(ground.width, ground.height))
    )


def _keep_shapes(ground: Ground, reading: Reading, replace_layer: bool) -> tuple[str, ...]:
    shapes = reading.shapes
    if shapes is None or shapes.crs is None:
        raise InputRefused(f"{reading.log.file} holds no shapes with a known CRS.", reading.log)
    settings, notes = ground.settings, []
    if not settings.crs:
        lonlat = Bounds(*shapes.to_crs("EPSG:4326").total_bounds)
        own = f"EPSG:{code}" if (code := shapes.crs.to_epsg()) else ""
        settings = replace(settings, crs=working_crs(own, lonlat))
    shapes = shapes.to_crs(settings.crs)
    area = settings_area(settings)
    if area is not None:
        near = shapes.intersects(box(*area.padded(AROUND_M)))
        if not near.any():
            raise _elsewhere(reading, Bounds(*shapes.to_crs("EPSG:4326").total_bounds), ground_lonlat(ground))
        if not near.all():
            notes.append(
                f"{int((~near).sum())} of {len(near)} shapes lie outside this ground and were left out."
            )
        shapes = shapes[near.to_numpy()].reset_index(drop=True)
    covers = None if area is None else area.padded(AROUND_M)
    tables = {name: _only_used(table, shapes) for name, table in reading.tables.items()}
    folder = ground.layers_folder
    if not replace_layer and reading.kind in ground.layers():
        there = read_vector_layer(folder, reading.kind)
        covers = _both_cover(read_source(folder, reading.kind), covers, settings.crs, str(there.crs))
        shapes, repeated = _appended(there, shapes)
        tables = {
            name: pd.concat([read_table(folder, reading.kind, name), table]).drop_duplicates(
                ["mukey", "cokey"], ignore_index=True
            )
            for name, table in tables.items()
        }
        notes.append(f"Joined to the {reading.kind} that lay there before.")
        if repeated:
            notes.append(f"{repeated} shapes were there already and were not taken twice.")
        older = read_source(folder, reading.kind)
        if reading.source.origin not in older.origin:
            origin = f"{older.origin} + {reading.source.origin}"
            reading = replace(reading, source=replace(reading.source, origin=origin))
    source = replace(
        reading.source,
        notes=(*reading.source.notes, *notes),
        covers=None if covers is None else tuple(covers),
    )
    write_layer(folder, reading.kind, shapes, source, tables)
    if area is None and reading.kind in ("geology", "soil", "outline"):
        _set_area(ground, settings.crs, Bounds(*shapes.total_bounds), reading.kind)
    return tuple(notes)


def _both_cover(older: LayerSource, covers: Bounds | None, crs: str, older_crs: str) -> Bounds | None:
    """Return the box that both files were cut to, in the older one's CRS; None when neither was cut."""
    if covers is not None and CRS(crs) != CRS(older_crs):
        moved = Bounds(*Transformer.from_crs(crs, older_crs, always_xy=True).transform_bounds(*covers))
        # A box that turns between two zones is taken a little smaller than what is drawn round it.
        covers = moved.padded(-_TURNING * min(moved.width, moved.height))
    if older.covers is None or covers is None:
        return covers if older.covers is None else Bounds(*older.covers)
    west, south, east, north = older.covers
    inner = max(west, covers.west), max(south, covers.south), min(east, covers.east), min(north, covers.north)
    return Bounds(*inner) if inner[0] <= inner[2] and inner[1] <= inner[3] else Bounds(0.0, 0.0, 0.0, 0.0)


def _only_used(table: pd.DataFrame, shapes: gpd.GeoDataFrame) -> pd.DataFrame:
    return table[table["mukey"].isin(shapes["mukey"])].reset_index(drop=True)


def _appended(there: gpd.GeoDataFrame, new: gpd.GeoDataFrame) -> tuple[gpd.GeoDataFrame, int]:
    both = pd.concat([there, new.to_crs(there.crs)], ignore_index=True)
    words = both.drop(columns="geometry").astype(object).map(str).agg("\x1f".join, axis=1)
    twice = pd.DataFrame({"words": words, "shape": both.geometry.to_wkb()}).duplicated()
    return gpd.GeoDataFrame(both[~twice].reset_index(drop=True), crs=there.crs), int(twice.sum())


def _set_area(ground: Ground, crs: str, bounds: Bounds, by: str) -> None:
    ground.change_settings(
        crs=crs, west=bounds.west, south=bounds.south, east=bounds.east, north=bounds.north, area_set_by=by
    )


def _elsewhere(reading: Reading, found: Bounds, ground_area: Bounds | None) -> InputRefused:
    here = _degrees(ground_area) if ground_area is not None else "not known"
    problem = Issue(
        "error",
        reading.log.file,
        "whole file",
        "position",
        _degrees(found),
        f"ground within {here}",
        "The file lies somewhere else. Is it the right file, and the right CRS (--crs EPSG:n)?",
    )
    read = reading.log.read
    log = IssueLog(
        reading.log.file, reading.kind, read=read, refused=read, issues=[*reading.log.issues, problem]
    )
    return InputRefused(f"{reading.log.file} does not touch this ground.", log)


def _degrees(area: Bounds) -> str:
    return f"{area.west:.4f}…{area.east:.4f}° E, {area.south:.4f}…{area.north:.4f}° N"


def _counts(log: IssueLog) -> dict[str, int]:
    return {"read": log.read, "kept": log.kept, "repaired": log.repaired, "refused": log.refused}

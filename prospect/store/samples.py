"""The samples' table: rows to samples and back, under a connection that somebody else opened."""

from __future__ import annotations

import json
import sqlite3
import struct
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import shapely

from prospect.errors import GroundError
from prospect.records import Sample
from prospect.store.outside import value_of
from prospect.store.schema import EXTENT_OF_SAMPLES
from prospect.store.typed import typed

_COLUMNS = (
    "sample_id",
    "hole_id",
    "lon",
    "lat",
    "position_error_m",
    "top_cm",
    "bottom_cm",
    "date",
    "usable",
    "quality",
    "note",
)
_SELECT = f"SELECT {', '.join(_COLUMNS)}, fields, revision FROM samples"  # noqa: S608 - our own names
_INSERT = (
    f"INSERT INTO samples (geom, {', '.join(_COLUMNS)}, fields, revision) "  # noqa: S608 - our own names
    f"VALUES ({', '.join('?' * (len(_COLUMNS) + 3))})"
)
_UPDATE = (
    f"UPDATE samples SET {', '.join(f'{name} = ?' for name in ('geom', *_COLUMNS, 'fields', 'revision'))} "  # noqa: S608
)


@dataclass(frozen=True, slots=True)
class Recorded:
    """A sample on record and the revision of the change that wrote it so."""

    sample: Sample
    revision: int


class ChangedMeanwhile(GroundError):
    """What was to be changed is no longer what it was when the change was begun.

    Attributes
    ----------
    mine
        What was to be saved; None when it was to be dropped.
    theirs
        What is on record now; None when it was dropped meanwhile.
    """

    def __init__(self, what: str, mine: object | None, theirs: Any) -> None:
        how = "was taken out" if theirs is None else f"was changed (revision {theirs.revision})"
        super().__init__(f"{what} {how} meanwhile; nothing was saved. Look at both and save again.")
        self.mine = mine
        self.theirs = theirs


def point_of(lon: float, lat: float) -> bytes:
    """Return a point as a GeoPackage geometry (OGC 12-128r18, 2.1.3): header, then well-known binary."""
    return struct.pack("<2sBBi", b"GP", 0, 1, 4326) + shapely.to_wkb(shapely.Point(lon, lat), byte_order=1)


def all_samples(connection: sqlite3.Connection) -> tuple[Sample, ...]:
    """Return every sample in the order it was saved."""
    return tuple(_recorded(row).sample for row in connection.execute(f"{_SELECT} ORDER BY fid"))


def samples_named(connection: sqlite3.Connection, names: Iterable[str]) -> dict[str, Recorded]:
    """Return the samples on record of some names."""
    rows = [
        row
        for name in dict.fromkeys(names)
        for row in connection.execute(f"{_SELECT} WHERE sample_id = ?", (name,))
    ]
    return {held.sample.sample_id: held for held in map(_recorded, rows)}


def insert_samples(connection: sqlite3.Connection, samples: Iterable[Sample], revision: int) -> None:
    """Write new samples."""
    connection.executemany(_INSERT, [_row(sample, revision) for sample in samples])
    connection.execute(EXTENT_OF_SAMPLES)


def update_sample(connection: sqlite3.Connection, sample: Sample, revision: int) -> None:
    """Write a sample over the one of its name."""
    connection.execute(f"{_UPDATE} WHERE sample_id = ?", (*_row(sample, revision), sample.sample_id))
    connection.execute(EXTENT_OF_SAMPLES)


def delete_samples(connection: sqlite3.Connection, names: Iterable[str]) -> None:
    """Take samples out."""
    connection.executemany("DELETE FROM samples WHERE sample_id = ?", [(name,) for name in names])
    connection.execute(EXTENT_OF_SAMPLES)


def held_at(connection: sqlite3.Connection, sample_id: str, revision: int, mine: Sample | None) -> Recorded:
    """Return a sample that is on record as of a revision.

    Raises
    ------
    ChangedMeanwhile
        When it is there otherwise, or no longer.
    """
    theirs = samples_named(connection, (sample_id,)).get(sample_id)
    if theirs is None or theirs.revision != revision:
        raise ChangedMeanwhile(f"Sample {sample_id}", mine, theirs)
    return theirs


def _recorded(row: Sequence[Any]) -> Recorded:
    *columns, fields, revision = row
    values = {**dict(zip(_COLUMNS, columns, strict=True)), "fields": value_of(fields)}
    return Recorded(typed(Sample, values, f"sample {columns[0]}"), revision)


def _row(sample: Sample, revision: int) -> tuple[object, ...]:
    values = (getattr(sample, column) for column in _COLUMNS)
    fields = json.dumps(sample.fields, ensure_ascii=False)
    return (point_of(sample.lon, sample.lat), *values, fields, revision)

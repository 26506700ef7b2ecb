"""A ground folder: settings, samples and corrections in its records, and the places of its layers."""

from __future__ import annotations

import contextlib
import json
import sqlite3
import struct
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any

import shapely

from prospect.errors import GroundError, WrongUsage
from prospect.layerfile import layer_names
from prospect.records import GroundSettings, Sample
from prospect.store.backups import (
    Backup,
    back_up,
    back_up_once_a_day,
    backups_of,
    newest_good,
    restore,
    write_copy,
)
from prospect.store.checkup import Finding, check_up
from prospect.store.holding import Hold, hold
from prospect.store.migrating import upgrade
from prospect.store.opening import check_records
from prospect.store.records_file import (
    Change,
    RecordsDamaged,
    create_records,
    open_records,
    parts_of,
    transaction,
)
from prospect.store.schema import EXTENT_OF_SAMPLES, SCHEMA_VERSION
from prospect.store.undoing import put_correction, put_settings, step_back, take_back

_RECORDS = "records.gpkg"
_SAMPLE_COLUMNS = (
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
_SELECT_SAMPLES = f"SELECT {', '.join(_SAMPLE_COLUMNS)}, fields FROM samples"  # noqa: S608 - our own names


@dataclass(frozen=True, slots=True)
class Ground:
    """One ground on disk.

    Attributes
    ----------
    folder
        Holds `records.gpkg`, `backups/`, `layers/`, `derived/` and `shared/`.
    """

    folder: Path

    @classmethod
    def create(cls, folder: Path, settings: GroundSettings) -> Ground:
        """Start a ground in a new or an empty folder.

        Raises
        ------
        GroundError
            When the folder holds something already or cannot be written.
        """
        records = folder / _RECORDS
        # What a start that was killed left behind is in nobody's way.
        if folder.exists() and (not folder.is_dir() or set(folder.iterdir()).difference(parts_of(records))):
            raise GroundError(f"{folder} is not empty; a ground starts in a new or an empty folder.")
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise GroundError(f"{folder} cannot be made: {error}") from error
        create_records(records, lambda part: _save_settings(part, "new", asdict(settings)))
        return cls(folder)

    @classmethod
    def open(cls, folder: Path) -> Ground:
        """Open a ground after looking at its records; older ones are backed up and brought up to date.

        Raises
        ------
        GroundError
            When it cannot be opened; the message gives the reason and the newest good backup.
        """
        try:
            version = check_records(folder / _RECORDS)
        except GroundError as error:
            gone = not (folder / _RECORDS).exists()
            backup = newest_good(folder / _RECORDS) if gone or isinstance(error, RecordsDamaged) else None
            if backup is None:
                raise
            raise type(error)(
                f"{error} The newest good backup is {backup.path}. To bring it back, close the app, move {_RECORDS} "
                f"and what is named {_RECORDS}-… aside, and copy the backup to {folder / _RECORDS}."
            ) from error
        if version < SCHEMA_VERSION:
            upgrade(folder / _RECORDS)
        return cls(folder)

    @classmethod
    def restore(cls, folder: Path, backup: Path) -> Ground:
        """Put a backup in the place of a ground's records, which are kept beside it, and open the ground.

        Raises
        ------
        GroundError
            When the backup is not sound or the records are in use; nothing was changed then.
        """
        restore(folder / _RECORDS, backup)
        return cls.open(folder)

    @classmethod
    def is_ground(cls, folder: Path) -> bool:
        """Whether the folder holds records."""
        return (folder / _RECORDS).is_file()

    @property
    def layers_folder(self) -> Path:
        """Where the imported layers are."""
        return self.folder / "layers"

    @property
    def derived_folder(self) -> Path:
        """Where everything computed is; safe to delete."""
        return self.folder / "derived"

    @property
    def shared_folder(self) -> Path:
        """Where maps for others are written."""
        return self.folder / "shared"

    @property
    def records_path(self) -> Path:
        """The records' GeoPackage; other programs and libraries get a copy of it, never this file."""
        return self.folder / _RECORDS

    def snapshot(self, path: Path) -> Path:
        """Write a whole, verified copy of the records for other programs and libraries; return its path.

        Raises
        ------
        GroundError
            When a file of that name is there already or cannot be written.
        """
        write_copy(self.records_path, path)
        return path

    def back_up(self) -> Backup:
        """Make a backup now, besides that of the first save of every day.

        Raises
        ------
        GroundError
            When it cannot be written.
        """
        return back_up(self.records_path, "asked")

    def backups(self) -> tuple[Backup, ...]:
        """Return the backups, newest first."""
        return backups_of(self.records_path)

    def check_up(self) -> tuple[Finding, ...]:
        """Look through the records and their backups; return what was found."""
        return check_up(self.records_path)

    def held(self) -> contextlib.AbstractContextManager[Hold]:
        """Mark the ground as open here as long as the context lasts; what it gives says whose lock was taken over.

        Raises
        ------
        GroundError
            On entering, when somebody else has it open; the message says who.
        """
        return hold(self.records_path)

    @property
    def settings(self) -> GroundSettings:
        """The ground's settings as last saved."""
        known = {item.name for item in fields(GroundSettings)}
        with open_records(self.records_path) as connection:
            rows = connection.execute("SELECT key, value FROM settings").fetchall()
        return GroundSettings(**{key: json.loads(value) for key, value in rows if key in known})

    def change_settings(self, **changes: object) -> GroundSettings:
        """Save some settings and return all of them.

        Raises
        ------
        WrongUsage
            When a setting of that name does not exist.
        """
        known = {item.name for item in fields(GroundSettings)}
        for key in changes:
            if key not in known:
                raise WrongUsage(
                    f"There is no setting '{key}'. The settings are: {', '.join(sorted(known))}."
                )
        settings = replace(self.settings, **changes)  # type: ignore[arg-type]
        values = {key: value for key, value in asdict(settings).items() if key in changes}
        back_up_once_a_day(self.records_path)
        _save_settings(self.records_path, "set", values)
        return settings

    def layers(self) -> tuple[str, ...]:
        """Names of the imported layers."""
        return layer_names(self.layers_folder)

    def samples(self) -> tuple[Sample, ...]:
        """Every sample in the order it was saved."""
        with open_records(self.records_path) as connection:
            return tuple(_sample(row) for row in connection.execute(f"{_SELECT_SAMPLES} ORDER BY fid"))

    def add_samples(self, samples: Iterable[Sample], *, origin: str = "") -> tuple[Sample, ...]:
        """Save new samples in one transaction; return those whose name is taken by a different sample.

        A sample that is on record word for word is passed over, so that the same file can be added twice.

        Parameters
        ----------
        samples
            What was read from a file or a form.
        origin
            Where they came from, for the audit.
        """
        samples = tuple(samples)
        on_record = self._named([sample.sample_id for sample in samples])
        new: dict[str, Sample] = {}
        clashes: list[Sample] = []
        for sample in samples:
            other = on_record.get(sample.sample_id) or new.get(sample.sample_id)
            if other is None:
                new[sample.sample_id] = sample
            elif other != sample:
                clashes.append(sample)
        if new:
            detail = json.dumps({"origin": origin, "samples": list(new)}, ensure_ascii=False)
            with self._saving("add samples", detail) as connection:
                connection.executemany(
                    f"INSERT INTO samples (geom, {', '.join(_SAMPLE_COLUMNS)}, fields) "  # noqa: S608
                    f"VALUES ({', '.join('?' * (len(_SAMPLE_COLUMNS) + 2))})",
                    [_sample_row(sample) for sample in new.values()],
                )
                connection.execute(EXTENT_OF_SAMPLES)
        return tuple(clashes)

    def rock_corrections(self) -> Mapping[str, str]:
        """Return the user's own readings of map units, `unit → term:fraction,term:fraction`."""
        with open_records(self.records_path) as connection:
            return dict(
                connection.execute("SELECT unit, rocks FROM rock_corrections ORDER BY unit").fetchall()
            )

    def correct_rock(self, unit: str, rocks: str) -> None:
        """Keep the user's own reading of a map unit; an empty one takes the correction back."""
        detail = json.dumps({"unit": unit, "rocks": rocks}, ensure_ascii=False)
        with self._saving("correct rock", detail) as connection:
            put_correction(connection, unit, rocks)

    def undo(self) -> Change:
        """Take back the last action that is not taken back yet, as a new action; return the one taken back.

        Settings and readings of map units go back to what they were; samples are removed, and the audit keeps what
        was in them.

        Raises
        ------
        NothingToWorkWith
            When no action is left, or the last one was on a layer.
        GroundError
            When it cannot be saved, or another program saved something meanwhile.
        """
        step = step_back(self.audit(), lambda names: [asdict(item) for item in self._named(names).values()])
        with self._saving("undo", json.dumps(step.detail(), ensure_ascii=False)) as connection:
            take_back(connection, step)
        return step.change

    def note_action(self, action: str, detail: str) -> None:
        """Put something that was done to the layers on record."""
        with self._saving(action, detail):
            pass

    def audit(self) -> tuple[Change, ...]:
        """Return everything that was ever saved, oldest first."""
        with open_records(self.records_path) as connection:
            rows = connection.execute(
                "SELECT revision, at, action, detail FROM audit ORDER BY fid"
            ).fetchall()
        return tuple(Change(*row) for row in rows)

    def _named(self, names: Sequence[str]) -> dict[str, Sample]:
        with open_records(self.records_path) as connection:
            rows = [
                row
                for name in dict.fromkeys(names)
                for row in connection.execute(f"{_SELECT_SAMPLES} WHERE sample_id = ?", (name,))
            ]
        return {sample.sample_id: sample for sample in map(_sample, rows)}

    @contextlib.contextmanager
    def _saving(self, action: str, detail: str) -> Iterator[sqlite3.Connection]:
        back_up_once_a_day(self.records_path)
        with transaction(self.records_path, action, detail) as connection:
            yield connection


def _save_settings(path: Path, action: str, values: Mapping[str, object]) -> None:
    with transaction(path, action, json.dumps(values, ensure_ascii=False)) as connection:
        put_settings(connection, values)


def _sample(row: Sequence[Any]) -> Sample:
    return Sample(**dict(zip(_SAMPLE_COLUMNS, row[:-1], strict=True)), fields=json.loads(row[-1]))


def _sample_row(sample: Sample) -> tuple[object, ...]:
    header = struct.pack("<2sBBi", b"GP", 0, 1, 4326)
    point = header + shapely.to_wkb(shapely.Point(sample.lon, sample.lat), byte_order=1)
    values = (getattr(sample, column) for column in _SAMPLE_COLUMNS)
    return (point, *values, json.dumps(sample.fields, ensure_ascii=False))

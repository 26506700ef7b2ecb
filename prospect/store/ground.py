"""A ground folder: settings, samples and corrections in its records, and the places of its layers."""

from __future__ import annotations

import contextlib
import json
import re
import sqlite3
import uuid
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, fields, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

from prospect.errors import GroundError, WrongUsage
from prospect.layerfile import layer_names
from prospect.records import Bar, Batch, BenchTest, GroundSettings, Hole, LogBook, Looked, Permission, Sample
from prospect.store.backups import (
    Backup,
    back_up,
    back_up_once_a_day,
    backups_of,
    restore,
    write_copy,
)
from prospect.store.changes import Change
from prospect.store.checkup import Finding, check_up
from prospect.store.documents import keep_document, keep_photo
from prospect.store.drafts import Pending, all_drafts, read_draft, write_draft
from prospect.store.entering import RECORDS, enter, enter_for_looking, keep_one, mend_ground, worked_on
from prospect.store.holding import Hold, Holder, hold, lock_path, other_holder
from prospect.store.ledgers import all_looked, all_permissions, insert_looked, insert_permission
from prospect.store.log import (
    SHELVES,
    LogItem,
    LogKind,
    OnRecord,
    all_items,
    as_told,
    delete_items,
    insert_items,
    item_held_at,
    items_named,
    kind_of,
    name_of,
    update_item,
)
from prospect.store.outside import value_of
from prospect.store.place import place_of
from prospect.store.publishing import publish, publish_onward
from prospect.store.records_file import (
    begun,
    create_records,
    make_folder,
    next_revision,
    open_records,
    parts_of,
    transaction,
)
from prospect.store.samples import (
    ChangedMeanwhile,
    Recorded,
    all_samples,
    delete_samples,
    held_at,
    insert_samples,
    samples_named,
    update_sample,
)
from prospect.store.sorting import Amendment, Sorted, sort_out
from prospect.store.typed import typed
from prospect.store.undoing import put_correction, put_settings, step_back, take_back


@dataclass(frozen=True, slots=True)
class Ground:
    """One ground on disk.

    Attributes
    ----------
    folder
        Holds `records.gpkg`, `backups/`, `documents/`, `photos/`, `layers/`, `derived/` and `shared/`.
    read_only
        Why nothing can be saved; empty when it can.
    records
        Where the records are worked on; None = `records.gpkg` in the folder. In a folder on the network, or one that
        another program copies, they are worked on in a place of this machine's own and put into the folder whole
        after each save.
    """

    folder: Path
    read_only: str = ""
    records: Path | None = None

    @classmethod
    def create(cls, folder: Path, settings: GroundSettings) -> Ground:
        """Start a ground in a new or an empty folder.

        Raises
        ------
        GroundError
            When the folder holds something already or cannot be written.
        """
        records = folder / RECORDS
        # What a start that was killed left behind is in nobody's way.
        if folder.exists() and (not folder.is_dir() or set(folder.iterdir()).difference(parts_of(records))):
            raise GroundError(f"{folder} is not empty; a ground starts in a new or an empty folder.")
        try:
            make_folder(folder)
        except OSError as error:
            raise GroundError(f"{folder} cannot be made: {error}") from error
        named = {**asdict(settings), "ground_id": uuid.uuid4().hex}
        create_records(records, lambda part: _save_settings(part, "new", named))
        return cls(folder) if place_of(folder).is_own_disk else cls.open(folder)

    @classmethod
    def open(cls, folder: Path, *, read_only: str = "") -> Ground:
        """Open a ground after looking at its records.

        Older records are backed up and brought up to date, and what another program changed in them is put on
        record.

        Parameters
        ----------
        folder
            The ground's folder.
        read_only
            Why nothing is to be saved; empty = open for saving.

        Raises
        ------
        GroundError
            When it cannot be opened; the message gives the reason and the newest good backup.
        """
        records = enter(folder, saving=not read_only)
        return cls(folder, read_only, records if records != folder / RECORDS else None)

    @classmethod
    def rescue(cls, folder: Path) -> Ground:
        """Open what there is of a ground whose records are damaged, for looking only.

        That is the newest good backup, else what can still be read of the records, put into records of their own.

        Raises
        ------
        GroundError
            When there is neither.
        """
        looking = enter_for_looking(folder)
        return cls(folder, looking.why, looking.records)

    @classmethod
    def restore(cls, folder: Path, backup: Path) -> Ground:
        """Put a backup in the place of a ground's records, which are kept beside it, and open the ground.

        Raises
        ------
        GroundError
            When the backup is not sound or the records are in use; nothing was changed then.
        """
        records = worked_on(folder)
        restore(records, backup)
        if records != folder / RECORDS:
            # Else the folder's records would be taken for another way than the one that was gone back.
            publish(records, folder / RECORDS)
        ground = cls.open(folder)
        ground._published()
        return ground

    @classmethod
    def mend(cls, folder: Path) -> tuple[str, ...]:
        """Mend what can be mended without losing anything; return a sentence for each thing that was done.

        Raises
        ------
        GroundError
            When somebody has the ground open, or nothing is left to mend it from.
        """
        return mend_ground(folder)

    @classmethod
    def keep(cls, folder: Path, which: Literal["here", "there"]) -> Ground:
        """Choose between the records of this machine and those of a folder that others copy, where they differ.

        Raises
        ------
        GroundError
            When there is nothing to choose.
        """
        keep_one(folder, which)
        return cls.open(folder)

    @classmethod
    def is_ground(cls, folder: Path) -> bool:
        """Whether the folder holds records."""
        return (folder / RECORDS).is_file()

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
    def documents_folder(self) -> Path:
        """Where the papers are that belong to permissions."""
        return self.folder / "documents"

    @property
    def photos_folder(self) -> Path:
        """Where the photos are that bars and holes name."""
        return self.folder / "photos"

    @property
    def records_path(self) -> Path:
        """The records' GeoPackage; other programs and libraries get a copy of it, never this file."""
        return self.records or self.folder / RECORDS

    @property
    def records_stamp(self) -> int:
        """A number that changes with every save, and not while something is only being typed."""
        with open_records(self.records_path) as connection:
            row = connection.execute("SELECT revision, at FROM audit ORDER BY fid DESC LIMIT 1").fetchone()
        return int(f"{row[0]}{re.sub('[^0-9]', '', row[1])}") if row else 0

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
        return check_up(self.records_path, lock_path(self.folder / RECORDS))

    def held(self) -> contextlib.AbstractContextManager[Hold]:
        """Mark the ground as open here as long as the context lasts; what it gives says whose lock was taken over.

        Raises
        ------
        GroundError
            On entering, when somebody else has it open; the message says who.
        """
        return hold(self.records_path, lock_path(self.folder / RECORDS))

    def holder(self) -> Holder | None:
        """Return who else has the ground open; None when nobody has."""
        return other_holder(self.records_path, lock_path(self.folder / RECORDS))

    @property
    def settings(self) -> GroundSettings:
        """The ground's settings as last saved."""
        known = {item.name for item in fields(GroundSettings)}
        with open_records(self.records_path) as connection:
            rows = connection.execute("SELECT key, value FROM settings").fetchall()
        values = {key: value_of(text) for key, text in rows if key in known}
        return typed(GroundSettings, values, "the settings")

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
        with self._saving("set", _told(values)) as connection:
            put_settings(connection, values)
        return settings

    def layers(self) -> tuple[str, ...]:
        """Names of the imported layers."""
        return layer_names(self.layers_folder)

    def samples(self) -> tuple[Sample, ...]:
        """Every sample in the order it was saved."""
        with open_records(self.records_path) as connection:
            return all_samples(connection)

    def recorded(self, sample_id: str) -> Recorded | None:
        """Return a sample with the revision that an edit of it must name; None when there is none."""
        with open_records(self.records_path) as connection:
            return samples_named(connection, (sample_id,)).get(sample_id)

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
        new, clashes = self._sorted_out(samples)
        if new:
            with self._saving("add samples", _told({"origin": origin, "samples": list(new)})) as connection:
                insert_samples(connection, new.values(), next_revision(connection))
        return clashes

    def edit_sample(self, sample: Sample, revision: int) -> Recorded:
        """Save a sample over the one of its name that is on record as of a revision; return it with its new one.

        Raises
        ------
        ChangedMeanwhile
            When it was changed or taken out since; the error holds both.
        """
        before = self.recorded(sample.sample_id)
        told = {"before": asdict(before.sample) if before else None, "after": asdict(sample)}
        with self._saving("edit sample", _told(told)) as connection:
            held_at(connection, sample.sample_id, revision, sample)
            saved = Recorded(sample, next_revision(connection))
            update_sample(connection, sample, saved.revision)
        return saved

    def drop_sample(self, sample_id: str, revision: int) -> Sample:
        """Take out a sample that is on record as of a revision; the audit keeps what was in it.

        Raises
        ------
        ChangedMeanwhile
            When it was changed or taken out since; the error holds what is there.
        """
        before = self.recorded(sample_id)
        told = {"sample": asdict(before.sample) if before else None}
        with self._saving("drop sample", _told(told)) as connection:
            held = held_at(connection, sample_id, revision, None)
            delete_samples(connection, (sample_id,))
        return held.sample

    def holes(self) -> tuple[Hole, ...]:
        """Every hole and face with its layers, in the order they were saved."""
        return self._all("hole")

    def bars(self) -> tuple[Bar, ...]:
        """Every test bar in the order it was saved."""
        return self._all("bar")

    def bench_tests(self) -> tuple[BenchTest, ...]:
        """Every bench test in the order it was saved."""
        return self._all("test")

    def batches(self) -> tuple[Batch, ...]:
        """Every batch in the order it was saved."""
        return self._all("batch")

    def log_book(self) -> LogBook:
        """Everything in the log, samples too, from one reading."""
        with open_records(self.records_path) as connection:
            return LogBook(
                holes=all_items(connection, "hole"),
                samples=all_samples(connection),
                bars=all_items(connection, "bar"),
                tests=all_items(connection, "test"),
                batches=all_items(connection, "batch"),
            )

    def add_log(self, book: LogBook, *, changed: Iterable[OnRecord] = (), origin: str = "") -> LogBook:
        """Save what is in a log book in one transaction; return what clashes.

        What adds to something on record completes it (`prospect.records.completed`), and what adds nothing is passed
        over, so that the same file can be added twice. What contradicts something of its kind and name is not saved
        and comes back.

        Parameters
        ----------
        book
            What was read from a file or a form.
        changed
            Items to save over those of their names, each with the revision as of which that is on record.
        origin
            Where it came from, for the audit.

        Raises
        ------
        ChangedMeanwhile
            When something that is to be saved over was changed or taken out since; nothing is saved then.
        """
        samples = self._sorted_samples(book.samples)
        parts = {kind: self._sorted_log(kind, items) for kind, items in _by_kind(book).items()}
        amended = [*self._amended(changed), *(one for part in parts.values() for one in part.amended)]
        new = [item for part in parts.values() for item in part.new.values()]
        if samples.new or samples.amended or new or amended:
            told = _told_of_log(origin, samples, parts, amended)
            with self._saving("add log", _told(told)) as connection:
                revision = next_revision(connection)
                insert_samples(connection, samples.new.values(), revision)
                for sample in samples.amended:
                    held_at(connection, sample.before.sample_id, sample.revision, sample.after)
                    update_sample(connection, sample.after, revision)
                insert_items(connection, new, revision)
                for one in amended:
                    item_held_at(connection, kind_of(one.after), name_of(one.after), one.revision, one.after)
                    update_item(connection, one.after, revision)
        clashes = {kind: part.clashes for kind, part in parts.items()}
        return LogBook(clashes["hole"], samples.clashes, clashes["bar"], clashes["test"], clashes["batch"])

    def on_record(self, kind: LogKind, name: str) -> OnRecord | None:
        """Return a hole, bar, test or batch with the revision that an edit of it must name; None when there is none."""
        with open_records(self.records_path) as connection:
            return items_named(connection, kind, (name,)).get(name)

    def edit_log(self, item: LogItem, revision: int) -> OnRecord:
        """Save a hole, bar, test or batch over the one of its name that is on record as of a revision.

        Raises
        ------
        ChangedMeanwhile
            When it was changed or taken out since; the error holds both.
        """
        kind, name = kind_of(item), name_of(item)
        before = self.on_record(kind, name)
        told = {"kind": kind, "before": as_told(before.item) if before else None, "after": as_told(item)}
        with self._saving("edit log", _told(told)) as connection:
            item_held_at(connection, kind, name, revision, item)
            saved = OnRecord(item, next_revision(connection))
            update_item(connection, item, saved.revision)
        return saved

    def drop_log(self, kind: LogKind, name: str, revision: int) -> LogItem:
        """Take out a hole, bar, test or batch that is on record as of a revision; the audit keeps what was in it.

        Raises
        ------
        ChangedMeanwhile
            When it was changed or taken out since; the error holds what is there.
        """
        before = self.on_record(kind, name)
        told = {"kind": kind, "item": as_told(before.item) if before else None}
        with self._saving("drop log", _told(told)) as connection:
            held = item_held_at(connection, kind, name, revision, None)
            delete_items(connection, kind, (name,))
        return held.item

    def keep_photo(self, path: Path) -> str:
        """Copy a JPEG, PNG or WebP picture into `photos_folder`; return the name that a record gives it.

        Raises
        ------
        NothingToWorkWith, WrongUsage
            When there is no such file, or it is no such picture or too large.
        GroundError
            When nothing can be saved here, or it cannot be read or written.
        """
        self._refuse_when_read_only()
        return keep_photo(path, self.photos_folder)

    def permissions(self) -> tuple[Permission, ...]:
        """Every entry of the permission ledger, oldest first, without those that were taken back."""
        with open_records(self.records_path) as connection:
            return all_permissions(connection)

    def permit(self, entry: Permission, document: Path | None = None) -> Permission:
        """Add an entry to the permission ledger; return it as saved, with its time and the name of its paper.

        Parameters
        ----------
        entry
            What was asked or said.
        document
            A paper to keep with it, copied into `documents_folder`.

        Raises
        ------
        NothingToWorkWith, WrongUsage
            When there is no such paper, or it is no plain file or too large.
        """
        self._refuse_when_read_only()
        paper = entry.document if document is None else keep_document(document, self.documents_folder)
        # A clock that was put back must not let an earlier answer speak over this one.
        recorded = max((_now(), *(earlier.recorded for earlier in self.permissions())))
        saved = replace(entry, document=paper, recorded=recorded)
        with self._saving("permit", _told(asdict(saved))) as connection:
            insert_permission(connection, saved, next_revision(connection))
        return saved

    def looked(self) -> tuple[Looked, ...]:
        """Every on-site record, oldest first, without those that were taken back."""
        with open_records(self.records_path) as connection:
            return all_looked(connection)

    def note_looked(self, entry: Looked) -> Looked:
        """Add what somebody saw on the spot; return it as saved, with its time."""
        saved = replace(entry, recorded=_now())
        with self._saving("looked", _told(asdict(saved))) as connection:
            insert_looked(connection, saved, next_revision(connection))
        return saved

    def draft(self, key: str) -> dict[str, str]:
        """Return what was being typed into a form; empty when nothing was."""
        with open_records(self.records_path) as connection:
            return read_draft(connection, key)

    def pending(self) -> tuple[Pending, ...]:
        """Return everything that was typed and is neither saved nor dropped, the last typed first."""
        with open_records(self.records_path) as connection:
            return all_drafts(connection)

    def keep_draft(self, key: str, content: Mapping[str, str]) -> None:
        """Keep what is being typed into a form until it is saved or dropped; no change for the audit."""
        self._refuse_when_read_only()
        with begun(self.records_path) as connection:
            write_draft(connection, key, content)

    def drop_draft(self, key: str) -> None:
        """Forget what was being typed into a form."""
        self.keep_draft(key, {})

    def rock_corrections(self) -> Mapping[str, str]:
        """Return the user's own readings of map units, `unit → term:fraction,term:fraction`."""
        with open_records(self.records_path) as connection:
            return dict(
                connection.execute("SELECT unit, rocks FROM rock_corrections ORDER BY unit").fetchall()
            )

    def correct_rock(self, unit: str, rocks: str) -> None:
        """Keep the user's own reading of a map unit; an empty one takes the correction back."""
        with self._saving("correct rock", _told({"unit": unit, "rocks": rocks})) as connection:
            put_correction(connection, unit, rocks)

    def undo(self) -> Change:
        """Take back the last action that is not taken back yet, as a new action; return the one taken back.

        Settings, readings of map units and edited samples go back to what they were; added samples are taken out, and
        the audit keeps what was in them; entries of the ledgers stay, marked as taken back.

        Raises
        ------
        NothingToWorkWith
            When no action is left, or the last one was on a layer.
        GroundError
            When it cannot be saved, or another program saved something meanwhile.
        """
        step = step_back(self.audit(), self._samples_named, self._log_named)
        with self._saving("undo", _told(step.detail())) as connection:
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

    def _all(self, kind: LogKind) -> tuple[Any, ...]:
        with open_records(self.records_path) as connection:
            return all_items(connection, kind)

    def _log_named(self, kind: LogKind, names: Iterable[str]) -> tuple[LogItem, ...]:
        with open_records(self.records_path) as connection:
            return tuple(held.item for held in items_named(connection, kind, names).values())

    def _amended(self, items: Iterable[OnRecord]) -> Iterator[Amendment[Any]]:
        """Yield each item with what is on record of its name, where that is something else."""
        for item in items:
            kind, name = kind_of(item.item), name_of(item.item)
            held = self.on_record(kind, name)
            if held is None or held.revision != item.revision:
                raise ChangedMeanwhile(f"{SHELVES[kind].noun} {name}", item.item, held)
            if held.item != item.item:
                yield Amendment(held.item, item.item, held.revision)

    def _sorted_log(self, kind: LogKind, items: Iterable[Any]) -> Sorted[Any]:
        items = tuple(items)
        with open_records(self.records_path) as connection:
            held = items_named(connection, kind, map(name_of, items))
        return sort_out(items, name_of, {name: (one.item, one.revision) for name, one in held.items()})

    def _sorted_samples(self, samples: Iterable[Sample]) -> Sorted[Sample]:
        samples = tuple(samples)
        with open_records(self.records_path) as connection:
            held = samples_named(connection, (sample.sample_id for sample in samples))
        named = {name: (one.sample, one.revision) for name, one in held.items()}
        return sort_out(samples, lambda sample: sample.sample_id, named)

    def _samples_named(self, names: Iterable[str]) -> tuple[Sample, ...]:
        with open_records(self.records_path) as connection:
            return tuple(held.sample for held in samples_named(connection, names).values())

    def _sorted_out(self, samples: Iterable[Sample]) -> tuple[dict[str, Sample], tuple[Sample, ...]]:
        samples = tuple(samples)
        on_record = {
            sample.sample_id: sample for sample in self._samples_named(sample.sample_id for sample in samples)
        }
        new: dict[str, Sample] = {}
        clashes: list[Sample] = []
        for sample in samples:
            other = on_record.get(sample.sample_id) or new.get(sample.sample_id)
            if other is None:
                new[sample.sample_id] = sample
            elif other != sample:
                clashes.append(sample)
        return new, tuple(clashes)

    def _refuse_when_read_only(self) -> None:
        if self.read_only:
            raise GroundError(f"Nothing can be saved here: {self.read_only}")

    @contextlib.contextmanager
    def _saving(self, action: str, detail: str) -> Iterator[sqlite3.Connection]:
        self._refuse_when_read_only()
        back_up_once_a_day(self.records_path)
        with transaction(self.records_path, action, detail) as connection:
            yield connection
        self._published()

    def _published(self) -> None:
        if self.records is not None:
            # What was saved is saved; a folder that cannot be written now gets it at the next opening, and one into
            # which another machine saved meanwhile is left as it is.
            with contextlib.suppress(GroundError):
                publish_onward(self.records, self.folder / RECORDS)


def _by_kind(book: LogBook) -> dict[LogKind, tuple[Any, ...]]:
    return {"hole": book.holes, "bar": book.bars, "test": book.tests, "batch": book.batches}


def _told_of_log(
    origin: str,
    samples: Sorted[Sample],
    parts: Mapping[LogKind, Sorted[Any]],
    amended: Iterable[Amendment[Any]],
) -> dict[str, object]:
    """Return what the audit says of a log: the names of what is new, and what was changed before and after."""
    told: dict[str, object] = {"origin": origin}
    if samples.new:
        told["samples"] = list(samples.new)
    told |= {kind: list(part.new) for kind, part in parts.items() if part.new}
    changed: dict[str, list[object]] = {}
    for one in (*samples.amended, *amended):
        kind = "samples" if isinstance(one.after, Sample) else kind_of(one.after)
        changed.setdefault(kind, []).append({"before": asdict(one.before), "after": asdict(one.after)})
    return told | ({"changed": changed} if changed else {})


def _save_settings(path: Path, action: str, values: Mapping[str, object]) -> None:
    with transaction(path, action, _told(values)) as connection:
        put_settings(connection, values)


def _told(what: Mapping[str, object]) -> str:
    return json.dumps(what, ensure_ascii=False)


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="milliseconds")

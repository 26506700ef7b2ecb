"""Ties photos to the holes and bars of a log: reads every one, says where it belongs, and keeps what was accepted."""

from __future__ import annotations

import math
import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

import numpy as np

from prospect.errors import WrongUsage
from prospect.issues import IssueLog
from prospect.layerfile import LayerSource
from prospect.pipeline.area import ground_lonlat
from prospect.pipeline.pictures import keep_pictures
from prospect.pipeline.reading import LARGE, USUAL, Limits, guarded
from prospect.records import Bar, Hole, LogBook
from prospect.sources.photo_matching import (
    STAND_OFF_M,
    USUAL_ERROR_M,
    Match,
    Sureness,
    distances_m,
    match_photos,
)
from prospect.sources.photos import Photo, as_samples, holds_photos, lay_out_pictures, read_photos
from prospect.store import ChangedMeanwhile, Ground, OnRecord

__all__ = [
    "PHOTOS",
    "Attached",
    "Match",
    "Tie",
    "accepted",
    "attach_photos",
    "is_of_photos",
    "match_photos",
    "new_holes",
    "new_samples",
    "photo_names",
    "photos_as_holes",
    "read_log_photos",
]

PHOTOS = "photos"
"""Field of a hole that names its photos in `Ground.photos_folder`, with a comma and a space between them."""
TAKEN_AS_THEY_ARE: tuple[Sureness, ...] = ("sure", "likely")
_PART = 32
"""So many figures of a picture's digest are its name in the ground (`Ground.keep_photo`)."""


@dataclass(frozen=True, slots=True)
class Tie:
    """One photo and the hole or bar that it belongs to."""

    photo: Photo
    kind: Literal["hole", "bar"]
    name: str


@dataclass(frozen=True, slots=True)
class Attached:
    """What became of photos.

    Attributes
    ----------
    added
        What is on record now and was not before.
    there
        What was on record already.
    left
        Name of a photo and why it was not taken; every photo is in one of the three.
    kept
        Digest of a picture → its name in `Ground.photos_folder`.
    """

    added: tuple[Tie, ...] = ()
    there: tuple[Tie, ...] = ()
    left: tuple[tuple[str, str], ...] = ()
    kept: Mapping[str, str] = field(default_factory=dict)

    @property
    def notes(self) -> tuple[str, ...]:
        """Sentences for a person."""
        count = len(self.added)
        notes = [
            f"{count} photo{'' if count == 1 else 's'} attached." if count else "No photo was new to attach."
        ]
        if self.there:
            notes.append(f"Attached already: {len(self.there)}.")
        notes += [f"Not attached: {name}. {why}" for name, why in self.left]
        return tuple(notes)


def is_of_photos(path: Path) -> bool:
    """Whether a file, folder or archive is one of photos; an archive is looked at in a process of its own."""
    if path.suffix.lower() == ".zip" and path.is_file():
        return guarded(holds_photos, path, "log")
    return holds_photos(path)


def read_log_photos(
    ground: Ground, path: Path, *, today: str = "", limits: Limits = USUAL
) -> tuple[tuple[Photo, ...], IssueLog, LayerSource]:
    """Read every photo of a file, folder or archive, also those without a position, in a process of its own.

    Parameters
    ----------
    ground
        The ground it is for.
    path
        A JPEG or PNG, a folder of them, or a zip archive.
    today
        ISO date; a photo taken later has a wrong clock.
    limits
        What reading may take.

    Raises
    ------
    InputRefused
        When there is no photo that can be read.
    """
    bounds = ground_lonlat(ground)
    return guarded(read_photos, path, "photos", limits=limits, bounds=bounds, today=today, every=True)


def accepted(matches: Iterable[Match], how_sure: Iterable[Sureness] = TAKEN_AS_THEY_ARE) -> tuple[Tie, ...]:
    """Return the ties that follow from matches which are sure enough."""
    enough = frozenset(how_sure) - {"none"}
    return tuple(Tie(match.photo, "hole", match.hole_id) for match in matches if match.sure in enough)


def photo_names(hole: Hole) -> tuple[str, ...]:
    """Return the names of a hole's photos in `Ground.photos_folder`."""
    return tuple(name for name in hole.fields.get(PHOTOS, "").split(", ") if name)


def attach_photos(ground: Ground, origin: Path, ties: Iterable[Tie]) -> Attached:
    """Keep pictures and note their names with the holes and bars that they belong to; nothing twice.

    All of it is one save, as of how each hole or bar was read, and one thing to take back; a picture is on the disk
    before a record names it.

    Parameters
    ----------
    ground
        Where they go.
    origin
        The file, folder or archive that the photos were read from.
    ties
        What was accepted.

    Raises
    ------
    InputRefused
        When a picture is no longer what was read; nothing was noted then.
    GroundError
        When nothing can be saved here.
    """
    wanted: dict[tuple[Literal["hole", "bar"], str], dict[str, Tie]] = {}
    for tie in ties:
        wanted.setdefault((tie.kind, tie.name), {}).setdefault(tie.photo.digest, tie)
    kept, refused = _keep(ground, origin, (tie.photo for of in wanted.values() for tie in of.values()))
    added: list[Tie] = []
    there: list[Tie] = []
    left: list[tuple[str, str]] = []
    changed: list[OnRecord] = []
    for (kind, name), of in wanted.items():
        left += [(tie.photo.name, refused[digest]) for digest, tie in of.items() if digest in refused]
        able = {kept[digest]: tie for digest, tie in of.items() if digest in kept}
        held = ground.on_record(kind, name)
        if held is None:
            left += [(tie.photo.name, f"No {kind} {name} is on record.") for tie in able.values()]
            continue
        item = held.item
        assert isinstance(item, Hole | Bar)
        with_them, new = _with_photos(item, tuple(able))
        there += [able[one] for one in able if one in _on(item)]
        left += [
            (tie.photo.name, f"Bar {name} has another photo; take that one off first.")
            for one, tie in able.items()
            if one not in new and one not in _on(item)
        ]
        if new:
            changed.append(replace(held, item=with_them))
            added += [able[one] for one in new]
    if changed:
        try:
            ground.add_log(LogBook(), changed=changed, origin=origin.name)
        except ChangedMeanwhile as error:
            left += [(tie.photo.name, str(error)) for tie in added]
            added = []
    return Attached(tuple(added), tuple(there), tuple(left), kept)


def new_holes(
    matches: Iterable[Match], taken: Iterable[str], kind: str = ""
) -> tuple[tuple[Hole, tuple[Photo, ...]], ...]:
    """Return a new hole or face for each place where photos lie by no hole, with the photos taken there.

    Parameters
    ----------
    matches
        From `match_photos`; those that are at a hole, or have no place, are passed over.
    taken
        Names of holes that are on record.
    kind
        What the new ones are: `face`, or '' when not said.
    """
    loose = [match for match in matches if not match.hole_id and match.lon is not None]
    # The best position of a group is the group's.
    loose.sort(
        key=lambda match: (
            match.photo.lon is None,
            _error_m(match.photo),
            match.photo.taken,
            match.photo.digest,
        )
    )
    names = set(taken)
    groups: list[tuple[Hole, list[Photo]]] = []
    for match in loose:
        home = _nearest_group(match, groups)
        if home is not None:
            home[1].append(match.photo)
            continue
        assert match.lon is not None
        assert match.lat is not None
        (seen,) = as_samples((replace(match.photo, lon=match.lon, lat=match.lat),))
        hole_id = _unused(seen.sample_id, names)
        names.add(hole_id)
        said = {key: text for key, text in seen.fields.items() if key not in ("photo", "picture")}
        hole = Hole(
            hole_id=hole_id,
            lon=match.lon,
            lat=match.lat,
            kind=kind,
            position_error_m=match.photo.position_error_m,
            date=match.photo.taken[:10],
            fields=said,
        )
        groups.append((hole, [match.photo]))
    return tuple((hole, tuple(photos)) for hole, photos in groups)


def photos_as_holes(ground: Ground, origin: Path, matches: Iterable[Match], kind: str = "") -> Attached:
    """Save a new hole or face for each place where photos lie by no hole, their pictures with it.

    Parameters
    ----------
    ground, origin
        As for `attach_photos`.
    matches
        Those that are to become holes.
    kind
        As for `new_holes`.

    Raises
    ------
    InputRefused, GroundError
        As for `attach_photos`; no hole was saved then.
    """
    on_record = ground.holes()
    named = {one[:_PART]: hole.hole_id for hole in on_record for one in photo_names(hole)}
    matches = tuple(matches)
    there = [
        Tie(one.photo, "hole", named[one.photo.digest[:_PART]])
        for one in matches
        if one.photo.digest[:_PART] in named
    ]
    fresh = [one for one in matches if one.photo.digest[:_PART] not in named]
    groups = new_holes(fresh, (hole.hole_id for hole in on_record), kind)
    kept, refused = _keep(ground, origin, (photo for _, photos in groups for photo in photos))
    holes, added = [], []
    for hole, photos in groups:
        able = [photo for photo in photos if photo.digest in kept]
        if not able:
            continue
        names = ", ".join(kept[photo.digest] for photo in able)
        holes.append(replace(hole, fields={**hole.fields, PHOTOS: names}))
        added += [Tie(photo, "hole", hole.hole_id) for photo in able]
    clashes = ground.add_log(LogBook(holes=tuple(holes)), origin=origin.name).holes
    clashing = {hole.hole_id for hole in clashes}
    left = [
        (photo.name, refused[photo.digest]) for _, of in groups for photo in of if photo.digest in refused
    ]
    left += [
        (tie.photo.name, f"A hole {tie.name} was saved meanwhile.") for tie in added if tie.name in clashing
    ]
    left += [
        (one.photo.name, f"It is at hole {one.hole_id}." if one.hole_id else "Its place is not known.")
        for one in fresh
        if one.hole_id or one.lon is None
    ]
    return Attached(tuple(tie for tie in added if tie.name not in clashing), tuple(there), tuple(left), kept)


def new_samples(ground: Ground, origin: Path, matches: Iterable[Match]) -> tuple[tuple[str, str], ...]:
    """Save a sample for each photo with a position of its own; return the photos that were left, and why.

    Parameters
    ----------
    ground, origin
        As for `attach_photos`.
    matches
        Those that are to become samples.

    Raises
    ------
    InputRefused, GroundError
        As for `attach_photos`.
    """
    matches = tuple(matches)
    photos = tuple(match.photo for match in matches if match.photo.lon is not None)
    keep_pictures(ground.folder, origin, photos)
    clashes = ground.add_samples(as_samples(photos), origin=origin.name)
    left = [(m.photo.name, "It has no position of its own.") for m in matches if m.photo.lon is None]
    left += [
        (one.fields["photo"], f"A different sample named {one.sample_id} is on record.") for one in clashes
    ]
    return tuple(left)


def _keep(ground: Ground, origin: Path, photos: Iterable[Photo]) -> tuple[dict[str, str], dict[str, str]]:
    """Keep pictures; return their names in the ground, and why some were refused, both by digest."""
    wanted = tuple({photo.digest: photo for photo in photos}.values())
    kept: dict[str, str] = {}
    refused: dict[str, str] = {}
    if not wanted:
        return kept, refused
    with tempfile.TemporaryDirectory(prefix="claywalk-") as name:
        laid_out = Path(name)
        # An archive is unpacked once more, and where foreign files are read.
        guarded(lay_out_pictures, origin, "photos", "photos", wanted, laid_out, limits=LARGE)
        for photo in wanted:
            try:
                kept[photo.digest] = ground.keep_photo(laid_out / photo.kept_as)
            except WrongUsage as error:
                refused[photo.digest] = str(error).replace(photo.kept_as, "The picture")
    return kept, refused


def _on(item: Hole | Bar) -> tuple[str, ...]:
    return photo_names(item) if isinstance(item, Hole) else (item.photo,)


def _with_photos(item: Hole | Bar, names: tuple[str, ...]) -> tuple[Hole | Bar, tuple[str, ...]]:
    """Return a hole or bar with photos named, and the names that are new to it; a bar holds one."""
    if isinstance(item, Hole):
        held = photo_names(item)
        new = tuple(name for name in names if name not in held)
        return replace(item, fields={**item.fields, PHOTOS: ", ".join((*held, *new))}), new
    new = names[:1] if not item.photo else ()
    return (replace(item, photo=new[0]) if new else item), new


def _error_m(photo: Photo) -> float:
    return USUAL_ERROR_M if photo.position_error_m is None else photo.position_error_m


def _nearest_group(match: Match, groups: list[tuple[Hole, list[Photo]]]) -> tuple[Hole, list[Photo]] | None:
    """Return the nearest group that a photo lies at, within the errors of both; None when there is none."""
    if not groups or match.lon is None or match.lat is None:
        return None
    lons, lats = (np.array([getattr(hole, axis) for hole, _ in groups]) for axis in ("lon", "lat"))
    apart = distances_m(match.lon, match.lat, lons, lats)
    at = int(np.argmin(apart))
    error = groups[at][0].position_error_m
    both = math.hypot(USUAL_ERROR_M if error is None else error, _error_m(match.photo), STAND_OFF_M)
    return groups[at] if float(apart[at]) <= both else None


def _unused(name: str, taken: set[str]) -> str:
    free, number = name, 2
    while free in taken:
        free, number = f"{name}-{number}", number + 1
    return free

"""Reads photos: where, when and which way each was taken, as far as it says; no picture is ever unpacked."""

from __future__ import annotations

import contextlib
import hashlib
import io
import re
import struct
import warnings
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NoReturn

from PIL import Image

from prospect.errors import InputRefused
from prospect.guard.archive import member_names, open_archive
from prospect.guard.folder import files_below
from prospect.guard.inspection import PHOTO_FORMS, file_name, inspect_file
from prospect.guard.refusal import refuse_file
from prospect.issues import Issue, IssueLog
from prospect.layerfile import LayerSource
from prospect.records import Sample
from prospect.sources.coordinates import settle
from prospect.sources.exif import ExifTags, read_exif
from prospect.sources.sample_rows import date_fault, read_date
from prospect.text import plain
from prospect.types import Bounds

MOST_PHOTOS = 5_000
MOST_PIXELS = 50_000_000
_ENDINGS = (".jpg", ".jpeg", ".png")
_END_OF_JPEG, _START_OF_SCAN, _END_OF_PNG = b"\xff\xd9", b"\xff\xda", b"IEND"
_OTHER_FORMS = (
    ".heic", ".heif", ".hif", ".avif", ".webp", ".jxl", ".jp2", ".gif", ".bmp",
    ".dng", ".cr2", ".cr3", ".nef", ".arw", ".orf", ".raf", ".rw2",
)  # fmt: skip
_AS_JPEG = "Left out: save it as JPEG and give that; phones that take HEIC can be set to take JPEG."
# CIPA DC-008 (Exif 2.32), tables 4 and 7: each date has its difference from UTC beside it.
_DATES = {
    "DateTimeOriginal": "OffsetTimeOriginal",
    "DateTimeDigitized": "OffsetTimeDigitized",
    "DateTime": "OffsetTime",
    "GPSDateStamp": "",
}
_OFFSET = re.compile(r"[+-](0\d|1[0-4]):[0-5]\d")
_PNG = b"\x89PNG\r\n\x1a\n"
_NONE_IN_IT = "no position in it"
_NO_POSITION = "Left out: switch the camera's position on, or give the sample in a table."


@dataclass(frozen=True, slots=True)
class Photo:
    """One photo; most uses need one with a position.

    Attributes
    ----------
    name
        Name of the file.
    member
        Where it lies inside its folder or archive, parted by `/`.
    digest
        SHA-256 of the file, in hexadecimal figures.
    lon, lat
        WGS 84, degrees; None, both, where it does not say: only when every photo was asked for.
    position_error_m
        As the camera states it, m.
    direction_deg
        Which way it looks, degrees clockwise.
    magnetic
        Whether the direction counts from magnetic north instead of true north.
    taken
        ISO date and time, of the camera's own clock.
    offset
        How far that clock is ahead of UTC, `+02:00`; empty when it does not say.
    width_px, height_px
        Size of the picture.
    """

    name: str
    member: str
    digest: str
    lon: float | None
    lat: float | None
    position_error_m: float | None = None
    direction_deg: float | None = None
    magnetic: bool = False
    taken: str = ""
    offset: str = ""
    width_px: int = 0
    height_px: int = 0

    @property
    def kept_as(self) -> str:
        """Name of its copy in a ground: by content, so that the same picture is there once."""
        return f"{self.digest[:40]}{Path(self.name).suffix.lower()}"


def read_photos(
    path: Path, *, kind: str = "photos", bounds: Bounds | None = None, today: str = "", every: bool = False
) -> tuple[tuple[Photo, ...], IssueLog, LayerSource]:
    """Read where and when photos were taken.

    Parameters
    ----------
    path
        A JPEG or PNG, a folder of them, or a zip archive.
    kind
        What the log calls them.
    bounds
        The ground, longitudes and latitudes: the evidence for putting exchanged coordinates right.
    today
        ISO date; a photo taken later has a wrong clock. Empty = not known.
    every
        Keep those without a position too.

    Returns
    -------
    tuple of Photo
        Those with a position, or every one; the same picture only once.
    IssueLog
        Each photo is kept, repaired or refused.
    LayerSource

    Raises
    ------
    InputRefused
        When none can be used.
    """
    log = IssueLog(file_name(path), kind)
    photos: dict[str, Photo] = {}
    with photo_files(path, log) as files:
        for member, file in files:
            found = _read_one(file, member, log, bounds, today, every=every)
            if found is None:
                continue
            photo, problems = found
            same = photos.get(photo.digest)
            if same is not None:
                action = f"Left out: the same picture as {same.name}."
                log.refuse(_issue(log, photo.name, "", "the same picture", "each picture once", action))
                continue
            photos[photo.digest] = photo
            if problems:
                log.repair(*problems)
            else:
                log.keep()
    log.add_up()
    if log.refused == log.read == 1:
        raise InputRefused(log.issues[-1].sentence(), log)
    if not photos:
        expected = "at least one that can be read" if every else "at least one with a position"
        refuse_file(log, "no photo that can be used", expected, "See the problems.")
    counts = {"read": log.read, "kept": log.kept, "repaired": log.repaired, "refused": log.refused}
    return tuple(photos.values()), log, LayerSource(kind, log.file, "", crs="EPSG:4326", counts=counts)


def holds_photos(path: Path) -> bool:
    """Whether a file, folder or archive is one of photos and of nothing else that has positions."""
    if path.is_dir():
        return path.suffix.lower() != ".gdb"
    if path.suffix.lower() == ".zip":
        names = [name.lower() for name in member_names(path)]
        maps = (".shp", ".gpkg", ".geojson", ".json", ".kml", ".gdbtable")
        return any(n.endswith(_ENDINGS) for n in names) and not any(n.endswith(maps) for n in names)
    return path.suffix.lower() in _ENDINGS


@contextlib.contextmanager
def photo_files(path: Path, log: IssueLog) -> Iterator[list[tuple[str, Path]]]:
    """Give the pictures of a file, folder or archive: where each lies inside it, and where it is now.

    Raises
    ------
    InputRefused
        When there is no picture, or there are too many.
    """
    form = inspect_file(path, log.kind, PHOTO_FORMS).form
    if form == "photo":
        yield [(path.name, path)]
    elif form == "zip archive":
        with open_archive(path, log.kind, nested="skip") as folder:
            yield _below(folder, log)
    else:
        yield _below(path, log)


def lay_out_pictures(origin: Path, kind: str, photos: tuple[Photo, ...], folder: Path) -> None:
    """Copy the pictures of photos, as they are, into a folder of ours under the names that a ground keeps them by.

    Raises
    ------
    InputRefused
        When a picture is no longer what was read.
    """
    log = IssueLog(file_name(origin), kind)
    wanted = {photo.member: photo for photo in photos}
    with photo_files(origin, log) as files:
        for member, file in files:
            photo = wanted.pop(member, None)
            if photo is None:
                continue
            content = file.read_bytes()
            if hashlib.sha256(content).hexdigest() != photo.digest:
                _changed(log, photo)
            (folder / photo.kept_as).write_bytes(content)
    for photo in wanted.values():
        _changed(log, photo)


def _changed(log: IssueLog, photo: Photo) -> NoReturn:
    action = "Import it again when nothing else writes to it."
    refuse_file(log, "another picture than was read", "the same picture", action, place=f"photo {photo.name}")


def as_samples(photos: tuple[Photo, ...]) -> tuple[Sample, ...]:
    """Return a sample for each photo with a position, named after its file.

    What the clay is worth is not in a picture.
    """
    taken: set[str] = set()
    samples = []
    for photo in photos:
        if photo.lon is None or photo.lat is None:
            continue
        name = plain(Path(photo.name).stem, 80) or "photo"
        number = 2
        while name in taken:
            name = f"{plain(Path(photo.name).stem, 76)}-{number}"
            number += 1
        taken.add(name)
        fields = {"photo": photo.name, "picture": photo.kept_as}
        if photo.direction_deg is not None:
            fields["direction_deg"] = f"{photo.direction_deg:.1f}"
            fields["direction_from"] = "magnetic north" if photo.magnetic else "true north"
        if photo.taken:
            fields["taken"] = photo.taken
        samples.append(
            Sample(
                sample_id=name,
                lon=photo.lon,
                lat=photo.lat,
                position_error_m=photo.position_error_m,
                date=photo.taken[:10],
                fields=fields,
            )
        )
    return tuple(samples)


def _below(root: Path, log: IssueLog) -> list[tuple[str, Path]]:
    files = files_below(root, log)
    found = [
        (file.relative_to(root).as_posix(), file)
        for file in files
        if file.suffix.lower() in _ENDINGS and not file.name.startswith(".") and not file.is_symlink()
    ]
    foreign = [
        file
        for file in files
        if file.suffix.lower() in _OTHER_FORMS and not file.name.startswith(".") and not file.is_symlink()
    ]
    others = len(files) - len(found) - len(foreign)
    if len(found) > MOST_PHOTOS:
        action = "Give them in smaller folders."
        refuse_file(log, f"{len(found):,} photos", f"at most {MOST_PHOTOS:,}", action)
    for file in foreign:
        form = f"a picture in the form {file.suffix[1:].upper()}"
        log.refuse(_issue(log, file_name(Path(file.name)), "", form, "a JPEG or PNG picture", _AS_JPEG))
    if not found and foreign:
        refuse_file(log, f"{len(foreign)} picture(s), all in other forms", "JPEG or PNG pictures", _AS_JPEG)
    if not found:
        refuse_file(log, "no photo in it", "JPEG or PNG pictures", "Check the folder.")
    if others:
        found_text = f"{others} other file(s)"
        log.note(
            Issue("note", log.file, "whole file", "", found_text, "JPEG or PNG pictures", "Passed over.")
        )
    return found


def _read_one(
    file: Path, member: str, log: IssueLog, bounds: Bounds | None, today: str, *, every: bool
) -> tuple[Photo, list[Issue]] | None:
    """Return a photo and what was mended of it; None when it was refused, which is then in the log."""
    name = file_name(Path(member))
    try:
        inspect_file(file, log.kind, ("photo",))
        data = file.read_bytes()
    except InputRefused as refused:
        problems = refused.log.issues if refused.log else []
        log.refuse(*(replace(issue, file=log.file, place=f"photo {name}") for issue in problems))
        return None
    except OSError as error:
        reason = error.strerror or "cannot be read"
        log.refuse(_issue(log, name, "", reason, "a readable file", "Check its permissions."))
        return None
    opened = _opened(data)
    if isinstance(opened, str):
        log.refuse(_issue(log, name, "", opened, "a JPEG or PNG picture", "Export or copy it again."))
        return None
    (width, height), block = opened
    if width * height > MOST_PIXELS:
        found = f"{width:,} × {height:,} pixels"
        log.refuse(_issue(log, name, "", found, f"at most {MOST_PIXELS:,} pixels", "Make it smaller."))
        return None
    tags = read_exif(block) if block else ExifTags()
    problems = [
        _mended(log, name, tag, found, "an EXIF tag as published", "Passed over.")
        for tag, found in tags.faults
    ]
    place = _position(tags, bounds)
    lon: float | None = None
    lat: float | None = None
    if len(place) == 2:
        field, found = place
        expected = "a latitude and a longitude, each with its half of the globe"
        if not every:
            log.refuse(*problems, _issue(log, name, field, found, expected, _NO_POSITION))
            return None
        if found != _NONE_IN_IT:
            problems.append(_mended(log, name, field, found, expected, "Taken as one without a position."))
    else:
        lon, lat, mended = round(place[0], 8), round(place[1], 8), place[2]
        if mended:
            problems.append(_mended(log, name, "GPSLatitude, GPSLongitude", f"{lat:g}, {lon:g}", *mended))
    if not _whole(data):
        action = "What it says of itself was kept; copy the picture again."
        problems.append(_mended(log, name, "picture", "a picture that ends early", "a whole picture", action))
    photo = Photo(
        name=name,
        member=member,
        digest=hashlib.sha256(data).hexdigest(),
        lon=lon,
        lat=lat,
        position_error_m=_error(tags, name, log, problems),
        direction_deg=_direction(tags, name, log, problems),
        magnetic=tags.text("GPSImgDirectionRef").upper() == "M",
        taken=(taken := _taken(tags, name, log, problems, today)),
        offset=_offset(tags, name, log, problems) if "T" in taken else "",
        width_px=width,
        height_px=height,
    )
    return photo, problems


def _opened(data: bytes) -> tuple[tuple[int, int], bytes] | str:
    """Return the size of a picture and its EXIF block from its header, or what is wrong with it."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            # The library knows dozens of forms, and starts a program of its own for some.
            with Image.open(io.BytesIO(data), formats=["JPEG", "PNG"]) as picture:
                block = picture.info.get("exif", b"")
                return picture.size, block if isinstance(block, bytes) and block else _late_tags(data)
    except (Image.DecompressionBombWarning, Image.DecompressionBombError):
        return f"a picture of far more than {MOST_PIXELS:,} pixels"
    except (OSError, SyntaxError, ValueError, TypeError, KeyError, IndexError, EOFError, struct.error):
        # What the library raises over pictures whose header is broken.
        return "a picture whose header cannot be read"


def _late_tags(data: bytes) -> bytes:
    """Return the EXIF block of a PNG that keeps it behind the picture (ISO/IEC 15948, chunk eXIf)."""
    place = len(_PNG)
    while data.startswith(_PNG) and place + 12 <= len(data):
        size, kind = struct.unpack(">I4s", data[place : place + 8])
        if kind == b"eXIf":
            return data[place + 8 : place + 8 + size]
        place += 12 + size
    return b""


def _whole(data: bytes) -> bool:
    """Whether a picture has its end; inside a JPEG's pixels the mark of the end cannot occur."""
    if data.startswith(_PNG):
        return _END_OF_PNG in data[-4096:] or _END_OF_PNG in data
    scan = data.find(_START_OF_SCAN)
    return scan >= 0 and data.find(_END_OF_JPEG, scan) >= 0


def _position(
    tags: ExifTags, bounds: Bounds | None
) -> tuple[float, float, tuple[str, str] | None] | tuple[str, str]:
    """Return longitude, latitude and what was mended (expected, action), or the tag at fault and what it holds."""
    lat, lon = _degrees(tags.numbers("GPSLatitude")), _degrees(tags.numbers("GPSLongitude"))
    for name, value in (("GPSLatitude", lat), ("GPSLongitude", lon)):
        if value is None:
            stored = tags.numbers(name)
            shown = ", ".join("n/0" if part is None else f"{part:g}" for part in stored)
            return name, shown or _NONE_IN_IT
    assert lat is not None
    assert lon is not None
    lat_side, lon_side = tags.text("GPSLatitudeRef").upper()[:1], tags.text("GPSLongitudeRef").upper()[:1]
    mended: tuple[str, str] | None = None
    if lat_side in ("E", "W") and lon_side in ("N", "S"):
        lat, lon, lat_side, lon_side = lon, lat, lon_side, lat_side
        mended = ("latitude N or S, longitude E or W", "Latitude and longitude were exchanged; put right.")
    if lat_side not in ("N", "S") or lon_side not in ("E", "W"):
        turns = [(lon * across, lat * up) for across in (1, -1) for up in (1, -1)]
        inside = [] if bounds is None else [one for one in turns if bounds.contains(*one)]
        if len(inside) != 1:
            missing = "GPSLatitudeRef" if lat_side not in ("N", "S") else "GPSLongitudeRef"
            return missing, f"{tags.text(missing) or 'nothing'} beside {lat:g}, {lon:g}"
        return *inside[0], ("N or S, and E or W", "The side that lies on your ground was taken.")
    lat, lon = lat * (-1 if lat_side == "S" else 1), lon * (-1 if lon_side == "W" else 1)
    if not (abs(lat) <= 90 and abs(lon) <= 180) or (lat == 0 and lon == 0):
        return "GPSLatitude" if abs(lat) > 90 or lat == 0 else "GPSLongitude", f"{lat:g}, {lon:g}"
    spot = settle(lon, lat, bounds)
    if spot is None:
        return "GPSLatitude", f"{lat:g}, {lon:g}"
    if spot.mended:
        mended = ("a place on your ground", spot.mended)
    elif tags.text("GPSMapDatum") and "84" not in tags.text("GPSMapDatum"):
        mended = ("WGS 84", f"Taken as WGS 84 although it says {plain(tags.text('GPSMapDatum'), 40)}.")
    elif tags.text("GPSStatus").upper() == "V":
        mended = ("a settled position", "The camera had lost its position; kept, but look at it.")
    return spot.lon, spot.lat, mended


def _degrees(parts: tuple[float | None, ...]) -> float | None:
    known = [part for part in parts if part is not None]
    if not 1 <= len(known) <= 3 or len(known) < len(parts):
        return None
    degrees, minutes, seconds = known + [0.0] * (3 - len(known))
    if not (0 <= degrees <= 180 and 0 <= minutes < 60 and 0 <= seconds <= 60):
        return None
    return degrees + minutes / 60 + seconds / 3600


def _error(tags: ExifTags, name: str, log: IssueLog, problems: list[Issue]) -> float | None:
    return _one_number(tags, "GPSHPositioningError", 0.0, 100_000.0, "m", name, log, problems)


def _direction(tags: ExifTags, name: str, log: IssueLog, problems: list[Issue]) -> float | None:
    value = _one_number(tags, "GPSImgDirection", 0.0, 360.0, "degrees", name, log, problems)
    return None if value is None else value % 360.0


def _one_number(
    tags: ExifTags,
    tag: str,
    low: float,
    high: float,
    unit: str,
    name: str,
    log: IssueLog,
    problems: list[Issue],
) -> float | None:
    stored = tags.values.get(tag)
    if stored is None:
        return None
    value = stored[0] if isinstance(stored, tuple) else None
    if value is not None and low <= value <= high:
        return round(value, 2)
    shown = stored if isinstance(stored, str) else "n/0" if value is None else f"{value:g}"
    problems.append(_mended(log, name, tag, shown, f"{low:g} to {high:g} {unit}", "Taken as not known."))
    return None


def _taken(tags: ExifTags, name: str, log: IssueLog, problems: list[Issue], today: str) -> str:
    for tag in _DATES:
        text = tags.text(tag)
        if not any(char in "123456789" for char in text):
            continue
        day, _, clock = text.partition(" ")
        found = read_date(day.replace(":", "-"))
        fault = "a date such as 2026:05:31 10:00:00" if found is None else date_fault(found[0], today)
        if found is None or fault:
            problems.append(_mended(log, name, tag, text, fault, "Taken as not known."))
            return ""
        return f"{found[0]}T{clock}" if _is_clock(clock) else found[0]
    return ""


def _offset(tags: ExifTags, name: str, log: IssueLog, problems: list[Issue]) -> str:
    """Return how far the clock is ahead of UTC, of the date that `_taken` took."""
    tag = next(offset for date, offset in _DATES.items() if any(c in "123456789" for c in tags.text(date)))
    text = tags.text(tag)
    if not text.strip(" :") or _OFFSET.fullmatch(text):
        return text if _OFFSET.fullmatch(text) else ""
    problems.append(_mended(log, name, tag, text, "a difference such as +02:00", "Taken as not known."))
    return ""


def _is_clock(text: str) -> bool:
    parts = text.split(":")
    limits = (24, 60, 60)
    return len(parts) == 3 and all(
        len(part) == 2 and part.isascii() and part.isdecimal() and int(part) < limit
        for part, limit in zip(parts, limits, strict=True)
    )


def _issue(log: IssueLog, name: str, field: str, value: str, expected: str, action: str) -> Issue:
    return Issue("error", log.file, f"photo {name}", field, plain(value), expected, action)


def _mended(log: IssueLog, name: str, field: str, value: str, expected: str, action: str) -> Issue:
    return Issue("warning", log.file, f"photo {name}", field, plain(value), expected, action)

"""Reads the few EXIF tags that say where, when and which way a photo was taken, within bounds."""

from __future__ import annotations

import struct
from collections.abc import Mapping
from dataclasses import dataclass, field

MOST_ENTRIES = 500
MOST_VALUES = 16
MOST_TEXT = 256

_EXIF, _GPS = 0x8769, 0x8825
# CIPA DC-008 (Exif 2.32), tables 4, 7 and 15.
_NAMES: Mapping[tuple[str, int], str] = {
    ("", 0x0132): "DateTime",
    ("", _EXIF): "Exif tags",
    ("", _GPS): "GPS tags",
    ("exif", 0x9003): "DateTimeOriginal",
    ("exif", 0x9004): "DateTimeDigitized",
    ("exif", 0x9010): "OffsetTime",
    ("exif", 0x9011): "OffsetTimeOriginal",
    ("exif", 0x9012): "OffsetTimeDigitized",
    ("gps", 1): "GPSLatitudeRef",
    ("gps", 2): "GPSLatitude",
    ("gps", 3): "GPSLongitudeRef",
    ("gps", 4): "GPSLongitude",
    ("gps", 9): "GPSStatus",
    ("gps", 16): "GPSImgDirectionRef",
    ("gps", 17): "GPSImgDirection",
    ("gps", 18): "GPSMapDatum",
    ("gps", 29): "GPSDateStamp",
    ("gps", 31): "GPSHPositioningError",
}
# TIFF 6.0, section 2: bytes and letter of each type of number.
_TYPES = {
    1: (1, "B"),
    3: (2, "H"),
    4: (4, "I"),
    6: (1, "b"),
    8: (2, "h"),
    9: (4, "i"),
    11: (4, "f"),
    12: (8, "d"),
}
_RATIONALS = {5: "I", 10: "i"}
_TEXT, _UNDEFINED = 2, 7

Value = str | tuple[float | None, ...]


@dataclass(slots=True)
class ExifTags:
    """What a photo says of itself.

    Attributes
    ----------
    values
        Tag by its published name: text, or numbers, None for a fraction over zero.
    faults
        Tag and what is wrong with how it is stored.
    """

    values: dict[str, Value] = field(default_factory=dict)
    faults: list[tuple[str, str]] = field(default_factory=list)

    def text(self, name: str) -> str:
        """Return a tag as text, empty where it is absent or a number."""
        value = self.values.get(name, "")
        return value if isinstance(value, str) else ""

    def numbers(self, name: str) -> tuple[float | None, ...]:
        """Return a tag as numbers, empty where it is absent or text."""
        value = self.values.get(name, ())
        return value if isinstance(value, tuple) else ()


def read_exif(block: bytes) -> ExifTags:
    """Return the tags of an EXIF block; what is broken in it is named, never raised.

    Parameters
    ----------
    block
        As stored in the picture, with or without the six bytes `Exif` that go before it in JPEG.

    Notes
    -----
    Only the first directory and the two that it names (Exif, GPS) are looked at, each once.
    """
    tags = ExifTags()
    block = block.removeprefix(b"Exif\x00\x00")
    order = {b"II*\x00": "<", b"MM\x00*": ">"}.get(block[:4], "")
    if not order or len(block) < 8:
        tags.faults.append(("EXIF", "not in the form of EXIF"))
        return tags
    first = struct.unpack(f"{order}I", block[4:8])[0]
    _read_directory(block, order, first, "", tags)
    for name, group in (("Exif tags", "exif"), ("GPS tags", "gps")):
        where = tags.numbers(name)
        tags.values.pop(name, None)
        if where and where[0] is not None:
            _read_directory(block, order, int(where[0]), group, tags)
    return tags


def _read_directory(block: bytes, order: str, start: int, group: str, tags: ExifTags) -> None:
    title = {"": "EXIF", "exif": "Exif tags", "gps": "GPS tags"}[group]
    if start < 8 or start + 2 > len(block):
        tags.faults.append((title, "lies outside the block"))
        return
    count = struct.unpack(f"{order}H", block[start : start + 2])[0]
    if count > MOST_ENTRIES:
        tags.faults.append((title, f"{count} entries"))
        return
    for entry in range(count):
        place = start + 2 + 12 * entry
        if place + 12 > len(block):
            tags.faults.append((title, "ends early"))
            return
        tag, kind, size = struct.unpack(f"{order}HHI", block[place : place + 8])
        name = _NAMES.get((group, tag), "")
        if not name or name in tags.values:
            continue
        value = _value(block, order, place + 8, kind, size)
        if value is None:
            tags.faults.append((name, f"{size} values of type {kind} that are not there"))
        else:
            tags.values[name] = value


def _value(block: bytes, order: str, place: int, kind: int, size: int) -> Value | None:
    if kind in (_TEXT, _UNDEFINED):
        raw = _raw(block, order, place, min(size, MOST_TEXT), size)
        return None if raw is None else raw.split(b"\x00")[0].decode("utf-8", errors="replace").strip()
    if not 1 <= size <= MOST_VALUES:
        return None
    if kind in _RATIONALS:
        raw = _raw(block, order, place, 8 * size, 8 * size)
        if raw is None:
            return None
        parts = struct.unpack(f"{order}{2 * size}{_RATIONALS[kind]}", raw)
        return tuple(
            None if below == 0 else above / below
            for above, below in zip(parts[::2], parts[1::2], strict=True)
        )
    if kind not in _TYPES:
        return None
    width, letter = _TYPES[kind]
    raw = _raw(block, order, place, width * size, width * size)
    return None if raw is None else tuple(float(x) for x in struct.unpack(f"{order}{size}{letter}", raw))


def _raw(block: bytes, order: str, place: int, wanted: int, stored: int) -> bytes | None:
    """Return the bytes of a value: in the entry itself up to four of them, else where the entry points to."""
    if stored > 4:
        place = struct.unpack(f"{order}I", block[place : place + 4])[0]
    raw = block[place : place + wanted]
    return raw if len(raw) == wanted else None

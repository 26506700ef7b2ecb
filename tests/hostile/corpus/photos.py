"""Photos: positions that are none, directories of tags that lie, pictures of no end, and what only calls itself one."""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Mapping
from pathlib import Path

from controls import photo
from PIL import Image

from corpus.case import Build, Case, Verdict, data, packed


def _photo(name: str, content: bytes, verdict: Verdict, suffix: str = ".jpg", **more: object) -> Case:
    return Case("photos", name, data(f"P1{suffix}", content), verdict, **more)  # type: ignore[arg-type]


def with_exif(block: bytes) -> bytes:
    """Return a JPEG with an EXIF block of our making (JPEG: ITU-T T.81 B.2.4.6; CIPA DC-008 4.7.2)."""
    plain = io.BytesIO()
    Image.new("RGB", (40, 30)).save(plain, "JPEG")
    body = plain.getvalue()
    segment = b"Exif\0\0" + block
    return body[:2] + b"\xff\xe1" + struct.pack(">H", len(segment) + 2) + segment + body[2:]


def exif(
    entries: list[tuple[int, int, int, bytes]], gps: list[tuple[int, int, int, bytes]] | None = None
) -> bytes:
    """Return an EXIF block with a first directory and, when given, one of GPS tags at offset 200."""
    first = [*entries, *([(0x8825, 4, 1, struct.pack("<I", 200))] if gps is not None else [])]
    block = bytearray(b"II*\0" + struct.pack("<I", 8) + directory(first)).ljust(200, b"\0")
    return bytes(block) + (directory(gps) if gps is not None else b"") + b"\0" * 64


def directory(entries: list[tuple[int, int, int, bytes]]) -> bytes:
    rows = b"".join(
        struct.pack("<HHI", tag, kind, count) + value.ljust(4, b"\0") for tag, kind, count, value in entries
    )
    return struct.pack("<H", len(entries)) + rows + b"\0" * 4


def placed(changes: Mapping[int, tuple[int, int, bytes]]) -> bytes:
    """Return a JPEG with a good position whose tags are changed: tag → type, count, content."""
    good: dict[int, tuple[int, int, bytes]] = {
        1: (2, 2, b"S\0"),
        2: (5, 3, struct.pack("<6I", 47, 1, 27, 1, 12, 1)),
        3: (2, 2, b"W\0"),
        4: (5, 3, struct.pack("<6I", 9, 1, 3, 1, 0, 1)),
    }
    entries, far, start = [], b"", 600
    for tag, (kind, count, content) in sorted((good | dict(changes)).items()):
        value = content
        if len(content) > 4:
            value, far = struct.pack("<I", start + len(far)), far + content
        entries.append((tag, kind, count, value))
    return with_exif(exif([], entries)[:600].ljust(600, b"\0") + far)


def ratio(*parts: int) -> tuple[int, int, bytes]:
    return 5, len(parts) // 2, struct.pack(f"<{len(parts)}I", *parts)


def png(width: int, height: int, *chunks: tuple[bytes, bytes]) -> bytes:
    """Return a PNG that claims a size (ISO/IEC 15948)."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        return (
            struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))
        )

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + b"".join(chunk(*one) for one in chunks) + chunk(b"IEND", b"")


def jpeg_claiming(width: int, height: int) -> bytes:
    whole = bytearray(photo())
    place = whole.index(b"\xff\xc0")
    whole[place + 5 : place + 9] = struct.pack(">HH", height, width)
    return bytes(whole)


def folder_of(members: Mapping[str, bytes]) -> Build:
    def build(folder: Path) -> Path:
        for name, content in members.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_bytes(content)
        return folder

    return build


def _self_reference() -> bytes:
    return with_exif(b"II*\0" + struct.pack("<I", 8) + directory([(0x8825, 4, 1, struct.pack("<I", 8))]))


BAD_POSITIONS: dict[str, bytes] = {
    "no position": photo(tag_1=None, tag_2=None, tag_3=None, tag_4=None),
    "no latitude": photo(tag_2=None),
    "no halves of the globe": photo(tag_1=None, tag_3=None),
    "latitude on a side that there is not": photo(sides=("X", "W")),
    "latitude of 97": photo("JPEG", (97.0, 0.0, 0.0)),
    "longitude of 190": photo(longitude=(190.0, 0.0, 0.0)),
    "minutes of 75": photo("JPEG", (47.0, 75.0, 0.0)),
    "seconds of 99": photo("JPEG", (47.0, 7.0, 99.0)),
    "over zero": placed({2: ratio(47, 0, 7, 1, 9, 1)}),
    "minutes over zero": placed({2: ratio(47, 1, 7, 0, 9, 1)}),
    "zero and zero": photo("JPEG", (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)),
    "five numbers": placed({2: ratio(47, 1, 1, 1, 1, 1, 1, 1, 1, 1)}),
    "text": placed({2: (2, 7, b"47.454\0")}),
}
CASES = [
    _photo("good", photo(), "accepted"),
    _photo("good PNG", photo("PNG"), "accepted", ".png"),
    _photo("capital ending", photo(), "accepted", ".JPG"),
    *(_photo(name, content, "refused", place="photo P1") for name, content in BAD_POSITIONS.items()),
    _photo("without any tag", with_exif(b"")[:-1] + b"\xd9", "refused", place="photo P1"),
    _photo(
        "sides exchanged",
        photo("JPEG", (9.0, 3.0, 0.0), (47.0, 27.0, 0.0), ("W", "S")),
        "repaired",
        place="photo P1",
    ),
    _photo("small letters", photo(sides=("s", "w")), "accepted"),
    _photo("position by hand", placed({}), "accepted"),
    _photo("a byte for each", placed({2: (1, 3, b"\x2f\x07\x09")}), "accepted"),
    _photo("degrees with decimals", photo("JPEG", (47.4534, 0.0, 0.0)), "accepted"),
    _photo("another datum", photo(tag_18="TOKYO"), "repaired", place="photo P1"),
    _photo("position lost", photo(tag_9="V"), "repaired", place="photo P1"),
    _photo("direction of 400", placed({17: ratio(400, 1)}), "repaired", place="GPSImgDirection"),
    _photo("direction over zero", placed({17: ratio(1, 0)}), "repaired", place="GPSImgDirection"),
    _photo("direction as text", placed({17: (2, 6, b"north\0")}), "repaired", place="GPSImgDirection"),
    _photo("error of 10,000 km", placed({31: ratio(10**7, 1)}), "repaired", place="GPSHPositioningError"),
    _photo("error over zero", placed({31: ratio(1, 0)}), "repaired", place="GPSHPositioningError"),
    *(
        _photo(f"taken {word!r}", photo(tag_36867=word, seconds=0), verdict, place=place)
        for word, verdict, place in (
            ("2999:01:01 00:00:00", "repaired", "DateTimeOriginal"),
            ("2026:02:30 00:00:00", "repaired", "DateTimeOriginal"),
            ("1826:02:03 00:00:00", "repaired", "DateTimeOriginal"),
            ("yesterday 4", "repaired", "DateTimeOriginal"),
            ("0000:00:00 00:00:00", "accepted", ""),
            ("    :  :     :  :  ", "accepted", ""),
            ("2026:05:31 25:61:61", "accepted", ""),
            ("2026:05:31", "accepted", ""),
        )
    ),
    _photo(
        "text that is none",
        with_exif(
            b"II*\0\x08\0\0\0\x01\0" + struct.pack("<HHI", 0x0132, 2, 4) + b"\xff\xfe9\xd8" + b"\0" * 40
        ),
        "refused",
        place="photo P1",
    ),
    # Directories of tags.
    _photo("tags that are none", with_exif(b"nonsense" * 20), "refused", place="photo P1"),
    _photo("tags cut", with_exif(b"II*\0\x08\0\0"), "refused", place="photo P1"),
    _photo(
        "tags beyond the end", with_exif(b"II*\0\xff\xff\xff\x7f" + b"\0" * 50), "refused", place="photo P1"
    ),
    _photo("tags before the start", with_exif(b"II*\0\0\0\0\0" + b"\0" * 50), "refused", place="photo P1"),
    _photo("65,535 tags", with_exif(b"II*\0\x08\0\0\0\xff\xff" + b"\0" * 50), "refused", place="photo P1"),
    _photo("directory in itself", _self_reference(), "refused", place="photo P1"),
    _photo(
        "value of four thousand million",
        with_exif(exif([], [(2, 5, 2**32 - 1, b"\0\1\0\0")])),
        "refused",
        place="GPSLatitude",
    ),
    _photo(
        "value beyond the end",
        with_exif(exif([], [(2, 5, 3, b"\xff\xff\xff\x7f")])),
        "refused",
        place="GPSLatitude",
    ),
    _photo(
        "value of a type that there is not",
        with_exif(exif([], [(2, 99, 3, b"\0\1\0\0")])),
        "refused",
        place="GPSLatitude",
    ),
    _photo("GPS directory as text", with_exif(exif([(0x8825, 2, 4, b"abc\0")])), "refused", place="photo P1"),
    _photo(
        "GPS directory nowhere",
        with_exif(exif([(0x8825, 4, 1, b"\xff\xff\xff\xff")])),
        "refused",
        place="GPS tags",
    ),
    _photo(
        "tags the other way round", with_exif(b"MM\0*\0\0\0\x08\0\0\0\0\0\0"), "refused", place="photo P1"
    ),
    # Pictures.
    _photo("cut in the middle", photo(size=(400, 300))[:1200], "repaired", place="picture"),
    _photo("cut in its head", photo()[:60], "refused", place="photo P1"),
    _photo("two bytes", b"\xff\xd8", "refused", whole=True),
    _photo("something after its end", photo() + b"PK\x03\x04" + b"\0" * 5000, "accepted"),
    _photo("50,000 by 50,000 pixels", jpeg_claiming(50_000, 50_000), "refused", place="photo P1"),
    _photo("no pixels", jpeg_claiming(0, 0), "refused", place="photo P1"),
    _photo(
        "PNG of 100,000 by 100,000",
        png(100_000, 100_000, (b"IDAT", zlib.compress(b"\0" * 1000))),
        "refused",
        ".png",
        place="photo P1",
    ),
    _photo("PNG of four thousand million", png(2**32 - 1, 2**32 - 1), "refused", ".png", place="photo P1"),
    _photo(
        "PNG with a text of 100 MB",
        png(
            10,
            10,
            (b"zTXt", b"a\0\0" + zlib.compress(b"\0" * 100_000_000)),
            (b"IDAT", zlib.compress(b"\0" * 310)),
        ),
        "refused",
        ".png",
        place="photo P1",
    ),
    _photo(
        "PNG with a profile of 100 MB",
        png(
            10,
            10,
            (b"iCCP", b"a\0\0" + zlib.compress(b"\0" * 100_000_000)),
            (b"IDAT", zlib.compress(b"\0" * 310)),
        ),
        "refused",
        ".png",
        place="photo P1",
    ),
    _photo(
        "PNG that unpacks to 300 MB",
        png(100, 100, (b"IDAT", zlib.compress(b"\0" * 300_000_000))),
        "refused",
        ".png",
        place="photo P1",
    ),
    _photo(
        "PNG with a wrong sum", photo("PNG").replace(b"IDAT", b"IDAX", 1), "refused", ".png", place="photo P1"
    ),
    _photo("PNG cut", photo("PNG")[:-40], "repaired", ".png", place="picture"),
    _photo(
        "PostScript that runs a program",
        b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n(touch x) run\n",
        "refused",
        whole=True,
    ),
    _photo("GIF", b"GIF89a" + b"\0" * 60, "refused", whole=True),
    _photo("TIFF", b"II*\0" + b"\0" * 60, "refused", whole=True),
    _photo("web page", b"<!DOCTYPE html><html>log in</html>", "refused", whole=True),
    _photo("drawing with a script", b"<svg onload='alert(1)'/>", "refused", whole=True),
    _photo("PNG called JPEG", photo("PNG"), "accepted"),
    _photo("script in a tag", photo(tag_18="<img src=x onerror=alert(1)>"), "repaired", place="photo P1"),
    Case(
        "photos",
        "a form that cameras have as well",
        data("P1.heic", b"\0\0\0\x18ftypheic"),
        "refused",
        whole=True,
    ),
    # Folders and archives.
    Case(
        "photos",
        "folder",
        folder_of({"a/P1.jpg": photo(), "b/P1.jpg": photo(seconds=3)}),
        "accepted",
        counts=(2, 2, 0, 0),
    ),
    Case(
        "photos",
        "folder, one without position",
        folder_of({"P1.jpg": photo(), "P2.jpg": BAD_POSITIONS["over zero"]}),
        "repaired",
        place="photo P2.jpg",
        counts=(2, 1, 0, 1),
    ),
    Case(
        "photos",
        "folder, one twice",
        folder_of({"P1.jpg": photo(), "P2.jpg": photo()}),
        "repaired",
        place="photo P2.jpg",
        counts=(2, 1, 0, 1),
    ),
    Case(
        "photos",
        "folder, one broken",
        folder_of({"P1.jpg": photo(), "P2.jpg": b"nonsense", "notes.txt": b"x"}),
        "repaired",
        place="photo P2.jpg",
    ),
    Case("photos", "folder without photos", folder_of({"a.txt": b"x"}), "refused", whole=True),
    Case("photos", "zip", packed("walk.zip", {"P1.jpg": photo(), "P2.jpg": photo(seconds=2)}), "accepted"),
    Case(
        "photos", "zip leading outside", packed("walk.zip", {"../P1.jpg": photo()}), "refused", place="member"
    ),
    Case(
        "photos",
        "zip with a broken photo",
        packed("walk.zip", {"P1.jpg": photo(), "P2.jpg": b"\xff\xd8\xff"}),
        "repaired",
        place="photo P2.jpg",
    ),
    Case("photos", "zip of something else", packed("walk.zip", {"map.geojson": "{}"}), "refused", whole=True),
    Case("samples", "photos as samples", folder_of({"P1.jpg": photo()}), "accepted"),
    Case("samples", "a photo as a sample", data("P1.jpg", photo()), "accepted"),
    Case(
        "samples",
        "a photo without position as a sample",
        data("P1.jpg", BAD_POSITIONS["no position"]),
        "refused",
        place="photo P1.jpg",
    ),
    Case("geology", "a photo as a map", data("P1.jpg", photo()), "refused", whole=True),
]

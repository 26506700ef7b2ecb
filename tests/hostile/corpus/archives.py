"""Zip archives: names that lead outside, links, passwords, lying heads, bombs, and thousands of members."""

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path

from controls import make_control

from corpus.case import Build, Case, collection, data, feature, packed

GOOD = collection(feature())


def _zip(*members: tuple[str | zipfile.ZipInfo, bytes | str], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", method) as archive:
        for name, content in members:
            archive.writestr(name, content)
    return stream.getvalue()


def _named(name: str) -> Build:
    """Return an archive whose member has a name that the library would not write by itself."""
    plain = "N" * len(name.encode())
    whole = _zip((plain, GOOD)).replace(plain.encode(), name.encode())
    return data("map.zip", whole)


def _raw_name(name: bytes) -> Build:
    return data("map.zip", _zip(("N" * len(name), GOOD)).replace(b"N" * len(name), name))


def _moded(mode: int) -> Build:
    info = zipfile.ZipInfo("map.geojson")
    info.external_attr = mode << 16
    info.create_system = 3
    return data("map.zip", _zip((info, "/etc/passwd")))


def _patched(change: Callable[[bytearray], None], content: bytes | str = GOOD) -> Build:
    whole = bytearray(_zip(("map.geojson", content)))
    change(whole)
    return data("map.zip", bytes(whole))


def _central(whole: bytearray, at: int, content: bytes) -> None:
    place = whole.index(b"PK\x01\x02") + at
    whole[place : place + len(content)] = content


def _many(folder: Path) -> Path:
    with zipfile.ZipFile(folder / "map.zip", "w") as archive:
        for number in range(100_000):
            archive.writestr(f"{number}", b"")
    return folder / "map.zip"


def _overlapping(folder: Path) -> Path:
    """Two entries of the list that point at the same bytes (the way of bombs without nesting)."""
    whole = bytearray(_zip(("a.geojson", GOOD), ("b.geojson", GOOD)))
    second = whole.index(b"PK\x01\x02", whole.index(b"PK\x01\x02") + 4)
    whole[second + 42 : second + 46] = struct.pack("<I", 0)
    (folder / "map.zip").write_bytes(whole)
    return folder / "map.zip"


def _quiet_twice(folder: Path) -> Path:
    whole = _zip(("aaa.geojson", GOOD), ("bbb.geojson", GOOD)).replace(b"bbb.geojson", b"aaa.geojson")
    (folder / "map.zip").write_bytes(whole)
    return folder / "map.zip"


OUTSIDE = (
    "../evil.geojson",
    "../../../../../../tmp/evil.geojson",
    "/tmp/evil.geojson",
    "a/../../evil.geojson",
    "..\\evil.geojson",
    "C:\\evil.geojson",
    "C:evil.geojson",
    "\\\\server\\share\\evil.geojson",
    "./evil.geojson",
    "a//evil.geojson",
    "con.geojson",
    "NUL",
    "a\nb.geojson",
    "a\x1b[31m.geojson",
    "evil.geojson:stream",
)
# APPNOTE 4.3.12: offsets in an entry of the central directory: flags 8, method 10, sum 16, sizes 20 and 24, start 42.
CASES = [
    *(Case("geology", f"zip, member {name!r}", _named(name), "refused", place="member") for name in OUTSIDE),
    Case(
        "geology", "zip, member of another encoding", _raw_name("grün.geojson".encode("cp1252")), "accepted"
    ),
    Case("geology", "zip, member in cp437", _raw_name("grün.geojson".encode("cp437")), "accepted"),
    Case("geology", "zip, member of bytes that are no text", _raw_name(b"\xff\xfe\xfd.geojson"), "accepted"),
    Case("geology", "zip, member with a NUL", _raw_name(b"map.geojson\0.txt"), "accepted"),
    Case("geology", "zip, member of 400 letters", _named("x" * 400 + ".geojson"), "refused", place="member"),
    Case(
        "geology",
        "zip, 40 folders deep",
        packed("map.zip", {"a/" * 40 + "map.geojson": GOOD}),
        "refused",
        place="member",
    ),
    Case("geology", "zip, link", _moded(0o120777), "refused", place="member"),
    Case("geology", "zip, device", _moded(0o020666), "refused", place="member"),
    Case("geology", "zip, pipe", _moded(0o010666), "refused", place="member"),
    Case("geology", "zip, folder by its mode", _moded(0o040755), "refused", place="member"),
    Case("geology", "zip, runs as its owner", _moded(0o104755), "refused", place="member"),
    Case(
        "geology", "zip, password", _patched(lambda w: _central(w, 8, b"\x01\0")), "refused", place="member"
    ),
    Case(
        "geology",
        "zip, method that there is not",
        _patched(lambda w: _central(w, 10, b"\x63\0")),
        "refused",
        whole=True,
    ),
    Case(
        "geology", "zip, wrong sum", _patched(lambda w: _central(w, 16, b"\1\2\3\4")), "refused", whole=True
    ),
    Case(
        "geology",
        "zip, size that is too small",
        _patched(lambda w: _central(w, 24, struct.pack("<I", 10))),
        "refused",
        whole=True,
    ),
    Case(
        "geology",
        "zip, size of 4 GB",
        _patched(lambda w: _central(w, 24, struct.pack("<I", 2**32 - 2))),
        "refused",
        place="member",
    ),
    Case(
        "geology",
        "zip, start beyond the end",
        _patched(lambda w: _central(w, 42, struct.pack("<I", 2**31))),
        "refused",
        whole=True,
    ),
    Case(
        "geology",
        "zip, comment without end",
        data("map.zip", _zip(("map.geojson", GOOD)) + b"\0" * 70_000),
        "refused",
        whole=True,
    ),
    Case(
        "geology",
        "zip, something before it",
        data("map.zip", b"MZ" + b"\0" * 60 + _zip(("map.geojson", GOOD))),
        "refused",
        whole=True,
    ),
    Case("geology", "zip, cut", data("map.zip", _zip(("map.geojson", GOOD))[:-40]), "refused", whole=True),
    Case("geology", "zip, head only", data("map.zip", b"PK\x03\x04" + b"\0" * 60), "refused", whole=True),
    Case("geology", "zip, empty", packed("map.zip", {}), "refused", whole=True),
    Case("geology", "zip, folders only", packed("map.zip", {"a/": b""}), "refused", whole=True),
    Case(
        "geology",
        "zip, one in another",
        data("map.zip", _zip(("inner.zip", _zip(("map.geojson", GOOD))))),
        "refused",
        place="member",
    ),
    Case(
        "geology",
        "zip, one in another under a quiet name",
        data("map.zip", _zip(("map.geojson", _zip(("map.geojson", GOOD))))),
        "refused",
        place="member",
    ),
    Case("geology", "zip, same name twice", _quiet_twice, "refused", place="member"),
    Case(
        "geology",
        "zip, same name in capitals",
        packed("map.zip", {"a.geojson": GOOD, "A.geojson": GOOD}),
        "refused",
        place="member",
    ),
    Case("geology", "zip, two entries on one place", _overlapping, "refused", whole=True),
    Case("geology", "zip, 100,000 members", _many, "refused", whole=True),
    Case(
        "geology",
        "zip, bomb",
        data("map.zip", _zip(("map.geojson", b"{" + b" " * 200_000_000))),
        "refused",
        place="member",
    ),
    Case(
        "geology",
        "zip, bomb in many members",
        packed("map.zip", {f"{i}.geojson": b" " * 9_000_000 for i in range(20)}),
        "refused",
        whole=True,
    ),
    Case(
        "geology",
        "zip, bomb by another method",
        data("map.zip", _zip(("map.geojson", b" " * 50_000_000), method=zipfile.ZIP_LZMA)),
        "refused",
        place="member",
    ),
    Case(
        "geology",
        "zip, packed by another method",
        data("map.zip", _zip(("map.geojson", GOOD), method=zipfile.ZIP_BZIP2)),
        "accepted",
    ),
    Case(
        "geology",
        "zip, a file and a folder of one name",
        packed("map.zip", {"a": b"x", "a/map.geojson": GOOD}),
        "refused",
        whole=True,
    ),
    Case(
        "geology",
        "zip, two maps",
        packed("map.zip", {"a.geojson": GOOD, "b.geojson": GOOD}),
        "refused",
        place="layer",
    ),
    Case("geology", "zip, nothing of use", packed("map.zip", {"readme.txt": b"x"}), "refused", whole=True),
    Case(
        "geology",
        "zip, resource forks",
        packed("map.zip", {"map.geojson": GOOD, "__MACOSX/._map.geojson": b"\0\5"}),
        "accepted",
    ),
    Case(
        "geology",
        "zip, pointer inside",
        packed("map.zip", {"map.geojson": b"<OGRVRTDataSource/>"}),
        "refused",
        place="member map.geojson",
    ),
    Case(
        "geology",
        "zip, broken map inside",
        packed("map.zip", {"map.geojson": GOOD[:-20]}),
        "refused",
        place="line 1",
    ),
    Case("geology", "zip, good", lambda folder: make_control("zip", folder), "accepted"),
    Case("elevation", "zip, no tiles", packed("dem.zip", {"a.txt": b"x"}), "refused", whole=True),
    Case(
        "elevation",
        "zip, 100 tiles",
        packed("dem.zip", {f"{i}.tif": b"II*\0" for i in range(100)}),
        "refused",
        whole=True,
    ),
    Case(
        "elevation",
        "zip, tiles that are none",
        packed("dem.zip", {"a.tif": b"II*\0" + b"\0" * 60, "b.tif": b"x"}),
        "refused",
        place="tile",
    ),
    Case("geology", "other archive, tar", data("map.tar", b"\0" * 1024), "refused", whole=True),
    Case(
        "geology",
        "other archive, 7z",
        data("map.zip", b"7z\xbc\xaf\x27\x1c" + b"\0" * 60),
        "refused",
        whole=True,
    ),
    Case(
        "geology",
        "other archive, gz",
        data("map.geojson.gz", b"\x1f\x8b\x08" + b"\0" * 60),
        "refused",
        whole=True,
    ),
]

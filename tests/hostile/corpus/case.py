"""One hostile input: how it is made, as what it is given, what must happen, and where the message must point."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

Verdict = Literal["refused", "repaired", "accepted"]
Build = Callable[[Path], Path]


@dataclass(frozen=True)
class Case:
    """A hostile input.

    Attributes
    ----------
    kind, name
        What it is given as, and what it is called here.
    build
        Makes it in an empty folder and gives the path.
    verdict
        `repaired` is "accepted with notes"; nothing else may happen.
    place
        Text that the place or field of one of the problems must hold.
    whole
        Whether the fault is the file's as a whole, so that no place inside it can be named.
    crs, mapping, legend
        What the user says with it.
    counts
        Read, kept, repaired, refused, where they are known.
    """

    kind: str
    name: str
    build: Build
    verdict: Verdict
    place: str = ""
    whole: bool = False
    crs: str = ""
    mapping: Mapping[str, str] = field(default_factory=dict)
    legend: Build | None = None
    counts: tuple[int, int, int, int] | None = None

    def __str__(self) -> str:
        return f"{self.kind}: {self.name}"


def listening(content: bytes) -> bytes:
    """Return content whose addresses on this machine are those where the tests listen."""
    return content.replace(b"127.0.0.1:9/", f"127.0.0.1:{PORT}/".encode())


def text(name: str, content: str, encoding: str = "utf-8") -> Build:
    """Return what writes one file of text."""
    return data(name, content.encode(encoding, errors="surrogatepass"))


def data(name: str, content: bytes) -> Build:
    """Return what writes one file of bytes."""

    def build(folder: Path) -> Path:
        path = folder / name
        path.write_bytes(listening(content))
        return path

    return build


def packed(name: str, members: Mapping[str, bytes | str]) -> Build:
    """Return what writes a zip archive."""

    def build(folder: Path) -> Path:
        with zipfile.ZipFile(folder / name, "w", zipfile.ZIP_DEFLATED) as archive:
            for member, content in members.items():
                archive.writestr(member, listening(content.encode() if isinstance(content, str) else content))
        return folder / name

    return build


PORT = 9
"""Where the tests listen for callers, on this machine; set before a case is built."""

SQUARE = {"type": "Polygon", "coordinates": [[[-9, -47], [-8.9, -47], [-8.9, -46.9], [-9, -47]]]}
"""Open ocean."""


def feature(geometry: object = SQUARE, **properties: object) -> dict[str, object]:
    return {
        "type": "Feature",
        "properties": {"unit": "a", "rocks": "granite", **properties},
        "geometry": geometry,
    }


def collection(*features: object, **more: object) -> str:
    return json.dumps({"type": "FeatureCollection", **more, "features": list(features)})

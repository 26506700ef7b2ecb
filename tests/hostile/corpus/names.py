"""What is given in place of a file: addresses, names that mean more, pipes, devices, folders, links."""

from __future__ import annotations

import os
import socket
from pathlib import Path

from controls import make_control

from corpus import case as given
from corpus.case import Build, Case

ADDRESSES = (
    "http://127.0.0.1:{port}/holes.csv",
    "https://127.0.0.1:{port}/holes.csv",
    "HTTPS://127.0.0.1:{port}/holes.csv",
    "ftp://127.0.0.1:{port}/holes.csv",
    "file:///etc/passwd",
    "file://localhost/etc/passwd",
    "/vsicurl/http://127.0.0.1:{port}/holes.csv",
    "/vsizip/holes.zip/holes.csv",
    "/vsizip/{{http://127.0.0.1:{port}/a.zip}}/a.csv",
    "/vsis3/bucket/holes.csv",
    "/vsistdin/",
    "/vsimem/a",
    "/vsisubfile/0_1,/etc/passwd",
    "\\\\server\\share\\holes.csv",
    "GPKG:holes.gpkg:samples",
    "PG:host=127.0.0.1 port={port}",
    "PG:dbname=x",
    "MSSQL:server=127.0.0.1;database=x",
    "MYSQL:x,host=127.0.0.1",
    "WFS:http://127.0.0.1:{port}/",
    "WMS:http://127.0.0.1:{port}/",
    "GTIFF_DIR:1:a.tif",
    "ESRIJSON:http://127.0.0.1:{port}/",
    "data:text/csv,id,lon,lat",
    "javascript:alert(1)",
    "s3://bucket/holes.csv",
    "zip+https://127.0.0.1:{port}/a.zip",
    "<VRTDataset/>",
    '{{"type":"FeatureCollection","features":[]}}',
    "a\x00.csv",
    "a\nb.csv",
    "\x1b]0;x\x07.csv",
    "x" * 5000 + ".csv",
    "y/" * 2500 + "a.csv",
    "no such file.csv",
    "",
    ".",
    "..",
    "/",
    "/dev/zero",
    "/dev/null",
    "/dev/stdin",
    "/dev/tty",
    "/proc/self/mem",
    "/proc/self/environ",
    "/proc/kmsg",
    "/root/.ssh/id_rsa",
    "~/holes.csv",
    "-",
    "--help",
    "con",
    "NUL",
)
KINDS = ("samples", "elevation", "geology", "soil", "photos", "deposit")


def _named(word: str) -> Build:
    return lambda folder: Path(word.format(port=given.PORT) if "{" in word else word)


def _pipe(suffix: str) -> Build:
    def build(folder: Path) -> Path:
        os.mkfifo(folder / f"holes{suffix}")
        return folder / f"holes{suffix}"

    return build


def _socket(folder: Path) -> Path:
    # A socket's own name may have 107 letters.
    path = folder / "s.csv"
    before = Path.cwd()
    os.chdir(folder)
    try:
        with socket.socket(socket.AF_UNIX) as one:
            one.bind("s.csv")
    finally:
        os.chdir(before)
    return path


def _loop(folder: Path) -> Path:
    (folder / "a.csv").symlink_to(folder / "b.csv")
    (folder / "b.csv").symlink_to(folder / "a.csv")
    return folder / "a.csv"


def _nowhere(folder: Path) -> Path:
    (folder / "a.csv").symlink_to(folder / "gone.csv")
    return folder / "a.csv"


def _link_to_device(folder: Path) -> Path:
    (folder / "a.csv").symlink_to("/dev/zero")
    return folder / "a.csv"


def _link_elsewhere(folder: Path) -> Path:
    (folder / "a.gpkg").symlink_to("/etc/passwd")
    return folder / "a.gpkg"


def _folder(name: str) -> Build:
    def build(folder: Path) -> Path:
        (folder / name).mkdir()
        return folder / name

    return build


def _bad_bytes(folder: Path) -> Path:
    path = make_control("csv", folder)
    other = Path(os.fsdecode(os.fsencode(folder) + b"/caf\xe9.csv"))
    return path.rename(other)


def _odd(stem: str, form: str) -> Build:
    def build(folder: Path) -> Path:
        plain, inner = folder / "plain", folder / f"in {stem}"
        plain.mkdir()
        path = make_control(form, plain)
        plain.rename(inner)
        if form != "shp":
            return (inner / path.name).rename(inner / f"{stem}.{form}")
        for part in sorted(inner.glob("control.*")):
            part.rename(inner / f"{stem}{part.suffix}")
        return inner / f"{stem}.shp"

    return build


def _deep_tree(folder: Path) -> Path:
    deep = folder
    for _ in range(200):
        deep = deep / "a"
    deep.mkdir(parents=True)
    return folder


def _pipes_in_a_folder(folder: Path) -> Path:
    for name in ("a.tif", "a.jpg", "soilmu_a_x.shp"):
        os.mkfifo(folder / name)
    return folder


ODD_STEMS = (
    "a b",
    "[2026]",
    "grün",
    "--help",
    "$(touch x)",
    "a;b",
    "x'y",
    'x"y',
    "a!b.zip!c",
    "q?x=1",
    "a#b",
    "&",
    "a\u202eb",
    "%s%n",
    "C:evil"[2:],
    ".hidden",
    "a.b.c",
    "🏺",
    "-",
    "~",
)
CASES = [
    *(
        Case(kind, f"address {word[:40]!r}", _named(word), "refused", whole=True)
        for kind in KINDS
        for word in ADDRESSES
        if not (word in ("/", ".", "..", "") and kind in ("soil", "elevation", "photos"))
        and not (kind == "samples" and word in ("/", ".", "..", ""))
    ),
    *(
        Case(kind, f"a pipe as {suffix}", _pipe(suffix), "refused", whole=True)
        for kind, suffix in (
            ("samples", ".csv"),
            ("elevation", ".tif"),
            ("geology", ".gpkg"),
            ("photos", ".jpg"),
            ("deposit", ".toml"),
            ("soil", ".zip"),
            ("samples", ".gpx"),
            ("soil", ".txt"),
        )
    ),
    Case("samples", "a socket", _socket, "refused", whole=True),
    Case("samples", "links in a circle", _loop, "refused", whole=True),
    Case("samples", "a link that leads nowhere", _nowhere, "refused", whole=True),
    Case("samples", "a link to a device", _link_to_device, "refused", whole=True),
    Case("geology", "a link to another file", _link_elsewhere, "refused", whole=True),
    *(
        Case(kind, f"a folder called {name}", _folder(name), "refused", whole=True)
        for kind, name in (
            ("samples", "a.csv"),
            ("geology", "a.geojson"),
            ("geology", "a.gdb"),
            ("elevation", "a.tif"),
            ("soil", "a.zip"),
            ("photos", "a.jpg"),
            ("deposit", "a.toml"),
            ("geology", "a"),
            ("samples", "a"),
        )
    ),
    Case("samples", "a name in another encoding", _bad_bytes, "refused", whole=True),
    *(
        Case(kind, f"200 folders deep, {kind}", _deep_tree, "refused", whole=True)
        for kind in ("soil", "elevation", "photos")
    ),
    *(
        Case(kind, f"pipes in a folder, {kind}", _pipes_in_a_folder, "refused", whole=True)
        for kind in ("soil", "elevation", "photos")
    ),
    *(
        Case(kind, f"called {stem!r}.{form}", _odd(stem, form), "accepted")
        for stem in ODD_STEMS
        for kind, form in (
            ("geology", "gpkg"),
            ("geology", "geojson"),
            ("geology", "shp"),
            ("elevation", "tif"),
            ("samples", "csv"),
            ("photos", "jpg"),
        )
    ),
]

"""Looks at the first bytes, the size and the name of a foreign file before any geo library opens it."""

from __future__ import annotations

import re
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from prospect.errors import InputRefused
from prospect.guard.refusal import refuse_file
from prospect.issues import IssueLog

Form = Literal[
    "geotiff",
    "height tile",
    "geopackage",
    "shapefile",
    "geojson",
    "file geodatabase",
    "zip archive",
    "table",
    "gpx",
    "kml",
    "folder",
    "photo",
    "toml",
]

RASTER_FORMS: tuple[Form, ...] = ("geotiff", "height tile", "zip archive", "folder")
VECTOR_FORMS: tuple[Form, ...] = ("geojson", "geopackage", "shapefile", "file geodatabase", "zip archive")
POINT_FORMS: tuple[Form, ...] = ("table", "gpx", "kml", *VECTOR_FORMS)
PHOTO_FORMS: tuple[Form, ...] = ("photo", "zip archive", "folder")

MEGABYTE = 1_000_000
MOST_BYTES: dict[Form, int] = {
    "geotiff": 8_000 * MEGABYTE,
    "height tile": 60 * MEGABYTE,
    "geopackage": 4_000 * MEGABYTE,
    "shapefile": 2_200 * MEGABYTE,
    "geojson": 400 * MEGABYTE,
    "zip archive": 1_000 * MEGABYTE,
    "table": 100 * MEGABYTE,
    "gpx": 20 * MEGABYTE,
    "kml": 20 * MEGABYTE,
    "photo": 60 * MEGABYTE,
    "toml": 2 * MEGABYTE,
}

_BY_SUFFIX: dict[str, Form] = {
    ".tif": "geotiff",
    ".tiff": "geotiff",
    ".gtiff": "geotiff",
    ".hgt": "height tile",
    ".gpkg": "geopackage",
    ".shp": "shapefile",
    ".geojson": "geojson",
    ".json": "geojson",
    ".gdb": "file geodatabase",
    ".zip": "zip archive",
    ".kmz": "zip archive",
    ".shz": "zip archive",
    ".csv": "table",
    ".tsv": "table",
    ".tab": "table",
    ".txt": "table",
    ".gpx": "gpx",
    ".kml": "kml",
    ".jpg": "photo",
    ".jpeg": "photo",
    ".png": "photo",
    ".toml": "toml",
}

_KNOWN_MAGIC: tuple[tuple[bytes, str], ...] = (
    (b"SQLite format 3\x00", "a GeoPackage or other database"),
    (b"PK\x03\x04", "a zip archive"),
    (b"PK\x05\x06", "an empty zip archive"),
    (b"II*\x00", "a TIFF image"),
    (b"MM\x00*", "a TIFF image"),
    (b"II+\x00", "a TIFF image"),
    (b"MM\x00+", "a TIFF image"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"\x89PNG", "a PNG picture"),
    (b"GIF8", "a GIF picture"),
    (b"%PDF", "a PDF document"),
    (b"%!PS", "a PostScript document"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"BZh", "a bzip2 archive"),
    (b"7z\xbc\xaf", "a 7z archive"),
    (b"Rar!", "a RAR archive"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
    (b"\xd0\xcf\x11\xe0", "an old office document"),
    (b"\x89HDF", "an HDF5 file"),
    (b"CDF\x01", "a NetCDF file"),
    (b"\x80\x02", "a pickled Python object"),
    (b"\x80\x03", "a pickled Python object"),
    (b"\x80\x04", "a pickled Python object"),
    (b"\x80\x05", "a pickled Python object"),
    (b"\x93NUMPY", "a NumPy array"),
)
_VIRTUAL = re.compile(
    rb"<\s*(VRTDataset|OGRVRTDataSource|GDALTileIndexDataset|GDAL_WMS|WMS_Capabilities|GDAL_WMTS|WCS_GDAL|"
    rb"OGRWFSDataSource|OGRGeoPackage)",
    re.IGNORECASE,
)
_ENTITY = re.compile(rb"<!\s*(ENTITY|DOCTYPE)", re.IGNORECASE)
_ADDRESS = re.compile(r"^(/vsi|\\\\|[a-z][a-z0-9_+.-]+:)", re.IGNORECASE)
_MEANS_MORE = re.compile(r"[<>{}\x00-\x1f\x7f]")
_NOT_TEXT = re.compile(r"[\x00-\x1f\x7f-\x9f\u200b-\u200f\u202a-\u202e\u2066-\u2069]")
_LONGEST_NAME = 120
_SPECIAL = (
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)
_HEIGHT_TILE_NAME = re.compile(r"[NS]\d{2}[EW]\d{3}(\.SRTMGL[13]S?)?\.hgt$", re.IGNORECASE)
_HEIGHT_TILE_SIZES = {2 * side * side for side in (1201, 3601)}
_HEAD = 64_000


@dataclass(frozen=True, slots=True)
class Inspected:
    """What a file turned out to be.

    Attributes
    ----------
    path
        The file or folder.
    form
        What it is, by its content and name together.
    size
        Bytes; 0 for a folder.
    """

    path: Path
    form: Form
    size: int


def file_name(path: Path) -> str:
    """Return the name of a file fit to be shown and kept: of bounded length, without bytes that are no text."""
    whole = str(path)
    given = whole if _ADDRESS.match(whole) else path.name or whole
    name = given[: 4 * _LONGEST_NAME].encode("utf-8", errors="replace").decode("utf-8")
    name = _NOT_TEXT.sub("?", name)
    return name if len(name) <= _LONGEST_NAME else f"{name[: _LONGEST_NAME - 20]}…{name[-19:]}"


def check_path(path: Path, log: IssueLog) -> None:
    """Refuse what is no file or folder of this computer, without opening anything.

    Raises
    ------
    InputRefused
        When it is an address, a name that a library would take for more than a name, absent, or a pipe, socket
        or device.
    """
    whole = str(path)
    if _ADDRESS.match(whole):
        action = "Download it and give the file; nothing was asked of the network."
        refuse_file(log, file_name(path), "a file on this computer, not an address", action)
    if _MEANS_MORE.search(whole):
        action = "Rename the file or folder."
        refuse_file(log, file_name(path), "a name without < > { } and control characters", action)
    try:
        whole.encode("utf-8")
    except UnicodeEncodeError:
        refuse_file(log, file_name(path), "a name written in UTF-8", "Rename the file.")
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        found = "a link that leads nowhere" if path.is_symlink() else "no such file"
        refuse_file(log, found, "a file", "Check the name and the folder.")
    except OSError as error:
        reason = error.strerror or "cannot be opened"
        refuse_file(log, reason, "a readable file", "Check its name, its folder and its permissions.")
    for is_one, word in _SPECIAL:
        if is_one(mode):
            refuse_file(log, word, "a plain file", "Give a file; nothing was read from it.")


def inspect_file(path: Path, kind: str, forms: tuple[Form, ...]) -> Inspected:
    """Return what a file is, or refuse it with the reason, reading only its first bytes.

    Parameters
    ----------
    path
        A file, or a folder where `forms` has "folder" or "file geodatabase".
    kind
        The word of the command it was given for (`elevation`, `geology`, ...); goes into the log.
    forms
        The forms that the caller can read.

    Raises
    ------
    InputRefused
        When the file is absent, empty, too large, not what its name says, a form the caller cannot read, or
        of a sort that makes a library open other files.
    """
    log = IssueLog(file_name(path), kind)
    check_path(path, log)
    try:
        if path.is_dir():
            return _inspect_folder(path, log, forms)
        size = path.stat().st_size
        # The system's own files have no size, and some of them never end.
        head = b""
        if size:
            with path.open("rb") as handle:
                head = handle.read(_HEAD)
    except OSError as error:
        refuse_file(log, error.strerror or "cannot be opened", "a readable file", "Check its permissions.")
    if size == 0 or not head:
        refuse_file(log, "an empty file", _words(forms), "Export or download it again.")
    _refuse_virtual(log, head, forms)
    form = _form_of(path, log, head, size, forms)
    if size > MOST_BYTES[form]:
        refuse_file(
            log,
            f"{size / MEGABYTE:,.0f} MB",
            f"at most {MOST_BYTES[form] // MEGABYTE:,} MB for a {form}",
            "Cut out the part around your ground and give that.",
        )
    return Inspected(path, form, size)


def inspect_member(path: Path, log: IssueLog, forms: tuple[Form, ...]) -> Inspected:
    """Look at a file that came out of an archive; a refusal goes into the archive's own log, with the member's name."""
    try:
        return inspect_file(path, log.kind, forms)
    except InputRefused as refused:
        first = refused.log.issues[0] if refused.log and refused.log.issues else None
        if first is None:
            raise
        refuse_file(log, first.value, first.expected, first.action, place=f"member {path.name}")


def _inspect_folder(path: Path, log: IssueLog, forms: tuple[Form, ...]) -> Inspected:
    geodatabase = path.suffix.lower() == ".gdb"
    if geodatabase and "file geodatabase" in forms:
        if not any(path.glob("*.gdbtable")):
            refuse_file(log, "a folder without tables", "a file geodatabase", "Copy the whole .gdb folder.")
        return Inspected(path, "file geodatabase", 0)
    if "folder" not in forms:
        refuse_file(log, "a folder", _words(forms), "Give one file.")
    return Inspected(path, "folder", 0)


def _form_of(path: Path, log: IssueLog, head: bytes, size: int, forms: tuple[Form, ...]) -> Form:
    suffix = path.suffix.lower()
    form = _BY_SUFFIX.get(suffix)
    wide = head.startswith((b"\xff\xfe", b"\xfe\xff"))
    head = _narrowed(head)
    found = _describe(head)
    if wide and form == "geojson" and form in forms:
        refuse_file(log, "text in UTF-16", "text in UTF-8, as GeoJSON must be", "Save it again in UTF-8.")
    if form is None or form not in forms:
        guess = f", which seems to be {found}" if found else ""
        name = f"'{suffix}'" if suffix else "no ending"
        refuse_file(log, f"a file with {name}{guess}", _words(forms), "Export it in one of these forms.")
    if not _content_fits(form, path, head, size):
        if form == "height tile" and size in _HEIGHT_TILE_SIZES:
            refuse_file(
                log,
                path.name,
                "the name of the tile, such as N35W084.hgt: a height tile has its place only in its name",
                "Give the file its first name again.",
            )
        refuse_file(
            log,
            found or "other content",
            f"a {form}, as the name says",
            "Export or download it again; renaming a file does not change what it is.",
        )
    return form


def _content_fits(form: Form, path: Path, head: bytes, size: int) -> bool:
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    magic = {
        "geotiff": (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+"),
        "geopackage": (b"SQLite format 3\x00",),
        "shapefile": (b"\x00\x00\x27\x0a",),
        "zip archive": (b"PK\x03\x04",),
        "photo": (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n"),
    }.get(form)
    if magic is not None:
        return head.startswith(magic)
    if form == "height tile":
        return size in _HEIGHT_TILE_SIZES and bool(_HEIGHT_TILE_NAME.search(path.name))
    if form == "geojson":
        return text[:1] == b"{"
    if form in ("gpx", "kml"):
        return text[:1] == b"<" and not text[:15].lower().startswith((b"<!doctype html", b"<html"))
    return form in ("table", "toml") and not _is_binary(head)


def _narrowed(head: bytes) -> bytes:
    """Return the start of a text in UTF-16 or UTF-32 as UTF-8, and any other as it is."""
    if head.startswith((b"\xff\xfe\x00\x00", b"\x00\x00\xfe\xff")):
        return head.decode("utf-32", errors="ignore").encode("utf-8", errors="ignore")
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return head.decode("utf-16", errors="ignore").encode("utf-8", errors="ignore")
    return head


def _is_binary(head: bytes) -> bool:
    if b"\x00" in head:
        return True
    odd = sum(head.count(bytes((code,))) for code in range(32) if code not in (9, 10, 12, 13, 27))
    return odd > max(16, len(head) // 50)


def _describe(head: bytes) -> str:
    for magic, name in _KNOWN_MAGIC:
        if head.startswith(magic):
            return name
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()[:200].lower()
    if text.startswith((b"<!doctype html", b"<html")):
        return "a web page (perhaps a log-in page or an error in its place)"
    if text.startswith(b"<"):
        return "an XML document"
    if text.startswith(b"version https://git-lfs"):
        return "a pointer to a file that was not downloaded"
    if text[:1] in (b"{", b"["):
        return "JSON text"
    return "" if _is_binary(head) else "text"


def _refuse_virtual(log: IssueLog, head: bytes, forms: tuple[Form, ...]) -> None:
    head = _narrowed(head)
    if _VIRTUAL.search(head[:4096]):
        refuse_file(
            log,
            "a file that only points to other files or addresses",
            _words(forms),
            "Give the data itself.",
        )
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    web_page = text[:15].lower().startswith((b"<!doctype html", b"<html"))
    if text[:1] == b"<" and not web_page and _ENTITY.search(head):
        refuse_file(
            log,
            "an XML document with a DOCTYPE or entities",
            "plain XML",
            "Export it again; no map or position file needs entities.",
        )


def _words(forms: tuple[Form, ...]) -> str:
    endings = {form: "/".join(s for s, f in _BY_SUFFIX.items() if f == form) for form in forms}
    return "one of: " + ", ".join(f"{form} ({endings[form]})" if endings[form] else form for form in forms)

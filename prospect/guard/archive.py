"""Unpacks a zip archive into a fresh folder, bounded in size, without ever trusting the names or sizes inside."""

from __future__ import annotations

import contextlib
import lzma
import re
import shutil
import stat
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Literal

from prospect.errors import ProspectError
from prospect.guard.inspection import file_name
from prospect.guard.refusal import refuse_file
from prospect.issues import IssueLog

_DRIVE = re.compile(r"^[a-zA-Z]:")
_RESERVED = re.compile(r"^(con|prn|aux|nul|com\d|lpt\d)(\.|$)", re.IGNORECASE)
_NESTED = (".zip", ".kmz", ".shz", ".7z", ".rar", ".tar", ".gz", ".tgz", ".bz2", ".xz", ".zst")
_CHUNK = 1 << 20
# What the library raises over damaged archives: NotImplementedError for a way of packing it does not know,
# RuntimeError for a password, and whatever its unpackers and its reading of headers run into.
_DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    NotImplementedError,
    RuntimeError,
    EOFError,
    ValueError,
    KeyError,
    IndexError,
    OverflowError,
    struct.error,
)


@dataclass(frozen=True, slots=True)
class ArchiveLimits:
    """How much an archive may hold.

    Attributes
    ----------
    members
        Most files.
    total_bytes
        Most bytes in all, counted while unpacking.
    ratio
        Most bytes out for one byte in, of any member and of the whole, looked at beyond `ratio_from_bytes`.
    ratio_from_bytes
        Below this size no ratio is suspicious.
    depth
        Most folders inside each other.
    """

    members: int = 2_000
    total_bytes: int = 3_000_000_000
    ratio: float = 100.0
    ratio_from_bytes: int = 10_000_000
    depth: int = 12


@contextlib.contextmanager
def open_archive(
    path: Path,
    kind: str,
    *,
    limits: ArchiveLimits | None = None,
    nested: Literal["refuse", "skip"] = "refuse",
) -> Iterator[Path]:
    """Unpack a zip archive and give the folder; it is deleted when the block ends.

    Parameters
    ----------
    path
        A file that `inspect_file` found to be a zip archive.
    kind
        The word of the command it was given for; goes into the log.
    limits
        How much it may hold.
    nested
        What to do with an archive inside the archive: refuse the whole, or leave that member out.

    Yields
    ------
    Path
        A folder of plain files and folders only.

    Raises
    ------
    InputRefused
        When a member has an absolute name, a drive, `..`, is a link, is encrypted, comes twice, is an
        archive itself, or when the whole is damaged or larger than `limits`.
    """
    limits = limits or ArchiveLimits()
    log = IssueLog(file_name(path), kind)
    with tempfile.TemporaryDirectory(prefix="claywalk-") as name:
        folder = Path(name)
        try:
            with zipfile.ZipFile(path) as archive:
                for info, target in _safe_members(log, archive, limits, nested):
                    _unpack(log, archive, info, folder / target)
        except ProspectError:
            raise
        except OSError as error:
            reason = error.strerror or str(error)
            refuse_file(log, reason, "an archive that can be unpacked here", "Check free disk space.")
        except _DAMAGED as error:
            reason = str(error) or type(error).__name__
            refuse_file(log, reason, "a whole, unencrypted zip archive", "Download it again.")
        yield folder


def member_names(path: Path) -> tuple[str, ...]:
    """Return the names in a zip archive as it lists them, nothing for a file that is none; for a guess only."""
    try:
        with zipfile.ZipFile(path) as archive:
            return tuple(archive.namelist())
    except (OSError, *_DAMAGED):
        return ()


def _safe_members(
    log: IssueLog, archive: zipfile.ZipFile, limits: ArchiveLimits, nested: str
) -> list[tuple[zipfile.ZipInfo, PurePosixPath]]:
    infos = [info for info in archive.infolist() if not info.filename.endswith("/")]
    if not infos:
        refuse_file(log, "an empty archive", "an archive with files in it", "Download it again.")
    if len(infos) > limits.members:
        expected = f"at most {limits.members:,} files"
        refuse_file(log, f"{len(infos):,} files", expected, "Pack only the files of this layer.")
    seen: set[str] = set()
    safe = []
    for info in infos:
        target = _safe_name(log, info, limits)
        key = str(target).casefold()
        if key in seen:
            refuse_file(
                log, "the same name twice", "each name once", "Pack it again.", place=_member(info.filename)
            )
        seen.add(key)
        if target.suffix.lower() in _NESTED:
            if nested == "skip":
                continue
            expected = "no archive inside the archive"
            refuse_file(
                log,
                "an archive",
                expected,
                "Unpack it and give the inner file.",
                place=_member(info.filename),
            )
        safe.append((info, target))
    _check_sizes(log, [info for info, _ in safe], limits)
    return safe


def _safe_name(log: IssueLog, info: zipfile.ZipInfo, limits: ArchiveLimits) -> PurePosixPath:
    name = info.filename.replace("\\", "/")
    parts = name.split("/")
    bad = (
        name.startswith("/")
        or bool(_DRIVE.match(name))
        or any(part in ("", ".", "..") or _RESERVED.match(part) for part in parts)
        or any(ord(char) < 32 for char in name)
        or ":" in name
    )
    if bad:
        expected = "names inside the archive only"
        action = "Do not use this archive; ask its source."
        refuse_file(log, name[:80], expected, action, place=_member(name[:80]))
    if len(parts) > limits.depth or len(name) > 300:
        expected = f"at most {limits.depth} folders inside each other and short names"
        refuse_file(log, "a name too deep or too long", expected, "Pack it again.", place=_member(name[:60]))
    mode = info.external_attr >> 16
    if mode and not stat.S_ISREG(mode) and stat.S_IFMT(mode) != 0:
        refuse_file(log, "a link or device", "plain files only", "Pack the files.", place=_member(name))
    if info.flag_bits & 0x1:
        refuse_file(
            log, "an encrypted file", "files without password", "Pack it again without.", place=_member(name)
        )
    return PurePosixPath(name)


def _check_sizes(log: IssueLog, infos: list[zipfile.ZipInfo], limits: ArchiveLimits) -> None:
    total = sum(info.file_size for info in infos)
    packed = sum(info.compress_size for info in infos)
    action = "Unpack it yourself if you trust it, and give the files."
    if total > limits.total_bytes:
        expected = f"at most {limits.total_bytes / 1e6:,.0f} MB unpacked"
        largest = max(infos, key=lambda info: info.file_size)
        found = f"{total / 1e6:,.0f} MB unpacked"
        refuse_file(log, found, expected, action, place=_member(largest.filename[:80]))
    pairs = [(i.filename, i.file_size, i.compress_size) for i in infos] + [("", total, packed)]
    for name, size, small in pairs:
        if size > limits.ratio_from_bytes and size > limits.ratio * max(small, 1):
            expected = f"at most {limits.ratio:.0f} times as much unpacked as packed"
            refuse_file(
                log, f"{size / max(small, 1):,.0f} times as much", expected, action, place=_member(name)
            )


def _unpack(log: IssueLog, archive: zipfile.ZipFile, info: zipfile.ZipInfo, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    if shutil.disk_usage(target.parent).free < info.file_size + 50_000_000:
        refuse_file(
            log, "too little free disk space", "room for the file", "Make room.", place=_member(info.filename)
        )
    written = 0
    with archive.open(info) as source, target.open("xb") as sink:
        while chunk := source.read(_CHUNK):
            written += len(chunk)
            # The declared size was checked against the limits, so it is the limit here.
            if written > info.file_size:
                found, expected = "more content than it declares", "the declared size"
                refuse_file(log, found, expected, "Download the archive again.", place=_member(info.filename))
            sink.write(chunk)


def _member(name: str) -> str:
    return f"member {name}" if name else ""

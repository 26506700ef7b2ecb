"""Papers and photos that belong to the records, such as a letter or a fired bar: kept under the content's own name."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import threading
from pathlib import Path

from prospect.errors import GroundError, NothingToWorkWith, WrongUsage
from prospect.store.records_file import flush, make_folder

MOST_BYTES = 50_000_000
"""Largest paper that is kept (own judgement: a scan of some dozens of pages)."""
MOST_BYTES_OF_A_PHOTO = 30_000_000
"""Largest photo that is kept (own judgement: a phone's largest pictures are about half of that)."""
_SUFFIX = re.compile(r"\.[a-z0-9]{1,5}")


def keep_document(source: Path, folder: Path) -> str:
    """Copy a paper into a folder and bring it to the disk; return its name there.

    The name is made from the content, so the same paper is kept once and no user's file name travels with it.

    Raises
    ------
    NothingToWorkWith
        When there is no such file.
    WrongUsage
        When it is not a plain file, empty or too large.
    GroundError
        When it cannot be read or written.
    """
    content = _content_of(source, MOST_BYTES)
    suffix = source.suffix.lower()
    return _keep(content, suffix if _SUFFIX.fullmatch(suffix) else "", source, folder)


def keep_photo(source: Path, folder: Path) -> str:
    """Copy a photo into a folder as it is and bring it to the disk; return its name there.

    The name is made from the content and from what kind of picture it is, whatever its file is called.

    Raises
    ------
    NothingToWorkWith
        When there is no such file.
    WrongUsage
        When it is no JPEG, PNG or WebP picture, or too large.
    GroundError
        When it cannot be read or written.
    """
    content = _content_of(source, MOST_BYTES_OF_A_PHOTO)
    suffix = _picture(content)
    if not suffix:
        raise WrongUsage(
            f"{source.name} is no JPEG, PNG or WebP picture. Save it as JPEG and choose that file; "
            "phones that take HEIC can be set to take JPEG."
        )
    return _keep(content, suffix, source, folder)


def _picture(content: bytes) -> str:
    """Return the suffix of a picture by how its content begins (ITU-T T.81 B; W3C PNG 5.2; RFC 9649 2.4)."""
    if content.startswith(b"\xff\xd8\xff"):
        return ".jpg"
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return ".png"
    return ".webp" if content[:4] == b"RIFF" and content[8:12] == b"WEBP" else ""


def _content_of(source: Path, most_bytes: int) -> bytes:
    if not source.exists():
        raise NothingToWorkWith(f"There is no file {source}.")
    try:
        size = source.stat().st_size
        if not source.is_file() or size == 0 or size > most_bytes:
            raise WrongUsage(
                f"{source.name} must be a file with something in it, of at most {most_bytes // 1_000_000} MB."
            )
        return source.read_bytes()
    except OSError as error:
        raise _not_kept(source, error) from error


def _keep(content: bytes, suffix: str, source: Path, folder: Path) -> str:
    name = hashlib.sha256(content).hexdigest()[:32] + suffix
    target = folder / name
    try:
        make_folder(folder)
        if not (target.is_file() and target.read_bytes() == content):
            _put(content, target)
        # Also for one that is there already: who put it there may have ended before its name was on the disk.
        flush(folder)
    except OSError as error:
        raise _not_kept(source, error) from error
    return name


def _not_kept(source: Path, error: OSError) -> GroundError:
    return GroundError(f"{source.name} could not be kept: {error.strerror or error}")


def _put(content: bytes, target: Path) -> None:
    part = target.with_name(f".{target.name}.{os.getpid()}-{threading.get_ident()}.part")
    try:
        part.write_bytes(content)
        flush(part)
        part.replace(target)
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)

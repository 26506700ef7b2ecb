"""Papers that belong to the records, such as a letter with a permission: kept under the content's own name."""

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
    if not source.exists():
        raise NothingToWorkWith(f"There is no file {source}.")
    try:
        size = source.stat().st_size
        if not source.is_file() or size == 0 or size > MOST_BYTES:
            raise WrongUsage(
                f"{source.name} must be a file with something in it, of at most {MOST_BYTES // 1_000_000} MB."
            )
        content = source.read_bytes()
        suffix = source.suffix.lower()
        name = hashlib.sha256(content).hexdigest()[:32] + (suffix if _SUFFIX.fullmatch(suffix) else "")
        target = folder / name
        make_folder(folder)
        if not (target.is_file() and target.read_bytes() == content):
            _put(content, target)
        # Also for a paper that is there already: who put it there may have ended before its name was on the disk.
        flush(folder)
    except OSError as error:
        raise GroundError(f"{source.name} could not be kept: {error.strerror or error}") from error
    return name


def _put(content: bytes, target: Path) -> None:
    part = target.with_name(f".{target.name}.{os.getpid()}-{threading.get_ident()}.part")
    try:
        part.write_bytes(content)
        flush(part)
        part.replace(target)
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)

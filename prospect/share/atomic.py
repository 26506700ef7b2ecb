"""Puts a shared file in place only when it is whole."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path

from prospect.errors import GroundError


@contextlib.contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Yield a path beside `path` to write to; it takes the place of `path` when the block ends well.

    The working name keeps the suffix, because some writers go by it.

    Raises
    ------
    GroundError
        When the folder is not there or cannot be written to.
    """
    part = path.with_name(f".{path.stem}.part{path.suffix}")
    try:
        with contextlib.suppress(FileNotFoundError):
            part.unlink()
        yield part
        with part.open("rb+") as handle:
            os.fsync(handle.fileno())
        part.replace(path)
    except OSError as error:
        raise GroundError(f"{path.name} could not be written: {error.strerror or error}.") from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink()


def write_whole(path: Path, content: bytes) -> None:
    """Write bytes to a file in one step."""
    with whole_file(path) as part:
        part.write_bytes(content)

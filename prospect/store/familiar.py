"""Knows records again that this process looked through and that nobody has written to since."""

from __future__ import annotations

from pathlib import Path

_SEEN: dict[Path, tuple[int, ...]] = {}
"""The records that were looked through in this process, as they were on the disk then."""


def is_familiar(path: Path) -> bool:
    """Whether this process looked through the records, and has itself made every change since.

    A change that another program makes within one tick of the disk's clock (some milliseconds) after a save of ours,
    and that leaves the size as it was, is not seen here.
    """
    return _SEEN.get(path.resolve()) == _on_disk(path) != ()


def remember(path: Path) -> None:
    """Keep in mind that the records were looked through as they are now."""
    _SEEN[path.resolve()] = _on_disk(path)


def _on_disk(path: Path) -> tuple[int, ...]:
    """Return what changes with every write; empty when there are no records, or an unfinished save lies beside."""
    if any(path.with_name(path.name + end).exists() for end in ("-journal", "-wal")):
        return ()
    try:
        found = path.stat()
    except OSError:
        return ()
    return found.st_mtime_ns, found.st_size, found.st_ino, found.st_ctime_ns

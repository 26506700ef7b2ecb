"""Gives a file a harmless name where its own would be taken for an address or an archive member by a library."""

from __future__ import annotations

import contextlib
import re
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

_MEANS_MORE = re.compile(r"[!;?#*|\"]|^[a-z]{2,}:", re.IGNORECASE)


@contextlib.contextmanager
def harmless_name(path: Path) -> Iterator[Path]:
    """Give the path, or a link to the file (with its fellows of the same stem) in a folder of our own.

    The geo libraries cut paths at `!`, `;`, `?` and `#`; a file of such a name, or in such a folder, is real
    all the same.
    """
    if not _MEANS_MORE.search(str(path)):
        yield path
        return
    with tempfile.TemporaryDirectory(prefix="claywalk-") as name:
        folder = Path(name)
        fellows = [path] if path.is_dir() else [p for p in path.parent.iterdir() if p.stem == path.stem]
        # A height tile has its place in its name, so a harmless one stays.
        stem = "data" if _MEANS_MORE.search(path.name) else path.stem
        for fellow in fellows:
            _link(fellow.resolve(), folder / f"{stem}{fellow.suffix}")
        yield folder / f"{stem}{path.suffix}"


def _link(source: Path, target: Path) -> None:
    try:
        target.symlink_to(source, target_is_directory=source.is_dir())
    except OSError:
        # Some systems let only administrators make links.
        copy = shutil.copytree if source.is_dir() else shutil.copyfile
        copy(source, target)

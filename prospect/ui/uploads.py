"""Lays files that somebody gave to the page into a folder for as long as they are read."""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from streamlit.runtime.uploaded_file_manager import UploadedFile

from prospect.text import file_name

_PICTURES = (".jpg", ".jpeg", ".png")


@contextmanager
def laid_down(uploads: Sequence[UploadedFile], *, as_folder: bool = False) -> Iterator[Path]:
    """Give the path of one file, of a folder of pictures, or of an archive of several tables.

    Parameters
    ----------
    uploads
        At least one.
    as_folder
        Whether one picture is given as a folder too.
    """
    with tempfile.TemporaryDirectory(prefix="claywalk-") as name:
        pictures = all(file_name(upload.name).lower().endswith(_PICTURES) for upload in uploads)
        folder = Path(name) / ("photos" if pictures else "files")
        folder.mkdir()
        paths = []
        for number, upload in enumerate(uploads, 1):
            path = folder / file_name(upload.name)
            if path.exists():
                path = folder / f"{number} {path.name}"
            path.write_bytes(upload.getbuffer())
            paths.append(path)
        if len(paths) == 1 and not as_folder:
            yield paths[0]
        elif pictures:
            yield folder
        else:
            archive = Path(name) / "several files.zip"
            with zipfile.ZipFile(archive, "w") as several:
                for path in paths:
                    several.write(path, path.name)
            yield archive

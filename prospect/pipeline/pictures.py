"""Copies the pictures of photo samples into the ground, under names made from their content."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from pathlib import Path

from prospect.errors import GroundError
from prospect.pipeline.reading import LARGE, guarded
from prospect.share.atomic import write_whole
from prospect.sources.photos import Photo, lay_out_pictures

PICTURES = "photos"
"""Folder of a ground; nothing in it is ever part of a shared copy."""


def keep_pictures(ground_folder: Path, origin: Path, photos: Iterable[Photo]) -> int:
    """Copy pictures as they are, each whole or not at all, and return how many were new.

    Parameters
    ----------
    ground_folder
        Folder of the ground.
    origin
        The file, folder or archive that the photos were read from.
    photos
        What was read of them.

    Raises
    ------
    InputRefused
        When a picture is no longer what was read.
    GroundError
        When the ground cannot be written to.
    """
    target = ground_folder / PICTURES
    try:
        target.mkdir(exist_ok=True)
    except OSError as error:
        raise GroundError(f"{target.name} cannot be made: {error.strerror or error}.") from error
    new = tuple(photo for photo in photos if not (target / photo.kept_as).is_file())
    if not new:
        return 0
    with tempfile.TemporaryDirectory(prefix="claywalk-") as name:
        laid_out = Path(name)
        # An archive is unpacked once more, and where foreign files are read.
        guarded(lay_out_pictures, origin, "samples", "samples", new, laid_out, limits=LARGE)
        for photo in new:
            write_whole(target / photo.kept_as, (laid_out / photo.kept_as).read_bytes())
    return len(new)

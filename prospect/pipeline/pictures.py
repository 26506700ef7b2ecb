"""Copies the pictures of photo samples into the ground, under names made from their content."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

from prospect.errors import GroundError
from prospect.guard.inspection import file_name
from prospect.guard.refusal import refuse_file
from prospect.issues import IssueLog
from prospect.share.atomic import write_whole
from prospect.sources.photos import Photo, photo_files

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
    wanted = {photo.member: photo for photo in photos}
    target = ground_folder / PICTURES
    try:
        target.mkdir(exist_ok=True)
    except OSError as error:
        raise GroundError(f"{target.name} cannot be made: {error.strerror or error}.") from error
    log = IssueLog(file_name(origin), "samples")
    new = 0
    with photo_files(origin, log) as files:
        for member, file in files:
            photo = wanted.get(member)
            if photo is None or (target / photo.kept_as).is_file():
                continue
            content = file.read_bytes()
            if hashlib.sha256(content).hexdigest() != photo.digest:
                action = "Import it again when nothing else writes to it."
                place = f"photo {photo.name}"
                refuse_file(log, "another picture than was read", "the same picture", action, place=place)
            write_whole(target / photo.kept_as, content)
            new += 1
    return new

"""Pictures of photo samples are kept under names made from their content, whole or not at all."""

from __future__ import annotations

import hashlib
import io
import shutil
import tempfile
import zipfile

import pytest
from PIL import Image

from prospect.errors import InputRefused
from prospect.pipeline import Wording, add_layer, read_for, take_in
from prospect.store import Ground

TODAY = "2026-11-02"


def photo(seconds):
    """Return a JPEG taken on the small ground (EXIF 2.32: GPS directory 0x8825, date 0x0132)."""
    exif = Image.Exif()
    exif[0x0132] = f"2026:05:31 10:00:0{seconds}"
    place = exif.get_ifd(0x8825)
    place[1], place[2] = "S", (47.0, 31.0, 0.0 + seconds)
    place[3], place[4] = "W", (128.0, 59.0, 30.0)
    stream = io.BytesIO()
    Image.new("RGB", (8, 8), (seconds, 90, 60)).save(stream, "JPEG", exif=exif)
    return stream.getvalue()


@pytest.fixture
def ground(small_ground, tmp_path):
    folder = tmp_path / "ground"
    shutil.copytree(small_ground, folder)
    return Ground.open(folder)


@pytest.fixture
def archive(tmp_path):
    path = tmp_path / "walk.zip"
    with zipfile.ZipFile(path, "w") as file:
        for number in (1, 2):
            file.writestr(f"walk/P{number}.jpg", photo(number))
    return path


def kept(ground):
    return {path.name: path.read_bytes() for path in (ground.folder / "photos").iterdir()}


@pytest.mark.parametrize("form", ["archive", "folder", "file"])
def test_pictures_are_kept_as_they_are(form, ground, archive, tmp_path, monkeypatch):
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(scratch))
    origin = archive
    if form != "archive":
        origin = tmp_path / "unpacked"
        with zipfile.ZipFile(archive) as file:
            file.extractall(origin)
    if form == "file":
        origin = origin / "walk" / "P1.jpg"
    intake = add_layer(ground, "samples", origin, Wording(), today=TODAY)
    wanted = [photo(1)] if form == "file" else [photo(1), photo(2)]
    assert intake.log.kept + intake.log.repaired == len(wanted)
    assert kept(ground) == {f"{hashlib.sha256(content).hexdigest()[:40]}.jpg": content for content in wanted}
    pictures = {sample.fields.get("picture") for sample in ground.samples()} - {None}
    assert pictures == set(kept(ground))
    assert list(scratch.iterdir()) == []


def test_a_picture_that_is_there_is_not_asked_for_again(ground, archive):
    add_layer(ground, "samples", archive, Wording(), today=TODAY)
    before = {path: path.stat().st_mtime_ns for path in (ground.folder / "photos").iterdir()}
    add_layer(ground, "samples", archive, Wording(), today=TODAY)
    assert {path: path.stat().st_mtime_ns for path in (ground.folder / "photos").iterdir()} == before


@pytest.mark.parametrize("change", ["another", "gone"])
def test_what_changes_after_it_was_read_is_not_kept(change, ground, archive):
    reading = read_for(ground, "samples", archive, Wording(today=TODAY))
    with zipfile.ZipFile(archive, "w") as file:
        file.writestr("walk/P1.jpg", photo(1))
        if change == "another":
            file.writestr("walk/P2.jpg", photo(3))
    samples = ground.samples()
    with pytest.raises(
        InputRefused, match=r"walk\.zip, photo P2\.jpg: found 'another picture than was read'"
    ):
        take_in(ground, reading, today=TODAY)
    assert kept(ground) == {}
    assert ground.samples() == samples

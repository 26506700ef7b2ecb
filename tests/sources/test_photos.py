"""Photos that say where they were taken become samples; what a camera leaves out or gets wrong is said."""

from __future__ import annotations

import hashlib
import io
import zipfile

import pytest
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from prospect.cli import run
from prospect.errors import InputRefused
from prospect.sources.photos import as_samples, read_photos
from prospect.store import Ground
from prospect.types import Bounds


def rational(value: float) -> IFDRational:
    return IFDRational(round(value * 10_000), 10_000)


def photo(lat=(47, 27, 12.5), lon=(9, 3, 0), sides=("S", "W"), form="JPEG", shade=0, **gps):
    """Return a picture whose tags are written by Pillow, a writer of its own (tags: CIPA DC-008, table 15)."""
    exif = Image.Exif()
    place = exif.get_ifd(0x8825)
    place[1], place[3] = sides
    place[2], place[4] = (tuple(rational(part) for part in angle) for angle in (lat, lon))
    for tag, value in gps.items():
        place[int(tag[1:])] = value
    exif[0x0131] = "camera 1.0"
    exif.get_ifd(0x8769)[0x9003] = "2026:05:31 10:20:30"
    stream = io.BytesIO()
    Image.new("RGB", (64, 48), (shade, 90, 60)).save(stream, form, exif=exif)
    return stream.getvalue()


def written(folder, name, content):
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    return path


@pytest.mark.parametrize("form", ["JPEG", "PNG"])
def test_place_time_and_direction(tmp_path, form):
    content = photo(form=form, _16="M", _17=rational(214.5), _31=rational(4.2))
    (found,), log, source = read_photos(written(tmp_path, f"P1.{form.lower()}", content))
    # degrees + minutes / 60 + seconds / 3600, by hand
    assert (found.lon, found.lat) == (
        pytest.approx(-9.05),
        pytest.approx(-(47 + 27 / 60 + 12.5 / 3600), abs=1e-8),
    )
    assert (found.direction_deg, found.magnetic, found.position_error_m) == (214.5, True, 4.2)
    assert found.taken == "2026-05-31T10:20:30"
    assert (found.width_px, found.height_px) == (64, 48)
    assert found.digest == hashlib.sha256(content).hexdigest()
    assert log.verdict == "accepted"
    assert source.counts == {"read": 1, "kept": 1, "repaired": 0, "refused": 0}


def test_tags_behind_the_picture(tmp_path):
    content = photo(form="PNG")
    start = content.index(b"eXIf") - 4
    size = int.from_bytes(content[start : start + 4], "big") + 12
    chunk, end = content[start : start + size], content.index(b"IEND") - 4
    late = content[:start] + content[start + size : end] + chunk + content[end:]
    assert read_photos(written(tmp_path, "P1.png", late))[0][0].lon == pytest.approx(-9.05)


def test_a_sample_for_each_photo(tmp_path):
    written(tmp_path, "walk/P1.jpg", photo(_17=rational(90)))
    written(tmp_path, "walk/more/P1.jpg", photo(shade=9))
    photos, log, _ = read_photos(tmp_path / "walk")
    first, second = as_samples(photos)
    assert {first.sample_id, second.sample_id} == {"P1", "P1-2"}
    assert {one.usable for one in (first, second)} == {"unknown"}
    assert first.date == "2026-05-31"
    shown = next(one for one in (first, second) if "direction_deg" in one.fields).fields
    assert (shown["photo"], shown["direction_deg"], shown["direction_from"]) == (
        "P1.jpg",
        "90.0",
        "true north",
    )
    assert log.kept == 2


def test_the_ground_tells_which_side_of_the_globe(tmp_path):
    path = written(tmp_path, "P1.jpg", photo(sides=("", "")))
    with pytest.raises(InputRefused, match="half of the globe"):
        read_photos(path)
    photos, log, _ = read_photos(path, bounds=Bounds(-9.1, -47.5, -9.0, -47.4))
    assert (photos[0].lon < 0, photos[0].lat < 0) == (True, True)
    assert log.repaired == 1


def test_a_clock_that_runs_ahead(tmp_path):
    path = written(tmp_path, "P1.jpg", photo())
    (found,), log, _ = read_photos(path, today="2026-05-30")
    assert found.taken == ""
    assert log.issues[0].place == "photo P1.jpg"
    assert log.issues[0].field == "DateTimeOriginal"


def answer(capsys, *words, code=0):
    import json

    assert run([*map(str, words), "--json"]) == code
    return json.loads(capsys.readouterr().out)


def test_check_log_and_add(tmp_path, capsys):
    good, other = photo(), photo(shade=50)
    written(tmp_path, "walk/P1.jpg", good)
    written(tmp_path, "walk/P2.jpg", photo(lat=(97, 0, 0)))
    told = answer(capsys, "check", "photos", tmp_path / "walk")
    assert (told["verdict"], told["read"], told["kept"], told["refused"]) == ("accepted with notes", 2, 1, 1)
    assert told["problems"][0]["place"] == "photo P2.jpg"
    with zipfile.ZipFile(tmp_path / "later.zip", "w") as archive:
        archive.writestr("P3.jpg", other)
    ground = tmp_path / "ground"
    assert run(["new", str(ground)]) == 0
    capsys.readouterr()
    answer(capsys, "log", ground, tmp_path / "walk")
    answer(capsys, "add", ground, "samples", tmp_path / "later.zip")
    samples = Ground.open(ground).samples()
    assert {sample.sample_id for sample in samples} == {"P1", "P3"}
    kept = {path.name: path.read_bytes() for path in (ground / "photos").iterdir()}
    assert {sample.fields["picture"] for sample in samples} == set(kept)
    assert set(kept.values()) == {good, other}, "the pictures are kept as they are"
    told = answer(capsys, "check", "photos", written(tmp_path, "none.jpg", photo(sides=("", ""))), code=3)
    assert told["verdict"] == "refused"

"""Photos are tied to the holes and bars of a log: each read in a process of its own, kept whole, nothing twice."""

from __future__ import annotations

import io
import json
import zipfile
from dataclasses import replace

import pytest
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from prospect.cli import run
from prospect.errors import InputRefused
from prospect.pipeline.log_photos import (
    Tie,
    accepted,
    attach_photos,
    match_photos,
    new_samples,
    photo_names,
    photos_as_holes,
    read_log_photos,
)
from prospect.records import Bar, GroundSettings, Hole, LogBook
from prospect.store import ChangedMeanwhile, Ground

LON, LAT = -9.05, -47.4535


def angle(value):
    degrees, rest = divmod(abs(value) * 3600, 3600)
    return (
        IFDRational(int(degrees)),
        IFDRational(int(rest // 60)),
        IFDRational(round(rest % 60 * 10_000), 10_000),
    )


def picture(shade=0, *, north_m=None, taken="", offset="", direction=None, form="JPEG"):
    """Return a picture with tags by Pillow (CIPA DC-008: 0x9003 time, 0x9011 its offset, GPS 1–4, 16, 17, 31)."""
    exif = Image.Exif()
    exif[0x0131] = "camera 1.0"
    if taken:
        exif.get_ifd(0x8769)[0x9003] = taken
    if offset:
        exif.get_ifd(0x8769)[0x9011] = offset
    if north_m is not None:
        place = exif.get_ifd(0x8825)
        place[1], place[2] = "S", angle(LAT + north_m / 111_195)
        place[3], place[4] = "W", angle(LON)
        place[31] = IFDRational(5)
        if direction is not None:
            place[16], place[17] = "M", IFDRational(round(direction * 10), 10)
    stream = io.BytesIO()
    tags = {"exif": exif} if taken or north_m is not None else {}
    Image.new("RGB", (64, 48), (shade, 90, 60)).save(stream, form, **tags)
    return stream.getvalue()


@pytest.fixture
def ground(tmp_path):
    made = Ground.create(tmp_path / "ground", GroundSettings())
    near = {"lon": LON, "position_error_m": 5.0, "date": "2026-05-31"}
    holes = (Hole("H1", lat=LAT, **near), Hole("H2", lat=LAT + 300 / 111_195, **near))
    made.add_log(LogBook(holes=holes, bars=(Bar("B1", "H1-a"),)))
    return made


WALK = {
    "at H1.jpg": picture(1, north_m=2, taken="2026:05:31 10:00:00", offset="+02:00", direction=214.5),
    "soon after.jpg": picture(2, taken="2026:05:31 08:01:00", offset="+00:00"),
    "at H2.png": picture(3, north_m=301, taken="2026:05:31 11:00:00", form="PNG"),
    "elsewhere.jpg": picture(4, north_m=900, taken="2026:05:31 12:00:00"),
    "beside it.jpg": picture(5, north_m=902, taken="2026:05:31 12:01:00"),
    "bare.jpg": picture(6),
}


@pytest.fixture
def walk(tmp_path):
    folder = tmp_path / "walk"
    folder.mkdir()
    for name, content in WALK.items():
        (folder / name).write_bytes(content)
    return folder


def found_in(ground, origin):
    photos, _, _ = read_log_photos(ground, origin, today="2026-06-02")
    return match_photos(photos, ground.holes())


def kept(ground):
    return {path.name: path.read_bytes() for path in ground.photos_folder.iterdir()}


def names_of(ground, name):
    held = ground.on_record("hole", name)
    return photo_names(held.item)


def test_every_photo_is_read_also_without_a_position(ground, walk):
    photos, log, source = read_log_photos(ground, walk)
    assert {photo.name for photo in photos} == set(WALK)
    assert (log.verdict, log.kept, log.refused) == ("accepted", 6, 0)
    assert source.counts["read"] == 6
    by_name = {photo.name: photo for photo in photos}
    first, bare = by_name["at H1.jpg"], by_name["bare.jpg"]
    assert (first.taken, first.offset) == ("2026-05-31T10:00:00", "+02:00")
    assert (first.direction_deg, first.magnetic, first.position_error_m) == (214.5, True, 5.0)
    assert (bare.lon, bare.lat, bare.taken, bare.offset) == (None, None, "", "")


def test_a_broken_position_and_a_broken_offset_are_said(ground, tmp_path):
    path = tmp_path / "P1.jpg"
    path.write_bytes(picture(taken="2026:05:31 10:00:00", offset="two h", north_m=-60 * 111_195))
    (found,), log, _ = read_log_photos(ground, path)
    assert (found.lon, found.offset, found.taken) == (None, "", "2026-05-31T10:00:00")
    assert [(issue.field, issue.severity) for issue in log.issues] == [
        ("GPSLatitude", "warning"),
        ("OffsetTimeOriginal", "warning"),
    ]
    assert log.repaired == 1


@pytest.mark.parametrize("ending", ["HEIC", "webp", "dng"])
def test_other_forms_are_refused_in_words(ending, ground, walk, tmp_path):
    (walk / f"P9.{ending}").write_bytes(b"\x00\x00\x00\x18ftypheic")
    photos, log, _ = read_log_photos(ground, walk)
    assert (len(photos), log.read, log.refused) == (6, 7, 1)
    told = log.issues[0].sentence()
    assert f"photo P9.{ending}" in told
    assert "save it as JPEG" in told
    only = tmp_path / "only"
    only.mkdir()
    (only / f"P9.{ending}").write_bytes(b"\x00\x00\x00\x18ftypheic")
    with pytest.raises(InputRefused, match="save it as JPEG"):
        read_log_photos(ground, only)


@pytest.mark.parametrize("form", ["folder", "archive"])
def test_pictures_are_kept_and_named_and_nothing_twice(form, ground, walk, tmp_path):
    origin = walk
    if form == "archive":
        origin = tmp_path / "walk.zip"
        with zipfile.ZipFile(origin, "w") as archive:
            for name, content in WALK.items():
                archive.writestr(f"walk/{name}", content)
    matches = found_in(ground, origin)
    told = {match.photo.name: (match.hole_id, match.sure) for match in matches}
    assert told == {
        "at H1.jpg": ("H1", "sure"),
        "soon after.jpg": ("H1", "likely"),
        "at H2.png": ("H2", "sure"),
        "elsewhere.jpg": ("", "none"),
        "beside it.jpg": ("", "none"),
        "bare.jpg": ("", "none"),
    }
    before = len(ground.audit())
    done = attach_photos(ground, origin, accepted(matches))
    assert len(ground.audit()) == before + 1, "one save for all of them"
    assert (len(done.added), done.there, done.left) == (3, (), ())
    assert {kept(ground)[name] for name in names_of(ground, "H1")} == {
        WALK["at H1.jpg"],
        WALK["soon after.jpg"],
    }
    assert [kept(ground)[name] for name in names_of(ground, "H2")] == [WALK["at H2.png"]]
    assert len(kept(ground)) == 3
    again = attach_photos(ground, origin, accepted(found_in(ground, origin)))
    assert (again.added, len(again.there), again.left) == ((), 3, ())
    assert len(ground.audit()) == before + 1
    assert len(kept(ground)) == 3
    ground.undo()
    assert {len(names_of(ground, name)) for name in ("H1", "H2")} == {0}, (
        "and one step takes all of them back"
    )


def test_a_bar_holds_one_photo(ground, walk):
    photos = {match.photo.name: match.photo for match in found_in(ground, walk)}
    tie = Tie(photos["bare.jpg"], "bar", "B1")
    assert attach_photos(ground, walk, [tie]).added == (tie,)
    assert kept(ground)[ground.bars()[0].photo] == WALK["bare.jpg"]
    other = Tie(photos["at H1.jpg"], "bar", "B1")
    done = attach_photos(ground, walk, [tie, other, Tie(photos["at H1.jpg"], "hole", "H9")])
    assert done.there == (tie,)
    assert [why for _, why in done.left] == [
        "Bar B1 has another photo; take that one off first.",
        "No hole H9 is on record.",
    ]


def test_a_hole_changed_meanwhile_is_left_as_it_is(ground, walk, monkeypatch):
    matches = found_in(ground, walk)

    def changed(self, book, *, changed, origin):
        raise ChangedMeanwhile("Hole H1", changed[0].item, None)

    monkeypatch.setattr(Ground, "add_log", changed)
    done = attach_photos(ground, walk, accepted(matches))
    assert done.added == ()
    assert len(done.left) == 3
    assert names_of(ground, "H1") == ()


def test_a_picture_that_changed_is_not_taken(ground, walk):
    matches = found_in(ground, walk)
    (walk / "at H1.jpg").write_bytes(picture(99))
    with pytest.raises(InputRefused, match="another picture than was read"):
        attach_photos(ground, walk, accepted(matches))
    assert names_of(ground, "H1") == ()


def test_photos_by_no_hole_become_one_face(ground, walk):
    matches = found_in(ground, walk)
    done = photos_as_holes(ground, walk, matches, "face")
    face = ground.holes()[-1]
    assert (len(ground.holes()), face.kind, face.date, face.position_error_m) == (
        3,
        "face",
        "2026-05-31",
        5.0,
    )
    assert {kept(ground)[name] for name in photo_names(face)} == {
        WALK["elsewhere.jpg"],
        WALK["beside it.jpg"],
    }
    assert len(done.added) + len(done.there) + len(done.left) == len(WALK)
    again = photos_as_holes(ground, walk, matches, "face")
    assert (again.added, len(again.there), len(ground.holes())) == ((), 2, 3)
    assert {
        m.hole_id for m in found_in(ground, walk) if m.photo.name in ("elsewhere.jpg", "beside it.jpg")
    } == {face.hole_id}


def test_photos_by_no_hole_become_samples(ground, walk):
    loose = [match for match in found_in(ground, walk) if not match.hole_id]
    left = new_samples(ground, walk, loose)
    assert {sample.sample_id for sample in ground.samples()} == {"elsewhere", "beside it"}
    assert left == (("bare.jpg", "It has no position of its own."),)


def answer(capsys, *words, code=0):
    assert run([*map(str, words), "--json"]) == code
    return json.loads(capsys.readouterr().out)


def test_the_command_says_which_hole_and_attaches(ground, walk, capsys):
    told = answer(capsys, "log", ground.folder, walk)
    assert len(ground.samples()) == 4, "photos with a position are samples, as ever"
    assert {row["photo"]: row["how_sure"] for row in told["photos"]} == {
        "at H1.jpg": "sure",
        "soon after.jpg": "likely",
        "at H2.png": "sure",
        "bare.jpg": "none",
    }
    assert names_of(ground, "H1") == ()
    assert run(["log", str(ground.folder), str(walk), "--attach"]) == 0
    shown = capsys.readouterr()
    assert "Which hole they belong to:" in shown.out
    assert "1 min after photo at H1.jpg, which is at hole H1" in shown.out
    assert "3 photos attached." in shown.err
    assert len(names_of(ground, "H1")) == 2
    told = answer(capsys, "log", ground.folder, walk, "--attach")
    assert "Attached already: 3." in told["notes"]


def test_the_command_with_orphans_alone(ground, tmp_path, capsys):
    folder = tmp_path / "orphans"
    folder.mkdir()
    (folder / "P1.jpg").write_bytes(picture(7, taken="2026:05:30 10:00:00"))
    held = ground.on_record("hole", "H2")
    ground.edit_log(replace(held.item, date="2026-05-30"), held.revision)
    told = answer(capsys, "log", ground.folder, folder, code=3)
    assert (told["verdict"], told["photos"][0]["hole"]) == ("refused", "H2")
    told = answer(capsys, "log", ground.folder, folder, "--attach")
    assert "1 photo attached." in told["notes"]
    assert len(names_of(ground, "H2")) == 1
    assert run(["log", str(ground.folder), str(tmp_path / "x.csv"), "--attach"]) == 2
    assert "--attach is for photos" in capsys.readouterr().err

"""Every photo gets an answer: the hole it belongs to, how sure that is and why; or that nothing tells."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from prospect.records import Hole
from prospect.sources.photo_matching import (
    CLOSE_S,
    NEAR_S,
    distances_m,
    match_photos,
)
from prospect.sources.photos import Photo

LON, LAT = 9.0, 47.0
GEOD = Geod(ellps="WGS84")


def photo(name, east=None, north=0.0, taken="", **more):
    """Return a photo so many metres east and north of the middle; without `east` it has no position."""
    lon, lat = (None, None) if east is None else moved(east, north)
    return Photo(name, f"walk/{name}", (name.encode().hex() + "0" * 64)[:64], lon, lat, taken=taken, **more)


def hole(name, east, north=0.0, date="2026-05-31", **more):
    return Hole(name, *moved(east, north), date=date, **more)


def moved(east, north):
    lon, lat, _ = GEOD.fwd(LON, LAT, math.degrees(math.atan2(east, north)), math.hypot(east, north))
    return lon, lat


def at(clock, day="2026-05-31"):
    return f"{day}T{clock}"


def one(photos, holes, number=0):
    return match_photos(photos, holes)[number]


def test_distances_against_the_ellipsoid():
    """Against GeographicLib's geodesics (Karney 2013), as PROJ has them."""
    lons, lats = np.array([9.001, 10.5, -170.0, 9.0]), np.array([47.002, 45.0, -33.0, 47.0])
    exact = [GEOD.inv(LON, LAT, lon, lat)[2] for lon, lat in zip(lons, lats, strict=True)]
    assert distances_m(LON, LAT, lons, lats) == pytest.approx(exact, rel=0.006, abs=1e-6)
    across = distances_m(179.9999, 0.0, np.array([-179.9999]), np.array([0.0]))
    assert across == pytest.approx(GEOD.inv(179.9999, 0.0, -179.9999, 0.0)[2], rel=0.006)


def test_within_the_errors_of_both_and_of_the_day():
    found = one(
        [photo("P1.jpg", 4, taken=at("10:00:00"), position_error_m=5.0, direction_deg=214.5, magnetic=True)],
        [hole("H1", 0, position_error_m=5.0)],
    )
    assert (found.hole_id, found.sure, found.by) == ("H1", "sure", "place")
    assert found.distance_m == pytest.approx(4, rel=0.006)
    # ± the root of 5² + 5² + 3², by hand
    assert found.why == "4 m from hole H1, within the errors of both (± 8 m together); of the same day."
    assert (found.photo.direction_deg, found.photo.magnetic) == (214.5, True)


@pytest.mark.parametrize(
    ("east", "date", "error", "sure"),
    [
        (4, "2026-05-31", 5.0, "sure"),
        (4, "", 5.0, "likely"),
        (4, "2026-06-01", 5.0, "guess"),
        # 7.7 m are one error together; 1.62 times that holds 95 % of a round normal distribution
        (10, "2026-05-31", 5.0, "likely"),
        (14, "2026-05-31", 5.0, "none"),
        (14, "2026-05-31", None, "likely"),
        (240, "2026-05-31", 5.0, "none"),
        (4, "2026-05-31", 5_000.0, "guess"),
        (0, "2026-05-31", 0.0, "sure"),
    ],
)
def test_how_sure_a_place_is(east, date, error, sure):
    shot = photo("P1.jpg", east, taken=at("10:00:00"), position_error_m=5.0)
    found = one([shot], [hole("H1", 0, date=date, position_error_m=error)])
    assert found.sure == sure
    assert bool(found.hole_id) == (sure != "none")
    assert found.distance_m == pytest.approx(east, rel=0.006, abs=1e-6)
    assert f"{found.distance_m:.0f} m" in found.why


def test_an_error_that_holds_95_of_100():
    """Monte Carlo of the reach: of pairs with 68 % radii of 8 and 15 m, 95 % must be near (own simulation)."""
    draw = np.random.default_rng(7)
    both = math.hypot(8, 15, 3)
    spread = both / math.sqrt(-2 * math.log(0.32))
    offs = draw.normal(0, spread, (2000, 2))
    photos = [photo(f"P{n}.jpg", *off, position_error_m=8.0) for n, off in enumerate(offs)]
    near = [found.hole_id for found in match_photos(photos, [hole("H1", 0, position_error_m=15.0)])]
    assert near.count("H1") / len(near) == pytest.approx(0.95, abs=0.02)


def test_two_holes_side_by_side():
    holes = [hole("H1", 0), hole("H2", 8)]
    between = one([photo("P1.jpg", 4.2, taken=at("10:00:00"))], holes)
    assert (between.hole_id, between.sure, between.others) == ("H2", "guess", ("H1",))
    assert "near enough too: H1" in between.why
    told = one([photo("P1.jpg", 4.2, taken=at("10:00:00"))], [holes[0], hole("H2", 8, date="2026-05-30")])
    assert (told.hole_id, told.sure) == ("H1", "likely"), "the day tells two neighbours apart"
    far = one([photo("P1.jpg", 1, taken=at("10:00:00"))], [hole("H1", 0), hole("H2", 22)])
    assert (far.hole_id, far.sure) == ("H1", "likely")


def test_a_place_across_midnight():
    dug = hole("H1", 0, date="2026-05-31")
    late = one([photo("P1.jpg", 2, taken=at("00:10:00", "2026-06-01"))], [dug])
    assert late.sure == "sure"
    next_day = one([photo("P1.jpg", 2, taken=at("08:10:00", "2026-06-01"))], [dug])
    assert next_day.sure == "guess"
    assert "another day (2026-06-01, hole 2026-05-31)" in next_day.why


def test_an_orphan_takes_the_place_of_its_neighbour():
    shots = [photo("A.jpg", 2, taken=at("10:00:00")), photo("B.jpg", taken=at("10:02:00"))]
    found = one(shots, [hole("H1", 0), hole("H2", 300)], 1)
    assert (found.hole_id, found.sure, found.by, found.gap_s) == ("H1", "likely", "time", 120.0)
    assert (found.lon, found.lat) == (shots[0].lon, shots[0].lat)
    assert found.why == "Taken 2 min after photo A.jpg, which is at hole H1."


@pytest.mark.parametrize(
    ("minute", "sure", "hole_id"),
    [(0, "likely", "H1"), (4, "likely", "H1"), (9, "guess", "H1"), (20, "guess", "H1"), (14, "guess", "H1")],
)
def test_how_sure_a_time_is(minute, sure, hole_id):
    assert (CLOSE_S, NEAR_S) == (300, 900)
    shots = [photo("A.jpg", 2, taken=at("10:00:00")), photo("B.jpg", taken=at(f"10:{minute:02d}:00"))]
    found = one(shots, [hole("H1", 0)], 1)
    assert (found.hole_id, found.sure) == (hole_id, sure)
    assert found.by == ("day" if minute == 20 else "time")


def test_before_and_after_at_one_hole():
    shots = [
        photo("A.jpg", 2, taken=at("10:00:00")),
        photo("B.jpg", taken=at("10:09:00")),
        photo("C.jpg", 1, taken=at("10:20:00")),
    ]
    found = one(shots, [hole("H1", 0)], 1)
    assert (found.hole_id, found.sure) == ("H1", "likely")
    assert "before and after it are at the same hole" in found.why


def test_between_two_holes():
    holes = [hole("H1", 0), hole("H2", 300)]
    shots = [photo("A.jpg", 0, taken=at("10:00:00")), photo("C.jpg", 300, taken=at("10:04:00"))]
    middle = one([photo("B.jpg", taken=at("10:01:50")), *shots], holes)
    assert (middle.hole_id, middle.sure, middle.others) == ("H1", "guess", ("H2",))
    soon = one([photo("B.jpg", taken=at("10:00:10")), *shots], holes)
    assert (soon.hole_id, soon.sure, soon.others) == ("H1", "likely", ("H2",))


def test_orphans_across_midnight():
    shots = [photo("A.jpg", 1, taken=at("23:58:00")), photo("B.jpg", taken=at("00:01:00", "2026-06-01"))]
    found = one(shots, [hole("H1", 0, date="2026-05-31")], 1)
    assert (found.hole_id, found.sure, found.gap_s) == ("H1", "likely", 180.0)


def test_the_same_minute_and_the_same_second():
    holes = [hole("H1", 0), hole("H2", 300)]
    shots = [photo("A.jpg", 0, taken=at("10:00:05")), photo("C.jpg", 300, taken=at("10:00:05"))]
    found = one([photo("B.jpg", taken=at("10:00:05")), *shots], holes)
    assert found.sure == "guess", "two phones at two holes in the same second"
    alone = one([photo("B.jpg", taken=at("10:00:05")), shots[0]], holes)
    assert (alone.sure, alone.why) == (
        "likely",
        "Taken at the same time as photo A.jpg, which is at hole H1.",
    )


def test_clocks_of_two_time_zones():
    """10:00 at +02:00 is 08:00 at +00:00 (ISO 8601)."""
    holes = [hole("H1", 0), hole("H2", 300)]
    shots = [
        photo("A.jpg", 0, taken=at("10:00:00"), offset="+02:00"),
        photo("C.jpg", 300, taken=at("08:01:00"), offset="-01:30"),
        photo("B.jpg", taken=at("08:01:00"), offset="+00:00"),
    ]
    assert one(shots, holes, 2).hole_id == "H1"
    # Where one does not say, both clocks are taken to show the same zone.
    assert one([*shots[:2], photo("B.jpg", taken=at("08:01:00"))], holes, 2).hole_id == "H2"


def test_a_hole_that_says_its_time():
    found = one(
        [photo("B.jpg", taken=at("14:03:00"))], [hole("H1", 0, fields={"time": "14:00"}), hole("H2", 300)]
    )
    assert (found.hole_id, found.sure, found.by) == ("H1", "likely", "time")
    assert found.why == "Taken 3 min after hole H1."
    for nonsense in ("25:00", "noon", ""):
        found = one([photo("B.jpg", taken=at("14:03:00"))], [hole("H1", 0, fields={"time": nonsense})])
        assert (found.hole_id, found.by) == ("H1", "day")


def test_by_the_day_when_nothing_else_tells():
    shot = photo("B.jpg", taken=at("10:00:00"))
    assert one([shot], [hole("H1", 0), hole("H2", 9, date="2026-05-30")]).sure == "likely"
    several = one([shot], [hole("H1", 0), hole("H2", 300)])
    assert (several.hole_id, several.sure, several.others) == ("", "none", ("H1", "H2"))
    assert "2 holes are of that day: H1, H2" in several.why
    assert one([photo("B.jpg", taken="2026-05-31")], [hole("H1", 0)]).hole_id == "H1", (
        "a date without a clock"
    )
    assert "no hole is of 2026-05-31" in one([shot], [hole("H2", 9, date="2026-05-30")]).why


def test_nothing_tells():
    bare = one([photo("B.jpg")], [hole("H1", 0)])
    assert (bare.sure, bare.why) == ("none", "It says neither where nor when it was taken.")
    assert one([photo("A.jpg", 0)], []).why == "No hole is on record yet."
    shots = [photo("A.jpg", 900, taken=at("10:00:00")), photo("B.jpg", taken=at("10:00:30"))]
    lent = one(shots, [hole("H1", 0)], 1)
    assert (lent.hole_id, lent.sure, lent.lon) == ("", "none", shots[0].lon)
    assert "lies by no hole" in lent.why


def test_names_are_shown_as_plain_text():
    found = one([photo("A\u202e.jpg", 0)], [hole("H\n1\x07", 0)])
    assert all(char.isprintable() for char in found.why)


clock = st.builds("{:02d}:{:02d}:{:02d}".format, st.integers(0, 23), st.integers(0, 59), st.integers(0, 59))
moment = st.one_of(
    st.just(""),
    st.just("2026-05-31"),
    st.builds(at, clock, st.sampled_from(["2026-05-30", "2026-05-31", "2026-06-01"])),
    st.builds(at, st.sampled_from(["10:00:00", "10:00:01", "10:04:00", "23:59:00", "00:01:00"])),
)
metres = st.integers(-60, 60)
shot = st.builds(
    lambda n, east, north, taken, offset, error: photo(
        f"P{n}.jpg", east, north, taken, offset=offset if "T" in taken else "", position_error_m=error
    ),
    st.integers(0, 30),
    st.one_of(st.none(), metres),
    metres,
    moment,
    st.sampled_from(["", "+02:00", "-11:30"]),
    st.sampled_from([None, 0.0, 4.0, 3_000.0]),
)
dug = st.builds(
    lambda n, east, north, date, time, error: hole(
        f"H{n}", east, north, date, fields={"time": time} if time else {}, position_error_m=error
    ),
    st.integers(0, 30),
    metres,
    metres,
    st.sampled_from(["", "2026-05-30", "2026-05-31"]),
    st.sampled_from(["", "10:01", "23:55:00"]),
    st.sampled_from([None, 0.0, 4.0]),
)


@settings(deadline=None, max_examples=150)
@given(
    st.lists(shot, max_size=14, unique_by=lambda one: one.name),
    st.lists(dug, max_size=10, unique_by=lambda one: one.hole_id),
    st.randoms(use_true_random=False),
)
def test_no_photo_is_lost_and_order_does_not_matter(photos, holes, draw):
    found = match_photos(photos, holes)
    assert [match.photo for match in found] == photos
    names = {one.hole_id for one in holes}
    for match in found:
        assert (match.hole_id == "") == (match.sure == "none")
        assert match.hole_id in names | {""}
        assert set(match.others) <= names - {match.hole_id}
        assert match.why
        assert (match.lon is None) == (match.lat is None)
        if match.photo.lon is not None:
            assert (match.lon, match.lat) == (match.photo.lon, match.photo.lat)
    again, shuffled = draw.sample(photos, len(photos)), draw.sample(holes, len(holes))
    assert {m.photo.name: m for m in match_photos(again, shuffled)} == {m.photo.name: m for m in found}


def test_300_photos_against_300_holes(figures):
    """Known truth: photos within their errors of the hole, a third of them without a position."""
    draw = random.Random(11)
    holes, photos, truth = [], [], {}
    for number in range(300):
        name, east, north = f"H{number:03d}", 60.0 * (number % 20), 60.0 * (number // 20)
        day = f"2026-05-{1 + number // 12:02d}"
        start = 8 * 3600 + (number % 12) * 2400
        holes.append(hole(name, east, north, day, position_error_m=5.0))
        taken = start + draw.randrange(0, 60)
        clock = f"{taken // 3600:02d}:{taken // 60 % 60:02d}:{taken % 60:02d}"
        orphan = number % 3 == 2
        if orphan:  # a second photo at the hole before, three minutes after its first
            before = 8 * 3600 + ((number - 1) % 12) * 2400 + 180
            clock = f"{before // 3600:02d}:{before // 60 % 60:02d}:{before % 60:02d}"
            day = f"2026-05-{1 + (number - 1) // 12:02d}"
            name = f"H{number - 1:03d}"
        place = () if orphan else (east + draw.gauss(0, 3), north + draw.gauss(0, 3))
        photos.append(photo(f"P{number:03d}.jpg", *place, taken=at(clock, day), position_error_m=5.0))
        truth[photos[-1].name] = name
    found = match_photos(photos, holes)
    assert len(found) == 300
    taken_as_is = [match for match in found if match.sure in ("sure", "likely")]
    wrong = [match for match in taken_as_is if match.hole_id != truth[match.photo.name]]
    figures["300 photos against 300 holes"] = f"{len(taken_as_is)} sure or likely, {len(wrong)} of them wrong"
    assert not wrong
    assert len(taken_as_is) >= 280

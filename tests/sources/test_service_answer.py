"""Saved answers of GeoServices become the same shapes as their GeoJSON, holes and systems included."""

import json

import pytest
import shapely

from prospect.sources.geology import read_geologic_units

# GeoServices REST Specification 1.0, "Geometry objects": outer rings clockwise, holes counter-clockwise.
OUTER = [[-9, -47], [-9, -46], [-8, -46], [-8, -47], [-9, -47]]
HOLE = [[-8.6, -46.6], [-8.4, -46.6], [-8.4, -46.4], [-8.6, -46.4], [-8.6, -46.6]]
APART = [[-7, -47], [-7, -46.5], [-6.5, -46.5], [-6.5, -47], [-7, -47]]


def read(tmp_path, rings, system=None, **more):
    content = {"features": [{"attributes": {"unit": "a", "rocks": "clay"}, "geometry": {"rings": rings}}]}
    content["spatialReference"] = system or {"wkid": 4326}
    path = tmp_path / "answer.json"
    path.write_text(json.dumps(content | more))
    return read_geologic_units(path)


def test_holes_and_parts(tmp_path):
    units, log, _ = read(tmp_path, [OUTER, HOLE, APART])
    # by hand: 1 × 1 less 0.2 × 0.2, and 0.5 × 0.5
    assert units.geometry.area[0] == pytest.approx(1 - 0.04 + 0.25)
    assert not units.geometry[0].contains(shapely.Point(-8.5, -46.5))
    assert (units["rocks"][0], log.kept) == ("clay", 1)


def test_a_hole_in_nothing_is_ground(tmp_path):
    units, _, _ = read(tmp_path, [OUTER, APART[::-1]])
    assert units.geometry.area[0] == pytest.approx(1.25)


@pytest.mark.parametrize(
    ("system", "epsg"), [({"wkid": 102100, "latestWkid": 3857}, 3857), ({"wkid": 32729}, 32729)]
)
def test_systems(tmp_path, system, epsg):
    rings = [[[500_000, 4_700_000], [500_000, 4_701_000], [501_000, 4_701_000], [500_000, 4_700_000]]]
    assert read(tmp_path, rings, system)[0].crs.to_epsg() == epsg


def test_a_part_of_the_features_is_said(tmp_path):
    _, log, _ = read(tmp_path, [OUTER], exceededTransferLimit=True)
    assert any("part of the features" in issue.value for issue in log.issues)
    assert log.kept == 1

"""The parts that make the invented ground: its place, its soils' figures, its polygons, its water."""

import importlib
import importlib.util
import sys

import numpy as np
import pytest
import shapely
from pyproj import CRS, Geod

from prospect.definitions import demo_folder

GEOD = Geod(ellps="WGS84")

# The three islets nearest to the oceanic pole of inaccessibility, as published for it: Ducie, Motu Nui and Maher.
NEAREST_LAND = {"Ducie": (-124.783, -24.667), "Motu Nui": (-109.450, -27.200), "Maher": (-126.333, -72.967)}

# Current choices of the drainage class (NRCS NASIS domain "drainagecl").
DRAINAGE = {
    "Excessively drained",
    "Somewhat excessively drained",
    "Well drained",
    "Moderately well drained",
    "Somewhat poorly drained",
    "Poorly drained",
    "Very poorly drained",
}

# Terms of the geologic material list of GeMS (USGS Techniques and Methods 11-B10, appendix 1) that the map uses.
MATERIALS = {
    "Alluvial sediment",
    "Alluvial sediment, mostly coarse-grained",
    "Alluvial sediment, mostly fine-grained",
    "Lacustrine sediment, mostly fine-grained",
    "Mudstone",
    "Mostly mudstone",
    "Sandstone",
    "Limestone",
    "Coal and lignite",
    "Volcaniclastic (fragmental) material",
    "Coarse-grained, felsic-composition intrusive igneous rock",
    "Fine-grained, mafic-composition intrusive igneous rock",
    "Schist and gneiss, of sedimentary-rock origin",
}


@pytest.fixture(scope="module")
def part():
    home = demo_folder()
    if "claywalk_demo" not in sys.modules:
        spec = importlib.util.spec_from_file_location(
            "claywalk_demo", home / "__init__.py", submodule_search_locations=[str(home)]
        )
        package = importlib.util.module_from_spec(spec)
        sys.modules["claywalk_demo"] = package
        spec.loader.exec_module(package)
    return lambda name: importlib.import_module(f"claywalk_demo.{name}")


def test_the_place_is_open_ocean_far_from_any_land(part):
    frame = part("frame")
    for lon, lat in NEAREST_LAND.values():
        away_m = GEOD.inv(frame.CENTRE_LON, frame.CENTRE_LAT, lon, lat)[2]
        assert away_m > 2_400_000


def test_the_metric_crs_is_that_of_the_place(part):
    frame = part("frame")
    area = CRS(frame.PROJECTED).area_of_use
    assert area.west <= frame.CENTRE_LON <= area.east
    assert area.south <= frame.CENTRE_LAT <= area.north


def test_the_lengths_of_a_degree_agree_with_a_geodesy_library(part):
    frame = part("frame")
    lon, lat = frame.CENTRE_LON, frame.CENTRE_LAT
    assert GEOD.inv(lon, lat - 0.05, lon, lat + 0.05)[2] * 10 == pytest.approx(frame.METRES_PER_LAT, rel=1e-4)
    assert GEOD.inv(lon - 0.05, lat, lon + 0.05, lat)[2] * 10 == pytest.approx(frame.METRES_PER_LON, rel=1e-4)


def test_every_pit_adds_up_and_its_layers_follow_each_other(part):
    for series in part("soil_series").SERIES:
        assert series.drainage in DRAINAGE
        bottoms = [0]
        for name, top, bottom, sand, clay, *_ in series.layers:
            assert top == bottoms[-1] < bottom
            bottoms.append(bottom)
            assert sand + clay <= 100
            assert (sand + clay > 0) == (name not in {"Cr", "R"})


def test_every_map_unit_holds_known_soils_in_falling_shares(part):
    series = {s.name for s in part("soil_series").SERIES}
    for unit in part("soil_units").SOIL_UNITS:
        shares = [share for _, share, _ in unit.components]
        assert sum(shares) <= 100
        assert shares == sorted(shares, reverse=True)
        assert len(unit.symbol) <= 6
        others = {name for name, _, _ in unit.components} - series
        assert others <= {"Rock outcrop", "Water", "NOTCOM"}


def test_every_soil_has_a_worth_and_the_rock_legend_uses_open_terms(part):
    assert {u.symbol for u in part("soil_units").SOIL_UNITS} == set(part("finds").WORTH)
    legend = part("legend")
    units = (*legend.BEDROCK, *legend.COVER)
    assert len({u.unit for u in units}) == len(units)
    assert {u.material for u in units} <= MATERIALS


def test_polygons_fill_the_frame_without_gap_or_overlap(part):
    frame = part("frame").Frame(rows=64, cols=80, margin=16)
    field = part("noise").noise(np.random.default_rng(3), frame.shape, 24, 3)
    classes = np.digitize(field, [-0.6, 0.1, 0.9]).astype(np.int32)
    table = part("shapes").polygons(frame, classes, 12)
    t = frame.transform
    box = shapely.box(t.c, t.f + frame.rows * t.e, t.c + frame.cols * t.a, t.f)
    assert table.is_valid.all()
    assert set(table["code"]) == {0, 1, 2, 3}
    together = shapely.union_all(table.geometry.values)
    assert together.area == pytest.approx(table.area.sum(), rel=1e-9)
    # Positions are rounded to 1e-7 degrees, a thousandth of a cell.
    assert together.area == pytest.approx(box.area, rel=1e-4)


def test_polygons_keep_the_class_of_the_cells_inside_them(part):
    frame = part("frame").Frame(rows=64, cols=64, margin=16)
    classes = np.zeros(frame.shape, dtype=np.int32)
    classes[40:60, 40:70] = 5
    table = part("shapes").polygons(frame, classes, 4)
    inner = table[table["code"] == 5].geometry.iloc[0]
    lon, lat = frame.transform * (55 - 16 + 0.5, 50 - 16 + 0.5)
    assert inner.contains(shapely.Point(lon, lat))
    cells = inner.area / abs(frame.transform.a * frame.transform.e)
    assert cells == pytest.approx(600, rel=0.05)


def test_filled_ground_runs_out_over_the_drain_from_everywhere(part):
    drainage = part("drainage")
    height = part("noise").noise(np.random.default_rng(5), (60, 70), 20, 3) * 10
    drain = np.zeros(height.shape, dtype=bool)
    drain[:, 0] = True
    filled = drainage.fill(height, drain)
    assert (filled >= height).all()
    receiver, _ = drainage.receivers(filled, drain)
    rows, cols = np.divmod(np.flatnonzero(receiver == np.arange(receiver.size)), 70)
    at_edge = (rows == 0) | (rows == 59) | (cols == 0) | (cols == 69)
    assert at_edge.all()


def test_what_gathers_is_what_falls(part):
    drainage = part("drainage")
    height = np.add.outer(np.zeros(5), np.arange(6.0))
    fixed = np.zeros(height.shape, dtype=bool)
    fixed[:, 0] = True
    receiver, _ = drainage.receivers(height, fixed)
    area = drainage.gather(receiver, drainage.levels(receiver), np.ones(30))
    assert area.reshape(5, 6)[:, 0].sum() == 30


def test_distance_to_a_straight_path_is_the_perpendicular(part):
    near = part("lines").nearness(np.array([[10.0, 0.0], [10.0, 40.0]]), (30, 41), 8)
    assert near.distance[15, 20] == pytest.approx(5)
    assert near.along[4, 33] == pytest.approx(33)
    assert np.isinf(near.distance[25, 20])
    assert near.side[5, 20] == -near.side[15, 20]

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, box

from prospect.errors import NothingToWorkWith, WrongUsage
from prospect.grid import Grid, Raster
from prospect.layerfile import LayerSource
from prospect.share import Audience, for_audience
from prospect.share.audience import block_side, blurred, blurred_shape, clipped, relief_within_blocks
from prospect.share.provenance import words_without_files


@pytest.mark.parametrize("text", ["self", "helper", "public", "owner:A-01", " public "])
def test_audiences_that_there_are(text):
    assert Audience.named(text).role == text.strip().partition(":")[0]


@pytest.mark.parametrize("text", ["", "owner", "owner:", "self:1", "everyone", "Public", "public:all"])
def test_audiences_that_there_are_not(text):
    with pytest.raises(WrongUsage):
        Audience.named(text)


def test_the_default_audience_is_the_public():
    assert Audience().role == "public"


def test_self_and_helper_see_everything(ground):
    for role in ("self", "helper"):
        allowed, left_out = for_audience(ground, Audience(role))
        assert allowed is ground
        assert left_out == ()


def test_the_public_sees_no_people_no_samples_and_no_exact_place(ground):
    allowed, left_out = for_audience(ground, Audience("public"))
    assert allowed.parcels is None
    assert allowed.samples == ()
    assert all(not site.parcels and not site.permission and not site.cautions for site in allowed.sites)
    for site, exact in zip(allowed.sites, ground.sites, strict=True):
        assert (site.easting, site.northing) != (exact.easting, exact.northing)
        assert site.easting % 250 == 125
        assert site.northing % 250 == 125
    for report in allowed.readings.values():
        assert (report.lon, report.lat, report.easting, report.northing) == (0, 0, 0, 0)
        assert report.sentence == ""
        assert report.land.parcels == report.land.reasons == ()
    assert any("1 sample" in sentence for sentence in left_out)
    assert any("250 m" in sentence for sentence in left_out)


def test_public_shapes_hold_the_real_ones_and_are_whole_squares(ground):
    allowed, _ = for_audience(ground, Audience("public"))
    for public, exact in zip(allowed.outlines.geometry, ground.outlines.geometry, strict=True):
        assert public.covers(exact)
        assert public.area / 250**2 == pytest.approx(round(public.area / 250**2))
        assert all(corner % 250 == 0 for corner in public.bounds)


def test_the_public_raster_cannot_be_read_by_the_cell(ground):
    allowed, _ = for_audience(ground, Audience("public"))
    assert allowed.best.grid.cell_m == 250
    assert all(raster.grid.cell_m == 250 for raster in allowed.favourability.values())
    assert allowed.completeness.grid.cell_m == 250


def test_an_owner_sees_their_parcel_and_nothing_beyond(ground):
    allowed, left_out = for_audience(ground, Audience("owner", "A-01"))
    parcel = ground.parcels.geometry.iloc[0]
    assert [site.site for site in allowed.sites] == [1, 2]
    assert all(parcel.covers(shape) for shape in allowed.outlines.geometry)
    assert all(parcel.covers(Point(site.easting, site.northing)) for site in allowed.sites)
    assert all(site.parcels == ("A-01",) for site in allowed.sites)
    assert allowed.sites[1].area_ha == pytest.approx(90 * 180 / 1e4)
    assert list(allowed.parcels.columns) == ["parcel_id", "geometry"]
    assert allowed.samples == ()
    assert allowed.grid.bounds.east <= parcel.bounds[2] + 25
    assert any("1 sites that lie elsewhere" in text or "1 site" in text for text in left_out)


def test_nothing_known_beyond_the_line_is_in_the_owners_rasters(ground):
    allowed, _ = for_audience(ground, Audience("owner", "B-02"))
    for raster in (allowed.best, allowed.completeness, *allowed.favourability.values()):
        east = raster.grid.eastings()
        assert np.isnan(raster.values[:, east < ground.parcels.geometry.iloc[1].bounds[0]]).all()


def test_an_owner_without_a_parcel_is_told(ground):
    with pytest.raises(NothingToWorkWith, match="no parcel 'Z-99'"):
        for_audience(ground, Audience("owner", "Z-99"))
    with pytest.raises(NothingToWorkWith, match="parcels"):
        for_audience(replace(ground, parcels=None), Audience("owner", "A-01"))


def test_a_ground_without_sites_is_still_cut(ground):
    bare = replace(ground, sites=(), outlines=ground.outlines.iloc[:0], readings={})
    for audience in (Audience("public"), Audience("owner", "A-01")):
        allowed, _ = for_audience(bare, audience)
        assert allowed.sites == ()
        assert len(allowed.outlines) == 0


@given(
    st.integers(1, 40),
    st.integers(1, 40),
    st.sampled_from([2.0, 10.0, 30.0, 100.0, 400.0]),
    st.integers(0, 9999),
)
@settings(max_examples=40, deadline=None)
def test_blurring_keeps_the_mean_and_never_invents(rows, cols, cell, seed):
    grid = Grid(rows, cols, 1000.0 + seed, 9000.0 - seed, cell, "EPSG:32633")
    values = np.random.default_rng(seed).random(grid.shape)
    values[np.random.default_rng(seed + 1).random(grid.shape) < 0.3] = np.nan
    coarse = blurred(Raster.of(values, grid, "1", ""))
    assert coarse.grid.cell_m == block_side(grid) >= 250 or coarse.grid.cell_m >= 250
    known = coarse.values[~coarse.mask]
    if known.size:
        assert known.min() >= np.nanmin(values) - 1e-6
        assert known.max() <= np.nanmax(values) + 1e-6


def test_a_square_mostly_unknown_is_unknown():
    grid = Grid(10, 10, 0.0, 250.0, 25.0, "EPSG:32633")
    values = np.full(grid.shape, np.nan)
    values[:4] = 1.0
    assert np.isnan(blurred(Raster.of(values, grid, "1", "")).values).all()
    values[:5] = 1.0
    assert blurred(Raster.of(values, grid, "1", "")).values.tolist() == [[1.0]]


def test_a_shape_on_the_line_of_two_squares_takes_only_what_it_covers():
    assert blurred_shape(box(0, 0, 250, 10)).bounds == (0, 0, 250, 250)
    assert blurred_shape(box(-1, 0, 250, 10)).bounds == (-250, 0, 250, 250)


def test_a_parcel_smaller_than_a_cell_is_still_one_cell(ground):
    tiny = clipped(ground.best, box(500_800, 4_999_200, 500_801, 4_999_201))
    assert tiny.grid.shape == (1, 1)


def test_public_relief_tells_neither_small_forms_nor_the_edges_of_the_ground():
    grid = Grid(200, 200, 500_110.0, 5_000_130.0, 5.0, "EPSG:32633")
    shade = Raster.of(np.random.default_rng(3).uniform(0, 255, grid.shape), grid, "0-255", "flight.tif")
    relief = relief_within_blocks(shade)
    assert relief.grid.cell_m == 30
    west, south, east, north = relief.grid.bounds
    assert 500_250 <= west < 500_280
    assert 501_000 - 30 < east <= 501_000
    assert 4_999_250 <= south < 4_999_280
    assert 5_000_000 - 30 < north <= 5_000_000
    assert (
        relief.values.std() < 0.3 * shade.values.std()
    )  # the mean of 36 even numbers varies a sixth as much
    assert relief_within_blocks(shade.window(0, 20, 0, 20)) is None


def test_a_neighbours_answer_is_not_in_an_owners_copy(ground):
    said = replace(ground, sites=tuple(replace(site, permission="refused") for site in ground.sites))
    allowed, _ = for_audience(said, Audience("owner", "A-01"))
    assert [(site.site, site.permission) for site in allowed.sites] == [(1, "refused"), (2, "")]


def test_the_public_ground_has_the_grid_of_its_squares(ground):
    allowed, _ = for_audience(ground, Audience())
    assert allowed.grid == allowed.best.grid
    assert all(edge % 250 == 0 for edge in allowed.grid.bounds)
    assert ground.name not in (allowed.name, for_audience(ground, Audience("owner", "A-01"))[0].name)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("soil, 2019", "soil layer, 2019"),
        ("Mottram's farm.tif", "elevation layer"),
        ("soil, 2019; Mottram's farm.tif", "soil layer, 2019; elevation layer"),
        ("soil, 2019, routed over Mottram's farm.tif", "soil layer, 2019, routed over elevation layer"),
        ("your setting", "your setting"),
        ("", ""),
        ("soil, 2019; an older Mottram file.tif", ""),
    ],
)
def test_sources_of_readings_name_the_layer_instead_of_its_file(text, words):
    layers = (
        LayerSource("soil", "soil", "", vintage="2019"),
        LayerSource("elevation", "Mottram's farm.tif", ""),
    )
    assert words_without_files(text, layers) == words

"""What a ground keeps of a file: its area, its joins, its replacements, and nothing of a file from elsewhere."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio

from prospect.errors import InputRefused, NothingToWorkWith, WrongUsage
from prospect.layerfile import read_raster_layer, read_source, read_vector_layer
from prospect.pipeline import Wording, add_layer, area_from_lonlat, ground_grid, remove_layer
from prospect.records import GroundSettings
from prospect.store import Ground
from prospect.types import Bounds

Files = dict[str, Path]
TODAY = "2026-11-25"


@pytest.fixture
def ground(tmp_path: Path) -> Ground:
    return Ground.create(tmp_path / "ground", GroundSettings())


def add(ground: Ground, files: Files, kind: str, **options: bool) -> tuple[str, ...]:
    return add_layer(ground, kind, files[kind], Wording(), today=TODAY, **options).notes


def test_a_ground_without_an_area_says_what_to_do(ground: Ground) -> None:
    with pytest.raises(NothingToWorkWith, match="claywalk add"):
        ground_grid(ground)


def test_the_first_layer_sets_the_area_and_elevation_takes_over(ground: Ground, small_files: Files) -> None:
    add(ground, small_files, "geology")
    assert ground.settings.area_set_by == "geology"
    assert ground_grid(ground).cell_m == 25.0
    add(ground, small_files, "elevation")
    assert ground.settings.area_set_by == "elevation"
    grid = ground_grid(ground)
    assert (grid.cell_m, grid.rows, grid.cols, grid.crs) == (20.0, 150, 120, "EPSG:32709")


def test_an_area_given_by_hand_stays_and_crops(tmp_path: Path, small_files: Files) -> None:
    ground = Ground.create(tmp_path / "cropped", GroundSettings())
    crs, box = area_from_lonlat(Bounds(-128.995, -47.532, -128.985, -47.522))
    ground.change_settings(
        crs=crs, west=box.west, south=box.south, east=box.east, north=box.north, area_set_by="you"
    )
    add(ground, small_files, "elevation")
    grid = ground_grid(ground)
    assert ground.settings.area_set_by == "you"
    assert grid.bounds.west == pytest.approx(box.west, abs=20)
    assert grid.bounds.east == pytest.approx(box.east, abs=20)
    assert np.isfinite(read_raster_layer(ground.layers_folder, "elevation").values).all()


def test_the_same_shapes_twice_are_taken_once(ground: Ground, small_files: Files) -> None:
    add(ground, small_files, "elevation")
    add(ground, small_files, "parcels")
    notes = add(ground, small_files, "parcels")
    assert "4 shapes were there already and were not taken twice." in notes
    assert len(read_vector_layer(ground.layers_folder, "parcels")) == 4


def test_replace_puts_the_new_in_place_of_the_old(ground: Ground, small_files: Files) -> None:
    add(ground, small_files, "geology")
    add(ground, small_files, "geology", replace_layer=True)
    assert len(read_vector_layer(ground.layers_folder, "geology")) == 3
    source = read_source(ground.layers_folder, "geology")
    assert (source.imported, source.counts["read"]) == (TODAY, 3)


def test_a_file_from_elsewhere_leaves_the_ground_as_it_was(ground: Ground, small_files: Files) -> None:
    crs, box = area_from_lonlat(Bounds(10.0, 50.0, 10.1, 50.1))
    ground.change_settings(
        crs=crs, west=box.west, south=box.south, east=box.east, north=box.north, area_set_by="you"
    )
    before = ground.audit()
    for kind in ("elevation", "geology", "parcels"):
        with pytest.raises(InputRefused) as refused:
            add(ground, small_files, kind)
        log = refused.value.log
        assert log is not None
        assert log.verdict == "refused"
        assert log.issues
    assert ground.layers() == ()
    assert ground.audit() == before


def test_every_import_is_on_record(ground: Ground, small_files: Files) -> None:
    add(ground, small_files, "elevation")
    add(ground, small_files, "samples")
    remove_layer(ground, "elevation")
    actions = [change.action for change in ground.audit()]
    assert actions == ["new", "set", "add layer", "add samples", "remove layer"]


def test_records_are_never_removed_as_a_layer(ground: Ground) -> None:
    with pytest.raises(WrongUsage, match="your records"):
        remove_layer(ground, "samples")


def test_a_tile_from_far_away_is_not_joined(ground: Ground, small_files: Files, tmp_path: Path) -> None:
    add(ground, small_files, "elevation")
    far = tmp_path / "far.tif"
    with rasterio.open(small_files["elevation"]) as source:
        profile = source.profile | {"crs": "EPSG:32611"}
        with rasterio.open(far, "w", **profile) as target:
            target.write(source.read())
    with pytest.raises(InputRefused, match="does not touch"):
        add_layer(ground, "elevation", far, Wording(), today=TODAY)
    assert ground_grid(ground).shape == (150, 120)


def test_a_system_used_elsewhere_is_refused() -> None:
    # EPSG:32760 is the zone of 174° to 180° E south of the equator.
    with pytest.raises(WrongUsage, match="not used there"):
        area_from_lonlat(Bounds(-9.1, -47.1, -9.0, -47.0), "EPSG:32760")
    assert area_from_lonlat(Bounds(-9.1, -47.1, -9.0, -47.0), "EPSG:32729")[0] == "EPSG:32729"

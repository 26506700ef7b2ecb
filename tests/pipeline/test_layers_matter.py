"""Shuffling any input layer changes the ranking: nothing in the score is there for show."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from prospect.cli import run
from prospect.grid import Raster
from prospect.layerfile import read_raster_layer, read_source, read_table, read_vector_layer, write_layer
from prospect.pipeline import find_sites, score
from prospect.store import Ground

pytestmark = pytest.mark.slow


def shuffle(ground: Ground, layer: str) -> None:
    """Turn elevation and drawn lines upside down; deal the names of a map's shapes out anew among them."""
    folder, rng = ground.layers_folder, np.random.default_rng(11)
    source = read_source(folder, layer)
    if layer == "elevation":
        raster = read_raster_layer(folder, layer)
        turned = Raster.of(raster.values[::-1], raster.grid, raster.unit, raster.source)
        write_layer(folder, layer, turned, source)
        return
    shapes = read_vector_layer(folder, layer)
    if layer in ("water", "structures"):
        middle = read_raster_layer(folder, "elevation").grid.xy(500, 500)
        shapes.geometry = shapes.geometry.scale(1, -1, origin=middle)
        write_layer(folder, layer, shapes, source)
        return
    words = [name for name in shapes.columns if name != "geometry"]
    shapes[words] = shapes[words].to_numpy()[rng.permutation(len(shapes))]
    tables = {"components": read_table(folder, layer, "components")} if layer == "soil" else {}
    write_layer(folder, layer, shapes, source, tables)


def ranking(ground: Ground) -> tuple[list[tuple[float, float, str]], np.ndarray]:
    scored = score(ground)
    sites, _ = find_sites(ground, scored, top=20)
    return [(site.easting, site.northing, site.deposit) for site in sites], scored.best.values


def assert_ranking_follows(original: Path, layer: str, tmp_path: Path, least_moved: float = 0.05) -> None:
    copy = tmp_path / "shuffled"
    shutil.copytree(original, copy, ignore=shutil.ignore_patterns("derived", "shared", "originals"))
    before, values = ranking(Ground.open(original))
    shuffle(Ground.open(copy), layer)
    after, shuffled = ranking(Ground.open(copy))
    assert before, "a ranking to begin with"
    assert before != after
    both = np.isfinite(values) & np.isfinite(shuffled)
    changed = np.abs(values[both] - shuffled[both]) > 0.02
    assert changed.mean() > least_moved, f"shuffling {layer} moved {changed.mean():.1%} of the cells"


@pytest.mark.parametrize("layer", ["elevation", "geology", "soil"])
def test_the_demo_follows_each_of_its_layers(demo_ground: Path, layer: str, tmp_path: Path) -> None:
    assert_ranking_follows(demo_ground, layer, tmp_path)


@pytest.mark.parametrize("layer", ["water", "structures"])
def test_the_demo_follows_its_lines(demo_ground: Path, layer: str, tmp_path: Path) -> None:
    """Lines speak for the ground beside them only, so less of it moves."""
    assert_ranking_follows(demo_ground, layer, tmp_path, least_moved=0.002)


@pytest.fixture(scope="module")
def hamersley(real_data: Callable[[str], Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    data = real_data("hamersley-map2loop")
    folder = tmp_path_factory.mktemp("grounds") / "hamersley"
    assert run(["new", str(folder)]) == 0
    assert run(["add", str(folder), "elevation", str(data / "dtm_rp.tif")]) == 0
    assert run(["add", str(folder), "geology", str(data / "geology.geojson")]) == 0
    return folder


@pytest.mark.parametrize("layer", ["elevation", "geology"])
def test_a_real_ground_follows_each_of_its_layers(hamersley: Path, layer: str, tmp_path: Path) -> None:
    assert_ranking_follows(hamersley, layer, tmp_path)

"""The whole job on real open data: what comes out must make geological sense."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from prospect.cli import run
from prospect.layerfile import read_source, read_table, read_vector_layer
from prospect.pipeline import build_landscape, score
from prospect.store import Ground

pytestmark = pytest.mark.slow

RealData = Callable[[str], Path]


def leading_share(ground: Ground) -> dict[str, float]:
    scored = score(ground)
    return {key: float(np.mean(scored.best_deposit == number)) for number, key in enumerate(scored.keys)}


def test_an_alluvial_soil_survey_says_water_laid_clay(real_data: RealData, tmp_path: Path) -> None:
    """SSURGO, survey area AR017 (Chicot County, Arkansas): its map unit names and parent materials say alluvium."""
    data = real_data("ssurgo-ar017-chicot")
    assert run(["new", str(tmp_path / "g")]) == 0
    assert run(["add", str(tmp_path / "g"), "soil", str(data)]) == 0
    ground = Ground.open(tmp_path / "g")
    counts = read_source(ground.layers_folder, "soil").counts
    assert (counts["read"], counts["kept"], counts["repaired"], counts["refused"]) == (2546, 2545, 1, 0)
    shapes = read_vector_layer(ground.layers_folder, "soil")
    components = read_table(ground.layers_folder, "soil", "components")
    assert len(shapes) == 2546
    assert shapes["mukey"].nunique() == 41
    assert set(shapes["mukey"]) <= set(components["mukey"])
    share = leading_share(ground)
    for nowhere in ("residual", "altered_ash", "mudrock", "coastal_plain"):
        assert share[nowhere] == 0.0
    water_laid = share["valley_fill"] + share["lake_bed"] + share["clay_subsoil"]
    assert water_laid > 0.5
    assert max(share, key=lambda key: share[key]) in ("valley_fill", "clay_subsoil")


def test_a_rock_map_alone_speaks_with_its_low_completeness(
    real_data: RealData, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Antikythera (CC BY 3.0, Bevan): limestone, flysch and marl; nothing there is a good residual clay rock."""
    data = real_data("geology-saa2017") / "geology.shp"
    ground = str(tmp_path / "g")
    assert run(["new", ground]) == 0
    assert run(["add", ground, "geology", str(data), "--map", "rocks=Type"]) == 0
    capsys.readouterr()
    assert run(["rocks", ground, "--json"]) == 0
    readings = {row["unit"]: row["read_as"] for row in json.loads(capsys.readouterr().out)["rocks"]}
    assert len(readings) == 8
    assert "sandstone" in readings["Flysch"]
    assert "mudstone" in readings["Flysch"]
    assert "marl" in readings["Marls,Sandstones,Conglomerates"]
    scored = score(Ground.open(Path(ground)))
    assert np.nanmax(scored.best.values) <= 0.5
    known = scored.completeness.values[np.isfinite(scored.best.values)]
    assert known.min() >= 0.3
    assert known.max() < 0.7


def test_gneiss_leads_and_banded_iron_does_not(real_data: RealData, tmp_path: Path) -> None:
    """Hamersley, Western Australia: residual clay wants metagranite (common practice, no source)."""
    data = real_data("hamersley-map2loop")
    ground = str(tmp_path / "g")
    assert run(["new", ground]) == 0
    assert run(["add", ground, "elevation", str(data / "dtm_rp.tif")]) == 0
    assert run(["add", ground, "geology", str(data / "geology.geojson")]) == 0
    assert run(["add", ground, "structures", str(data / "faults.geojson")]) == 0
    scored = score(Ground.open(Path(ground)))
    geology = build_landscape(Ground.open(Path(ground))).factors.geology
    assert geology is not None
    residual = scored.favourability["residual"].values
    mean = {
        unit: float(np.nanmean(residual[geology.codes == code]))
        for code, unit in enumerate(geology.table["unit"])
        if np.isfinite(residual[geology.codes == code]).any()
    }
    assert max(mean, key=lambda unit: mean[unit]) == "A-mgn-PRK"
    assert mean["P_-HAb-cib"] < 0.2
    assert run(["share", ground, "--to", str(tmp_path / "map.html")]) == 0
    assert (tmp_path / "map.html").stat().st_size > 100_000

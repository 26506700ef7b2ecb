"""A score is kept, found again, and made anew when what was kept is gone, damaged or out of date."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import numpy as np
import pytest

from prospect.errors import WrongUsage
from prospect.pipeline import choose, find_sites, score
from prospect.store import Ground


@pytest.fixture
def ground(small_ground: Path, tmp_path: Path) -> Ground:
    shutil.copytree(small_ground, tmp_path / "copy", ignore=shutil.ignore_patterns("derived"))
    return Ground.open(tmp_path / "copy")


def folders(ground: Ground) -> list[str]:
    return sorted(path.name for path in ground.derived_folder.glob("*score-*"))


def test_the_second_run_reads_what_the_first_one_kept(ground: Ground) -> None:
    first = score(ground)
    stamps = {path: path.stat().st_mtime_ns for path in ground.derived_folder.rglob("*.tif")}
    second = score(ground)
    assert {path: path.stat().st_mtime_ns for path in ground.derived_folder.rglob("*.tif")} == stamps
    assert first.revision == second.revision
    np.testing.assert_array_equal(first.best.values, second.best.values)
    np.testing.assert_array_equal(first.best_deposit, second.best_deposit)
    np.testing.assert_array_equal(first.completeness.values, second.completeness.values)


@pytest.mark.parametrize("harm", ["deleted", "cut short", "emptied"])
def test_a_harmed_raster_is_made_anew(ground: Ground, harm: str) -> None:
    whole = score(ground).best.values
    (path,) = ground.derived_folder.rglob("favourability-residual.tif")
    if harm == "deleted":
        path.unlink()
    else:
        path.write_bytes(path.read_bytes()[: 300 if harm == "cut short" else 0])
    np.testing.assert_array_equal(score(ground).best.values, whole)
    assert path.stat().st_size > 300


def test_a_changed_setting_makes_a_new_score_and_clears_the_old(ground: Ground) -> None:
    before = score(ground)
    ground.change_settings(mean_annual_rain_mm=1200.0)
    (ground.derived_folder / f".score-{choose(ground).key[:8]}-killed.x").mkdir()
    after = score(ground)
    assert before.revision != after.revision
    assert len(folders(ground)) == 1


def test_each_purpose_has_a_score_of_its_own(ground: Ground) -> None:
    score(ground)
    score(ground, choose(ground, purpose="white"))
    assert len(folders(ground)) == 2


def test_deleting_everything_derived_loses_nothing(ground: Ground) -> None:
    before = score(ground).best.values
    shutil.rmtree(ground.derived_folder)
    np.testing.assert_array_equal(score(ground).best.values, before)


def test_sites_of_one_deposit_lie_only_where_it_can_say(ground: Ground) -> None:
    scored = score(ground)
    sites, outlines = find_sites(ground, scored, deposit="residual", top=5, min_area_ha=1.0)
    assert sites
    assert [site.site for site in sites] == outlines["site"].tolist() == list(range(1, len(sites) + 1))
    for site, outline in zip(sites, outlines.geometry, strict=True):
        assert site.deposit == "residual"
        assert site.area_ha >= 1.0
        assert outline.area / 10_000 == pytest.approx(site.area_ha)
        assert not scored.favourability["residual"].mask[scored.grid.rowcol(site.easting, site.northing)]
    with pytest.raises(WrongUsage, match="no deposit model"):
        find_sites(ground, scored, deposit="gold")


def test_a_large_ground_stays_on_disk_and_scores_the_same(
    ground: Ground, monkeypatch: pytest.MonkeyPatch
) -> None:
    in_memory = score(ground)
    shutil.rmtree(ground.derived_folder)
    monkeypatch.setattr(sys.modules[choose.__module__], "LARGE_CELLS", 1)
    for scored in (score(ground), score(ground)):
        for key, raster in in_memory.favourability.items():
            np.testing.assert_array_equal(scored.favourability[key].values, raster.values)
            np.testing.assert_array_equal(scored.favourability[key].mask, raster.mask)
        np.testing.assert_array_equal(scored.best.values, in_memory.best.values)
        np.testing.assert_array_equal(scored.best_deposit, in_memory.best_deposit)
        np.testing.assert_array_equal(scored.completeness.values, in_memory.completeness.values)
        assert scored.summary() == in_memory.summary()
        assert scored.missing == in_memory.missing
    for path in ground.derived_folder.rglob("*.npy"):
        path.unlink()
    np.testing.assert_array_equal(score(ground).best.values, in_memory.best.values)
    ground.change_settings(mean_annual_rain_mm=1200.0)
    score(ground)
    assert len(folders(ground)) == 2

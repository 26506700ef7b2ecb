"""Layers of clay and smallest map areas against worked figures, and a whole real survey against its own tables."""

from __future__ import annotations

import csv
import io
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from prospect.clay.profile import best_layer, depth_weighted_mean
from prospect.sources.soil_survey import minimum_delineation_ha, read_soil_survey

# Horizons 0-20, 20-60, 60-110 and 110-150 cm; the figures below are a computed check, worked by hand.
TOPS, BOTTOMS, CLAY = [0, 20, 60, 110], [20, 60, 110, 150], [18, 45, 52, 38]


def test_plain_mean_of_a_window() -> None:
    # (35 * 45 + 50 * 52 + 15 * 38) / 100
    assert depth_weighted_mean(TOPS, BOTTOMS, CLAY, 25, 125) == pytest.approx(47.45, abs=1e-9)


def test_best_layer_of_the_same_profile() -> None:
    layer = best_layer(TOPS, BOTTOMS, CLAY)
    assert layer is not None
    assert (layer.top_cm, layer.bottom_cm) == (60, 110)
    assert layer.clay_pct == pytest.approx(52.0, abs=1e-9)


@pytest.mark.parametrize(("scale", "hectares"), [(24_000, 2.304), (12_000, 0.576), (20_000, 1.6)])
def test_smallest_area_a_soil_map_draws(scale: float, hectares: float) -> None:
    # 0.4 cm2 on the map: USDA Soil Survey Manual, Handbook 18, smallest legible delineation.
    assert minimum_delineation_ha(scale) == pytest.approx(hectares, abs=1e-3)


def test_a_scale_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="scale"):
        minimum_delineation_ha(0)


# Soil survey of Chicot County, Arkansas (AR017): USDA-NRCS, export of 2021/2022, public domain.
SURVEY = "ssurgo-ar017-chicot"


def plain_table(folder: Path, table: str) -> list[dict[str, str]]:
    """Read a table with nothing but the standard library, by the dictionary inside the export."""

    def rows(name: str) -> list[list[str]]:
        text = (folder / "tabular" / f"{name}.txt").read_bytes().decode("utf-8")
        return list(csv.reader(io.StringIO(text, newline=""), delimiter="|"))

    file = next(row[4] for row in rows("mstab") if row[0] == table)
    described = sorted((int(row[1]), row[2]) for row in rows("mstabcol") if row[0] == table)
    names = [name for _, name in described]
    return [dict(zip(names, (value.strip() for value in row), strict=True)) for row in rows(file)]


@pytest.fixture(scope="module")
def survey_folder(real_data: Callable[[str], Path]) -> Path:
    return real_data(SURVEY)


@pytest.fixture(scope="module")
def survey(survey_folder: Path):  # type: ignore[no-untyped-def]
    return read_soil_survey(survey_folder)


def test_every_polygon_and_map_unit_is_there(survey, survey_folder: Path) -> None:  # type: ignore[no-untyped-def]
    polygons, components, log, source = survey
    assert (log.read, log.kept, log.repaired, log.refused) == (2546, 2545, 1, 0)
    assert len(polygons) == 2546
    assert polygons.geometry.is_valid.all()
    names = {row["mukey"]: row["muname"] for row in plain_table(survey_folder, "mapunit")}
    assert len(names) == 41
    assert dict(zip(polygons["mukey"], polygons["name"], strict=True)) == names
    assert set(components["mukey"]) == set(names)
    assert len(components) == len(plain_table(survey_folder, "component"))
    assert source.counts["chorizon_kept"] == 155
    assert "AR017" in source.notes[0]


def test_the_one_crossing_outline_is_mended_and_said(survey) -> None:  # type: ignore[no-untyped-def]
    _, _, log, _ = survey
    assert [(issue.severity, issue.place, issue.field) for issue in log.issues] == [
        ("warning", "feature 1611, mukey 565252", "geometry")
    ]


# Read off the text tables by eye: chorizon, cotaxfmmin and corestrictions of four components.
@pytest.mark.parametrize(
    ("cokey", "expected"),
    [
        (
            "21851404",  # Perry: Bssg 15-76 cm, 70 % clay, above Bkss with 70 - 1.8 % carbonate
            {
                "layer_top_cm": 25,
                "layer_bottom_cm": 76,
                "clay_pct": 70,
                "plasticity_index": 52,
                "liquid_limit_pct": 83,
                "cec_per_clay": 0.69,
                "mineralogy": "smectitic",
                "profile_bottom_cm": 203,
                "parent_kinds": "alluvium",
                "lime_nodules": False,
            },
        ),
        (
            "21851390",  # Crowley: Btg1 41-74 cm
            {
                "layer_top_cm": 41,
                "layer_bottom_cm": 74,
                "clay_pct": 42.5,
                "plasticity_index": 27.5,
                "mineralogy": "smectitic",  # written montmorillonitic
                "clayey_top_cm": 41,
                "clayey_thickness_cm": 109,
                "clayey_clay_pct": (33 * 42.5 + 76 * 41) / 109,
            },
        ),
        (
            "21851398",  # McGehee: 2BC and 2C alike, 61-152 cm; a fine-silty family, so no mineralogy of clay
            {"layer_top_cm": 61, "layer_bottom_cm": 152, "clay_pct": 50, "mineralogy": "", "major": True},
        ),
        (
            "21851322",  # Grenada: fragipan at 53 cm
            {"restriction_kind": "fragipan", "restriction_depth_cm": 53, "parent_kinds": "loess"},
        ),
    ],
)
def test_components_read_by_hand(survey, cokey: str, expected: dict[str, object]) -> None:  # type: ignore[no-untyped-def]
    components = survey[1]
    row = components[components["cokey"] == cokey].iloc[0]
    for column, value in expected.items():
        if isinstance(value, float | int) and not isinstance(value, bool):
            assert row[column] == pytest.approx(value), column
        else:
            assert row[column] == value, column


def test_best_layers_against_every_run_counted_by_centimetre(survey, survey_folder: Path) -> None:  # type: ignore[no-untyped-def]
    frame = pd.DataFrame(plain_table(survey_folder, "chorizon"))
    columns = ["hzdept_r", "hzdepb_r", "claytotal_r", "claysizedcarb_r"]
    frame[columns] = frame[columns].apply(pd.to_numeric)
    frame["net"] = frame["claytotal_r"] - frame["claysizedcarb_r"].fillna(0)
    found = survey[1].set_index("cokey")["clay_pct"].dropna()
    assert len(found) == frame["cokey"].nunique() == 44
    for cokey, group in frame.groupby("cokey"):
        group = group.sort_values("hzdept_r")
        profile = np.full(400, np.nan)
        for top, bottom, clay in zip(group["hzdept_r"], group["hzdepb_r"], group["net"], strict=True):
            profile[int(top) : int(bottom)] = clay
        means = [
            profile[max(25, int(top)) : min(200, int(bottom))].mean()
            for top in group["hzdept_r"]
            for bottom in group["hzdepb_r"]
            if min(200, bottom) - max(25, top) >= 30
        ]
        assert found[cokey] == pytest.approx(max(means)), cokey


def test_a_county_is_read_within_seconds(survey_folder: Path) -> None:
    began = time.perf_counter()
    read_soil_survey(survey_folder)
    assert time.perf_counter() - began < 5

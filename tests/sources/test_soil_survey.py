"""The soil survey reader on small exports in the true layout, whole and damaged."""

from __future__ import annotations

import math
import os
import re
import shutil
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
from shapely.geometry import Polygon, box

from prospect.errors import InputRefused
from prospect.issues import Issue, IssueLog
from prospect.sources.soil_survey import read_soil_survey
from prospect.sources.soil_survey_components import BOOL_COLUMNS, COMPONENT_COLUMNS, TEXT_COLUMNS
from prospect.sources.soil_survey_words import soil_words
from prospect.types import Bounds

Row = dict[str, Any]


def as_line(values: Iterable[Any]) -> str:
    """Write one line as the exports do: text in double quotes, numbers bare, nothing for unknown."""
    fields = []
    for value in values:
        if value is None:
            fields.append("")
        elif isinstance(value, str):
            doubled = value.replace('"', '""')
            fields.append(f'"{doubled}"')
        else:
            fields.append(f"{value}")
    return "|".join(fields) + "\r\n"


def write_table(folder: Path, table: str, rows: Sequence[Row | str]) -> None:
    layout = soil_words().tables[table]
    names = layout.names()
    lines = []
    for row in rows:
        if isinstance(row, str):
            lines.append(row)
            continue
        assert set(row) <= set(names), set(row) - set(names)
        lines.append(as_line(row.get(name) for name in names))
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{layout.file}.txt").write_bytes("".join(lines).encode())


def write_polygons(
    folder: Path, symbol: str, shapes: Mapping[str, Any] | Sequence[tuple[str, Any]], crs: Any
) -> None:
    pairs = list(shapes.items()) if isinstance(shapes, Mapping) else list(shapes)
    folder.mkdir(parents=True, exist_ok=True)
    frame = gpd.GeoDataFrame(
        {
            "AREASYMBOL": [symbol] * len(pairs),
            "SPATIALVER": [1.0] * len(pairs),
            "MUSYM": [f"S{i}" for i in range(len(pairs))],
            "MUKEY": [mukey for mukey, _ in pairs],
        },
        geometry=[shape for _, shape in pairs],
        crs=crs,
    )
    pyogrio.write_dataframe(frame, folder / f"soilmu_a_{symbol.lower()}.shp", driver="ESRI Shapefile")


def horizon(
    cokey: str, number: int, name: str, top: int, bottom: int | None, clay: float | None, **more: Any
) -> Row:
    row: Row = {
        "hzname": name,
        "hzdept_r": top,
        "hzdepb_r": bottom,
        "claytotal_r": clay,
        "cokey": cokey,
        "chkey": f"{cokey}-{number}",
    }
    return row | more


# A profile worked out by hand: 18, 45, 52 and 38 % clay; its best layer is 60 to 110 cm with 52 %.
BEST = [(0, 20, 18.0), (20, 60, 45.0), (60, 110, 52.0), (110, 150, 38.0)]


def tables() -> dict[str, list[Any]]:
    """Return an invented survey area: a complex 60/30, a unit with a bare minor, water, and rock."""
    return {
        "legend": [
            {
                "areasymbol": "ZZ001",
                "areaname": "Made-up County",
                "projectscale": 24000,
                "cordate": "05/02/1987 00:00:00",
                "lkey": "001",
            }
        ],
        "sacatalog": [{"areasymbol": "ZZ001", "saverest": "09/01/2025 10:00:00", "sacatalogkey": "1"}],
        "mapunit": [
            {
                "musym": "AbC",
                "muname": "Abel-Bruck complex",
                "invesintens": "Order 2",
                "lkey": "001",
                "mukey": "0010",
            },
            {"musym": "CdB", "muname": 'Cedd loam, "stony" | wet', "invesintens": "Order 2", "mukey": "0020"},
            {"musym": "W", "muname": "Water", "mukey": "0030"},
            {"musym": "RkF", "muname": "Rocke soils", "mukey": "0040"},
        ],
        "component": [
            {
                "comppct_r": 60,
                "compname": "Abel",
                "majcompflag": "Yes",
                "slope_r": 6.5,
                "drainagecl": "Well drained",
                "map_r": 1200,
                "taxclname": "Fine, kaolinitic, thermic Typic Kanhapludults",
                "taxpartsize": "fine",
                "mukey": "0010",
                "cokey": "100",
            },
            {"comppct_r": 30, "compname": "NA", "majcompflag": "No ", "mukey": "0010", "cokey": "0101"},
            {"comppct_r": 95, "compname": "Cedd", "majcompflag": "Yes", "mukey": "0020", "cokey": "102"},
            {"comppct_r": 5, "compname": "Dahl", "majcompflag": "No", "mukey": "0020", "cokey": "103"},
            {"comppct_r": 100, "compname": "Water", "majcompflag": "Yes", "mukey": "0030", "cokey": "104"},
            {"comppct_r": 90, "compname": "Rocke", "majcompflag": "Yes", "mukey": "0040", "cokey": "105"},
        ],
        "chorizon": [
            horizon("100", 3, "BC", 110, 150, 38.0, pi_r=14, cec7_r=9.5),
            horizon("100", 0, "Ap", 0, 20, 18.0, pi_r=5, cec7_r=6.0, om_r=2),
            horizon("100", 1, "Bt1", 20, 60, 45.0, pi_r=22, cec7_r=9.0),
            horizon(
                "100", 2, "Bt2", 60, 110, 52.0, pi_r=25, cec7_r=10.4, sandtotal_r=20, silttotal_r=28, om_r=0.2
            ),
            horizon("0101", 0, "A", 0, 25, 10.0),
            horizon("0101", 1, "Btk", 25, 80, 40.0, claysizedcarb_r=8.0, caco3_r=15),
            horizon("102", 0, "A", 0, 30, 20.0),
            horizon("102", 1, "Bw", 30, 90, 30.0, ll_r=40),
            horizon("102", 2, "2C", 90, 150, 30.0, ll_r=None),
            horizon("105", 0, "A", 0, 20, 12.0),
            horizon("105", 1, "Cr", 20, 70, None),
            horizon("105", 2, "R", 70, None, None),
        ],
        "chfrags": [
            {"fragvol_r": 10, "fragkind": "Quartz fragments", "chkey": "100-2", "chfragskey": "1"},
            {"fragvol_r": 5, "fragkind": "Granite fragments", "chkey": "100-2", "chfragskey": "2"},
            {"fragvol_r": 3, "fragkind": "Carbonate nodules", "chkey": "102-1", "chfragskey": "3"},
        ],
        "copmgrp": [
            {"pmgroupname": "granite", "rvindicator": "Yes", "cokey": "100", "copmgrpkey": "g1"},
            {"pmgroupname": "loess", "rvindicator": "No", "cokey": "100", "copmgrpkey": "g2"},
            {"pmgroupname": None, "rvindicator": "Yes", "cokey": "102", "copmgrpkey": "g3"},
            {
                "pmgroupname": "Clayey slope alluvium over residuum",
                "rvindicator": "Yes",
                "cokey": "0101",
                "copmgrpkey": "g4",
            },
        ],
        "copm": [
            {"pmorder": 2, "pmkind": "Residuum", "pmorigin": "Granite", "copmgrpkey": "g1", "copmkey": "2"},
            {"pmorder": 1, "pmkind": "Colluvium", "copmgrpkey": "g1", "copmkey": "1"},
            {
                "pmmodifier": "Clayey",
                "pmkind": "Alluvium",
                "pmorigin": "Shale",
                "copmgrpkey": "g3",
                "copmkey": "3",
            },
        ],
        "cogeomordesc": [
            {
                "geomftname": "Landform",
                "geomfname": "Hillslopes",
                "rvindicator": "Yes",
                "cokey": "100",
                "cogeomdkey": "1",
            },
            {
                "geomftname": "Landscape",
                "geomfname": "uplands",
                "rvindicator": "Yes",
                "cokey": "100",
                "cogeomdkey": "2",
            },
            {
                "geomftname": "Landform",
                "geomfname": "dunes",
                "rvindicator": "No",
                "cokey": "100",
                "cogeomdkey": "3",
            },
        ],
        "corestrictions": [
            {"reskind": "Lithic bedrock", "resdept_r": 180, "cokey": "100", "corestrictkey": "1"},
            {"reskind": "Paralithic bedrock", "resdept_r": 150, "cokey": "100", "corestrictkey": "2"},
            {"reskind": "Fragipan", "resdept_r": 60, "cokey": "102", "corestrictkey": "3"},
        ],
        "cotaxfmmin": [{"taxminalogy": "kaolinitic", "cokey": "100", "cotaxfmminkey": "1"}],
        "comonth": [
            {"monthseq": 1, "month": "January", "flodfreqcl": "Rare", "cokey": "102", "comonthkey": "m1"},
            {
                "monthseq": 2,
                "month": "February",
                "flodfreqcl": "Frequent",
                "cokey": "102",
                "comonthkey": "m2",
            },
            {"monthseq": 3, "month": "March", "flodfreqcl": "None", "cokey": "102", "comonthkey": "m3"},
        ],
        "cosoilmoist": [
            {"soimoistdept_r": 0, "soimoiststat": "Moist", "comonthkey": "m1", "cosoilmoistkey": "1"},
            {"soimoistdept_r": 80, "soimoiststat": "Wet", "comonthkey": "m1", "cosoilmoistkey": "2"},
            {"soimoistdept_r": 45, "soimoiststat": "Wet", "comonthkey": "m2", "cosoilmoistkey": "3"},
        ],
    }


SHAPES = {f"00{n}0": box(-82 + 0.01 * n, 35, -82 + 0.01 * (n + 1), 35.01) for n in (1, 2, 3, 4)}


def write_export(
    folder: Path,
    content: Mapping[str, list[Any]] | None = None,
    shapes: Any = None,
    crs: Any = "EPSG:4326",
    symbol: str = "ZZ001",
) -> Path:
    for name, rows in (content or tables()).items():
        write_table(folder / "tabular", name, rows)
    write_polygons(folder / "spatial", symbol, SHAPES if shapes is None else shapes, crs)
    return folder


def issues(log: IssueLog, **wanted: str) -> list[Issue]:
    return [
        issue
        for issue in log.issues
        if all(re.search(pattern, getattr(issue, name)) for name, pattern in wanted.items())
    ]


def counts_add_up(counts: Mapping[str, int], table: str) -> bool:
    return counts[f"{table}_read"] == sum(
        counts[f"{table}_{part}"] for part in ("kept", "repaired", "refused")
    )


def log_of(path: Path) -> IssueLog:
    try:
        return read_soil_survey(path)[2]
    except InputRefused as refused:
        return refused.log or IssueLog("no log", "soil")


def component(components: pd.DataFrame, cokey: str) -> pd.Series:
    rows = components[components["cokey"] == cokey]
    assert len(rows) == 1
    return rows.iloc[0]


@pytest.fixture
def whole(tmp_path: Path) -> tuple[gpd.GeoDataFrame, pd.DataFrame, IssueLog, Any]:
    return read_soil_survey(write_export(tmp_path / "wss_SSA_ZZ001_[2026-01-01]" / "ZZ 001"))


class TestWholeExport:
    def test_polygons_are_joined_by_key_and_keep_leading_zeros(self, whole: Any) -> None:
        polygons, _, log, _ = whole
        assert list(polygons.columns) == ["mukey", "musym", "name", "geometry"]
        assert list(polygons["mukey"]) == ["0010", "0020", "0030", "0040"]
        assert list(polygons["musym"]) == ["AbC", "CdB", "W", "RkF"]
        assert polygons["name"][1] == 'Cedd loam, "stony" | wet'
        assert polygons.crs.to_epsg() == 4326
        assert (log.read, log.kept, log.repaired, log.refused) == (4, 4, 0, 0)

    def test_all_columns_with_their_kinds(self, whole: Any) -> None:
        components = whole[1]
        assert tuple(components.columns) == COMPONENT_COLUMNS
        for column in COMPONENT_COLUMNS:
            if column in TEXT_COLUMNS:
                assert all(isinstance(value, str) for value in components[column])
            elif column in BOOL_COLUMNS:
                assert components[column].dtype == np.bool_
            else:
                assert components[column].dtype == np.float64

    def test_one_best_layer_for_every_column(self, whole: Any) -> None:
        abel = component(whole[1], "100")
        assert (abel["layer_top_cm"], abel["layer_bottom_cm"], abel["clay_pct"]) == (60, 110, 52)
        assert abel["plasticity_index"] == 25
        assert abel["organic_matter_pct"] == 0.2
        assert abel["cec_per_clay"] == pytest.approx(0.2)
        assert (abel["sand_pct"], abel["silt_pct"]) == (20, 28)
        assert abel["rock_fragments_pct"] == 15
        assert math.isnan(abel["ksat_um_s"])

    def test_shallowest_clayey_layer(self, whole: Any) -> None:
        abel = component(whole[1], "100")
        assert (abel["clayey_top_cm"], abel["clayey_thickness_cm"]) == (20, 130)
        assert abel["clayey_clay_pct"] == pytest.approx((40 * 45 + 50 * 52 + 40 * 38) / 130)
        cedd, water = component(whole[1], "102"), component(whole[1], "104")
        assert cedd["clayey_thickness_cm"] == 0
        assert math.isnan(cedd["clayey_top_cm"])
        assert math.isnan(water["clayey_thickness_cm"])

    def test_carbonate_of_clay_size_is_no_clay(self, whole: Any) -> None:
        limy = component(whole[1], "0101")
        assert limy["component_name"] == "NA"
        assert limy["clay_pct"] == 32
        assert limy["carbonate_pct"] == 15
        assert limy["lime_nodules"]
        # 32 % without the carbonate is below 35 %: no clayey layer.
        assert limy["clayey_thickness_cm"] == 0

    def test_lumps_of_lime_are_told_from_rock_fragments(self, whole: Any) -> None:
        assert component(whole[1], "102")["lime_nodules"]
        assert not component(whole[1], "100")["lime_nodules"]

    def test_mean_counts_only_horizons_with_a_value(self, whole: Any) -> None:
        cedd = component(whole[1], "102")
        # Two horizons of 30 % are one run; the thicker of equal layers wins.
        assert (cedd["layer_top_cm"], cedd["layer_bottom_cm"]) == (30, 150)
        assert cedd["liquid_limit_pct"] == 40
        assert cedd["rock_fragments_pct"] == pytest.approx(3 * 60 / 120)

    def test_bedrock_comes_from_restrictions_and_horizon_names(self, whole: Any) -> None:
        abel, rocke = component(whole[1], "100"), component(whole[1], "105")
        assert (abel["lithic_depth_cm"], abel["paralithic_depth_cm"]) == (180, 150)
        assert (abel["restriction_kind"], abel["restriction_depth_cm"]) == ("paralithic bedrock", 150)
        assert (rocke["lithic_depth_cm"], rocke["paralithic_depth_cm"]) == (70, 20)
        assert rocke["profile_bottom_cm"] == 70
        assert math.isnan(rocke["clay_pct"])
        assert rocke["clayey_thickness_cm"] == 0  # nothing but bedrock below 20 cm

    def test_parent_material_landform_and_wetness(self, whole: Any) -> None:
        abel, limy, cedd = (component(whole[1], key) for key in ("100", "0101", "102"))
        assert (abel["parent_material"], abel["parent_kinds"]) == ("granite", "colluvium;residuum")
        assert limy["parent_kinds"] == "slope alluvium;residuum"
        assert (cedd["parent_material"], cedd["parent_kinds"]) == ("clayey alluvium from shale", "alluvium")
        assert abel["landform"] == "hillslopes on uplands"
        assert (cedd["flooding"], cedd["water_table_cm"]) == ("frequent", 45)
        assert (abel["flooding"], abel["drainage_class"]) == ("", "well drained")
        assert math.isnan(abel["water_table_cm"])
        assert abel["annual_rain_mm"] == 1200

    def test_components_without_horizons_are_unknown_not_zero(self, whole: Any) -> None:
        water = component(whole[1], "104")
        assert not water["has_horizons"]
        assert math.isnan(water["clay_pct"])
        assert math.isnan(water["rock_fragments_pct"])
        assert not component(whole[1], "0101")["major"]

    def test_the_source_says_area_scale_order_years_and_coverage(self, whole: Any) -> None:
        source = whole[3]
        text = " ".join(source.notes)
        for part in ("Made-up County (ZZ001)", "1:24,000", "2.3 ha", "order 2 (2 map units)", "1987", "2025"):
            assert part in text
        assert "4 of 6 components" in text
        assert "nothing below 150 cm" in text
        assert source.vintage == "mapped until 1987, tables of 2025"
        assert source.crs == "EPSG:4326"
        assert all(counts_add_up(source.counts, name) for name in tables())


class TestWaysToGiveIt:
    def same(self, path: Path, tmp_path: Path) -> None:
        plain = read_soil_survey(write_export(tmp_path / "plain"))
        polygons, components, log, _ = read_soil_survey(path)
        pd.testing.assert_frame_equal(components, plain[1])
        assert polygons.geometry.geom_equals(plain[0].geometry).all()
        assert log.add_up().refused == 0

    def pack(self, folder: Path, archive: Path, below: str = "") -> Path:
        with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as packed:
            for file in sorted(path for path in folder.rglob("*") if path.is_file()):
                packed.write(file, below + file.relative_to(folder).as_posix())
        return archive

    def test_nested_folder_with_brackets(self, tmp_path: Path) -> None:
        outer = tmp_path / "deep [1]" / "wss_SSA_ZZ001_[2026-01-01]"
        write_export(outer / "ZZ001")
        self.same(outer.parent, tmp_path)

    def test_one_of_its_files(self, tmp_path: Path) -> None:
        folder = write_export(tmp_path / "ZZ[001]")
        self.same(folder / "spatial" / "soilmu_a_zz001.shp", tmp_path)
        self.same(folder / "tabular" / "comp.txt", tmp_path)

    @pytest.mark.parametrize("below", ["", "ZZ001/", "a/b/ZZ001/"])
    def test_zip_archive(self, tmp_path: Path, below: str) -> None:
        folder = write_export(tmp_path / "made")
        self.same(self.pack(folder, tmp_path / "wss_SSA_ZZ001_[2026-01-01].zip", below), tmp_path)

    def test_zip_archive_inside_a_folder(self, tmp_path: Path) -> None:
        folder = write_export(tmp_path / "made")
        downloads = tmp_path / "down [loads]"
        downloads.mkdir()
        self.pack(folder, downloads / "wss_SSA_ZZ001_[2026-01-01].zip", "ZZ001/")
        self.same(downloads, tmp_path)

    def test_a_zip_that_climbs_out_is_refused(self, tmp_path: Path) -> None:
        folder = write_export(tmp_path / "made")
        bad = self.pack(folder, tmp_path / "bad.zip")
        with zipfile.ZipFile(bad, "a") as packed:
            packed.writestr("../../outside.txt", "x")
        with pytest.raises(InputRefused):
            read_soil_survey(bad)
        assert not (tmp_path.parent / "outside.txt").exists()

    def test_upper_case_names_and_a_flat_folder(self, tmp_path: Path) -> None:
        folder = write_export(tmp_path / "made")
        flat = tmp_path / "flat"
        flat.mkdir()
        for file in [path for path in folder.rglob("*") if path.is_file()]:
            shutil.copy(file, flat / file.name.upper())
        self.same(flat, tmp_path)

    def test_several_areas_in_one_folder(self, tmp_path: Path) -> None:
        write_export(tmp_path / "both" / "ZZ001")
        second = tables()
        for rows in second.values():
            for row in rows:
                for key, value in row.items():
                    if key.endswith("key") and isinstance(value, str):
                        row[key] = "9" + value
        second["legend"][0]["areasymbol"] = "ZZ003"
        shapes = {"9" + key: box(-81, 35, -80.9, 35.1) for key in SHAPES}
        write_export(tmp_path / "both" / "ZZ003", second, shapes, symbol="ZZ003")
        polygons, components, log, source = read_soil_survey(tmp_path / "both")
        assert (len(polygons), len(components), log.read) == (8, 12, 8)
        assert component(components, "9100")["clay_pct"] == 52
        assert sum("ZZ00" in note for note in source.notes) == 2
        assert source.counts["component_read"] == 12

    def test_the_same_area_twice_counts_once(self, tmp_path: Path) -> None:
        write_export(tmp_path / "both" / "ZZ001")
        write_export(tmp_path / "both" / "copy of ZZ001")
        polygons, components, log, _ = read_soil_survey(tmp_path / "both")
        assert (len(polygons), len(components)) == (4, 6)
        assert issues(log, value="same polygons again")

    def test_only_the_ground_asked_for(self, tmp_path: Path) -> None:
        folder = write_export(tmp_path / "made")
        bounds = Bounds(-81.985, 35.001, -81.981, 35.002)
        polygons, components, log, _ = read_soil_survey(folder, bounds=bounds)
        assert list(polygons["mukey"]) == ["0010"]
        assert list(components["cokey"]) == ["100", "0101"]
        assert log.read == 1
        with pytest.raises(InputRefused, match="on this ground"):
            read_soil_survey(folder, bounds=Bounds(10, 50, 11, 51))

    def test_projected_export_and_bounds_in_degrees(self, tmp_path: Path) -> None:
        frame = gpd.GeoSeries(list(SHAPES.values()), crs="EPSG:4326").to_crs("EPSG:5070")
        folder = write_export(
            tmp_path / "albers", shapes=list(zip(SHAPES, frame, strict=True)), crs="EPSG:5070"
        )
        polygons, _, _, source = read_soil_survey(folder, bounds=Bounds(-81.985, 35.001, -81.981, 35.002))
        assert list(polygons["mukey"]) == ["0010"]
        assert source.crs == "EPSG:5070"


class TestDictionary:
    def columns(self, table: str, names: Sequence[str]) -> list[str]:
        described = 'a text with | a pipe,\r\na line break and ""quotes""'
        return [
            as_line([table, number, name, name, name, "String", "No", 30, None, None, None, None, None])[:-2]
            + f'|"{described}"\r\n'
            for number, name in enumerate(names, 1)
        ]

    def write(self, folder: Path, table: str, names: Sequence[str]) -> None:
        file = soil_words().tables[table].file
        (folder / "tabular" / "mstab.txt").write_text(
            as_line([table, table, table, "text", file]), newline=""
        )
        lines = "".join(self.columns(table, names))
        (folder / "tabular" / "mstabcol.txt").write_text(lines, newline="")

    def test_another_order_of_columns_is_followed(self, tmp_path: Path) -> None:
        folder = write_export(tmp_path / "made")
        names = list(soil_words().tables["chorizon"].names())
        swapped = [*names]
        a, b = names.index("claytotal_r"), names.index("pi_r")
        swapped[a], swapped[b] = swapped[b], swapped[a]
        self.write(folder, "chorizon", swapped)
        abel = component(read_soil_survey(folder)[1], "100")
        assert abel["clay_pct"] != 52
        rows = [[row.get(name) for name in swapped] for row in tables()["chorizon"]]
        text = "".join(as_line(row) for row in rows)
        (folder / "tabular" / "chorizon.txt").write_text(text, newline="")
        abel = component(read_soil_survey(folder)[1], "100")
        assert (abel["clay_pct"], abel["plasticity_index"]) == (52, 25)

    def test_a_dictionary_without_the_clay_is_refused_by_name(self, tmp_path: Path) -> None:
        folder = write_export(tmp_path / "made")
        names = [name for name in soil_words().tables["chorizon"].names() if name != "claytotal_r"]
        self.write(folder, "chorizon", names)
        rows = [[row.get(name) for name in names] for row in tables()["chorizon"]]
        (folder / "tabular" / "chorizon.txt").write_text("".join(map(as_line, rows)), newline="")
        with pytest.raises(InputRefused, match="claytotal_r") as refused:
            read_soil_survey(folder)
        assert issues(refused.value.log, place="table chorizon", field="claytotal_r")

    def test_a_dictionary_that_does_not_fit_gives_way_to_the_published_order(self, tmp_path: Path) -> None:
        folder = write_export(tmp_path / "made")
        self.write(folder, "chorizon", [*soil_words().tables["chorizon"].names(), "one_more"])
        _, components, log, _ = read_soil_survey(folder)
        assert component(components, "100")["clay_pct"] == 52
        assert issues(log, place="table chorizon", action="published order")

    def test_a_heading_line_is_read_as_one(self, tmp_path: Path) -> None:
        folder = write_export(tmp_path / "made")
        path = folder / "tabular" / "comp.txt"
        heading = "|".join(soil_words().tables["component"].names()) + "\r\n"
        path.write_bytes(heading.encode() + path.read_bytes())
        assert len(read_soil_survey(folder)[1]) == 6

    def test_a_record_longer_than_the_usual_limit_of_readers(self, tmp_path: Path) -> None:
        content = tables()
        content["sacatalog"][0]["fgdcmetadata"] = "<xml>\r\n" + "word | " * 60_000 + "</xml>"
        source = read_soil_survey(write_export(tmp_path / "made", content))[3]
        assert source.counts["sacatalog_kept"] == 1


class TestDamage:
    def read(self, tmp_path: Path, content: Mapping[str, list[Any]], **more: Any) -> Any:
        found = read_soil_survey(write_export(tmp_path / "ZZ001", content, **more))
        for name, rows in content.items():
            if f"{name}_read" in found[3].counts:
                assert counts_add_up(found[3].counts, name)
                assert found[3].counts[f"{name}_read"] == len(rows)
        return found

    def test_no_horizons_at_all(self, tmp_path: Path) -> None:
        content = tables()
        del content["chorizon"]
        _, components, log, _ = self.read(tmp_path, content)
        assert not components["has_horizons"].any()
        assert components["clay_pct"].isna().all()
        assert components["clayey_thickness_cm"].isna().all()
        assert component(components, "100")["drainage_class"] == "well drained"
        assert issues(log, severity="warning", place="table chorizon", value="not in the export")

    def test_ragged_lines_are_left_out_by_number(self, tmp_path: Path) -> None:
        content = tables()
        content["chorizon"].insert(2, '"Bt"||"B"|20|60|45|"100"\r\n')
        content["component"].append(as_line(["x"] * 110))
        _, components, log, source = self.read(tmp_path, content)
        assert issues(
            log, severity="error", file="chorizon.txt", place="table chorizon, line 3", value="7 fields"
        )
        assert issues(log, severity="error", place="table component, line 7", value="110 fields")
        assert source.counts["chorizon_refused"] == source.counts["component_refused"] == 1
        assert component(components, "100")["clay_pct"] == 52

    def test_clay_that_is_no_number(self, tmp_path: Path) -> None:
        content = tables()
        for position, value in ((3, "high"), (5, "-4"), (7, "nan")):
            content["chorizon"][position]["claytotal_r"] = value
        content["chorizon"][5].pop("claysizedcarb_r")
        _, components, log, source = self.read(tmp_path, content)
        found = issues(log, severity="warning", place="table chorizon", field="claytotal_r")
        assert [(issue.place.split()[-1], issue.value) for issue in found] == [
            ("4", "high"),
            ("6", "-4"),
            ("8", "nan"),
        ]
        assert all("unknown" in issue.action for issue in found)
        assert source.counts["chorizon_repaired"] == 3
        # 60-110 cm is unknown now: the best layer left is 20-60 cm, clipped at 25 cm.
        abel = component(components, "100")
        assert (abel["layer_top_cm"], abel["layer_bottom_cm"], abel["clay_pct"]) == (25, 60, 45)

    def test_a_horizon_upside_down(self, tmp_path: Path) -> None:
        content = tables()
        content["chorizon"][3] |= {"hzdept_r": 110, "hzdepb_r": 60}
        _, components, log, _ = self.read(tmp_path, content)
        found = issues(log, severity="error", place="table chorizon, line 4", field="hzdepb_r")
        assert [issue.value for issue in found] == ["110 to 60 cm"]
        assert component(components, "100")["clay_pct"] == 45

    def test_overlapping_horizons(self, tmp_path: Path) -> None:
        content = tables()
        content["chorizon"][3]["hzdept_r"] = 50  # 50-110 under 20-60
        content["chorizon"].append(horizon("100", 9, "Bt9", 30, 40, 90.0))  # wholly inside 20-60
        _, components, log, source = self.read(tmp_path, content)
        assert issues(
            log, severity="warning", place="line 4", field="hzdept_r", action="top was set to 60 cm"
        )
        assert issues(log, severity="error", place="line 13", field="hzdept_r", action="left out")
        assert (source.counts["chorizon_repaired"], source.counts["chorizon_refused"]) == (1, 1)
        assert component(components, "100")["clay_pct"] == 52

    def test_horizons_of_nobody_and_without_depth(self, tmp_path: Path) -> None:
        content = tables()
        content["chorizon"].append(horizon("999", 0, "A", 0, 50, 60.0))
        content["chorizon"].append(horizon("102", 7, "C", 150, None, 60.0))
        _, _, log, source = self.read(tmp_path, content)
        assert issues(log, place="line 13", field="cokey", value="999")
        assert issues(log, place="line 14", field="hzdepb_r")
        assert source.counts["chorizon_refused"] == 2

    def test_more_carbonate_than_clay(self, tmp_path: Path) -> None:
        content = tables()
        content["chorizon"][5]["claysizedcarb_r"] = 60.0
        _, components, log, _ = self.read(tmp_path, content)
        assert issues(log, severity="warning", place="line 6", field="claysizedcarb_r")
        assert component(components, "0101")["clay_pct"] == 40

    def test_percents_that_do_not_make_a_hundred(self, tmp_path: Path) -> None:
        content = tables()
        content["component"][2]["comppct_r"] = 99
        content["component"][3]["comppct_r"] = 20
        content["component"][4]["comppct_r"] = 170
        _, components, log, _ = self.read(tmp_path, content)
        assert issues(log, place="mukey 0020", field="comppct_r", value="119")
        assert issues(log, place="table component, line 5", field="comppct_r", value="170")
        assert issues(log, severity="note", field="comppct_r", value="less than 100 %")
        assert math.isnan(component(components, "104")["percent"])

    def test_an_empty_table_of_components_is_refused(self, tmp_path: Path) -> None:
        content = tables() | {"component": []}
        with pytest.raises(InputRefused, match="component") as refused:
            self.read(tmp_path, content)
        assert refused.value.log is not None
        assert refused.value.log.verdict == "refused"
        (tmp_path / "ZZ001" / "tabular" / "comp.txt").unlink()
        with pytest.raises(InputRefused, match="not in the export"):
            read_soil_survey(tmp_path / "ZZ001")

    def test_empty_tables_around_are_unknown(self, tmp_path: Path) -> None:
        content = tables() | {
            name: [] for name in ("chfrags", "copm", "corestrictions", "comonth", "mapunit", "legend")
        }
        polygons, components, log, _ = self.read(tmp_path, content)
        assert list(polygons["name"]) == [""] * 4
        assert list(polygons["musym"]) == ["S0", "S1", "S2", "S3"]
        assert issues(log, field="mukey", value="0010", action="without a name")
        assert component(components, "100")["restriction_kind"] == ""
        assert component(components, "0101")["parent_kinds"] == "slope alluvium;residuum"

    def test_duplicate_keys_keep_the_first(self, tmp_path: Path) -> None:
        content = tables()
        content["component"].append(content["component"][0] | {"compname": "Impostor"})
        content["mapunit"].append(content["mapunit"][0] | {"muname": "Impostor"})
        content["chorizon"].append(content["chorizon"][3] | {"claytotal_r": 99})
        polygons, components, log, source = self.read(tmp_path, content)
        assert component(components, "100")["component_name"] == "Abel"
        assert component(components, "100")["clay_pct"] == 52
        assert polygons["name"][0] == "Abel-Bruck complex"
        assert issues(log, severity="error", place="table component, line 7", field="cokey", value="100")
        assert issues(log, severity="error", place="table mapunit, line 5", field="mukey", value="0010")
        assert issues(log, severity="error", place="table chorizon, line 13", field="chkey", value="100-2")
        assert source.counts["component_refused"] == source.counts["mapunit_refused"] == 1

    def test_polygons_and_components_that_do_not_meet(self, tmp_path: Path) -> None:
        content = tables()
        content["component"].append({"comppct_r": 10, "compname": "Lone", "mukey": "0099", "cokey": "199"})
        shapes = [*SHAPES.items(), ("0077", box(-81.9, 35, -81.8, 35.1))]
        polygons, components, log, _ = self.read(tmp_path, content, shapes=shapes)
        assert list(polygons["mukey"])[-1] == "0077"
        assert issues(log, file="mapunit.txt", value="0077", action="without a name")
        assert issues(log, file="comp.txt", value="0077", expected="components")
        assert issues(log, place="table component, line 7", field="mukey", value="0099")
        assert "199" not in set(components["cokey"])

    def test_a_map_unit_without_components_is_kept_and_said(self, tmp_path: Path) -> None:
        content = tables()
        content["component"] = [row for row in content["component"] if row["mukey"] != "0030"]
        polygons, _, log, _ = self.read(tmp_path, content)
        assert len(polygons) == 4
        assert issues(log, file="comp.txt", place="1 polygon, Water", value="0030")

    def test_crossing_outlines_are_mended_and_empty_ones_refused(self, tmp_path: Path) -> None:
        bow = Polygon([(-82, 35), (-81.9, 35.1), (-81.9, 35), (-82, 35.1)])
        flat = Polygon([(-82, 35), (-81.9, 35), (-81.8, 35), (-82, 35)])
        shapes = [*SHAPES.items(), ("0010", bow), ("0020", None), ("0020", flat)]
        polygons, _, log, _ = self.read(tmp_path, tables(), shapes=shapes)
        assert (log.read, log.kept, log.repaired, log.refused) == (7, 4, 1, 2)
        assert polygons.geometry.is_valid.all()
        assert len(polygons) == 5
        mended = issues(log, severity="warning", place="feature 5, mukey 0010", field="geometry")
        assert len(mended) == 1
        assert len(issues(log, severity="error", place="mukey 0020", field="geometry")) == 2

    def test_coordinates_in_another_system_than_said(self, tmp_path: Path) -> None:
        metres = {key: box(500_000 + n, 3_900_000, 500_100 + n, 3_900_100) for n, key in enumerate(SHAPES)}
        with pytest.raises(InputRefused, match="degrees") as refused:
            self.read(tmp_path, tables(), shapes=metres)
        assert issues(refused.value.log, field="crs", value="500000")
        polygons, _, log, source = read_soil_survey(tmp_path / "ZZ001", crs="EPSG:32617")
        assert source.crs == "EPSG:32617"
        assert issues(log, field="crs", action="as you said")
        assert len(polygons) == 4

    def test_degrees_said_to_be_metres_are_refused(self, tmp_path: Path) -> None:
        with pytest.raises(InputRefused, match="metres"):
            self.read(tmp_path, tables(), crs="EPSG:32617")

    def test_no_coordinate_system_is_taken_as_published(self, tmp_path: Path) -> None:
        folder = write_export(tmp_path / "made")
        (folder / "spatial" / "soilmu_a_zz001.prj").unlink()
        polygons, _, log, _ = read_soil_survey(folder)
        assert polygons.crs.to_epsg() == 4326
        assert issues(log, severity="note", field="crs")

    def test_an_unknown_coordinate_system_asked_for_is_refused(self, tmp_path: Path) -> None:
        with pytest.raises(InputRefused, match="a CRS such as"):
            read_soil_survey(write_export(tmp_path / "made"), crs="EPSG:999999")

    def test_windows_text(self, tmp_path: Path) -> None:
        folder = write_export(tmp_path / "made")
        path = folder / "tabular" / "mapunit.txt"
        path.write_bytes(path.read_bytes().replace(b"Abel-Bruck", b"Ab\xe9l-Bruck"))
        polygons, _, log, _ = read_soil_survey(folder)
        assert polygons["name"][0] == "Abél-Bruck complex"
        assert issues(log, file="mapunit.txt", expected="UTF-8")

    def test_an_open_quote_swallows_no_more_than_is_said(self, tmp_path: Path) -> None:
        content = tables()
        content["chorizon"].insert(6, '"Bt|20|60\r\n')
        _, components, log, source = read_soil_survey(write_export(tmp_path / "ZZ001", content))[:4]
        assert component(components, "100")["clay_pct"] == 52
        assert issues(log, severity="error", place="table chorizon, line 7")
        assert source.counts["chorizon_refused"] >= 1
        assert counts_add_up(source.counts, "chorizon")

    def test_a_great_many_bad_lines_are_told_shortly(self, tmp_path: Path) -> None:
        content = tables()
        content["chorizon"] += [horizon("999", n, "A", 0, 50, 60.0) for n in range(500)]
        _, _, log, source = self.read(tmp_path, content)
        assert source.counts["chorizon_refused"] == 500
        assert len(log.issues) < 60
        assert issues(log, value="480 more lines")

    @pytest.mark.parametrize("ending", [".shx", ".dbf", ".shp"])
    def test_a_torn_shapefile_is_refused_in_words(self, tmp_path: Path, ending: str) -> None:
        folder = write_export(tmp_path / "made")
        path = folder / "spatial" / f"soilmu_a_zz001{ending}"
        path.write_bytes(path.read_bytes()[:40])
        with pytest.raises(InputRefused) as refused:
            read_soil_survey(folder)
        assert refused.value.log is not None
        assert refused.value.log.verdict == "refused"

    def test_a_damaged_coordinate_system_is_refused_in_words(self, tmp_path: Path) -> None:
        folder = write_export(tmp_path / "made")
        path = folder / "spatial" / "soilmu_a_zz001.prj"
        path.write_bytes(path.read_bytes()[:90])
        with pytest.raises(InputRefused, match="prj") as refused:
            read_soil_survey(folder)
        assert refused.value.log is not None
        assert refused.value.log.verdict == "refused"

    @pytest.mark.parametrize("seed", range(20))
    def test_random_damage_is_read_or_refused_but_never_a_crash(self, tmp_path: Path, seed: int) -> None:
        chance = np.random.default_rng(seed)
        folder = write_export(tmp_path / "made")
        files = sorted(path for path in folder.rglob("*") if path.is_file())
        for path in chance.choice(np.array(files, dtype=object), 3, replace=False):
            content = bytearray(path.read_bytes())
            for place in chance.integers(0, max(len(content), 1), 15):
                if content:
                    content[place] = chance.choice([0, 10, 34, 124, 200])
            path.write_bytes(bytes(content))
        log = log_of(folder)
        assert log.add_up().verdict == "refused" or log.kept + log.repaired > 0

    def test_what_is_no_export_is_refused(self, tmp_path: Path) -> None:
        (tmp_path / "empty").mkdir()
        (tmp_path / "note.zip").write_bytes(b"not a zip archive")
        for path in (tmp_path / "empty", tmp_path / "note.zip", tmp_path / "absent"):
            with pytest.raises(InputRefused):
                read_soil_survey(path)

    def test_polygons_without_tables_are_refused(self, tmp_path: Path) -> None:
        write_polygons(tmp_path / "spatial", "ZZ001", SHAPES, "EPSG:4326")
        with pytest.raises(InputRefused) as refused:
            read_soil_survey(tmp_path)
        assert issues(refused.value.log, value="no tables")

    def test_one_spoilt_area_does_not_spoil_the_other(self, tmp_path: Path) -> None:
        write_export(tmp_path / "both" / "ZZ001")
        bad = write_export(tmp_path / "both" / "AA001", symbol="AA001")
        (bad / "tabular" / "comp.txt").unlink()
        polygons, _, log, _ = read_soil_survey(tmp_path / "both")
        assert len(polygons) == 4
        assert issues(log, severity="error", place="AA001, table component")

    @pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
    def test_a_pipe_in_place_of_a_table_does_not_hang(self, tmp_path: Path) -> None:
        folder = write_export(tmp_path / "made")
        (folder / "tabular" / "legend.txt").unlink()
        os.mkfifo(folder / "tabular" / "legend.txt")
        assert len(read_soil_survey(folder)[1]) == 6


class TestMineralogy:
    @pytest.mark.parametrize(
        ("size", "family", "minerals", "expected"),
        [
            ("fine", "Fine, kaolinitic, thermic Typic Kanhapludults", ["kaolinitic"], "kaolinitic"),
            ("very-fine", "", ["montmorillonitic"], "smectitic"),
            ("fine-silty", "Fine-silty, mixed, thermic Typic Hapludalfs", ["mixed"], ""),
            ("fine-loamy", "", ["kaolinitic"], ""),
            (
                "clayey over loamy",
                "Clayey over loamy, smectitic over mixed, x",
                ["mixed", "smectitic"],
                "smectitic",
            ),
            ("sandy over clayey", "Sandy over clayey, siliceous over illitic, x", [], "illitic"),
            ("", "Fine, illitic, mesic Typic Hapludalfs", [], "illitic"),
            ("fine", "", ["chloritic"], ""),
            ("fine", "", ["not used"], ""),
        ],
    )
    def test_only_where_it_speaks_of_the_clay(
        self, tmp_path: Path, size: str, family: str, minerals: list[str], expected: str
    ) -> None:
        content = tables()
        content["component"][0] |= {"taxpartsize": size or None, "taxclname": family or None}
        content["cotaxfmmin"] = [{"taxminalogy": word, "cokey": "100"} for word in minerals]
        found = read_soil_survey(write_export(tmp_path / "made", content))[1]
        assert component(found, "100")["mineralogy"] == expected

"""Writes the invented soil survey as the official export lays it out: shapefiles and piped text in a ZIP."""

from __future__ import annotations

import zipfile
from collections.abc import Mapping
from pathlib import Path
from tempfile import TemporaryDirectory

import geopandas as gpd
import numpy as np
import pyogrio
import shapely
from numpy.typing import NDArray

from prospect.sources.soil_survey_words import soil_words

from .frame import Frame
from .shapes import polygons
from .soil_series import SERIES, Series
from .soil_units import SOIL_UNITS

AREA = "ZZ001"
VERSION = 3
DATED = (2026, 1, 15, 10, 0, 0)
RAIN_MM = 1240
MONTHS = ("January", "February", "March", "April", "May", "June")
Row = dict[str, str | float | None]


class Yes(str):
    """A word that the export writes without quotes."""


def write_soil_survey(path: Path, frame: Frame, classes: NDArray[np.int32]) -> gpd.GeoDataFrame:
    """Write the survey's ZIP and return its polygons (`code, geometry`)."""
    shapes = polygons(frame, classes, 180)
    with TemporaryDirectory() as scratch, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for inner, content in sorted(_spatial(Path(scratch), shapes).items()):
            _put(archive, f"{AREA}/spatial/{inner}", content)
        for file, text in sorted(_tabular(shapes).items()):
            _put(archive, f"{AREA}/tabular/{file}.txt", text.encode())
    return shapes


def _put(archive: zipfile.ZipFile, name: str, content: bytes) -> None:
    archive.writestr(zipfile.ZipInfo(name, DATED), content, zipfile.ZIP_DEFLATED)


def _spatial(folder: Path, shapes: gpd.GeoDataFrame) -> Mapping[str, bytes]:
    units = [SOIL_UNITS[code] for code in shapes["code"]]
    table = gpd.GeoDataFrame(
        {
            "AREASYMBOL": AREA,
            "SPATIALVER": float(VERSION),
            "MUSYM": [u.symbol for u in units],
            "MUKEY": [_mukey(code) for code in shapes["code"]],
        },
        geometry=shapes.geometry.values,
        crs="EPSG:4326",
    )
    outline = gpd.GeoDataFrame(
        {"AREASYMBOL": [AREA], "SPATIALVER": [float(VERSION)], "LKEY": [_LKEY]},
        geometry=[shapely.union_all(shapes.geometry.values)],
        crs="EPSG:4326",
    )
    for frame, kind in ((table, "soilmu_a"), (outline, "soilsa_a")):
        pyogrio.write_dataframe(frame, folder / f"{kind}_{AREA.lower()}.shp", driver="ESRI Shapefile")
    return {file.name: file.read_bytes() for file in folder.iterdir() if file.suffix != ".cpg"}


_LKEY = "090001"


def _mukey(code: int) -> str:
    return f"0910{code:03d}"


def _tabular(shapes: gpd.GeoDataFrame) -> Mapping[str, str]:
    """Return file name → text of every table, rows in the published column order."""
    tables: dict[str, list[Row]] = {name: [] for name in soil_words().tables}
    tables["legend"].append(
        {
            "areatypename": "Non-MLRA Soil Survey Area",
            "areasymbol": AREA,
            "areaname": "Ommerdale and the Tesk Valley",
            "projectscale": 12000,
            "cordate": "06/01/2019 00:00:00",
            "lkey": _LKEY,
        }
    )
    tables["sacatalog"].append(
        {
            "areasymbol": AREA,
            "areaname": "Ommerdale and the Tesk Valley",
            "saversion": VERSION,
            "saverest": "01/15/2026 10:00:00",
            "fgdcmetadata": "<metadata><note>An invented survey of an invented place,\r\n"
            "made | for trying out.</note></metadata>",
            "sacatalogkey": "090009",
        }
    )
    acres = shapes.assign(acres=_acres(shapes)).groupby("code")["acres"].sum()
    for code in range(len(SOIL_UNITS)):
        if code in acres.index:
            _add_unit(tables, code, float(acres[code]))
    layouts = soil_words().tables
    return {layouts[name].file: _piped(rows, layouts[name].names()) for name, rows in tables.items()}


def _acres(shapes: gpd.GeoDataFrame) -> NDArray[np.float64]:
    return shapes.to_crs("EPSG:32710").area.to_numpy() / 4046.8564224


def _add_unit(tables: dict[str, list[Row]], code: int, acres: float) -> None:
    unit = SOIL_UNITS[code]
    mukey = _mukey(code)
    tables["mapunit"].append(
        {
            "musym": unit.symbol,
            "muname": unit.name,
            "mukind": unit.kind,
            "muacres": round(acres),
            "invesintens": "Order 2",
            "lkey": _LKEY,
            "mukey": mukey,
        }
    )
    for i, (name, percent, slope) in enumerate(unit.components):
        series = next((s for s in SERIES if s.name == name), None)
        cokey = f"92{code:03d}{i}"
        tables["component"].append(_component(series, name, percent, slope, mukey, cokey))
        if series is not None and percent > 6:
            _add_pit(tables, series, cokey)


def _component(series: Series | None, name: str, percent: int, slope: float, mukey: str, cokey: str) -> Row:
    row: Row = {
        "comppct_r": percent,
        "compname": name,
        "compkind": "Series" if series else "Miscellaneous area",
        "majcompflag": Yes("Yes" if percent >= 28 else "No "),
        "slope_r": slope,
        "map_l": RAIN_MM - 90,
        "map_r": RAIN_MM,
        "map_h": RAIN_MM + 110,
        "mukey": mukey,
        "cokey": cokey,
    }
    if series is not None:
        order = series.taxon.split()[-1]
        row |= {
            "drainagecl": series.drainage,
            "geomdesc": f"{series.landform} on uplands" if series.profile != "Toeslope" else series.landform,
            "taxclname": series.taxon,
            "taxgrtgroup": order,
            "taxpartsize": series.particles,
        }
    return row


def _add_pit(tables: dict[str, list[Row]], series: Series, cokey: str) -> None:
    group = f"93{cokey}"
    text, materials = series.parent
    tables["copmgrp"].append(
        {"pmgroupname": text, "rvindicator": Yes("Yes"), "cokey": cokey, "copmgrpkey": group}
    )
    for order, (modifier, kind, origin) in enumerate(materials, 1):
        tables["copm"].append(
            {
                "pmorder": order if len(materials) > 1 else None,
                "pmmodifier": modifier,
                "pmkind": kind,
                "pmorigin": origin,
                "copmgrpkey": group,
                "copmkey": f"{group}{order}",
            }
        )
    tables["cogeomordesc"].append(
        {
            "geomftname": "Landform",
            "geomfname": series.landform,
            "rvindicator": Yes("Yes"),
            "cokey": cokey,
            "cogeomdkey": f"94{cokey}",
        }
    )
    tables["cotaxfmmin"].append(
        {"taxminalogy": series.minerals, "cokey": cokey, "cotaxfmminkey": f"95{cokey}"}
    )
    for n, (kind, depth) in enumerate(series.stops):
        tables["corestrictions"].append(
            {"reskind": kind, "resdept_r": depth, "cokey": cokey, "corestrictkey": f"96{cokey}{n}"}
        )
    _add_months(tables, series, cokey)
    for n in range(len(series.layers)):
        _add_layer(tables, series, n, cokey)


def _add_months(tables: dict[str, list[Row]], series: Series, cokey: str) -> None:
    for n, month in enumerate(MONTHS, 1):
        key = f"97{cokey}{n:02d}"
        tables["comonth"].append(
            {
                "monthseq": n,
                "month": month,
                "flodfreqcl": series.flooding,
                "cokey": cokey,
                "comonthkey": key,
            }
        )
        if series.wet_cm and n in (2, 3, 4):
            tables["cosoilmoist"].append(
                {
                    "soimoistdept_r": series.wet_cm,
                    "soimoistdepb_r": 200,
                    "soimoiststat": "Wet",
                    "comonthkey": key,
                    "cosoilmoistkey": f"98{key}",
                }
            )


def _add_layer(tables: dict[str, list[Row]], series: Series, n: int, cokey: str) -> None:
    name, top, bottom, sand, clay, organic, lime, stones, ksat = series.layers[n]
    chkey = f"99{cokey}{n}"
    row: Row = {"hzname": name, "hzdept_r": top, "hzdepb_r": bottom, "cokey": cokey, "chkey": chkey}
    if name not in {"Cr", "R"}:
        plastic = max(round(series.plastic * (clay - 8), 1), 0.0)
        row |= {
            "sandtotal_r": sand,
            "silttotal_r": 100 - sand - clay,
            "claytotal_l": max(clay - 7, 1),
            "claytotal_r": clay,
            "claytotal_h": clay + 8,
            "om_r": organic,
            "ksat_r": ksat,
            "lep_r": round(series.swell * clay, 1),
            "ll_r": round(plastic / 0.73 + 18, 1),
            "pi_r": plastic,
            "caco3_r": lime,
            "gypsum_r": 0,
            "sar_r": 0,
            "ec_r": 0.2,
            "cec7_r": round(series.activity * clay + 2.0 * organic, 1),
            "ph1to1h2o_r": 7.6 if lime > 2 else 5.4,
        }
        if stones:
            tables["chfrags"].append(
                {
                    "fragvol_r": stones,
                    "fragkind": "Rock fragments",
                    "fragsize_r": 20,
                    "chkey": chkey,
                    "chfragskey": f"90{chkey}",
                }
            )
    tables["chorizon"].append(row)


def _piped(rows: list[Row], names: tuple[str, ...]) -> str:
    """Return rows as piped text: words quoted, numbers bare, nothing between pipes when unknown."""
    for row in rows:
        unknown = set(row) - set(names)
        if unknown:
            raise KeyError(f"no such columns: {sorted(unknown)}")
    return "".join("|".join(_cell(row.get(name)) for name in names) + "\r\n" for row in rows)


def _cell(value: str | float | None) -> str:
    if value is None or value == "":
        return ""
    if isinstance(value, Yes):
        return str(value)
    if isinstance(value, str):
        return '"' + value.replace('"', '""') + '"'
    return f"{value:g}"

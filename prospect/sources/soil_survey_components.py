"""Turns the linked tables of a soil survey into one row per component, in our names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from prospect.sources.soil_survey_around import (
    family_mineralogies,
    landforms,
    parent_materials,
    restrictions,
    wetness,
)
from prospect.sources.soil_survey_horizons import HORIZON_COLUMNS, Horizons, layer_columns, read_horizons
from prospect.sources.soil_survey_tables import SurveyTable

WANTED: Mapping[str, tuple[str, ...]] = {
    "legend": ("areasymbol", "areaname", "projectscale", "cordate", "lkey"),
    "sacatalog": ("areasymbol", "saverest"),
    "distlegendmd": ("areasymbol", "areaname", "cordate"),
    "mapunit": ("musym", "muname", "invesintens", "lkey", "mukey"),
    "component": (
        "comppct_r",
        "compname",
        "majcompflag",
        "slope_r",
        "drainagecl",
        "map_r",
        "geomdesc",
        "taxclname",
        "taxpartsize",
        "mukey",
        "cokey",
    ),
    "chorizon": HORIZON_COLUMNS,
    "chfrags": ("fragvol_r", "fragkind", "chkey"),
    "copmgrp": ("pmgroupname", "rvindicator", "cokey", "copmgrpkey"),
    "copm": ("pmorder", "pmmodifier", "pmkind", "pmorigin", "copmgrpkey"),
    "cogeomordesc": ("geomftname", "geomfname", "rvindicator", "cokey"),
    "corestrictions": ("reskind", "resdept_r", "cokey"),
    "cotaxfmmin": ("taxminalogy", "cokey"),
    "comonth": ("flodfreqcl", "cokey", "comonthkey"),
    "cosoilmoist": ("soimoistdept_r", "soimoiststat", "comonthkey"),
}
"""The tables that are read, with the columns of each."""

REQUIRED: Mapping[str, tuple[str, ...]] = {
    "mapunit": ("mukey",),
    "component": ("comppct_r", "mukey", "cokey"),
    "chorizon": ("hzdept_r", "hzdepb_r", "claytotal_r", "cokey"),
}
"""Columns without which a table means nothing."""

TEXT_COLUMNS = (
    "mukey",
    "cokey",
    "component_name",
    "mineralogy",
    "drainage_class",
    "restriction_kind",
    "parent_material",
    "parent_kinds",
    "landform",
    "flooding",
)
BOOL_COLUMNS = ("major", "has_horizons", "lime_nodules")
COMPONENT_COLUMNS = (
    "mukey",
    "cokey",
    "component_name",
    "percent",
    "major",
    "has_horizons",
    "layer_top_cm",
    "layer_bottom_cm",
    "clay_pct",
    "sand_pct",
    "silt_pct",
    "liquid_limit_pct",
    "plasticity_index",
    "linear_extensibility_pct",
    "cec_per_clay",
    "ksat_um_s",
    "carbonate_pct",
    "gypsum_pct",
    "ec_ds_m",
    "sodium_adsorption_ratio",
    "organic_matter_pct",
    "rock_fragments_pct",
    "lime_nodules",
    "mineralogy",
    "drainage_class",
    "slope_pct",
    "profile_bottom_cm",
    "restriction_kind",
    "restriction_depth_cm",
    "lithic_depth_cm",
    "paralithic_depth_cm",
    "parent_material",
    "parent_kinds",
    "landform",
    "annual_rain_mm",
    "flooding",
    "water_table_cm",
    "clayey_top_cm",
    "clayey_thickness_cm",
    "clayey_clay_pct",
)

Tables = Mapping[str, SurveyTable]


def component_table(tables: Tables) -> pd.DataFrame:
    """Return one row per component with the columns `COMPONENT_COLUMNS`.

    Parameters
    ----------
    tables
        By name; `component` must be there, any other may be absent and then leaves its columns unknown.

    Returns
    -------
    DataFrame
        Unknown is NaN in numbers, '' in text, False in yes-or-no columns. Words are in lower case, except names
        and the parent material's text.

    Notes
    -----
    No restriction row and no bedrock horizon means none down to `profile_bottom_cm`, not none at all.
    """
    table = tables["component"]
    rows = _sound_components(table, tables.get("mapunit"))
    cokeys = table.text("cokey")
    known = frozenset(cokeys[position] for position in rows)
    columns: Mapping[str, Sequence[object]] = {
        "mukey": table.text("mukey"),
        "cokey": cokeys,
        "component_name": table.text("compname"),
        "percent": table.numbers("comppct_r").tolist(),
        "major": _yes(table, "majcompflag"),
        "slope_pct": table.numbers("slope_r").tolist(),
        "drainage_class": table.lower("drainagecl"),
        "annual_rain_mm": table.numbers("map_r").tolist(),
        "landform": table.lower("geomdesc"),
        "mineralogy": family_mineralogies(table, tables.get("cotaxfmmin"), known),
    }
    parts = (
        restrictions(tables.get("corestrictions"), known),
        parent_materials(tables.get("copmgrp"), tables.get("copm"), known),
        landforms(tables.get("cogeomordesc"), known),
        wetness(tables.get("comonth"), tables.get("cosoilmoist"), known),
    )
    horizons = _horizons(tables, known)
    found: list[dict[str, object]] = []
    for position in rows:
        values = {name: column[position] for name, column in columns.items()}
        if horizons:
            values |= layer_columns(horizons, cokeys[position])
        for part in parts:
            values |= part.get(cokeys[position], {})
        found.append(values)
    return _frame(found)


def _horizons(tables: Tables, known: frozenset[str]) -> Horizons | None:
    if "chorizon" not in tables:
        return None
    return read_horizons(tables["chorizon"], tables.get("chfrags"), known)


def _sound_components(table: SurveyTable, units: SurveyTable | None) -> list[int]:
    """Return the positions of the components that can be used."""
    mukeys = set(units.text("mukey")) if units else set()
    seen: set[str] = set()
    for position, (mukey, cokey) in enumerate(zip(table.text("mukey"), table.text("cokey"), strict=True)):
        action = "The component was left out."
        if not cokey or not mukey:
            field = "mukey" if cokey else "cokey"
            table.refuse(position, field, "", "a key", action)
        elif cokey in seen:
            action = "The first row with this key was kept, this one left out."
            table.refuse(position, "cokey", cokey, "each component once", action)
        elif units and mukey not in mukeys:
            table.mend(position, "mukey", mukey, "a map unit of the export", "Kept without the unit's name.")
        seen.add(cokey)
    return table.kept()


def _yes(table: SurveyTable, column: str) -> list[bool]:
    found = table.lower(column)
    for position, word in enumerate(found):
        if word not in ("yes", "no", ""):
            table.mend(position, column, word, "Yes or No", "Taken as No.")
    return [word == "yes" for word in found]


def _frame(found: Sequence[Mapping[str, object]]) -> pd.DataFrame:
    content: dict[str, object] = {}
    for column in COMPONENT_COLUMNS:
        if column in TEXT_COLUMNS:
            content[column] = pd.Series([str(row.get(column, "")) for row in found], dtype=object)
        elif column in BOOL_COLUMNS:
            content[column] = np.array([bool(row.get(column, False)) for row in found], dtype=np.bool_)
        else:
            content[column] = np.array([row.get(column, np.nan) for row in found], dtype=np.float64)
    return pd.DataFrame(content)

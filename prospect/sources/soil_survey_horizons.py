"""Checks the horizons of a soil survey and finds, for each component, the layer worth digging."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from prospect.clay.profile import (
    CLAYEY_WITHIN_CM,
    best_layer,
    depth_weighted_mean,
    shallowest_clayey_layer,
)
from prospect.sources.soil_survey_tables import SurveyTable
from prospect.sources.soil_survey_words import soil_words
from prospect.types import BoolArray, FloatArray

LAYER_COLUMNS: Mapping[str, str] = {
    "sand_pct": "sandtotal_r",
    "silt_pct": "silttotal_r",
    "liquid_limit_pct": "ll_r",
    "plasticity_index": "pi_r",
    "linear_extensibility_pct": "lep_r",
    "ksat_um_s": "ksat_r",
    "carbonate_pct": "caco3_r",
    "gypsum_pct": "gypsum_r",
    "ec_ds_m": "ec_r",
    "sodium_adsorption_ratio": "sar_r",
    "organic_matter_pct": "om_r",
}
"""Our column to the horizon's: all are means over the one best layer."""

HORIZON_COLUMNS = (
    "hzname",
    "hzdept_r",
    "hzdepb_r",
    "claytotal_r",
    "claysizedcarb_r",
    "cec7_r",
    *LAYER_COLUMNS.values(),
    "cokey",
    "chkey",
)

_LITHIC = re.compile(r"^\d*'*R")
_PARALITHIC = re.compile(r"^\d*'*C[a-z]*r")
_LIME = re.compile(r"k|^\d*K")
_ORGANIC = re.compile(r"^\d*'*[OL]")

Profile = dict[str, float | bool]


@dataclass(frozen=True, slots=True)
class Horizons:
    """The usable horizons, as arrays of one length, and which belong to which component.

    Attributes
    ----------
    of
        Component key to positions, from the surface down.
    top_cm, bottom_cm
        Depths; the bottom of bedrock may be NaN.
    clay_pct
        Clay without the carbonate of clay size; NaN where unknown.
    values
        Column of `LAYER_COLUMNS`, and `cec7_r` and `fragments`, to numbers.
    lime
        True where designation or fragments speak of lime gathered in nodules or masses.
    names
        Designations.
    """

    of: Mapping[str, list[int]]
    top_cm: FloatArray
    bottom_cm: FloatArray
    clay_pct: FloatArray
    values: Mapping[str, FloatArray]
    lime: BoolArray
    names: list[str]


def read_horizons(table: SurveyTable, fragments: SurveyTable | None, cokeys: frozenset[str]) -> Horizons:
    """Return the horizons that can be used; what cannot is said in the tables.

    Parameters
    ----------
    table
        `chorizon`.
    fragments
        `chfrags`, several rows per horizon, or None.
    cokeys
        Keys of the components that there are.
    """
    top, bottom = table.numbers("hzdept_r"), table.numbers("hzdepb_r")
    names, owners = table.text("hzname"), table.text("cokey")
    _refuse_duplicates(table)
    for position in table.kept():
        if owners[position] not in cokeys:
            action = "The horizon was left out."
            table.refuse(position, "cokey", owners[position], "a component of the export", action)
        elif np.isnan(top[position]) or (np.isnan(bottom[position]) and not _is_bedrock(names[position])):
            field = "hzdept_r" if np.isnan(top[position]) else "hzdepb_r"
            table.refuse(position, field, "", "a depth", "The horizon was left out.")
        elif bottom[position] <= top[position]:
            found = f"{top[position]:g} to {bottom[position]:g} cm"
            table.refuse(position, "hzdepb_r", found, "a bottom below its top", "The horizon was left out.")
    of = _by_component(table, owners, top, bottom)
    values = {column: table.numbers(column) for column in (*LAYER_COLUMNS.values(), "cec7_r")}
    mapped_clay = table.numbers("claytotal_r")
    _check_sums(table, values["sandtotal_r"] + values["silttotal_r"] + mapped_clay)
    clay = _clay_without_carbonate(table, mapped_clay)
    volume, limy = _fragments(table, fragments, clay)
    values["fragments"] = volume
    lime = np.array([bool(_LIME.search(name)) for name in names], dtype=np.bool_) | limy
    return Horizons(of, top, bottom, clay, values, lime, names)


def layer_columns(horizons: Horizons, cokey: str) -> Profile:
    """Return the columns of one component that come from its horizons; none that it does not know.

    Notes
    -----
    Every mean is over the one best layer (`prospect.clay.profile.best_layer`), the same for all columns, so that
    a plasticity never comes from another depth than the clay beside it.
    """
    at = horizons.of.get(cokey, [])
    if not at:
        return {"has_horizons": False}
    top, bottom, clay = horizons.top_cm[at], horizons.bottom_cm[at], horizons.clay_pct[at]
    found: Profile = {"has_horizons": True, "lime_nodules": bool(horizons.lime[at].any())}
    found["profile_bottom_cm"] = float(np.nanmax(np.where(np.isnan(bottom), top, bottom)))
    found |= _bedrock(horizons, at)
    found |= _clayey(top, bottom, clay, [horizons.names[position] for position in at])
    layer = best_layer(top, bottom, clay)
    if layer is None:
        return found
    found |= {
        "layer_top_cm": layer.top_cm,
        "layer_bottom_cm": layer.bottom_cm,
        "clay_pct": layer.clay_pct,
        "lime_nodules": bool(horizons.lime[at[layer.first : layer.last + 1]].any()),
    }

    def mean(values: FloatArray) -> float:
        return depth_weighted_mean(top, bottom, values, layer.top_cm, layer.bottom_cm)

    for ours, theirs in LAYER_COLUMNS.items():
        found[ours] = mean(horizons.values[theirs][at])
    found["rock_fragments_pct"] = mean(horizons.values["fragments"][at])
    exchange = horizons.values["cec7_r"][at]
    beside = mean(np.where(np.isnan(exchange), np.nan, clay))
    if beside > 0:
        found["cec_per_clay"] = mean(np.where(np.isnan(clay), np.nan, exchange)) / beside
    return found


def _refuse_duplicates(table: SurveyTable) -> None:
    seen: set[str] = set()
    for position, key in enumerate(table.text("chkey")):
        if key and key in seen:
            action = "The first row with this key was kept, this one left out."
            table.refuse(position, "chkey", key, "each horizon once", action)
        seen.add(key)


def _by_component(
    table: SurveyTable, owners: list[str], top: FloatArray, bottom: FloatArray
) -> dict[str, list[int]]:
    """Return each component's horizons from the surface down, and settle which one overlapping depths go to."""
    of: dict[str, list[int]] = defaultdict(list)
    for position in sorted(table.kept(), key=lambda position: (top[position], bottom[position], position)):
        listed = of[owners[position]]
        above = bottom[listed[-1]] if listed else -np.inf
        if top[position] >= above or np.isnan(above):
            listed.append(position)
            continue
        found = f"{top[position]:g} to {bottom[position]:g} cm under one that ends at {above:g} cm"
        expected = "horizons one below the other"
        if bottom[position] <= above:
            table.refuse(position, "hzdept_r", found, expected, "The horizon was left out.")
            continue
        table.mend(position, "hzdept_r", found, expected, f"Its top was set to {above:g} cm.")
        top[position] = above
        listed.append(position)
    return dict(of)


def _clay_without_carbonate(table: SurveyTable, clay: FloatArray) -> FloatArray:
    carbonate = table.numbers("claysizedcarb_r")
    for position in np.flatnonzero(carbonate > clay):
        found = f"{carbonate[position]:g} % in {clay[position]:g} % clay"
        expected = "no more carbonate of clay size than clay"
        table.mend(int(position), "claysizedcarb_r", found, expected, "Taken as unknown.")
        carbonate[position] = np.nan
    return clay - np.nan_to_num(carbonate, nan=0.0)


def _check_sums(table: SurveyTable, sums: FloatArray) -> None:
    for position in np.flatnonzero(np.abs(sums - 100) > 2):
        found = f"sand, silt and clay make {sums[position]:.4g} %"
        table.mend(int(position), "claytotal_r", found, "100 %", "Kept as they are.")


def _fragments(
    table: SurveyTable, fragments: SurveyTable | None, clay: FloatArray
) -> tuple[FloatArray, BoolArray]:
    """Return rock fragments in percent of volume per horizon, and where they are lumps of lime."""
    limy = np.zeros(len(clay), dtype=np.bool_)
    if fragments is None:
        return np.full(len(clay), np.nan), limy
    # No row means none only where the horizon was described, and it was where its clay is known.
    volume = np.where(np.isnan(clay), np.nan, 0.0)
    where = {key: position for position, key in enumerate(table.text("chkey"))}
    amounts, kinds = fragments.numbers("fragvol_r"), fragments.lower("fragkind")
    for position, key in enumerate(fragments.text("chkey")):
        horizon = where.get(key)
        if horizon is None:
            expected = "a horizon of the export"
            fragments.refuse(position, "chkey", key, expected, "The fragments were left out.")
            continue
        if any(word in kinds[position] for word in soil_words().words.lime_fragments):
            limy[horizon] = True
        if not np.isnan(amounts[position]):
            volume[horizon] = min(100.0, np.nan_to_num(volume[horizon]) + amounts[position])
    return volume, limy


def _is_bedrock(name: str) -> bool:
    return bool(_LITHIC.match(name) or _PARALITHIC.match(name))


def _bedrock(horizons: Horizons, at: list[int]) -> Profile:
    found: Profile = {}
    for key, pattern in (("lithic_depth_cm", _LITHIC), ("paralithic_depth_cm", _PARALITHIC)):
        tops = [horizons.top_cm[position] for position in at if pattern.match(horizons.names[position])]
        if tops:
            found[key] = float(min(tops))
    return found


def _clayey(top: FloatArray, bottom: FloatArray, clay: FloatArray, names: list[str]) -> Profile:
    layer = shallowest_clayey_layer(top, bottom, clay)
    if layer is not None:
        return {
            "clayey_top_cm": layer.top_cm,
            "clayey_thickness_cm": layer.thickness_cm,
            "clayey_clay_pct": layer.clay_pct,
        }
    untold = [
        np.isnan(clay[i]) and top[i] < CLAYEY_WITHIN_CM and not (_is_bedrock(name) or _ORGANIC.match(name))
        for i, name in enumerate(names)
    ]
    # A horizon nobody measured could be the clay: then "none" would be more than is known.
    return {} if any(untold) else {"clayey_thickness_cm": 0.0}

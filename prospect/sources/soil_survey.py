"""Reads a soil survey export into map unit polygons and one row per soil component."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import pandas as pd

from prospect.errors import InputRefused, ReaderFault
from prospect.guard.refusal import refuse_file
from prospect.issues import Issue, IssueLog, Severity
from prospect.layerfile import LayerSource
from prospect.sources.soil_survey_components import REQUIRED, WANTED, component_table
from prospect.sources.soil_survey_export import SurveyFiles, open_export
from prospect.sources.soil_survey_facts import SurveyFacts, facts_of, minimum_delineation_ha, survey_source
from prospect.sources.soil_survey_polygons import read_polygons
from prospect.sources.soil_survey_tables import SurveyTable, read_dictionary, read_table, say_table
from prospect.sources.soil_survey_words import soil_words
from prospect.types import Bounds

__all__ = ["minimum_delineation_ha", "read_soil_survey"]

_MOST_NAMED = 20
_COSTS: Mapping[str, str] = {
    "legend": "The area's name and scale are unknown.",
    "mapunit": "The map units have no names.",
    "chorizon": "Nothing is known of clay, plasticity, lime or depth.",
    "chfrags": "Rock fragments are unknown.",
    "copmgrp": "The parent material is unknown.",
    "copm": "The kinds of parent material are read out of their text.",
    "cogeomordesc": "The landform is read out of the component's description.",
    "corestrictions": "Restrictions are unknown; bedrock is read out of the horizons' names.",
    "cotaxfmmin": "The mineralogy is read out of the family's name.",
    "comonth": "Flooding and water table are unknown.",
    "cosoilmoist": "The water table is unknown.",
}


@dataclass(frozen=True, slots=True)
class _Area:
    """One survey area, read."""

    facts: SurveyFacts
    polygons: gpd.GeoDataFrame
    components: pd.DataFrame
    counts: Mapping[str, int]


def read_soil_survey(
    path: Path, *, crs: str = "", bounds: Bounds | None = None
) -> tuple[gpd.GeoDataFrame, pd.DataFrame, IssueLog, LayerSource]:
    """Return the map units and components of a soil survey export.

    Parameters
    ----------
    path
        The export's folder, a folder above it, a zip archive of either, or a folder of such archives.
    crs
        What the coordinates are in, when the user says so; wins over the files.
    bounds
        Degrees west, south, east, north (EPSG:4326): only polygons that reach into the box are read, and only
        their components.

    Returns
    -------
    polygons : GeoDataFrame
        `mukey, musym, name, geometry`, in the CRS of the export.
    components : DataFrame
        `COMPONENT_COLUMNS` of `prospect.sources.soil_survey_components`; units are in the names.
    log : IssueLog
        Its counts are of polygons. Every fault of a table's line is in it as well; the counts of the tables'
        lines are in `source.counts` as `chorizon_read`, `chorizon_kept` and so on.
    source : LayerSource
        Area, scale, order, years and the share of components with horizons in `notes`; `imported` is left ''.

    Raises
    ------
    InputRefused
        When nothing in it can be used; its log says why.
    """
    log = IssueLog(path.name, "soil")
    with open_export(path, log) as exports:
        areas = _read_areas(exports, crs, bounds, log)
    polygons = pd.concat([area.polygons.to_crs(areas[0].polygons.crs) for area in areas], ignore_index=True)
    if polygons.empty:
        found = "no polygon" if log.read == 0 else "no sound polygon"
        expected = "map units on this ground" if bounds else "map units"
        refuse_file(log, found, expected, "Give the survey area that covers your ground.")
    components = pd.concat([area.components for area in areas], ignore_index=True)
    components = _without_repeats(components, log)
    drawn = components["mukey"].isin(set(polygons["mukey"]))
    components = components[drawn].reset_index(drop=True)
    _say_unmatched(polygons, components, log)
    _say_percents(components, log)
    log.add_up()
    counts: Counter[str] = Counter(read=log.read, kept=log.kept, repaired=log.repaired, refused=log.refused)
    for area in areas:
        counts.update(area.counts)
    source = survey_source(
        path.name, str(polygons.crs), dict(counts), [area.facts for area in areas], components
    )
    return polygons, components, log, source


def _read_areas(
    exports: Sequence[SurveyFiles], crs: str, bounds: Bounds | None, log: IssueLog
) -> list[_Area]:
    """Return the areas that can be used; one that cannot is said and does not spoil the others."""
    areas: list[_Area] = []
    known: set[bytes] = set()
    for export in exports:
        own = IssueLog(log.file, log.kind)
        try:
            area = _read_area(export, crs, bounds, own, known)
        except ReaderFault:
            raise
        except InputRefused as refusal:
            log.issues.extend(own.issues)
            # The guard keeps a log of its own.
            if refusal.log is not None and refusal.log is not own:
                log.issues.extend(refusal.log.issues)
            continue
        log.issues.extend(own.issues)
        if area is not None:
            for count in ("read", "kept", "repaired", "refused"):
                setattr(log, count, getattr(log, count) + getattr(own, count))
            areas.append(area)
    if not areas:
        errors = (issue.sentence() for issue in log.issues if issue.severity == "error")
        raise InputRefused("\n".join((f"{log.file} cannot be used as soil.", *errors)), log)
    return areas


def _read_area(
    export: SurveyFiles, crs: str, bounds: Bounds | None, log: IssueLog, known: set[bytes]
) -> _Area | None:
    """Return one area, or None when its polygons were read before; `known` holds their fingerprints."""
    outlines = hashlib.blake2b(b"".join(path.read_bytes() for path in export.polygons)).digest()
    if outlines in known:
        found, expected = "the same polygons again", "each survey area once"
        action = "This copy of them was left out."
        name = export.polygons[0].name
        log.note(Issue("warning", name, name, "", found, expected, action))
        return None
    tables = _read_tables(export, log)
    facts = facts_of(tables, export.name)
    polygons = read_polygons(export.polygons, crs, bounds, log)
    names = _unit_names(tables["mapunit"])
    components = component_table(tables)
    known.add(outlines)
    counts: Counter[str] = Counter()
    for table in tables.values():
        counts.update(say_table(table, log))
    return _Area(facts, _with_names(polygons, names), components, counts)


def _read_tables(export: SurveyFiles, log: IssueLog) -> dict[str, SurveyTable]:
    dictionary = read_dictionary(export.tables, log)
    tables: dict[str, SurveyTable] = {}
    for name, wanted in WANTED.items():
        table = read_table(export.tables, name, wanted, dictionary, log, REQUIRED.get(name, ()))
        if table is not None:
            tables[name] = table
        if table is None or (table.frame.empty and name in REQUIRED):
            _say_absent(name, table, export.name, log)
    return tables


def _say_absent(name: str, table: SurveyTable | None, area: str, log: IssueLog) -> None:
    file = f"{soil_words().tables[name].file}.txt"
    found = "not in the export" if table is None else "no line with the right number of fields"
    place = f"{area}, table {name}"
    if name == "component":
        for issue in table.refused_lines[:_MOST_NAMED] if table else ():
            log.note(issue)
        action = "Export the survey again with its full tables."
        refuse_file(log, f"{file} {found}", "the components of the map units", action, place=place)
    if name in _COSTS:
        severity: Severity = "warning" if name in REQUIRED else "note"
        log.note(Issue(severity, file, place, "", found, f"the table {name}", _COSTS[name]))


def _unit_names(table: SurveyTable) -> dict[str, tuple[str, str]]:
    """Return map unit key to symbol and name; the first of several rows with one key counts."""
    names: dict[str, tuple[str, str]] = {}
    for position, (mukey, musym, name) in enumerate(
        zip(table.text("mukey"), table.text("musym"), table.text("muname"), strict=True)
    ):
        if not mukey:
            table.refuse(position, "mukey", "", "a key", "The map unit's name was left out.")
        elif mukey in names:
            action = "The first row with this key was kept, this one left out."
            table.refuse(position, "mukey", mukey, "each map unit once", action)
        else:
            names[mukey] = (musym, name)
    return names


def _with_names(polygons: gpd.GeoDataFrame, names: Mapping[str, tuple[str, str]]) -> gpd.GeoDataFrame:
    unit = [
        names.get(mukey, (musym, ""))
        for mukey, musym in zip(polygons["mukey"], polygons["musym"], strict=True)
    ]
    named = polygons.assign(
        musym=[symbol or drawn for (symbol, _), drawn in zip(unit, polygons["musym"], strict=True)],
        name=[name for _, name in unit],
    )
    return named[["mukey", "musym", "name", "geometry"]]


def _without_repeats(components: pd.DataFrame, log: IssueLog) -> pd.DataFrame:
    components = components.drop_duplicates()
    again = components["cokey"].duplicated()
    for cokey in components.loc[again, "cokey"].head(_MOST_NAMED):
        expected = "each component in one survey area"
        action = "The first one was kept."
        log.note(Issue("warning", log.file, "table component", "cokey", cokey, expected, action))
    return components[~again]


def _say_unmatched(polygons: gpd.GeoDataFrame, components: pd.DataFrame, log: IssueLog) -> None:
    unnamed = polygons.loc[polygons["name"] == "", "mukey"].value_counts()
    for mukey, count in unnamed.head(_MOST_NAMED).items():
        expected = "a named map unit in the table mapunit"
        place = f"{count} polygon{'s' if count > 1 else ''}"
        action = "Kept without a name."
        log.note(Issue("warning", "mapunit.txt", place, "mukey", str(mukey), expected, action))
    described = set(components["mukey"])
    bare = (
        polygons.loc[~polygons["mukey"].isin(described)]
        .groupby("mukey", sort=True)["name"]
        .agg(["size", "first"])
    )
    for mukey, row in bare.head(_MOST_NAMED).iterrows():
        place = f"{row['size']} polygon{'s' if row['size'] > 1 else ''}, {row['first']}".rstrip(", ")
        expected = "components of the map unit"
        action = "Kept; its soil is unknown."
        log.note(Issue("warning", "comp.txt", place, "mukey", str(mukey), expected, action))
    for kinds, total in (("without a name", len(unnamed)), ("without components", len(bare))):
        if total > _MOST_NAMED:
            found = f"{total - _MOST_NAMED} more map units {kinds}"
            log.note(Issue("warning", log.file, "", "mukey", found, "every unit described", "Kept."))


def _say_percents(components: pd.DataFrame, log: IssueLog) -> None:
    sums = components.groupby("mukey")["percent"].sum(min_count=1)
    for mukey, total in sums[sums > 100].head(_MOST_NAMED).items():
        expected = "components that make at most 100 %"
        action = "Kept; shares are taken of their sum."
        place = f"table component, mukey {mukey}"
        log.note(Issue("warning", "comp.txt", place, "comppct_r", f"{total:g}", expected, action))
    short = sums[sums < 100]
    if len(short):
        found = f"{len(short)} map units make less than 100 % (least {short.min():g} %)"
        action = "The rest of their soil is unknown."
        log.note(Issue("note", "comp.txt", "table component", "comppct_r", found, "100 %", action))

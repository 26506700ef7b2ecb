"""Takes one spot apart: every model, every criterion, whose ground it is, and what is not known."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from prospect.errors import WrongUsage
from prospect.favourability import explain
from prospect.grid import NONE_CODE, sample_at
from prospect.land import Intent
from prospect.pipeline.factors import Landscape, build_landscape
from prospect.pipeline.leave import land_checks
from prospect.pipeline.reading import guarded
from prospect.pipeline.score import Scored
from prospect.records import Fact, GroundReport, LandCheck, ModelReading, Scope
from prospect.sources.probe_points import read_points_to_probe
from prospect.store import Ground

NEAR_M = 250.0
"""Samples this near are told of in a ground report (own judgement)."""

_FACTS = (
    ("slope_pct", "Slope", "{:.1f} %"),
    ("height_above_drainage_m", "Height above the stream below", "{:.1f} m"),
    ("distance_to_channel_m", "Distance to the channel along the flow", "{:.0f} m"),
    ("upstream_area_km2", "Catchment of the stream below", "{:.3g} km²"),
    ("depression_depth_m", "Depth of the hollow", "{:.1f} m"),
    ("upstream_carbonate_share", "Lime rock upstream", "{:.0%}"),
)


def ground_report(ground: Ground, scored: Scored, lon: float, lat: float, *, on: str = "") -> GroundReport:
    """Return everything known about a spot.

    Parameters
    ----------
    ground, scored
        The ground and its favourability (for its models and purpose).
    lon, lat
        WGS 84, degrees.
    on
        ISO date of the visit, for the land check.

    Raises
    ------
    WrongUsage
        When the spot lies outside the ground.
    """
    landscape = build_landscape(ground)
    easting, northing, row, col = _place(landscape, lon, lat)
    readings = _ordered(explain(scored.models, landscape.factors, row, col, scored.purpose))
    lead = readings[0] if readings and readings[0].can_lead else None
    land = land_check(ground, lon, lat, scope="auger", on=on)
    facts = (
        *_terrain_facts(landscape, row, col),
        *_map_facts(landscape, row, col),
        *_sample_facts(ground, easting, northing, landscape),
    )
    cautions = () if lead is None else (*(gate.reason for gate in lead.gates), *lead.cautions)
    return GroundReport(
        lon=lon,
        lat=lat,
        easting=easting,
        northing=northing,
        sentence=_sentence(lead, readings),
        lead=lead,
        models=readings,
        facts=facts,
        land=land,
        cautions=tuple(dict.fromkeys((*cautions, *land.cautions))),
        missing=landscape.missing,
    )


def land_check(
    ground: Ground,
    lon: float,
    lat: float,
    *,
    scope: Scope | Intent = "dig",
    gps_error_m: float = 5.0,
    on: str = "",
) -> LandCheck:
    """Return whose ground a spot is and what applies there; works on any ground with an area."""
    _place(build_landscape(ground), lon, lat)
    return land_checks(ground, [(lon, lat)], scope=scope, gps_error_m=gps_error_m, on=on)[0]


def probe(scored: Scored, points: pd.DataFrame) -> pd.DataFrame:
    """Return the scores at many points.

    Parameters
    ----------
    scored
        The ground's favourability.
    points
        Columns `id, lon, lat` (WGS 84).

    Returns
    -------
    DataFrame
        `id, lon, lat, deposit, favourability, completeness, chance, chance_low, chance_high` and one column for each
        deposit model; NaN or '' where nothing can be said. `chance` is empty until holes were learned from.
    """
    grid = scored.grid
    placed = [grid.from_lonlat(lon, lat) for lon, lat in zip(points["lon"], points["lat"], strict=True)]
    eastings = np.array([place[0] for place in placed], float)
    northings = np.array([place[1] for place in placed], float)
    index = [grid.rowcol(x, y) for x, y in placed]
    codes = [NONE_CODE if cell is None else int(scored.best_deposit[cell]) for cell in index]
    empty = np.full(len(points), np.nan)
    return pd.DataFrame(
        {
            "id": points["id"].to_numpy(),
            "lon": points["lon"].to_numpy(),
            "lat": points["lat"].to_numpy(),
            "deposit": ["" if code < 0 else scored.keys[code] for code in codes],
            "favourability": sample_at(scored.best, eastings, northings),
            "completeness": sample_at(scored.completeness, eastings, northings),
            "chance": empty,
            "chance_low": empty,
            "chance_high": empty,
            **{key: sample_at(scored.favourability[key], eastings, northings) for key in scored.keys},
        }
    )


def read_probe_points(path: Path, crs: str) -> pd.DataFrame:
    """Return the points of a user's table as `id, lon, lat`, read in a process of its own.

    Raises
    ------
    NothingToWorkWith, WrongUsage
        When the columns are not there or a number cannot be read; the row is named.
    InputRefused
        When it is no table, and when reading it crashes, takes too long or too much memory.
    """
    return guarded(read_points_to_probe, path, "points", crs)


def _place(landscape: Landscape, lon: float, lat: float) -> tuple[float, float, int, int]:
    grid = landscape.factors.grid
    easting, northing = grid.from_lonlat(lon, lat)
    cell = grid.rowcol(easting, northing) if math.isfinite(easting) and math.isfinite(northing) else None
    if cell is None:
        west, south, east, north = grid.lonlat_bounds()
        raise WrongUsage(
            f"{lon:g}, {lat:g} is not on this ground, which lies within longitude {west:.4f} to {east:.4f} and "
            f"latitude {south:.4f} to {north:.4f}. Longitude comes first."
        )
    return easting, northing, *cell


def _ordered(readings: Sequence[ModelReading]) -> tuple[ModelReading, ...]:
    return tuple(sorted(readings, key=lambda item: (not item.can_lead, -(item.favourability or 0.0))))


def _sentence(lead: ModelReading | None, readings: Sequence[ModelReading]) -> str:
    if lead is None or lead.favourability is None:
        reasons = list(dict.fromkeys(item.cannot_say for item in readings if item.cannot_say))[:2]
        return " ".join(["Nothing can be said here yet.", *reasons])
    worth = next(word for limit, word in _WORTH if lead.favourability >= limit)
    top = [item for item in lead.criteria if item.level == 0]
    known = [item for item in top if item.membership is not None]
    good = [item for item in known if (item.membership or 0.0) >= 0.6 and item.weight > 0]
    poor = [item for item in known if (item.membership or 0.0) < 0.4]
    unknown = [item.title.lower() for item in top if item.membership is None]
    said = [f"{worth} for {lead.title[:1].lower()}{lead.title[1:]}."]
    if good:
        said.append("For it: " + "; ".join(_told(item.title, item.value) for item in good[:3]) + ".")
    if poor:
        said.append("Against it: " + "; ".join(_told(item.title, item.value) for item in poor[:3]) + ".")
    if lead.gates:
        said.append(" ".join(gate.reason for gate in lead.gates))
    if unknown:
        said.append(f"Not known: {', '.join(unknown)}.")
    return " ".join(said)


_WORTH = ((0.75, "Good ground"), (0.5, "Fair ground"), (0.25, "Poor ground"), (0.0, "Hardly ground"))


def _told(title: str, value: str) -> str:
    """Return a criterion with its value, leaving out what only a table can carry."""
    lowered = f"{title[:1].lower()}{title[1:]}"
    short = value.split(" (")[0] if _SPREAD in value else value
    return lowered if not short or short == "not known" or _SUMMARY.search(short) else f"{lowered} ({short})"


_SPREAD = "over the parts of the map unit"
_SUMMARY = re.compile(r"^\d+ of \d+ known$|^decided by ")


def _terrain_facts(landscape: Landscape, row: int, col: int) -> tuple[Fact, ...]:
    facts = []
    if landscape.elevation is not None and not landscape.elevation.mask[row, col]:
        height = float(landscape.elevation.values[row, col])
        facts.append(Fact("Elevation", f"{height:.0f} m", landscape.factors.source("slope_pct")))
    for name, label, form in _FACTS:
        raster = landscape.factors.rasters.get(name)
        if raster is not None and not raster.mask[row, col]:
            value = form.format(float(raster.values[row, col])).replace("%", " %").replace("  %", " %")
            facts.append(Fact(label, value, landscape.factors.source(name)))
    cut = landscape.factors.rasters.get("catchment_cut")
    if cut is not None and not cut.mask[row, col] and cut.values[row, col] == 1:
        said = "leaves the elevation data: its size and what lies in it are not known"
        facts.append(Fact("Catchment of the stream below", said, landscape.factors.source("catchment_cut")))
    return tuple(facts)


def _map_facts(landscape: Landscape, row: int, col: int) -> tuple[Fact, ...]:
    facts, factors = [], landscape.factors
    if factors.geology is not None and (code := int(factors.geology.codes[row, col])) >= 0:
        entry, source = factors.geology.table.iloc[code], factors.sources.get("geology", "")
        facts.append(Fact("Rock map unit", f"{entry['name'] or entry['unit']}", source))
        if entry["age"]:
            facts.append(Fact("Age", str(entry["age"]), source))
        facts.append(Fact("Read as", str(entry["read_as"]) or "not readable", source))
        for column, label in (("fired_colour", "Likely fired colour"), ("contaminants", "Look out for")):
            if entry[column]:
                facts.append(Fact(label, _in_words(column, str(entry[column])), source))
    if factors.soil is not None and (code := int(factors.soil.codes[row, col])) >= 0:
        here = factors.soil.table[factors.soil.table["code"] == code].sort_values("percent", ascending=False)
        known = here[here["percent"].notna()]
        named = ", ".join(
            f"{name} {percent:.0f} %"
            for name, percent in zip(known["component_name"], known["percent"], strict=True)
        )
        facts.append(Fact("Soils", named or "not described", factors.sources.get("soil", "")))
    return tuple(facts)


def _in_words(column: str, value: str) -> str:
    if column != "fired_colour":
        return value
    return " to ".join(_COLOURS.get(letter, letter) for letter in value.split("–"))


_COLOURS = {"L": "white or cream", "B": "buff or tan", "R": "red", "D": "dark brown"}


def _sample_facts(ground: Ground, easting: float, northing: float, landscape: Landscape) -> tuple[Fact, ...]:
    near = []
    for sample in ground.samples():
        x, y = landscape.factors.grid.from_lonlat(sample.lon, sample.lat)
        distance = math.hypot(x - easting, y - northing)
        if distance <= NEAR_M:
            near.append((distance, sample))
    words = {"yes": "usable", "no": "not usable", "unknown": "not judged"}
    return tuple(
        Fact(f"Sample {sample.sample_id}", f"{words[sample.usable]}, {distance:.0f} m away", "your record")
        for distance, sample in sorted(near, key=lambda pair: pair[0])[:5]
    )

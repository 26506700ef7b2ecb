"""Gives each geology shape the colour, pattern and words of its rock family."""

from __future__ import annotations

from collections.abc import Mapping

import geopandas as gpd

from prospect.palette import rock_family
from prospect.rock import lithology, unit_table


def with_rock_colours(frame: gpd.GeoDataFrame, corrections: Mapping[str, str]) -> gpd.GeoDataFrame:
    """Return the geology with the columns `colour`, `pattern` and `family`.

    Parameters
    ----------
    frame
        The normal form: `unit, name, age, description, rocks`.
    corrections
        The user's own readings, `unit → term:fraction,…`.
    """
    lineages = unit_lineages(frame, corrections)
    families = [rock_family(lineages.get(unit, ())) for unit in frame["unit"]]
    return frame.assign(
        colour=[family.colour for family in families],
        pattern=[family.pattern for family in families],
        family=[family.title for family in families],
    )


def unit_lineages(frame: gpd.GeoDataFrame, corrections: Mapping[str, str]) -> dict[str, tuple[str, ...]]:
    """Return each unit's main lithology term followed by the broader ones; empty where its wording was not read."""
    table = unit_table(frame, corrections)
    return {unit: _lineage(read_as) for unit, read_as in zip(table["unit"], table["read_as"], strict=True)}


def _lineage(read_as: str) -> tuple[str, ...]:
    main = str(read_as).split(",")[0].split(":")[0].strip()
    if main not in lithology():
        return ()
    return tuple(term for level in lithology().broader_levels(main) for term in level)

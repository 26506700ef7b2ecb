"""Gives each geology shape the colour, pattern and words of its rock family."""

from __future__ import annotations

from collections.abc import Mapping

import geopandas as gpd
import pandas as pd

from prospect.palette import rock_family
from prospect.rock import lithology, unit_table


def with_rock_colours(frame: gpd.GeoDataFrame, corrections: Mapping[str, str]) -> gpd.GeoDataFrame:
    """Return the geology with the columns `colour`, `pattern` and `read_as`.

    Parameters
    ----------
    frame
        The normal form: `unit, name, age, description, rocks`.
    corrections
        The user's own readings, `unit → term:fraction,…`.
    """
    table = unit_table(frame, corrections)
    lineages = _lineages(table)
    read_as = dict(zip(table["unit"], table["read_as"], strict=True))
    families = [rock_family(lineages.get(unit, ())) for unit in frame["unit"]]
    return frame.assign(
        colour=[family.colour for family in families],
        pattern=[family.pattern for family in families],
        read_as=frame["unit"].map(read_as),
    )


def unit_lineages(frame: gpd.GeoDataFrame, corrections: Mapping[str, str]) -> dict[str, tuple[str, ...]]:
    """Return each unit's main lithology term followed by the broader ones; empty where its wording was not read."""
    return _lineages(unit_table(frame, corrections))


def _lineages(table: pd.DataFrame) -> dict[str, tuple[str, ...]]:
    return {unit: _lineage(rocks) for unit, rocks in zip(table["unit"], table["rocks"], strict=True)}


def _lineage(rocks: str) -> tuple[str, ...]:
    main = str(rocks).split(",")[0].split(":")[0].strip()
    if main not in lithology():
        return ()
    return tuple(term for level in lithology().broader_levels(main) for term in level)

"""Gives each geology shape the colour, pattern and words of its rock family."""

from __future__ import annotations

from collections.abc import Mapping

import geopandas as gpd

from prospect.palette import RockFamily, rock_family
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
    table = unit_table(frame, corrections)
    families = {unit: _family(read_as) for unit, read_as in zip(table["unit"], table["read_as"], strict=True)}
    units = frame["unit"].map(lambda unit: families.get(unit, rock_family(())))
    return frame.assign(
        colour=[family.colour for family in units],
        pattern=[family.pattern for family in units],
        family=[family.title for family in units],
    )


def _family(read_as: str) -> RockFamily:
    main = str(read_as).split(",")[0].split(":")[0].strip()
    if main not in lithology():
        return rock_family(())
    return rock_family([term for level in lithology().broader_levels(main) for term in level])

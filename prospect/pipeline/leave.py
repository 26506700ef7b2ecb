"""Brings a ground's ledger, settings and rules to the land check, for one spot or many."""

from __future__ import annotations

from collections.abc import Sequence

from prospect.grid import Grid
from prospect.land import (
    OWN_RULES_FOLDER,
    Intent,
    KeepOutRule,
    LandChecks,
    Ledger,
    Seen,
    Terms,
    check_spots,
    ground_rules,
)
from prospect.pipeline.factors import build_landscape
from prospect.records import Scope
from prospect.store import Ground


def keep_out_rules(ground: Ground) -> tuple[KeepOutRule, ...]:
    """Return the keep-out rules in force on a ground: the shipped ones with its own over them.

    Raises
    ------
    DefinitionError
        With every fault of its own rule files.
    """
    return ground_rules(ground.folder / OWN_RULES_FOLDER)


def ground_ledger(ground: Ground, grid: Grid) -> Ledger:
    """Return everything on record about leave and about what was seen on the spot, placed on the grid."""
    looked = [Seen(entry, *grid.from_lonlat(entry.lon, entry.lat)) for entry in ground.looked()]
    return Ledger(ground.permissions(), looked)


def ground_terms(ground: Ground) -> Terms:
    """Return what a check on this ground is held against."""
    settings = ground.settings
    return Terms(settings.line_error_m, settings.own_setback_m, settings.sure_inside, keep_out_rules(ground))


def land_checks(
    ground: Ground,
    places: Sequence[tuple[float, float]],
    *,
    scope: Scope | Intent = "dig",
    gps_error_m: float = 5.0,
    on: str = "",
) -> LandChecks:
    """Return whose ground many spots are and what applies there.

    Parameters
    ----------
    ground
        With an area.
    places
        Longitude and latitude, degrees, of each spot; a spot off the ground has no parcel and stays unknown.
    scope, gps_error_m, on
        As for `prospect.land.check_spots`.
    """
    landscape = build_landscape(ground)
    grid = landscape.factors.grid
    placed = [grid.from_lonlat(lon, lat) for lon, lat in places]
    return check_spots(
        [easting for easting, _ in placed],
        [northing for _, northing in placed],
        landscape.land,
        gps_error_m=gps_error_m,
        scope=scope,
        ledger=ground_ledger(ground, grid),
        on=on,
        terms=ground_terms(ground),
    )

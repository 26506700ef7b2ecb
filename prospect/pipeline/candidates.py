"""Cuts candidate sites from a score, measures them, and says what is known of each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from prospect.errors import WrongUsage
from prospect.favourability import explain
from prospect.grid import Grid, Raster, outline_classes
from prospect.land import nameless_touching, owners_of, parcels_touching, permission_word
from prospect.pipeline.factors import Landscape, build_landscape
from prospect.pipeline.score import Scored
from prospect.records import Permission, Site
from prospect.sites import cut_level, delineate_sites, rank_sites, site_statistics
from prospect.store import Ground
from prospect.types import FloatArray, IntArray

SMALLEST_SITE_HA = 0.5
LARGEST_SITE_HA = 30.0
"""A site larger than this is narrowed to its best parts; a day's walk with an auger (own judgement)."""
FEWEST_CELLS = 6

_MEANS = ("slope_pct", "height_above_drainage_m")


@dataclass(frozen=True, slots=True)
class _Offer:
    """What sites are cut from: a score, and which deposit it speaks of in each cell (-1 = none)."""

    value: Raster
    deposit: IntArray


@dataclass(frozen=True, slots=True)
class _Leave:
    """Who would have to be asked before a site is augered, and what the ledger says of them."""

    permissions: Sequence[Permission]
    parcels: gpd.GeoDataFrame | None
    day: str

    def on(self, shape: Any) -> tuple[tuple[str, ...], str]:
        """Return the parcels that a site touches, and the standing that decides."""
        if self.parcels is None:
            return (), "not known whose"
        touching = parcels_touching(self.parcels, shape)
        owners = owners_of(self.parcels, touching)
        # Whoever owns a parcel without identifier has a say too, and nothing on record can be about it.
        asked = (*touching, "") if nameless_touching(self.parcels, shape) else touching
        return touching, permission_word(self.permissions, asked, "auger", self.day, owners)


def find_sites(
    ground: Ground,
    scored: Scored,
    *,
    deposit: str | None = None,
    top: int = 20,
    min_area_ha: float | None = None,
    on: str = "",
) -> tuple[tuple[Site, ...], gpd.GeoDataFrame]:
    """Return ranked candidate sites and their outlines.

    Parameters
    ----------
    ground, scored
        The ground and its favourability.
    deposit
        Only this model's ground; default the headline.
    top
        How many sites at most.
    min_area_ha
        Smallest site; default 0.5 ha.
    on
        ISO date of the visit, for the permission ledger; without one, leave with dates does not count.

    Returns
    -------
    sites, outlines
        Sites in rank order, and a frame `site, deposit, favourability, geometry` in the grid's CRS in the same order.

    Raises
    ------
    WrongUsage
        When the score has no such deposit model.
    """
    offer = _offer(scored, deposit)
    landscape = build_landscape(ground)
    labels = _cut(offer, scored.grid, SMALLEST_SITE_HA if min_area_ha is None else min_area_ha)
    means = _means(scored, landscape)
    statistics = site_statistics(labels, offer.value.values, means, scored.grid.cell_area_ha)
    table = rank_sites(statistics).head(max(top, 0))
    shapes = _outlines(labels, table, scored.grid)
    leave = _Leave(ground.permissions(), landscape.land.parcels, on)
    sites = tuple(
        _site(
            number,
            row,
            scored.keys[int(offer.deposit[row["row"], row["col"]])],
            shape,
            scored,
            landscape,
            leave,
        )
        for number, (row, shape) in enumerate(zip(table.to_dict("records"), shapes, strict=True), start=1)
    )
    columns = {name: [getattr(site, name) for site in sites] for name in ("site", "deposit", "favourability")}
    return sites, gpd.GeoDataFrame(columns, geometry=shapes, crs=scored.grid.crs)


def _offer(scored: Scored, deposit: str | None) -> _Offer:
    if deposit is None:
        return _Offer(scored.best, scored.best_deposit)
    if deposit not in scored.keys:
        known = ", ".join(scored.keys)
        raise WrongUsage(f"There is no deposit model '{deposit}' here. The models are: {known}.")
    value = scored.favourability[deposit]
    return _Offer(value, np.where(value.mask, -1, scored.keys.index(deposit)).astype(np.int32))


def _cut(offer: _Offer, grid: Grid, smallest_ha: float) -> IntArray:
    fewest = max(FEWEST_CELLS, round(smallest_ha / grid.cell_area_ha))
    return delineate_sites(
        offer.value.values,
        offer.deposit,
        level=cut_level(offer.value.values),
        min_cells=fewest,
        max_cells=max(fewest, round(LARGEST_SITE_HA / grid.cell_area_ha)),
    )


def _means(scored: Scored, landscape: Landscape) -> dict[str, FloatArray]:
    rasters = landscape.factors.rasters
    there = {name: rasters[name].values for name in _MEANS if name in rasters}
    return {"completeness": scored.completeness.values, **there}


def _outlines(labels: IntArray, table: pd.DataFrame, grid: Grid) -> list[Any]:
    """Return the outlines of the sites in the table, in its order."""
    if table.empty:
        return []
    numbers = labels[table["row"], table["col"]]
    order = np.full(int(labels.max()) + 2, -1, np.int32)
    order[numbers] = np.arange(len(numbers))
    shapes = outline_classes(order[labels], grid)
    return [shapes[place] for place in range(len(numbers))]


def _site(
    number: int,
    row: Mapping[Any, Any],
    deposit: str,
    shape: Any,
    scored: Scored,
    landscape: Landscape,
    leave: _Leave,
) -> Site:
    easting, northing = scored.grid.xy(row["row"], row["col"])
    lon, lat = scored.grid.to_lonlat(easting, northing)
    touching, permission = leave.on(shape)
    return Site(
        site=number,
        deposit=deposit,
        favourability=row["favourability"],
        completeness=row["completeness"],
        area_ha=row["area_ha"],
        lon=lon,
        lat=lat,
        easting=easting,
        northing=northing,
        rock=landscape.unit_at(row["row"], row["col"]),
        slope_pct=_or_none(row.get("slope_pct")),
        height_above_drainage_m=_or_none(row.get("height_above_drainage_m")),
        parcels=touching,
        permission=permission,
        cautions=_cautions(landscape, scored.only(deposit), row["row"], row["col"]),
    )


def _cautions(landscape: Landscape, scored: Scored, row: int, col: int) -> tuple[str, ...]:
    (reading,) = explain(scored.models, landscape.factors, row, col, scored.purpose)
    return tuple(dict.fromkeys((*(gate.reason for gate in reading.gates), *reading.cautions)))


def _or_none(value: float | None) -> float | None:
    return None if value is None or not np.isfinite(value) else float(value)

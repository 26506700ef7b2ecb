"""Cuts a ground down to what a letter to one owner shows: their parcel, and spots on it that may be asked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd
import shapely

from prospect.errors import NothingToWorkWith
from prospect.land import (
    Ledger,
    Seen,
    Spot,
    check_spot,
    line_setback,
    sigma_of_radius,
    standing,
)
from prospect.layerfile import read_source
from prospect.pipeline.candidates import find_sites
from prospect.pipeline.factors import Landscape, build_landscape
from prospect.pipeline.leave import ground_terms
from prospect.pipeline.score import choose, score
from prospect.records import Purpose, Scope
from prospect.share import Audience, FieldMapContent, for_audience
from prospect.share.parcel_view import ParcelView, parcel_rows, parcel_view
from prospect.store import Ground

MOST_SUGGESTED = 12
"""Spots of the ranking that one letter asks for at most (own judgement)."""
SURE_SIDE = 0.95
"""How sure one should be to stand on the right side of the line at a spot that the ranking proposes."""
_PHONE_ERROR_M = 5.0
_SITES_LOOKED_THROUGH = 500

Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Offer:
    """Spots that may be asked for, and a sentence for each that was left out or is worth a word."""

    spots: tuple[Place, ...]
    notes: tuple[str, ...]


def owner_view(
    ground: Ground,
    parcel_id: str,
    spots: Sequence[Place] | None = None,
    *,
    scope: Scope = "dig",
    deposit: str | None = None,
    purpose: Purpose | None = None,
    most: int = MOST_SUGGESTED,
    on: str = "",
) -> tuple[ParcelView, tuple[str, ...]]:
    """Return one parcel as its owner may see it, and a sentence for each spot that was left out.

    Parameters
    ----------
    ground
        With a parcel layer.
    parcel_id
        Which parcel.
    spots
        Longitude and latitude, degrees; None = the best spots of the ranking on this parcel.
    scope
        What is asked for; a spot where it is forbidden is left out.
    deposit, purpose
        Which ranking.
    most
        How many of its spots at most.
    on
        ISO date.

    Raises
    ------
    NothingToWorkWith
        When the parcel is not there, or its owner asked not to be asked again.
    WrongUsage
        When a spot lies outside the parcel.
    """
    landscape = build_landscape(ground)
    land = landscape.land
    parcel_rows(land.parcels, parcel_id)
    word = standing(ground.permissions(), parcel_id, scope, on)
    if word.word == "do not ask":
        raise NothingToWorkWith(
            f"{word.sentence} No letter is written. If that has changed, note it first with claywalk permit."
        )
    spoken: tuple[str, ...] = (word.sentence,) if word.keep_away else ()
    given = spots is not None
    if spots is None:
        spots, missing = _best_spots(ground, parcel_id, deposit, purpose, most)
        spoken += missing
    view = parcel_view(land.parcels, parcel_id, spots)
    offer = _allowed(ground, landscape, view, spots, scope, on, given=given)
    source = read_source(ground.layers_folder, "parcels")
    return (
        parcel_view(land.parcels, parcel_id, offer.spots, water=land.water, roads=land.roads, source=source),
        (*spoken, *offer.notes),
    )


def _best_spots(
    ground: Ground, parcel_id: str, deposit: str | None, purpose: Purpose | None, most: int
) -> tuple[tuple[Place, ...], tuple[str, ...]]:
    """Return the best spots on a parcel, best first, and what to say when there is none."""
    by_hand = "Give spots with --at LON,LAT or --spots FILE, or mark them on the map by hand."
    try:
        scored = score(ground, choose(ground, purpose=purpose))
        sites, outlines = find_sites(ground, scored, deposit=deposit, top=_SITES_LOOKED_THROUGH)
    except NothingToWorkWith as error:
        return (), (f"No spot is proposed: {error} {by_hand}",)
    content = FieldMapContent(
        name="",
        grid=scored.grid,
        best=scored.best,
        favourability={},
        titles={},
        sites=sites,
        outlines=outlines,
        parcels=build_landscape(ground).land.parcels,
    )
    allowed, _ = for_audience(content, Audience("owner", parcel_id))
    best = tuple((site.lon, site.lat) for site in allowed.sites[:most])
    return best, () if best else (f"No ranked site lies on parcel {parcel_id}. {by_hand}",)


def _allowed(
    ground: Ground,
    landscape: Landscape,
    view: ParcelView,
    spots: Sequence[Place],
    scope: Scope,
    on: str,
    *,
    given: bool,
) -> _Offer:
    """Leave out spots that a keep-out forbids, and proposed ones where the side of the line is not certain."""
    grid = landscape.factors.grid
    looked = [Seen(entry, *grid.from_lonlat(entry.lon, entry.lat)) for entry in ground.looked()]
    near = line_setback(sigma_of_radius(_PHONE_ERROR_M), _line_error(ground, landscape, view), SURE_SIDE)
    kept, notes, terms = [], [], ground_terms(ground)
    for (lon, lat), placed in zip(spots, view.spots, strict=True):
        named = f"{lon:.5f}, {lat:.5f}"
        check = check_spot(
            Spot(*grid.from_lonlat(lon, lat), _PHONE_ERROR_M),
            landscape.land,
            scope=scope,
            ledger=Ledger(looked=looked),
            on=on,
            terms=terms,
        )
        away = float(shapely.distance(view.shape.boundary, shapely.Point(placed)))
        beside = f"{named} lies {away:.0f} m from the parcel line; which side it is on is sure from {near:.0f} m on."
        if check.verdict == "stay out":
            notes.append(f"Left out, the spot {named}: {check.reasons[0]}")
        elif away < near and not given:
            notes.append(f"Left out, a spot of the ranking: {beside}")
        else:
            kept.append((lon, lat))
            notes += [f"The spot {beside}"] if away < near else []
    return _Offer(tuple(kept), tuple(notes))


def _line_error(ground: Ground, landscape: Landscape, view: ParcelView) -> float:
    rows = parcel_rows(landscape.land.parcels, view.parcel_id)
    if "line_error_m" not in rows.columns:
        return ground.settings.line_error_m
    own = pd.to_numeric(rows["line_error_m"], errors="coerce").max()
    return ground.settings.line_error_m if pd.isna(own) else float(own)

"""Who a shared file is for, and what is taken out of it before it is written."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import geopandas as gpd
import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from prospect.errors import NothingToWorkWith, WrongUsage
from prospect.grid import Grid, Raster, rasterize_classes
from prospect.layerfile import LayerSource
from prospect.records import GroundReport, LandCheck, ModelReading, Site
from prospect.share.content import FieldMapContent
from prospect.share.provenance import without_file, words_without_files

Role = Literal["self", "helper", "owner", "public"]

PUBLIC_BLOCK_M = 250.0
"""Side of the squares that a public copy is blurred to, m (own judgement: wider than most small holdings)."""
PUBLIC_RELIEF_M = 30.0
"""Finest relief in a public copy, m: the cell of the elevation that is open for most of the world (1 arc-second)."""
_SMALLEST_PIECE_M2 = 1.0
_NEVER_SHOWN = ("leads", "keepouts", "outline")
_NAMELESS = "Names of the ground and of the files that it was made from."


@dataclass(frozen=True, slots=True)
class Audience:
    """Who a shared file is for.

    Attributes
    ----------
    role
        `self` sees everything. `helper` (somebody who comes along) sees everything but where heritage and rare
        species lie. `owner` sees their own
        parcel and nothing beyond its line, no samples and no names. `public` sees the ground blurred to squares
        of `PUBLIC_BLOCK_M`: no owners, no parcels, no samples, no exact place. Neither of the last two sees what
        the ground and the files behind it are called.
    parcel_id
        For `owner`: which parcel.
    """

    role: Role = "public"
    parcel_id: str = ""

    @classmethod
    def named(cls, text: str) -> Audience:
        """Read `self`, `helper`, `public` or `owner:PARCEL`; raise `WrongUsage` for anything else."""
        role, _, parcel = text.strip().partition(":")
        if role == "owner" and parcel.strip():
            return cls("owner", parcel.strip())
        if not parcel and role == "self":
            return cls("self")
        if not parcel and role == "helper":
            return cls("helper")
        if not parcel and role == "public":
            return cls("public")
        raise WrongUsage(f"Invalid audience '{text}': it must be self, helper, public or owner:PARCEL.")

    @property
    def sees_names(self) -> bool:
        """Whether owner names and exact sample positions may be in the file."""
        return self.role in ("self", "helper")

    @property
    def sees_places(self) -> bool:
        """Whether outlines and coordinates may be exact."""
        return self.role != "public"

    def title(self) -> str:
        """Return the audience in words."""
        return {
            "self": "for yourself",
            "helper": "for a helper",
            "owner": f"for the owner of parcel {self.parcel_id}",
            "public": "for anybody",
        }[self.role]


def for_audience(content: FieldMapContent, audience: Audience) -> tuple[FieldMapContent, tuple[str, ...]]:
    """Return what an audience may see, and a sentence for each thing that was left out.

    Raises
    ------
    NothingToWorkWith
        For an owner whose parcel is not in the parcel layer.
    """
    if audience.role == "self":
        return content, ()
    if audience.sees_names:
        return _for_helper(content)
    if audience.role == "owner":
        return _for_owner(content, audience.parcel_id)
    return _for_public(content)


def _for_helper(content: FieldMapContent) -> tuple[FieldMapContent, tuple[str, ...]]:
    """Return everything but where heritage and rare species lie: that is told to nobody."""
    if not any(report.land.not_for_others for report in content.readings.values()):
        return content, ()
    readings = {
        rank: replace(report, land=report.land.for_others()) for rank, report in content.readings.items()
    }
    return replace(content, readings=readings), ("Where heritage sites and rare species lie.",)


def block_side(grid: Grid, block_m: float = PUBLIC_BLOCK_M) -> float:
    """Return the side (m) of the squares a public copy is blurred to: whole cells, at least `block_m`."""
    return max(1, math.ceil(block_m / grid.cell_m - 1e-9)) * grid.cell_m


def blurred(raster: Raster, block_m: float = PUBLIC_BLOCK_M) -> Raster:
    """Return a raster averaged over squares of `block_side`, aligned to multiples of their side.

    A square's value is the mean of its known cells; a square less than half known is unknown.
    """
    grid = raster.grid
    side = block_side(grid, block_m)
    coarse = Grid.covering(grid.bounds, side, grid.crs)
    rows = np.floor((coarse.north - grid.northings()) / side).astype(np.intp)
    cols = np.floor((grid.eastings() - coarse.west) / side).astype(np.intp)
    flat = (rows[:, None] * coarse.cols + cols[None, :]).ravel()
    known = ~raster.mask.ravel()
    count = np.bincount(flat[known], minlength=coarse.cells)
    total = np.bincount(
        flat[known], weights=raster.values.ravel()[known].astype(np.float64), minlength=coarse.cells
    )
    cells = np.bincount(flat, minlength=coarse.cells)
    enough = (count > 0) & (2 * count >= cells)
    values = np.where(enough, total / np.maximum(count, 1), np.nan).reshape(coarse.shape)
    return Raster.of(values, coarse, raster.unit, raster.source)


def blurred_shape(shape: BaseGeometry, block_m: float = PUBLIC_BLOCK_M) -> BaseGeometry:
    """Return the union of the squares of side `block_m` (aligned to its multiples) that a shape touches."""
    west, south, east, north = shape.bounds
    columns = np.arange(math.floor(west / block_m), math.floor(east / block_m) + 1) * block_m
    rows = np.arange(math.floor(south / block_m), math.floor(north / block_m) + 1) * block_m
    xs, ys = (axis.ravel() for axis in np.meshgrid(columns, rows))
    squares = shapely.box(xs, ys, xs + block_m, ys + block_m)
    return shapely.union_all(squares[shapely.area(shapely.intersection(squares, shape)) > 0])


def relief_within_blocks(shade: Raster, block_m: float = PUBLIC_BLOCK_M) -> Raster | None:
    """Return relief no finer than `PUBLIC_RELIEF_M`, cut to whole squares of `block_m`; None where none fits.

    The cut keeps the exact edges of the ground, which may be those of a parcel, out of the copy.
    """
    coarse = blurred(shade, PUBLIC_RELIEF_M)
    west, south, east, north = shade.grid.bounds
    rows = _between(coarse.grid.northings(), *_whole_blocks(south, north, block_m))
    cols = _between(coarse.grid.eastings(), *_whole_blocks(west, east, block_m))
    if not (rows.any() and cols.any()):
        return None
    return coarse.window(*_span(rows), *_span(cols))


def clipped(raster: Raster, shape: BaseGeometry) -> Raster:
    """Return a raster with everything outside a shape taken out, cut down to the shape's box."""
    grid = raster.grid
    inside = rasterize_classes([shape], [1], grid) == 1
    if not inside.any():
        place = grid.rowcol(shape.representative_point().x, shape.representative_point().y)
        if place is None:
            raise NothingToWorkWith("The parcel lies outside the ground.")
        inside[place] = True
    row0, row1 = _span(inside.any(axis=1))
    col0, col1 = _span(inside.any(axis=0))
    values = np.where(inside & ~raster.mask, raster.values, np.float32(np.nan))
    return Raster.of(values, grid, raster.unit, raster.source).window(row0, row1, col0, col1)


def _whole_blocks(low: float, high: float, block_m: float) -> tuple[float, float]:
    return math.ceil(low / block_m - 1e-9) * block_m, math.floor(high / block_m + 1e-9) * block_m


def _between(middles: np.ndarray, low: float, high: float) -> np.ndarray:
    half = abs(middles[1] - middles[0]) / 2 if len(middles) > 1 else 0.0
    return (middles - half >= low - 1e-6) & (middles + half <= high + 1e-6)


def _for_public(content: FieldMapContent) -> tuple[FieldMapContent, tuple[str, ...]]:
    block = block_side(content.grid)
    best = blurred(content.best)
    shade = None if content.hillshade is None else relief_within_blocks(content.hillshade, block)
    outlines = content.outlines[["site", content.outlines.geometry.name]].copy()
    outlines = outlines.set_geometry(
        [blurred_shape(shape, block) for shape in outlines.geometry], crs=outlines.crs
    )
    left_out = [
        f"Exact places and outlines: everything is blurred to squares of {block:.0f} m"
        + ("." if shade is None else f", the relief to {shade.grid.cell_m:.0f} m."),
        _NAMELESS,
        "Parcels, their owners and what they said.",
        "Leads, keep-outs and what was seen on the spot.",
    ]
    if content.samples:
        left_out.append(f"{len(content.samples)} samples: where they were taken and what they say.")
    return (
        replace(
            content,
            name="A ground",
            grid=best.grid,
            best=best,
            favourability=_each(content.favourability, blurred),
            completeness=None if content.completeness is None else blurred(content.completeness),
            sites=tuple(_public_site(site, content.grid, block) for site in content.sites),
            outlines=outlines,
            hillshade=shade,
            readings={
                rank: _without_place(_without_files(report, content.layers))
                for rank, report in content.readings.items()
            },
            parcels=None,
            samples=(),
            layers=_nameless(content.layers, (*_NEVER_SHOWN, "parcels")),
        ),
        tuple(left_out),
    )


def _public_site(site: Site, grid: Grid, block: float) -> Site:
    easting = (math.floor(site.easting / block) + 0.5) * block
    northing = (math.floor(site.northing / block) + 0.5) * block
    lon, lat = grid.to_lonlat(easting, northing)
    return replace(
        site,
        easting=easting,
        northing=northing,
        lon=round(lon, 3),
        lat=round(lat, 3),
        area_ha=float(f"{site.area_ha:.1g}"),
        slope_pct=None if site.slope_pct is None else float(round(site.slope_pct)),
        height_above_drainage_m=None,
        parcels=(),
        permission="",
        cautions=(),
    )


def _without_place(report: GroundReport) -> GroundReport:
    """Keep the reasons of the leading model without the numbers, facts and names that tell where it is."""
    lead = None if report.lead is None else _without_values(report.lead)
    return replace(
        report,
        lon=0.0,
        lat=0.0,
        easting=0.0,
        northing=0.0,
        sentence="",
        lead=lead,
        models=() if lead is None else (lead,),
        facts=(),
        land=LandCheck("unknown", (), (), report.land.cautions),
        cautions=() if lead is None else lead.cautions,
    )


def _without_values(reading: ModelReading) -> ModelReading:
    criteria = tuple(replace(criterion, value="", note="") for criterion in reading.criteria)
    return replace(reading, criteria=criteria, gates=())


def _nameless(layers: Sequence[LayerSource], hidden: Sequence[str]) -> tuple[LayerSource, ...]:
    return tuple(without_file(layer) for layer in layers if layer.kind not in hidden)


def _without_files(report: GroundReport, layers: Sequence[LayerSource]) -> GroundReport:
    def cleaned(reading: ModelReading) -> ModelReading:
        return replace(
            reading,
            criteria=tuple(
                replace(one, source=words_without_files(one.source, layers)) for one in reading.criteria
            ),
            gates=tuple(
                replace(one, source=words_without_files(one.source, layers)) for one in reading.gates
            ),
        )

    return replace(
        report,
        lead=None if report.lead is None else cleaned(report.lead),
        models=tuple(cleaned(reading) for reading in report.models),
    )


def _for_owner(content: FieldMapContent, parcel_id: str) -> tuple[FieldMapContent, tuple[str, ...]]:
    shape = _parcel_shape(content, parcel_id)
    pieces = [(rank, piece) for rank, piece in _pieces_inside(content.outlines, shape)]
    ranks = {rank for rank, _ in pieces}
    outlines = gpd.GeoDataFrame(
        {"site": [rank for rank, _ in pieces]},
        geometry=[piece for _, piece in pieces],
        crs=content.grid.crs,
    )
    areas = {rank: piece.area / 10_000 for rank, piece in pieces}
    here = {site.site: shape.covers(shapely.Point(site.easting, site.northing)) for site in content.sites}
    sites = tuple(
        _owners_site(site, areas[site.site], parcel_id, here[site.site], outlines, content.grid)
        for site in content.sites
        if site.site in ranks
    )
    parcels = gpd.GeoDataFrame({"parcel_id": [parcel_id]}, geometry=[shape], crs=content.grid.crs)
    left_out = [
        f"Everything beyond the lines of parcel {parcel_id}.",
        "The owners' names on record.",
        _NAMELESS,
    ]
    if len(content.sites) > len(sites):
        left_out.append(f"{len(content.sites) - len(sites)} sites that lie elsewhere.")
    if content.samples:
        left_out.append("Samples: where they were taken and what they say.")
    best = clipped(content.best, shape)
    return (
        replace(
            content,
            name=f"Ground on parcel {parcel_id}",
            grid=best.grid,
            best=best,
            favourability=_each(content.favourability, lambda raster: clipped(raster, shape)),
            completeness=None if content.completeness is None else clipped(content.completeness, shape),
            hillshade=None if content.hillshade is None else clipped(content.hillshade, shape),
            sites=sites,
            outlines=outlines,
            readings={
                rank: _without_neighbours(_without_files(report, content.layers))
                for rank, report in content.readings.items()
                if rank in ranks and here.get(rank, False)
            },
            parcels=parcels,
            samples=(),
            layers=_nameless(content.layers, _NEVER_SHOWN),
        ),
        tuple(left_out),
    )


def _without_neighbours(report: GroundReport) -> GroundReport:
    """Keep what the ground says; what people, parcels and keep-outs nearby say may speak of others."""
    return replace(
        report,
        facts=(),
        land=LandCheck("unknown", (), (), report.land.cautions),
        cautions=() if report.lead is None else report.lead.cautions,
    )


def _owners_site(
    site: Site, area_ha: float, parcel_id: str, here: bool, outlines: gpd.GeoDataFrame, grid: Grid
) -> Site:
    """Cut a site down to the owner's part; a best spot beyond the line gives way to a spot within it."""
    leave = site.permission if site.parcels == (parcel_id,) else ""
    own = replace(site, area_ha=area_ha, parcels=(parcel_id,), permission=leave, cautions=())
    if here:
        return own
    piece = outlines.geometry[outlines["site"] == site.site].iloc[0]
    spot = piece.representative_point()
    lon, lat = grid.to_lonlat(spot.x, spot.y)
    return replace(own, easting=spot.x, northing=spot.y, lon=lon, lat=lat, rock="")


def _pieces_inside(outlines: gpd.GeoDataFrame, shape: BaseGeometry) -> list[tuple[int, BaseGeometry]]:
    pieces = []
    for rank, outline in zip(outlines["site"], outlines.geometry, strict=True):
        piece = shapely.intersection(outline, shape)
        if piece.area >= _SMALLEST_PIECE_M2:
            pieces.append((int(rank), piece))
    return pieces


def _parcel_shape(content: FieldMapContent, parcel_id: str) -> BaseGeometry:
    if content.parcels is None:
        raise NothingToWorkWith("This ground has no layer 'parcels': an owner's copy needs one.")
    rows = content.parcels["parcel_id"].astype(str) == parcel_id
    if not rows.any():
        raise NothingToWorkWith(f"There is no parcel '{parcel_id}' on this ground.")
    return shapely.union_all(
        shapely.make_valid(content.parcels[rows].to_crs(content.grid.crs).geometry.to_numpy())
    )


def _each(rasters: Mapping[str, Raster], change: Callable[[Raster], Raster]) -> dict[str, Raster]:
    return {key: change(raster) for key, raster in rasters.items()}


def _span(used: np.ndarray) -> tuple[int, int]:
    places = np.flatnonzero(used)
    return int(places[0]), int(places[-1]) + 1

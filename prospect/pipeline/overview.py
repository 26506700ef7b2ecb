"""What a ground has and lacks, how its rock map was read, and what it can share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import geopandas as gpd

from prospect.catalogue import read_catalogue
from prospect.errors import InputRefused, WrongUsage
from prospect.layerfile import read_source, read_vector_layer
from prospect.pipeline.area import area_from_lonlat
from prospect.pipeline.factors import build_landscape
from prospect.pipeline.reading import Wording, read_file_guarded
from prospect.pipeline.report import ground_report
from prospect.pipeline.score import Scored
from prospect.records import Site
from prospect.rock import parse_correction, unit_table
from prospect.share import FieldMapContent
from prospect.store import Ground
from prospect.types import Bounds


@dataclass(frozen=True, slots=True)
class LayerState:
    """One kind of layer on a ground.

    Attributes
    ----------
    kind, title
        Its word in commands and its plain name.
    present
        Whether the ground has it.
    source
        Where it came from; empty when missing.
    counts
        `read, kept, repaired, refused` of its import.
    notes
        What was noticed when it was imported.
    costs
        What cannot be said without it.
    where
        Open layers that can serve.
    """

    kind: str
    title: str
    present: bool
    source: str = ""
    counts: Mapping[str, int] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    costs: str = ""
    where: tuple[str, ...] = ()


def layer_states(ground: Ground) -> tuple[LayerState, ...]:
    """Return every kind of layer in the order a ground needs them: there or missing, and what that costs."""
    catalogue, there = read_catalogue(), ground.layers()
    states = []
    for kind in catalogue.kind:
        where = tuple(
            f"{layer.title}, {layer.publisher} ({layer.covers}; {layer.licence})"
            for layer in catalogue.sources_of(kind.key)
        )
        if kind.key in there:
            source = read_source(ground.layers_folder, kind.key)
            states.append(
                LayerState(
                    kind.key,
                    kind.title,
                    present=True,
                    source=f"{source.sentence()}; imported {source.imported}",
                    counts=source.counts,
                    notes=source.notes,
                    where=where,
                )
            )
        else:
            states.append(LayerState(kind.key, kind.title, present=False, costs=kind.missing, where=where))
    return tuple(states)


def rock_readings(ground: Ground) -> list[dict[str, object]]:
    """Return how each map unit's wording was read, one row for each unit, by unit."""
    table = unit_table(read_vector_layer(ground.layers_folder, "geology"), ground.rock_corrections())
    corrected = ground.rock_corrections()
    columns = (
        "unit",
        "name",
        "read_as",
        "residual_fitness",
        "downstream_share",
        "fired_colour",
        "contaminants",
        "unread",
    )
    return [
        {**{name: row[name] for name in columns}, "corrected": row["unit"] in corrected}
        for row in table.sort_values("unit", kind="stable").to_dict("records")
    ]


def correct_rocks(ground: Ground, corrections: Sequence[str]) -> None:
    """Keep the user's own readings, each `UNIT=term:fraction,term:fraction`; all are looked at before any is kept.

    Raises
    ------
    WrongUsage
        When the map has no such unit; the message lists those it has.
    """
    units = set(read_vector_layer(ground.layers_folder, "geology")["unit"].astype(str))
    parsed = [parse_correction(text) for text in corrections]
    for unit, _ in parsed:
        if unit not in units:
            listed = ", ".join(sorted(units)[:30])
            raise WrongUsage(f"The rock map has no unit '{unit}'. It has: {listed}.")
    for unit, rocks in parsed:
        ground.correct_rock(unit, rocks)


def outline_area(path: Path, crs: str) -> tuple[str, Bounds]:
    """Return the working CRS and the box around the shapes of a file."""
    shapes = read_file_guarded("outline", path, Wording()).shapes
    if shapes is None:
        raise InputRefused(f"{path.name} holds no shape.")
    return area_from_lonlat(Bounds(*shapes.to_crs("EPSG:4326").total_bounds), crs)


def share_content(
    ground: Ground, scored: Scored, sites: tuple[Site, ...], outlines: gpd.GeoDataFrame, *, today: str
) -> FieldMapContent:
    """Return everything a shared map can be made of; what may be in it is decided by the audience later."""
    landscape = build_landscape(ground)
    return FieldMapContent(
        name=ground.settings.name,
        grid=scored.grid,
        best=scored.best,
        favourability=scored.favourability,
        titles=scored.titles,
        sites=sites,
        outlines=outlines,
        hillshade=scored.hillshade,
        completeness=scored.completeness,
        readings={
            site.site: ground_report(ground, scored.only(site.deposit), site.lon, site.lat, on=today)
            for site in sites
        },
        parcels=landscape.land.parcels,
        samples=ground.samples(),
        layers=tuple(read_source(ground.layers_folder, name) for name in ground.layers()),
        missing=landscape.missing,
        made_on=today,
        units=ground.settings.units,
    )

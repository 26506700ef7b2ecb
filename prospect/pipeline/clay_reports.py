"""What a clay of a ground is, with what the ground's maps say against ware for food."""

from __future__ import annotations

import re

import geopandas as gpd
import shapely
from pyproj import Transformer

from prospect.clay import ClayReport, Specimen, assess, specimen_of
from prospect.layerfile import read_vector_layer
from prospect.pipeline.class_layers import unit_codes
from prospect.records import Hole, LogBook
from prospect.rock import unit_table
from prospect.store import Ground

NEAR_M = 100.0
"""How near a keep-out makes one ask what the ground was used for (own judgement)."""
_IN_ROCK = (
    ("asbestos", r"asbestos"),
    ("arsenic", r"\bas\b|arsenic"),
    ("lead", r"\blead\b|\bpb\b"),
    ("coal", r"coal|pyrite|carbon|\bu\b"),
)
_USED_FOR = r"orchard|contaminat|landfill|\btip\b|dump|\bmine|smelter|works\b|tannery|shooting|fill\b|sewage"


def clay_report(ground: Ground, name: str, purpose: str = "", book: LogBook | None = None) -> ClayReport:
    """Return what is known of a sample or batch, and what it is fit for.

    Parameters
    ----------
    ground
        The ground.
    name
        Name of a sample or a batch.
    purpose
        What the clay is wanted for; empty = the ground's own.
    book
        The log, where the caller has read it already.

    Raises
    ------
    WrongUsage
        When nothing goes by that name.
    """
    specimen = specimen_of(ground.log_book() if book is None else book, name)
    return assess(specimen, purpose or ground.settings.purpose, flags_of(ground, specimen))


def layers_of(hole: Hole, purpose: str) -> tuple[ClayReport, ...]:
    """Return what is known of each layer of a hole by itself, from the top down."""
    return tuple(
        assess(Specimen(f"{hole.hole_id}, layer {number}", hole=hole, layer=layer), purpose)
        for number, layer in enumerate(hole.layers, 1)
    )


def flags_of(ground: Ground, specimen: Specimen) -> tuple[str, ...]:
    """Return the reasons to ask a laboratory that the maps give for the place of a clay (`prospect.clay.FLAGS`)."""
    dug = specimen.sample or specimen.hole
    if dug is None:
        return ()
    return (*_rock_flags(ground, dug.lon, dug.lat), *_use_flags(ground, dug.lon, dug.lat))


def _rock_flags(ground: Ground, lon: float, lat: float) -> tuple[str, ...]:
    if "geology" not in ground.layers():
        return ()
    shapes = read_vector_layer(ground.layers_folder, "geology")
    here = shapes[shapes.intersects(_point(shapes, lon, lat))]
    if here.empty:
        return ()
    table = unit_table(shapes, ground.rock_corrections())
    rows = [code for code in unit_codes(here, table) if code >= 0]
    said = " ".join(str(table.iloc[row]["contaminants"]) for row in rows).lower()
    return tuple(flag for flag, words in _IN_ROCK if re.search(words, said))


def _use_flags(ground: Ground, lon: float, lat: float) -> tuple[str, ...]:
    if "keepouts" not in ground.layers():
        return ()
    shapes = read_vector_layer(ground.layers_folder, "keepouts").to_crs(ground.settings.crs)
    near = shapes[shapes.distance(_point(shapes, lon, lat)) <= NEAR_M]
    kinds = near["kind"].astype(str).str.lower()
    return ("land use",) if kinds.str.contains(_USED_FOR, regex=True).any() else ()


def _point(shapes: gpd.GeoDataFrame, lon: float, lat: float) -> shapely.Point:
    return shapely.Point(Transformer.from_crs("EPSG:4326", shapes.crs, always_xy=True).transform(lon, lat))

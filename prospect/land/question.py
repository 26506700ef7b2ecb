"""What is asked of the land: a spot, the layers and the ledger to hold it against, and on what terms."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import geopandas as gpd
import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from prospect.errors import WrongUsage
from prospect.land.on_site import Seen
from prospect.land.rules import LAYER_TITLES, KeepOutRule
from prospect.records import Permission
from prospect.types import BoolArray, FloatArray

EDGE_M = 250.0
"""This near the edge that a map was cut to, things beyond it may reach in (own judgement)."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A measured position.

    Attributes
    ----------
    easting, northing
        m, in the grid's CRS.
    gps_error_m
        68 % radius, m. The default is a phone under open sky; under trees it is two to four times as much.
    """

    easting: float
    northing: float
    gps_error_m: float = 5.0


@dataclass(frozen=True, slots=True)
class LandLayers:
    """The layers that say whose ground it is and what applies; None = the ground has no such layer.

    All in the grid's CRS, in the normal form (`parcel_id, owner, line_error_m` and `kind, name`).

    Attributes
    ----------
    covers
        The area that a layer was cut to when it was taken in; a layer without one was kept whole. Beyond it a map
        shows nothing, which is not the same as nothing there.
    """

    parcels: gpd.GeoDataFrame | None = None
    water: gpd.GeoDataFrame | None = None
    wetlands: gpd.GeoDataFrame | None = None
    roads: gpd.GeoDataFrame | None = None
    keepouts: gpd.GeoDataFrame | None = None
    covers: Mapping[str, BaseGeometry] = field(default_factory=dict)

    def restricting(self) -> dict[str, gpd.GeoDataFrame]:
        """Return the layers that keep-out rules read, by name, without those that are not there or empty."""
        frames = {name: getattr(self, name) for name in LAYER_TITLES}
        return {name: frame for name, frame in frames.items() if frame is not None and not frame.empty}

    def reaches(self, name: str, eastings: FloatArray, northings: FloatArray) -> BoolArray:
        """Whether a layer can be relied on at each of some positions: well inside the area it was cut to."""
        area = self.covers.get(name)
        if area is None:
            return np.ones(len(eastings), bool)
        return shapely.contains_xy(shapely.buffer(area, -EDGE_M), eastings, northings)


@dataclass(frozen=True, slots=True)
class Ledger:
    """What is on record: permissions, and what was seen on the spot."""

    permissions: Sequence[Permission] = ()
    looked: Sequence[Seen] = ()


@dataclass(frozen=True, slots=True)
class Terms:
    """What a check is held against.

    Attributes
    ----------
    line_error_m
        Standard deviation of the parcel lines, m, for parcels that do not bring their own.
    own_setback_m
        How far from a parcel line to stay on top of the errors, m.
    sure_inside
        Chance of standing on ground with leave that `go` needs.
    rules
        Keep-out rules; None = the shipped ones.
    """

    line_error_m: float = 10.0
    own_setback_m: float = 0.0
    sure_inside: float = 0.95
    rules: Sequence[KeepOutRule] | None = None

    def __post_init__(self) -> None:
        for name in ("line_error_m", "own_setback_m"):
            value = getattr(self, name)
            if not math.isfinite(value) or value < 0:
                raise WrongUsage(f"Invalid {name} {value}: it must be a number, zero or more.")
        if not 0.5 <= self.sure_inside <= 0.999:
            raise WrongUsage(f"Invalid sure_inside {self.sure_inside}: it must be from 0.5 to 0.999.")

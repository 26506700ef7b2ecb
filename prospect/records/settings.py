"""What is asked once of a ground and never invented."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Purpose = Literal["any", "earthenware", "stoneware", "white", "brick", "unfired", "slip"]
YesNoUnknown = Literal["yes", "no", "unknown"]
PURPOSES: tuple[Purpose, ...] = ("any", "earthenware", "stoneware", "white", "brick", "unfired", "slip")


@dataclass(frozen=True, slots=True)
class GroundSettings:
    """What is asked once of a ground and never invented; None means not known.

    Attributes
    ----------
    name
        What the ground is called.
    crs
        The grid's CRS; empty until an area or a layer sets it.
    cell_m
        Side of a cell, m; None = the elevation's own.
    west, south, east, north
        The area, m, in `crs`; None until known.
    area_set_by
        `you` when the area was given by hand (layers are cropped to it), else the kind of layer that set it.
    purpose
        What the clay is wanted for.
    units
        `metric` or `us` (feet, acres, °F beside).
    mean_annual_rain_mm
        Mean annual precipitation, mm; None = from the soil survey where it says so, else unknown.
    glaciated
        Whether ice covered the ground in the last cold period.
    line_error_m
        Error of mapped parcel lines (one standard deviation), m.
    own_setback_m
        How far from a parcel line to stay on top of the errors, m.
    sure_inside
        Chance of standing on ground with leave that `go` needs, 0.5..0.999.
    reach_m
        How deep the digger can reach, m (spade 0.8, auger its length, machine 3).
    channel_area_km2
        Upstream area at which a channel begins where no streams are mapped, km².
    cut_dams
        Whether water is led through short dams of the elevation model's own making (road fills) before it is routed.
    bankfull_a, bankfull_b
        Regional bankfull curve Q = a·A^b (m³/s, km²); None = unknown.
    """

    name: str = "ground"
    crs: str = ""
    cell_m: float | None = None
    west: float | None = None
    south: float | None = None
    east: float | None = None
    north: float | None = None
    area_set_by: str = ""
    purpose: Purpose = "any"
    units: Literal["metric", "us"] = "metric"
    mean_annual_rain_mm: float | None = None
    glaciated: YesNoUnknown = "unknown"
    line_error_m: float = 10.0
    own_setback_m: float = 0.0
    sure_inside: float = 0.95
    reach_m: float = 0.8
    channel_area_km2: float = 0.25
    cut_dams: Literal["yes", "no"] = "no"
    bankfull_a: float | None = None
    bankfull_b: float | None = None

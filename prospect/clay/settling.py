"""How grains settle in water (Stokes), and what the layers of a jar say."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

GRAVITY_M_S2 = 9.80665
GRAIN_KG_M3 = 2650.0
"""Density of quartz and most clay minerals (common practice)."""
JAR_ERROR_PCT = 10.0
"""How far the shares of a jar may be off, percentage points: settled clay is packed loosely (own judgement)."""
_AT_C = np.array([10.0, 15.0, 20.0, 25.0, 30.0])
_VISCOSITY_MPA_S = np.array([1.3059, 1.1375, 1.0016, 0.8900, 0.7972])
_WATER_KG_M3 = np.array([999.70, 999.10, 998.20, 997.05, 995.65])


@dataclass(frozen=True, slots=True)
class Shares:
    """Sand, silt and clay in percent, and how far each may be off in percentage points."""

    sand_pct: float
    silt_pct: float
    clay_pct: float
    error_pct: float


def settling_velocity_m_s(diameter_um: float, temperature_c: float = 20.0) -> float:
    """Return how fast a grain sinks in still water.

    Parameters
    ----------
    diameter_um
        Diameter of the grain, µm. The law holds below about 60 µm.
    temperature_c
        Of the water, 10 to 30 °C.

    Raises
    ------
    ValueError
        When the diameter is not positive or the water colder or warmer than the table of its viscosity.

    Notes
    -----
    Stokes: ``v = g (ρs - ρw) d² / (18 η)``; viscosity and density of water are textbook values, from memory, the
    viscosity linear in its logarithm between them.
    """
    if not (0 < diameter_um < math.inf):
        raise ValueError(f"a grain's diameter must be above 0 µm, got {diameter_um}")
    if not _AT_C[0] <= temperature_c <= _AT_C[-1]:
        raise ValueError(f"the water must be of 10 to 30 °C, got {temperature_c}")
    viscosity = math.exp(float(np.interp(temperature_c, _AT_C, np.log(_VISCOSITY_MPA_S)))) * 1e-3
    density = float(np.interp(temperature_c, _AT_C, _WATER_KG_M3))
    return GRAVITY_M_S2 * (GRAIN_KG_M3 - density) * (diameter_um * 1e-6) ** 2 / (18.0 * viscosity)


def settling_time_s(diameter_um: float, depth_cm: float, temperature_c: float = 20.0) -> float:
    """Return how long a grain takes to sink through a depth of still water, s; see `settling_velocity_m_s`."""
    if not (0 < depth_cm < math.inf):
        raise ValueError(f"the depth must be above 0 cm, got {depth_cm}")
    return depth_cm / 100.0 / settling_velocity_m_s(diameter_um, temperature_c)


def jar_times_s(temperature_c: float = 20.0, depth_cm: float = 10.0) -> tuple[float, float]:
    """Return when the sand of a jar has settled and when its silt has, s after it was set down.

    Parameters
    ----------
    temperature_c
        Of the water, 10 to 30 °C.
    depth_cm
        From the water's surface to the bottom.

    Notes
    -----
    Stokes for grains of 50 and 2 µm, the limits of the US texture classes (Soil Survey Manual).
    """
    sand, silt = (settling_time_s(limit, depth_cm, temperature_c) for limit in (50.0, 2.0))
    return sand, silt


def jar_shares(sand_mm: float, sand_and_silt_mm: float, all_mm: float) -> Shares:
    """Return sand, silt and clay from the heights of a jar's layers.

    Parameters
    ----------
    sand_mm
        Height after some 45 s for 10 cm of water.
    sand_and_silt_mm
        After some 8 h at 20 °C (`settling_time_s` of 2 µm).
    all_mm
        When the water is clear.

    Raises
    ------
    ValueError
        When the heights do not rise, or nothing settled.
    """
    if not (0 <= sand_mm <= sand_and_silt_mm <= all_mm < math.inf) or all_mm <= 0:
        raise ValueError(
            f"the layers must rise from sand to all that settled, got {sand_mm}, {sand_and_silt_mm}, {all_mm} mm"
        )
    sand, upper = 100 * sand_mm / all_mm, 100 * sand_and_silt_mm / all_mm
    return Shares(sand, upper - sand, 100 - upper, JAR_ERROR_PCT)

"""Numbers that follow from area, slope and discharge: wetness, stream power, regional curves."""

from __future__ import annotations

import math

import numpy as np

from prospect.hydrology.network import FlowNetwork
from prospect.types import FloatArray

LEAST_GRADIENT = 0.001
WATER_DENSITY_KG_M3 = 1000.0
GRAVITY_M_S2 = 9.81


def specific_catchment_m(area_km2: FloatArray, cell_m: float) -> FloatArray:
    """Return the upstream area per unit of contour (one cell side), metres."""
    return np.asarray(area_km2) * (1.0e6 / cell_m)


def topographic_wetness_index(specific_catchment: FloatArray, gradient: FloatArray) -> FloatArray:
    """Return ``ln(a / tan b)`` (Beven & Kirkby 1979), float32, NaN where either is unknown.

    Parameters
    ----------
    specific_catchment : array, metres
        Upstream area per unit of contour, `specific_catchment_m`.
    gradient : array of the same shape, rise over run
        Taken as 0.001 where it is less.

    Notes
    -----
    It depends on the cell size and the way of routing: compare it within one area, do not read it as a
    fixed number.
    """
    a = np.asarray(specific_catchment, dtype=np.float64)
    steep = _at_least(gradient, LEAST_GRADIENT)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.log(a / steep).astype(np.float32)


def stream_power_index(specific_catchment: FloatArray, gradient: FloatArray) -> FloatArray:
    """Return ``a tan b`` in metres, float32: where running water can cut."""
    return (np.asarray(specific_catchment, np.float64) * np.asarray(gradient, np.float64)).astype(np.float32)


def sediment_transport_index(specific_catchment: FloatArray, gradient: FloatArray) -> FloatArray:
    """Return ``(a / 22.13)^0.4 (sin b / 0.0896)^1.3`` (Moore & Burch 1986), float32."""
    a = np.asarray(specific_catchment, dtype=np.float64)
    sine = np.sin(np.arctan(np.asarray(gradient, dtype=np.float64)))
    return ((a / 22.13) ** 0.4 * (sine / 0.0896) ** 1.3).astype(np.float32)


def regional_curve(area_km2: FloatArray, a: float, b: float) -> FloatArray:
    """Return ``a A^b``: bankfull discharge (m³/s) or width (m) from upstream area by a local curve.

    Raises
    ------
    ValueError
        If a is not positive or b not a number: a curve is local and never guessed.
    """
    if not (math.isfinite(a) and a > 0 and math.isfinite(b)):
        raise ValueError(f"Invalid curve a = {a}, b = {b}. It must be a local curve with a above 0.")
    return a * np.asarray(area_km2, dtype=np.float64) ** b


def specific_stream_power(
    discharge_m3_s: FloatArray, gradient: FloatArray, width_m: FloatArray
) -> FloatArray:
    """Return ``rho g Q S / w``, W/m², float32; NaN where anything is unknown or the width is not positive.

    Notes
    -----
    rho = 1000 kg/m³, g = 9.81 m/s². Below about 10 W/m² flood plains are cohesive, above 300 W/m² coarse
    (Nanson & Croke 1992).
    """
    width = np.asarray(width_m, dtype=np.float64)
    width = np.where(width > 0, width, np.nan)
    power = WATER_DENSITY_KG_M3 * GRAVITY_M_S2 * np.asarray(discharge_m3_s, np.float64)
    return (power * np.asarray(gradient, np.float64) / width).astype(np.float32)


def reach_gradient(elevation: FloatArray, network: FlowNetwork, reach_m: float = 0.0) -> FloatArray:
    """Return the fall of the ground along the flow over about `reach_m`, rise over run, float32.

    Parameters
    ----------
    elevation : array, shape of the network, metres
    network : FlowNetwork
    reach_m : float
        Length of way to look over: the next power of two of cells that covers it; 0 = one step.

    Returns
    -------
    array, shape (rows, cols)
        The mean fall as far as the network goes; NaN where the flow ends at once. Never below 0.
    """
    z = np.asarray(elevation, dtype=np.float32).ravel()
    cell = np.arange(z.size, dtype=np.int32)
    ahead = np.where(network.downstream >= 0, network.downstream, cell)
    way = np.nan_to_num(network.step_m().ravel()).astype(np.float64)
    doublings = max(0, math.ceil(math.log2(reach_m / network.cell_m))) if reach_m > network.cell_m else 0
    for _ in range(doublings):
        way = way + way[ahead]
        ahead = ahead[ahead]
    out = np.full(z.size, np.nan, dtype=np.float32)
    moved = way > 0
    fall = (z[moved] - z[ahead[moved]]) / way[moved]
    out[moved] = np.where(fall < 0, 0.0, fall)
    return out.reshape(network.shape)


def _at_least(values: FloatArray, least: float) -> FloatArray:
    array = np.asarray(values, dtype=np.float64)
    return np.where(array < least, least, array)

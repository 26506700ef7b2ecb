"""Lengths, areas and places as words with their units, metric or US."""

from __future__ import annotations

import math
import re

from prospect.errors import WrongUsage

HA_PER_ACRE = 0.40468564224  # international acre, exact
M_PER_FOOT = 0.3048  # international foot, exact
_PLACE = re.compile(
    r"(?P<lat>[-+\u2212]?\d{1,3}(?:\.\d+)?)\s*°?\s*(?P<ns>[NSns])?[\s,;]+"
    r"(?P<lon>[-+\u2212]?\d{1,3}(?:\.\d+)?)\s*°?\s*(?P<ew>[EWew])?"
)


def area_in_words(area_ha: float | None, units: str = "metric") -> str:
    """Return an area in hectares, or acres with `us`; "not known" for None or NaN."""
    if area_ha is None or not math.isfinite(area_ha):
        return "not known"
    amount, unit = (area_ha / HA_PER_ACRE, "acres") if units == "us" else (area_ha, "ha")
    return f"{_rounded(amount)} {unit}"


def length_in_words(length_m: float | None, units: str = "metric") -> str:
    """Return a length in metres, or feet with `us`; "not known" for None or NaN."""
    if length_m is None or not math.isfinite(length_m):
        return "not known"
    amount, unit = (length_m / M_PER_FOOT, "ft") if units == "us" else (length_m, "m")
    return f"{_rounded(amount)} {unit}"


def place_in_words(lon: float, lat: float) -> str:
    """Return a place as latitude and longitude with their hemispheres, five decimals (about 1 m)."""
    north, east = ("N" if lat >= 0 else "S"), ("E" if lon >= 0 else "W")
    return f"{abs(lat):.5f}° {north}, {abs(lon):.5f}° {east}"


def read_place(text: str) -> tuple[float, float]:
    """Return longitude and latitude of a place written as latitude, longitude.

    Parameters
    ----------
    text
        `47.48 S, 122.93 W`, `-47.48, -122.93`, with or without degree signs: what `place_in_words` writes, and what
        pocket receivers and maps show in decimal degrees.

    Raises
    ------
    WrongUsage
        When it is not two such numbers.
    """
    found = _PLACE.fullmatch(text.strip())
    if found is None:
        raise WrongUsage(
            f"Expected latitude and longitude like 47.48 S, 122.93 W, got '{text.strip()[:60]}'."
        )
    lat = _signed(found["lat"], found["ns"])
    lon = _signed(found["lon"], found["ew"])
    if abs(lat) > 90 or abs(lon) > 180:
        raise WrongUsage(f"There is no place at latitude {lat:g}, longitude {lon:g}.")
    return lon, lat


def share_in_words(share: float | None) -> str:
    """Return a share 0..1 as whole per cent; "not known" for None or NaN."""
    if share is None or not math.isfinite(share):
        return "not known"
    return f"{share:.0%}".replace("%", " %")


def _signed(number: str, side: str | None) -> float:
    value = float(number.replace("\u2212", "-"))
    return -abs(value) if side and side.upper() in "SW" else value


def _rounded(amount: float) -> str:
    if abs(amount) >= 10:
        return f"{amount:,.0f}".replace(",", " ")
    return f"{amount:.1f}" if abs(amount) >= 1 else f"{amount:.2g}"

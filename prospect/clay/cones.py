"""Pyrometric cones: their order, and the temperature that goes with each."""

from __future__ import annotations

import re
from functools import lru_cache

from pydantic.dataclasses import dataclass

from prospect.definitions import STRICT, layers_folder, read_definition

NEAR_C = 30.0
"""How far a temperature may lie from a cone's to be called by it (own judgement; a cone is heat-work)."""
_WRITTEN = re.compile(r"^(?:cone|c|\^|△)?\s*(0?\d{1,2})$", re.IGNORECASE)


@dataclass(config=STRICT, frozen=True)
class Cones:
    """The cones from cool to hot, with the temperature of each in °C and where that was read."""

    reference: str
    names: tuple[str, ...]
    celsius: tuple[float, ...]


@lru_cache(maxsize=1)
def cones() -> Cones:
    """Return the table of cones in `layers/clay/cones.toml`."""
    return read_definition(layers_folder() / "clay" / "cones.toml", Cones)


def cone_name(text: str) -> str | None:
    """Return a cone as it is written on record (`06`, `6`); None when there is no such cone."""
    match = _WRITTEN.match(text.strip())
    return match[1] if match and match[1] in cones().names else None


def cone_rank(cone: str) -> int:
    """Return where a cone stands from cool to hot, from 0.

    Raises
    ------
    ValueError
        When there is no such cone.
    """
    names = cones().names
    if cone not in names:
        raise ValueError(f"unknown cone '{cone}', expected one of {', '.join(names)}")
    return names.index(cone)


def cone_temperature_c(cone: str) -> float:
    """Return the temperature at which a cone goes down, °C (large cone, 150 °C an hour); see `cone_rank` for errors."""
    return cones().celsius[cone_rank(cone)]


def nearest_cone(temperature_c: float) -> str | None:
    """Return the cone whose temperature is nearest; None when none is within `NEAR_C`."""
    table = cones()
    gap, name = min(
        (abs(at - temperature_c), name) for at, name in zip(table.celsius, table.names, strict=True)
    )
    return name if gap <= NEAR_C else None


def fahrenheit(celsius: float) -> float:
    """Return a temperature in °F."""
    return celsius * 9.0 / 5.0 + 32.0


def celsius(fahrenheit_degrees: float) -> float:
    """Return a temperature in °C."""
    return (fahrenheit_degrees - 32.0) * 5.0 / 9.0


def cone_in_words(cone: str, units: str = "metric") -> str:
    """Return a cone with the temperature beside it, `cone 6 (about 1222 °C)`."""
    at = cone_temperature_c(cone)
    return (
        f"cone {cone} (about {fahrenheit(at):.0f} °F)"
        if units == "us"
        else f"cone {cone} (about {at:.0f} °C)"
    )

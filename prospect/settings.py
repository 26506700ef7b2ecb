"""The ground's settings in words: what each is for, and how its value is read from text."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import get_args

from prospect.errors import WrongUsage
from prospect.records import PURPOSES, YesNoUnknown
from prospect.text import plain

_NUMBER = re.compile(r"[+-]?[0-9]{0,20}\.?[0-9]{0,20}([eE][+-]?[0-9]{1,3})?")

SETTING_TEXTS: dict[str, str] = {
    "name": "what the ground is called",
    "crs": "CRS of the grid (EPSG:n, metres); set by the area",
    "cell_m": "side of a cell, m; empty = the elevation's own, 25 m without elevation",
    "west": "western edge, m in the grid's CRS",
    "south": "southern edge",
    "east": "eastern edge",
    "north": "northern edge",
    "area_set_by": "who set the area: you, or the kind of layer",
    "purpose": f"what the clay is wanted for: {', '.join(PURPOSES)}",
    "units": "metric or us",
    "mean_annual_rain_mm": "rain in a year, mm; empty = not known",
    "glaciated": "was it under ice in the last cold period: yes, no, unknown",
    "line_error_m": "error of the parcel lines (one standard deviation), m",
    "own_setback_m": "how far from a parcel line you want to stay on top of the errors, m",
    "sure_inside": "how sure to be of standing on ground with leave before it says go, 0.8 to 0.999",
    "reach_m": "how deep you can reach, m: spade 0.8, auger its length, machine 3",
    "channel_area_km2": "upstream area at which a stream begins where none are mapped, km²",
    "cut_dams": "lead water through short dams such as road fills (to 5 m deep, 100 m long): yes or no",
    "bankfull_a": "regional bankfull curve Q = a·A^b in m³/s and km²; empty = not known",
    "bankfull_b": "the curve's exponent",
}


def parse_setting(pair: str) -> tuple[str, object]:
    """Return key and value of `KEY=VALUE`; an empty value takes the setting back to not known.

    Raises
    ------
    WrongUsage
        With what would be right.
    """
    key, equals, text = (part.strip() for part in pair.partition("="))
    if not equals:
        raise WrongUsage(f"Expected KEY=VALUE, got '{plain(pair, 60)}'.")
    read = _READERS.get(key)
    if read is None:
        settable = ", ".join(sorted(_READERS))
        raise WrongUsage(f"There is no setting '{plain(key, 60)}' to change. You can set: {settable}.")
    return key, read(key, text)


def _number(low: float, high: float, *, needed: bool = False) -> Callable[[str, str], object]:
    def read(key: str, text: str) -> float | None:
        if not text and not needed:
            return None
        try:
            value = float(text) if _NUMBER.fullmatch(text) else math.nan
        except ValueError:
            value = math.nan
        if not low <= value <= high:
            raise WrongUsage(f"{key} wants a number from {low:g} to {high:g}, got '{plain(text, 60)}'.")
        return value

    return read


def _one_of(*words: str) -> Callable[[str, str], object]:
    def read(key: str, text: str) -> str:
        if text not in words:
            raise WrongUsage(f"{key} is one of {', '.join(words)}, got '{plain(text, 60)}'.")
        return text

    return read


def _text(key: str, text: str) -> str:
    if not text or len(text) > 120 or not text.isprintable():
        raise WrongUsage(f"{key} wants 1 to 120 characters, on one line and none of them hidden.")
    return text


_READERS: dict[str, Callable[[str, str], object]] = {
    "name": _text,
    "cell_m": _number(2, 1000),
    "purpose": _one_of(*PURPOSES),
    "units": _one_of("metric", "us"),
    "mean_annual_rain_mm": _number(0, 12_000),
    "glaciated": _one_of(*get_args(YesNoUnknown)),
    "line_error_m": _number(0, 500, needed=True),
    "own_setback_m": _number(0, 1000, needed=True),
    "sure_inside": _number(0.8, 0.999, needed=True),
    "reach_m": _number(0.1, 30, needed=True),
    "channel_area_km2": _number(0.001, 100, needed=True),
    "cut_dams": _one_of("yes", "no"),
    "bankfull_a": _number(0, 1000),
    "bankfull_b": _number(0, 2),
}

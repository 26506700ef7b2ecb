"""Reads and shows the measures of the bench in the units that people use: mm or inches, g or ounces, °C, °F or cone."""

from __future__ import annotations

import re

from prospect.clay.cones import cone_name
from prospect.sources.numbers import METRES, read_number
from prospect.text import plain

# The international pound is 0.45359237 kg and the ounce a sixteenth of it by definition (1959).
_GRAMS = {
    "g": 1.0,
    "gram": 1.0,
    "grams": 1.0,
    "kg": 1000.0,
    "mg": 0.001,
    "oz": 28.349523125,
    "lb": 453.59237,
    "lbs": 453.59237,
}
_MINUTES = {"s": 1 / 60, "sec": 1 / 60, "min": 1.0, "minutes": 1.0, "h": 60.0, "hours": 60.0, "d": 1440.0}
_MINUTES |= {"minute": 1.0, "hour": 60.0, "day": 1440.0, "days": 1440.0}
_DAYS = {"h": 1 / 24, "hours": 1 / 24, "d": 1.0, "day": 1.0, "days": 1.0, "w": 7.0, "week": 7.0, "weeks": 7.0}
_SCALES: dict[str, dict[str, float]] = {
    "mm": {unit: metres / METRES["mm"] for unit, metres in METRES.items()},
    "g": _GRAMS,
    "kg": {unit: grams / _GRAMS["kg"] for unit, grams in _GRAMS.items()},
    "min": _MINUTES,
    "days": _DAYS,
    "%": {"%": 1.0, "pct": 1.0, "percent": 1.0},
    "mesh": {"mesh": 1.0},
    "mg/kg": {"mg/kg": 1.0, "ppm": 1.0},
}
_IN_US = {"mm": "in", "g": "oz", "kg": "lb", "°C": "°F"}
_DECIMALS = {"in": 3, "oz": 3, "lb": 2, "°F": 0}
_MEASURE = re.compile(r"^\s*(?:~|ca\.?|about)?\s*([+\-−]?[\d.,\s]*\d)\s*([^\d\s][^\d]*?)?\.?\s*$")
_FRACTION = re.compile(r"^\s*(?:(\d+)[\s-]+)?(\d{1,2})/(\d{1,2})\s*([^\d\s].*)?$")
_EXPECTED = {
    "mm": ("100 or 100 mm", "3.94 or 100 mm"),
    "g": ("85.2 or 85.2 g", "3 or 85 g"),
    "kg": ("12 or 12 kg", "26 or 12 kg"),
    "°C": ("1060 or 1940 °F", "1940 or 1060 °C"),
    "min": ("20 min or 2 h", "20 min or 2 h"),
    "days": ("3 or 2 weeks", "3 or 2 weeks"),
}


def asked_in(unit: str, system: str) -> str:
    """Return the unit in which a measure is asked for and shown: that of the records, or the one used with `us`."""
    return _IN_US.get(unit, unit) if system == "us" else unit


def read_measure(text: str, unit: str, system: str) -> float | None:
    """Return a measure in the unit of the records; None when the text is none.

    Parameters
    ----------
    text
        `100`, `4 in`, `3 15/16"`, `1940 °F`, `2 h`; a bare number is in the unit asked for.
    unit
        Unit of the records: mm, g, kg, °C, min, days, %, mesh, mg/kg; empty for a plain number.
    system
        `metric` or `us`.
    """
    found = _split(text)
    if found is None:
        return None
    value, said = found
    said = said or asked_in(unit, system)
    if unit == "°C":
        return _celsius(value, said)
    if unit == "":
        return None if found[1] else value
    scale = _SCALES[unit]
    if said not in scale:
        return None
    return value if said == unit else round(value * scale[said], 6)


def measure_said(
    text: str,
    unit: str,
    system: str,
    between: tuple[float, float],
    name: str,
    wrong: dict[str, str],
) -> float | None:
    """Return the measure that a field says; what is wrong with it goes into `wrong`.

    Parameters
    ----------
    between
        Least and most that can be, in the unit of the records.
    """
    if not text.strip():
        return None
    value = read_measure(text, unit, system)
    least, most = between
    if value is None:
        metric, us = _EXPECTED.get(unit, ("12.5", "12.5"))
        wrong[name] = (
            f"'{plain(text, 40)}' is not a measure. Expected a number such as {us if system == 'us' else metric}."
        )
        return None
    if not least <= value <= most:
        low, high = (in_words(end, unit, system) for end in between)
        wrong[name] = f"'{plain(text, 40)}' cannot be. Expected something from {low} to {high}."
        return None
    return value


def cone_said(text: str, name: str, wrong: dict[str, str]) -> str:
    """Return the pyrometric cone that a field says; what is wrong with it goes into `wrong`."""
    if not text.strip():
        return ""
    found = cone_name(text)
    if found is None:
        wrong[name] = f"'{plain(text, 40)}' is no cone. Expected one such as 06, 1 or 6."
        return ""
    return found


def as_number(value: float | None, unit: str, system: str) -> str:
    """Return a measure as the bare number that its field holds; empty when it is not known."""
    if value is None:
        return ""
    said = asked_in(unit, system)
    if said == "°F":
        return f"{round(value * 9 / 5 + 32):g}"
    scale = _SCALES.get(unit, {}).get(said, 1.0)
    return f"{round(value / scale, _DECIMALS.get(said, 4)):.10g}"


def in_words(value: float, unit: str, system: str) -> str:
    """Return a measure with its unit, as people read it."""
    return f"{as_number(value, unit, system)} {asked_in(unit, system)}".strip()


def heat_in_words(cone: str, fired_c: float | None) -> str:
    """Return how hot a piece was fired, cone first, both scales of degrees beside; empty when not known."""
    degrees = "" if fired_c is None else f"{fired_c:.0f} °C / {fired_c * 9 / 5 + 32:.0f} °F"
    if cone:
        return f"cone {cone}" + (f" ({degrees})" if degrees else "")
    return degrees


def _split(text: str) -> tuple[float, str] | None:
    fraction = _FRACTION.match(text)
    if fraction and int(fraction[3]):
        whole = float(fraction[1] or 0)
        return whole + int(fraction[2]) / int(fraction[3]), _unit(fraction[4])
    match = _MEASURE.match(text)
    value = read_number(match[1]) if match else None
    return None if match is None or value is None else (value, _unit(match[2]))


def _unit(text: str | None) -> str:
    return (text or "").strip().lower()


def _celsius(value: float, said: str) -> float | None:
    bare = said.lower().lstrip("°").removeprefix("deg").strip(" .")
    if bare in ("c", "celsius"):
        return value
    return round((value - 32) * 5 / 9, 3) if bare in ("f", "fahrenheit") else None

"""Reads numbers as people write them: decimal commas, thousands, units, ranges."""

from __future__ import annotations

import re

METRES = {
    "mm": 0.001,
    "cm": 0.01,
    "dm": 0.1,
    "m": 1.0,
    "metre": 1.0,
    "metres": 1.0,
    "meter": 1.0,
    "meters": 1.0,
    "km": 1000.0,
    # The international inch is 25.4 mm and the foot 0.3048 m by definition (1959).
    "in": 0.0254,
    "inch": 0.0254,
    "inches": 0.0254,
    '"': 0.0254,
    "″": 0.0254,
    "ft": 0.3048,
    "foot": 0.3048,
    "feet": 0.3048,
    "'": 0.3048,
    "′": 0.3048,
    "yd": 0.9144,
}
_NUMBER = r"[+-]?(?:\d[\d  '’]*)?(?:[.,]\d+)*(?:[eE][+-]?\d+)?"
_WITH_UNIT = re.compile(rf"^\s*(?:~|ca\.?|about)?\s*({_NUMBER})\s*([^\d\s.,]*)\.?\s*$")
_RANGE = re.compile(
    rf"^\s*({_NUMBER})\s*([^\d\s.,–-]*)\s*(?:-|–|to|bis|\.\.)\s*({_NUMBER})\s*([^\d\s.,]*)\s*$"
)
_IN_HEADING = re.compile(r"[_\s(\[]([a-z]+)[)\]]?\s*$")


def read_number(text: str, *, decimal_comma: bool = False) -> float | None:
    """Return a number, or None when the text is none.

    Parameters
    ----------
    text
        `12.5`, `12,5`, `1 234,5`, `1,234.5`, `1.5e3`.
    decimal_comma
        Whether a single comma before three figures is a decimal sign (`1,234` = 1.234) in this file.
    """
    bare = re.sub(r"[\s '’]", "", text.strip().replace("−", "-"))
    if "," in bare and "." in bare:
        thousands = "," if bare.rindex(".") > bare.rindex(",") else "."
        bare = bare.replace(thousands, "").replace(",", ".")
    elif bare.count(",") == 1:
        whole, rest = bare.split(",")
        three = len(rest) == 3 and 1 <= len(whole.lstrip("+-")) <= 3 and whole.lstrip("+-") != "0"
        bare = whole + rest if three and not decimal_comma else f"{whole}.{rest}"
    elif bare.count(",") > 1:
        bare = bare.replace(",", "") if re.fullmatch(r"[+-]?\d{1,3}(,\d{3})+", bare) else bare
    if not re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", bare):
        return None
    value = float(bare)
    return value if abs(value) < 1e300 else None


def read_length(text: str, unit: str, *, decimal_comma: bool = False, default: str = "") -> float | None:
    """Return a length in `unit`, whatever unit the text names; None when it is none.

    Parameters
    ----------
    text
        `30`, `30 cm`, `1 ft`, `0,3 m`.
    unit
        Unit of the result, a key of `METRES`.
    default
        Unit of a number without one; `unit` when empty.
    """
    match = _WITH_UNIT.match(text)
    if match is None:
        return None
    value = read_number(match[1], decimal_comma=decimal_comma)
    said = match[2].lower() or default or unit
    if value is None or said not in METRES:
        return None
    return value if said == unit else value * METRES[said] / METRES[unit]


def read_range(
    text: str, unit: str, *, decimal_comma: bool = False, default: str = ""
) -> tuple[float, float] | None:
    """Return both ends of a range such as `20-40 cm` in `unit`; None when the text is none."""
    match = _RANGE.match(text)
    if match is None or not match[1].strip():
        return None
    second = match[4] or match[2]
    low = read_length(f"{match[1]} {match[2] or second}", unit, decimal_comma=decimal_comma, default=default)
    high = read_length(f"{match[3]} {second}", unit, decimal_comma=decimal_comma, default=default)
    return None if low is None or high is None else (low, high)


def names_unit(text: str) -> str:
    """Return the unit of length that a number carries in its text; empty when it carries none."""
    match = _WITH_UNIT.match(text) or _RANGE.match(text)
    said = match[match.lastindex or 1].lower() if match else ""
    return said if said in METRES else ""


def unit_of_heading(heading: str) -> str:
    """Return the unit of length at the end of a heading (`depth_cm`, `Depth (in)`); empty when there is none."""
    match = _IN_HEADING.search(heading.lower())
    return match[1] if match and match[1] in METRES else ""

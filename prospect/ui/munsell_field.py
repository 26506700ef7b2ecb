"""A small field of a Munsell colour for a page, near enough to know it again; the chip itself decides."""

from __future__ import annotations

import math

from prospect.clay.munsell import HUES, read_munsell

_HUE_ANGLES = (27.0, 62.0, 92.0, 120.0, 160.0, 200.0, 240.0, 282.0, 320.0, 355.0)
"""Hue angle in CIELAB of step 5 of each Munsell hue, degrees, in the order of `HUES` (own judgement)."""
_CHROMA = 5.3
"""CIELAB chroma of one step of Munsell chroma (own judgement; in truth it differs with the hue)."""


def nearly(notation: str) -> str:
    """Return a colour in Munsell notation as `#rrggbb`; empty when it is none.

    Notes
    -----
    Lightness is ten times the value; CIELAB (D65) to sRGB by CIE 15 and IEC 61966-2-1.
    """
    chip = read_munsell(notation)
    if chip is None:
        return ""
    angle = math.radians(_hue_angle(chip.hue))
    a, b = (chip.chroma * _CHROMA * turn for turn in (math.cos(angle), math.sin(angle)))
    fy = (chip.value * 10.0 + 16.0) / 116.0
    x, y, z = (
        white * _linear(f) for white, f in ((0.95047, fy + a / 500.0), (1.0, fy), (1.08883, fy - b / 200.0))
    )
    red = 3.2406 * x - 1.5372 * y - 0.4986 * z
    green = -0.9689 * x + 1.8758 * y + 0.0415 * z
    blue = 0.0557 * x - 0.2040 * y + 1.0570 * z
    return "#" + "".join(f"{_coded(light):02x}" for light in (red, green, blue))


def _hue_angle(hue: str) -> float:
    if hue == "N":
        return 0.0
    letters = hue.lstrip("0123456789.")
    place = HUES.index(letters) + float(hue.removesuffix(letters)) / 10.0 - 0.5
    lower = math.floor(place)
    first, second = _HUE_ANGLES[lower % 10], _HUE_ANGLES[(lower + 1) % 10]
    return first + (place - lower) * ((second - first) % 360.0)


def _linear(f: float) -> float:
    return f**3 if f > 6.0 / 29.0 else 3.0 * (6.0 / 29.0) ** 2 * (f - 4.0 / 29.0)


def _coded(light: float) -> int:
    light = min(max(light, 0.0), 1.0)
    return round(255.0 * (12.92 * light if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055))

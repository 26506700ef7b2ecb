"""The colour that a Munsell notation shows on a screen, from a table made of the open renotation data."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from prospect.clay.munsell import HUES, Munsell, read_munsell
from prospect.definitions import layers_folder

Rgb = tuple[float, float, float]
_STEP = 2.5


def munsell_to_srgb(notation: str) -> str | None:
    """Return the colour of a notation as `#rrggbb`; None when it is no notation or no such colour is known.

    Notes
    -----
    From `layers/palettes/munsell.csv` (renotation of Newhall, Nickerson & Judd 1943, made with colour-science),
    linear between its steps of 2.5 of hue, 1 of value and 2 of chroma. Colours that no screen shows were cut to the
    nearest that it does. The table is used rather than the library because that takes two seconds to load.
    """
    colour = read_munsell(notation)
    if colour is None:
        return None
    found = _neutral(colour.value) if colour.hue == "N" else _chromatic(colour)
    return None if found is None else "#" + "".join(f"{round(part):02x}" for part in found)


@lru_cache(maxsize=1)
def _table() -> Mapping[tuple[float, float, float], Rgb]:
    """Return red, green and blue by hue angle in steps from 0 to 100 (-1 = neutral), value and chroma."""
    path = layers_folder() / "palettes" / "munsell.csv"
    table: dict[tuple[float, float, float], Rgb] = {}
    for row in path.read_text(encoding="utf-8").splitlines():
        if row.startswith(("#", "hue")):
            continue
        hue, value, chroma, red, green, blue, _ = row.split(",")
        angle = -1.0 if hue == "N" else _angle(hue)
        table[angle, float(value), float(chroma)] = (float(red), float(green), float(blue))
    return table


def _angle(hue: str) -> float:
    """Return a hue as steps from 0 to below 100, 10R = 10, 10YR = 20."""
    letters = hue.lstrip("0123456789.")
    return (HUES.index(letters) * 10.0 + float(hue[: -len(letters)])) % 100.0


def _neutral(value: float) -> Rgb | None:
    low = int(value * 2) / 2
    one, other = _table().get((-1.0, low, 0.0)), _table().get((-1.0, min(low + 0.5, 10.0), 0.0))
    return None if one is None or other is None else _between(one, other, (value - low) * 2)


def _chromatic(colour: Munsell) -> Rgb | None:
    angle = _angle(colour.hue)
    first = angle // _STEP * _STEP
    share = (angle - first) / _STEP
    one = _at_hue(first % 100.0, colour.value, colour.chroma)
    other = _at_hue((first + _STEP) % 100.0, colour.value, colour.chroma) if share else one
    return None if one is None or other is None else _between(one, other, share)


def _at_hue(angle: float, value: float, chroma: float) -> Rgb | None:
    low = min(max(int(value), 1), 9)
    high = min(low + 1, 9)
    one, other = _at_value(angle, low, chroma), _at_value(angle, high, chroma)
    if one is None or other is None:
        return None
    return _between(one, other, min(max(value - low, 0.0), 1.0))


def _at_value(angle: float, value: int, chroma: float) -> Rgb | None:
    low = int(chroma // 2) * 2
    one = _neutral(value) if low == 0 else _table().get((angle, value, low))
    if chroma == low:
        return one
    other = _table().get((angle, value, low + 2))
    return None if one is None or other is None else _between(one, other, (chroma - low) / 2)


def _between(one: Rgb, other: Rgb, share: float) -> Rgb:
    red, green, blue = (a + (b - a) * share for a, b in zip(one, other, strict=True))
    return red, green, blue

"""Colours in Munsell notation: read, grouped, and what a raw colour lets one expect of the fired one."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

Fired = Literal["white", "buff", "red", "dark"]
HUES = ("R", "YR", "Y", "GY", "G", "BG", "B", "PB", "P", "RP")
_CHROMATIC = re.compile(
    r"^\s*(\d{1,2}(?:\.\d+)?)\s*(RP|PB|BG|GY|YR|R|Y|G|B|P)\s*(\d{1,2}(?:\.\d+)?)\s*[/\\]\s*(\d{1,2}(?:\.\d+)?)\s*$",
    re.I,
)
_NEUTRAL = re.compile(r"^\s*N\s*(\d{1,2}(?:\.\d+)?)\s*(?:[/\\]\s*0?)?\s*$", re.I)
_FIRED_WORDS: tuple[tuple[Fired, str], ...] = (
    ("dark", r"black|dark|chocolate|brown|gr[ae]y"),
    ("buff", r"buff|tan|cream|yellow|sand|straw|pink|beige"),
    ("red", r"red|terra|orange|brick|salmon|rust"),
    ("white", r"white|ivory|pale"),
)


@dataclass(frozen=True, slots=True)
class Munsell:
    """A colour of the Munsell system (ASTM D1535).

    Attributes
    ----------
    hue
        As written, `10YR`; `N` for a neutral grey.
    value
        Lightness, 0 black to 10 white.
    chroma
        Strength, from 0.
    """

    hue: str
    value: float
    chroma: float

    @property
    def notation(self) -> str:
        """The colour as it is written, `10YR 5/4`."""
        return f"N {self.value:g}/" if self.hue == "N" else f"{self.hue} {self.value:g}/{self.chroma:g}"

    @property
    def redness(self) -> float:
        """Steps of hue on the way from 10R (0) over 10YR (10) to 10Y (20); beyond both ends for other hues."""
        if self.hue == "N":
            return 20.0
        match = re.match(r"([\d.]+)([A-Z]+)", self.hue)
        assert match is not None
        place = HUES.index(match[2])
        steps = place * 10.0 + float(match[1]) - 10.0
        return steps if steps <= 50.0 else steps - 100.0


def read_munsell(text: str) -> Munsell | None:
    """Return the colour of a notation such as `10YR 5/4`, `2.5y6/3` or `N 4/`; None when it is none."""
    match = _CHROMATIC.match(text)
    if match:
        step, value, chroma = float(match[1]), float(match[3]), float(match[4])
        if 0 <= step <= 10 and value <= 10 and chroma <= 30:
            return Munsell(f"{step:g}{match[2].upper()}", value, chroma)
        return None
    match = _NEUTRAL.match(text)
    if match and float(match[1]) <= 10:
        return Munsell("N", float(match[1]), 0.0)
    return None


def expected_fired(raw: str) -> tuple[tuple[Fired, ...], str]:
    """Return which fired colours a raw colour lets one expect, and why; nothing where it tells nothing.

    Parameters
    ----------
    raw
        Munsell notation of the moist clay.

    Notes
    -----
    For oxidation at earthenware heat (own judgement): pale and weak colours hold little iron; grey and blue clays may
    still fire red, their iron is reduced and not absent; dark and weak is organic matter that burns out.
    """
    colour = read_munsell(raw)
    if colour is None:
        return (), ""
    if colour.chroma <= 2 and colour.value <= 3:
        return (), "dark from organic matter, which burns out: unknown until fired"
    if colour.chroma <= 2 and colour.value >= 7:
        return ("white", "buff"), "pale and weak in colour: little iron"
    if colour.chroma <= 2:
        return ("buff", "red"), "grey or blue: its iron is reduced, not absent, and may fire red"
    if colour.redness <= 5:
        return ("red",), "red already: much iron"
    if colour.chroma >= 4 and colour.redness <= 10:
        return ("buff", "red"), "brown or yellow: iron"
    return ("buff",), "a weak yellow or brown: some iron"


def fired_group(colour: str) -> Fired | None:
    """Return the group of a fired colour, given in Munsell notation or in words; None when it cannot be told.

    The limits are own judgement: white from value 8 with chroma to 2; dark below value 4; red up to 5YR from chroma 4.
    """
    chip = read_munsell(colour)
    if chip is None:
        low = colour.lower()
        if re.search(r"off.?white|near.?white", low):
            return "white"
        return next((group for group, words in _FIRED_WORDS if re.search(words, low)), None)
    if chip.value < 4:
        return "dark"
    if chip.value >= 8 and chip.chroma <= 2:
        return "white"
    return "red" if chip.redness <= 5 and chip.chroma >= 4 else "buff"

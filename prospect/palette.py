"""Colours as data: the favourability ramp, the surfaces, the verdicts and the rock families."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Annotated

import numpy as np
from pydantic import Field
from pydantic.dataclasses import dataclass as strict_dataclass

from prospect.definitions import STRICT, layers_folder, read_definition
from prospect.errors import WrongUsage
from prospect.types import FloatArray, IntArray

Rgb = tuple[int, int, int]
Hex = Annotated[str, Field(pattern=r"^#[0-9A-Fa-f]{6}$")]


@strict_dataclass(frozen=True, config=STRICT)
class RampSpec:
    """One colour ramp as its file describes it."""

    key: str
    title: str
    file: Annotated[str, Field(pattern=r"^[a-z0-9_]+\.txt$")]
    reverse: bool
    low: Annotated[float, Field(ge=0, lt=1)]
    high: Annotated[float, Field(gt=0, le=1)]
    licence: str
    reference: str


@strict_dataclass(frozen=True, config=STRICT)
class Surfaces:
    """One theme, `#RRGGBB`: paper, raised shelf, lines, text, faded text, accents; kiln fills buttons."""

    paper: Hex
    shelf: Hex
    line: Hex
    slate: Hex
    faded: Hex
    iron: Hex
    kiln: Hex
    reed: Hex
    glaze: Hex


@strict_dataclass(frozen=True, config=STRICT)
class VerdictMark:
    """The word, the shape and the colour name of a decision about the land."""

    word: str
    shape: str
    colour: str


@strict_dataclass(frozen=True, config=STRICT)
class RockFamily:
    """A family of rocks with its colour, pattern and the open lithology terms that belong to it."""

    key: str
    title: str
    colour: Hex
    pattern: str
    terms: tuple[str, ...]


@strict_dataclass(frozen=True, config=STRICT)
class Colours:
    """Everything in `layers/palettes/colours.toml`."""

    ramps: tuple[RampSpec, ...]
    light: Surfaces
    dark: Surfaces
    verdicts: tuple[VerdictMark, ...]
    families: tuple[RockFamily, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Ramp:
    """A colour ramp from poor (pale) to good (deep).

    Attributes
    ----------
    key, title
        Name in the palettes file, and in words.
    table
        (256, 3) uint8; row 0 for 0.0, row 255 for 1.0.
    licence, reference
        Of the ramp's maker.
    """

    key: str
    title: str
    table: IntArray
    licence: str
    reference: str

    def indices(self, values: FloatArray) -> IntArray:
        """Return row numbers of `table` for values 0..1; values outside are clamped, NaN becomes 0."""
        scaled = np.clip(np.nan_to_num(np.asarray(values, dtype=np.float32)), 0.0, 1.0)
        return np.rint(scaled * (len(self.table) - 1)).astype(np.uint8)

    def rgb(self, value: float) -> Rgb:
        """Return the colour of one value 0..1 as red, green, blue in 0..255."""
        red, green, blue = self.table[int(self.indices(np.array([value]))[0])]
        return int(red), int(green), int(blue)

    def hex(self, value: float) -> str:
        """Return the colour of one value 0..1 as `#RRGGBB`."""
        return "#{:02X}{:02X}{:02X}".format(*self.rgb(value))


@cache
def colours() -> Colours:
    """Return the palettes file; raise `DefinitionError` with every fault when it has any."""
    return read_definition(layers_folder() / "palettes" / "colours.toml", Colours)


@cache
def ramp(key: str = "lajolla") -> Ramp:
    """Return a ramp by its key.

    Raises
    ------
    WrongUsage
        When there is no ramp of that name.
    """
    for spec in colours().ramps:
        if spec.key == key:
            return Ramp(spec.key, spec.title, _ramp_table(spec), spec.licence, spec.reference)
    raise WrongUsage(
        f"There is no colour ramp '{key}'; there are: {', '.join(s.key for s in colours().ramps)}."
    )


def verdict_mark(word: str) -> VerdictMark:
    """Return the mark of a verdict; a word that is not one gets the mark of `unknown`."""
    marks = {mark.word: mark for mark in colours().verdicts}
    return marks.get(word, marks["unknown"])


def rock_family(lineage: Sequence[str]) -> RockFamily:
    """Return the family of a rock.

    Parameters
    ----------
    lineage
        The rock's lithology term followed by its broader terms, nearest first; empty when unread.
    """
    by_term = {term: family for family in colours().families for term in family.terms}
    for term in lineage:
        if term in by_term:
            return by_term[term]
    return next(family for family in colours().families if family.key == "unread")


def _ramp_table(spec: RampSpec) -> IntArray:
    rows = np.loadtxt(layers_folder() / "palettes" / spec.file)
    if spec.reverse:
        rows = rows[::-1]
    places = np.linspace(spec.low, spec.high, 256) * (len(rows) - 1)
    channels = [np.interp(places, np.arange(len(rows)), rows[:, k]) for k in range(3)]
    table = np.rint(np.stack(channels, axis=1) * 255).astype(np.uint8)
    table.setflags(write=False)
    return table

"""What the criteria may read: the list of factors, and their values on one ground."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass as plain_dataclass
from dataclasses import field, replace
from functools import cached_property, lru_cache
from typing import Annotated, Literal

import numpy as np
import pandas as pd
from pydantic import Field
from pydantic.dataclasses import dataclass

from prospect.criteria.memberships import is_text
from prospect.definitions import STRICT, layers_folder, read_definition
from prospect.errors import GridMismatch
from prospect.grid import Grid, Raster
from prospect.types import FloatArray, IntArray

Place = Literal["cell", "constant", "soil", "unit"]

SOIL = "soil_"
UNIT = "unit_"


@dataclass(config=STRICT, frozen=True)
class FactorSpec:
    """One variable that a model may read.

    Attributes
    ----------
    name, title
        Name in model files (`soil_` = column of the soil components, `unit_` = column of the geologic units),
        and in plain words.
    holds
        `number`, `class` (a small code on the map; `classes` names the codes from 0 up), `words`, or `yes_no`.
    unit
        Unit of a number; empty for a fraction or an index.
    low, high
        Range in which values make sense.
    produced_by
        What makes it.
    doc
        One line.
    place
        Where it is read: per `cell`, one `constant` for the ground, or per `soil` component or geologic `unit`.
    needs_catchment
        Whether it is known only where the whole catchment lies in the elevation data.
    """

    name: Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$")]
    title: str
    produced_by: str
    doc: str
    holds: Literal["number", "class", "words", "yes_no"] = "number"
    unit: str = ""
    low: float | None = None
    high: float | None = None
    classes: tuple[str, ...] = ()
    constant: bool = False
    needs_catchment: bool = False

    @property
    def place(self) -> Place:
        """Where the factor is read."""
        if self.constant:
            return "constant"
        return place_of(self.name)


@dataclass(config=STRICT, frozen=True)
class _FactorFile:
    factors: tuple[FactorSpec, ...]


@lru_cache(maxsize=1)
def factor_list() -> Mapping[str, FactorSpec]:
    """Return every factor that the program knows, by name, in the order of `factors.toml`.

    Raises
    ------
    DefinitionError
        When the file has faults.
    """
    file = read_definition(layers_folder() / "factors.toml", _FactorFile)
    return {spec.name: spec for spec in file.factors}


def place_of(name: str) -> Place:
    """Return where a factor is read, by its prefix or its entry in the list."""
    if name.startswith(SOIL):
        return "soil"
    if name.startswith(UNIT):
        return "unit"
    spec = factor_list().get(name)
    return "constant" if spec is not None and spec.constant else "cell"


@plain_dataclass(frozen=True)
class ClassLayer:
    """Polygons as codes on the grid, and a table of what each code means.

    Attributes
    ----------
    codes
        (rows, cols) int32; -1 = none.
    table
        Either one row per code (row i = code i), or several rows per code with the integer column `code` and
        the column `percent` (the share of the code's ground that the row stands for).
    key
        Column that names a row for readers.
    """

    codes: IntArray
    table: pd.DataFrame
    key: str

    @cached_property
    def row_codes(self) -> IntArray:
        """(n,) code of each row of the table."""
        if "code" in self.table:
            return self.table["code"].to_numpy(dtype=np.int64)
        return np.arange(len(self.table))

    @cached_property
    def row_percent(self) -> FloatArray:
        """(n,) share of its code that each row stands for; equal shares where the table does not say."""
        if "percent" not in self.table:
            return np.ones(len(self.table))
        percent = pd.to_numeric(self.table["percent"], errors="coerce").fillna(0).to_numpy(dtype=np.float64)
        codes = self.row_codes
        stated = np.bincount(codes, weights=percent, minlength=1)[codes] if len(codes) else percent
        return np.where(stated > 0, percent, 1.0)

    @cached_property
    def _numbers(self) -> dict[str, FloatArray]:
        return {}

    @cached_property
    def _words(self) -> dict[str, list[str]]:
        return {}

    def numbers(self, column: str) -> FloatArray:
        """Return a column as float32 per row; NaN where it is missing or not a number."""
        if column not in self._numbers:
            self._numbers[column] = _as_numbers(self.table, column)
        return self._numbers[column]

    def words(self, column: str) -> list[str]:
        """Return a column as text per row; lists are joined by `;`, missing values are empty."""
        if column not in self._words:
            missing = column not in self.table
            self._words[column] = (
                [""] * len(self.table) if missing else [_as_words(value) for value in self.table[column]]
            )
        return self._words[column]

    def part(self, rows: slice, cols: slice) -> ClassLayer:
        """Return the layer on part of the grid, its table cut down to the codes found there."""
        codes = self.codes[rows, cols]
        keep = np.isin(self.row_codes, codes)
        table = self.table.assign(code=self.row_codes)[keep].reset_index(drop=True)
        return ClassLayer(codes, table, self.key)


@plain_dataclass(frozen=True)
class Factors:
    """The values that models read on one ground; a factor that is not here is unknown.

    Attributes
    ----------
    grid
        Where the cells are.
    rasters
        Numbers and small class codes per cell, by factor name.
    soil
        Soil map units with a table of components; None = no survey.
    geology
        Geologic units; None = no map.
    constants
        One number for the ground, by factor name.
    sources
        Name and date of the layer behind a factor, by factor name, `soil` or `geology`.

    Raises
    ------
    GridMismatch
        When a layer is not on the grid.
    """

    grid: Grid
    rasters: Mapping[str, Raster]
    soil: ClassLayer | None = None
    geology: ClassLayer | None = None
    constants: Mapping[str, float] = field(default_factory=dict)
    sources: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for raster in self.rasters.values():
            self.grid.require_same(raster.grid)
        for layer in (self.soil, self.geology):
            if layer is not None and layer.codes.shape != self.grid.shape:
                raise GridMismatch(f"A class layer of {layer.codes.shape} on a grid of {self.grid.shape}.")

    def layer(self, place: Place) -> ClassLayer | None:
        """Return the class layer that holds the `soil` or the `unit` factors."""
        return self.soil if place == "soil" else self.geology

    def part(self, rows: slice, cols: slice) -> Factors:
        """Return the factors of part of the ground."""
        window = (rows.start, rows.stop, cols.start, cols.stop)
        return replace(
            self,
            grid=self.grid.window(*window),
            rasters={name: raster.window(*window) for name, raster in self.rasters.items()},
            soil=None if self.soil is None else self.soil.part(rows, cols),
            geology=None if self.geology is None else self.geology.part(rows, cols),
        )

    def source(self, name: str) -> str:
        """Return the layer and date behind a factor, as far as they are known."""
        layer = {"soil": "soil", "unit": "geology"}.get(place_of(name), name)
        if name in self.sources or layer in self.sources:
            return self.sources.get(name, self.sources.get(layer, ""))
        return self.rasters[name].source if name in self.rasters else ""


def _as_numbers(table: pd.DataFrame, column: str) -> FloatArray:
    if column not in table:
        return np.full(len(table), np.nan, dtype=np.float32)
    values = table[column]
    if values.dtype == object:
        values = values.map(lambda value: float(value) if isinstance(value, (bool, np.bool_)) else value)
    numbers = pd.to_numeric(values, errors="coerce").astype("float64")
    return numbers.to_numpy(dtype=np.float32, na_value=np.nan)


def _as_words(value: object) -> str:
    if isinstance(value, (list, tuple, set, np.ndarray)):
        return ";".join(str(item) for item in value)
    return str(value).strip() if is_text(value) else ""

"""Which open layers exist, from whom and under which licence, and what each kind of layer is for."""

from __future__ import annotations

from dataclasses import field
from functools import cache
from typing import Literal

from pydantic.dataclasses import dataclass

from prospect.definitions import STRICT, layers_folder, read_definition


@dataclass(frozen=True, config=STRICT)
class LayerSpec:
    """One open layer.

    Attributes
    ----------
    key, title
        Its short and its published name.
    kind
        What it serves as (`elevation`, `soil`, ...).
    publisher, covers, licence, attribution, format
        As the publisher states them.
    caveats
        What a careful user should know.
    """

    key: str
    kind: str
    title: str
    publisher: str
    covers: str
    licence: str
    attribution: str
    format: str
    caveats: tuple[str, ...] = ()


@dataclass(frozen=True, config=STRICT)
class KindSpec:
    """One kind of layer: what it gives the ground, and what a ground without it cannot say."""

    key: str
    title: str
    serves: Literal["defining", "criteria", "land", "look"]
    gives: str
    missing: str


@dataclass(frozen=True, config=STRICT)
class Catalogue:
    """Every kind of layer in the order a ground needs them, and every open layer we know of."""

    kind: tuple[KindSpec, ...]
    layers: tuple[LayerSpec, ...] = field(default=())

    def sources_of(self, kind: str) -> tuple[LayerSpec, ...]:
        """Return the open layers that can serve as a kind."""
        return tuple(layer for layer in self.layers if layer.kind == kind)


@cache
def read_catalogue() -> Catalogue:
    """Return the catalogue that travels with the program."""
    kinds = read_definition(layers_folder() / "kinds.toml", Catalogue).kind
    paths = sorted((layers_folder() / "catalogue").glob("*.toml"))
    return Catalogue(kinds, tuple(read_definition(path, LayerSpec) for path in paths))

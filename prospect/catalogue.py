"""Which open layers exist, from whom and under which licence, and what each kind of layer is for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import field
from functools import cache
from pathlib import Path
from typing import Literal

from pydantic.dataclasses import dataclass

from prospect.definitions import STRICT, as_definition, layers_folder, read_definition, read_toml, shown
from prospect.errors import DefinitionError
from prospect.guard.address import address_fault
from prospect.issues import Issue


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
    address
        Where its publisher serves it; empty where there is no one address. Held to `address_fault` when read.
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
    address: str = ""


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


def read_layer_spec(path: Path) -> LayerSpec:
    """Return one open layer from its file.

    Raises
    ------
    DefinitionError
        With one issue for every fault, an address that nothing may ask among them.
    """
    content = read_toml(path)
    faults = tuple(_address_faults(content, "", path.name))
    if faults:
        raise DefinitionError("\n".join(fault.sentence() for fault in faults), faults)
    return as_definition(content, LayerSpec, path.name)


def _address_faults(content: object, at: str, file: str) -> Iterator[Issue]:
    """Yield what is wrong with every key `address`, however deep it lies."""
    if isinstance(content, list):
        for number, item in enumerate(content):
            yield from _address_faults(item, f"{at}[{number}]", file)
    if not isinstance(content, dict):
        return
    for key, value in content.items():
        place = f"{at}.{key}" if at else str(key)
        if key == "address" and value != "":
            expected = address_fault(value) if isinstance(value, str) else "an address as text"
            if expected:
                yield Issue("error", file, place, "address", shown(value), expected, "Mend the address.")
        else:
            yield from _address_faults(value, place, file)


@cache
def read_catalogue() -> Catalogue:
    """Return the catalogue that travels with the program."""
    kinds = read_definition(layers_folder() / "kinds.toml", Catalogue).kind
    paths = sorted((layers_folder() / "catalogue").glob("*.toml"))
    return Catalogue(kinds, tuple(read_layer_spec(path) for path in paths))

"""Every number that travels in `layers/` says where it comes from: a reference, or "own judgement"."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

LAYERS = Path(__file__).resolve().parents[2] / "layers"
SAYS_WHENCE = ("reference", "source", "weights_reference", "licence", "produced_by")
WITHOUT_JUDGEMENT = {"kinds.toml"}
"""Files that hold words only."""


def toml_files() -> list[Path]:
    return sorted(path for path in LAYERS.rglob("*.toml") if path.name not in WITHOUT_JUDGEMENT)


def unsourced(node: Any, sourced: bool, place: str) -> Iterator[str]:
    if isinstance(node, dict):
        here = sourced or any(node.get(key) for key in SAYS_WHENCE)
        for key, value in node.items():
            yield from unsourced(value, here, f"{place}.{key}")
    elif isinstance(node, list):
        for number, value in enumerate(node):
            yield from unsourced(value, sourced, f"{place}[{number}]")
    elif isinstance(node, (int, float)) and not isinstance(node, bool) and not sourced:
        yield place


@pytest.mark.parametrize("path", toml_files(), ids=lambda path: path.relative_to(LAYERS).as_posix())
def test_every_number_has_its_reference(path: Path) -> None:
    content = tomllib.loads(path.read_text(encoding="utf-8"))
    bare = list(unsourced(content, False, path.name))
    assert not bare, f"numbers without a reference: {bare[:5]}"


def test_the_seven_models_are_there() -> None:
    names = {path.stem for path in (LAYERS / "models").glob("*.toml")}
    assert names == {
        "residual",
        "valley_fill",
        "lake_bed",
        "altered_ash",
        "mudrock",
        "coastal_plain",
        "clay_subsoil",
    }

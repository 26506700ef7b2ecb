"""The normal forms on disk: one file per layer beside a small file that says where it came from."""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pyogrio

from prospect.errors import NothingToWorkWith
from prospect.grid import Raster, read_geotiff, write_geotiff


@dataclass(frozen=True, slots=True)
class LayerSource:
    """Where a layer came from.

    Attributes
    ----------
    kind
        One of the words of `claywalk add` (elevation, soil, geology, ...).
    origin
        Names of the files it was read from, never their full paths.
    imported
        ISO date of the import.
    licence, attribution
        As the publisher states them; empty when unknown.
    crs
        CRS of the source as found or given.
    vintage
        Date or year of the data itself; empty when unknown.
    counts
        `read, kept, repaired, refused`.
    notes
        Sentences worth showing wherever the layer is used.
    covers
        West, south, east, north (m, the ground's CRS) of the box that shapes were kept from; None when nothing was
        left out for lying elsewhere.
    """

    kind: str
    origin: str
    imported: str
    licence: str = ""
    attribution: str = ""
    crs: str = ""
    vintage: str = ""
    counts: Mapping[str, int] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    covers: tuple[float, float, float, float] | None = None

    def sentence(self) -> str:
        """Return the source in a few words, for a reason or a legend."""
        when = f", {self.vintage}" if self.vintage else ""
        return f"{self.origin}{when}"


def write_layer(
    folder: Path,
    name: str,
    content: gpd.GeoDataFrame | Raster,
    source: LayerSource,
    tables: Mapping[str, pd.DataFrame] | None = None,
) -> Path:
    """Write a layer and its `.source.json`, replacing an older one only when the new one is whole.

    Parameters
    ----------
    folder
        The ground's `layers` folder.
    name
        Layer name; also the file's.
    content
        Vectors become a GeoPackage with the layer `name`, a raster becomes a GeoTIFF.
    source
        Where it came from.
    tables
        Tables without geometry that belong to a vector layer, written into the same GeoPackage.
    """
    folder.mkdir(parents=True, exist_ok=True)
    if isinstance(content, Raster):
        path = folder / f"{name}.tif"
        write_geotiff(content, path)
    else:
        path = folder / f"{name}.gpkg"
        part = folder / f".{name}.part.gpkg"
        with contextlib.suppress(FileNotFoundError):
            part.unlink()
        try:
            pyogrio.write_dataframe(content, part, layer=name, driver="GPKG")
            for table, frame in (tables or {}).items():
                pyogrio.write_dataframe(frame, part, layer=table, driver="GPKG", append=True)
            with part.open("rb+") as handle:
                os.fsync(handle.fileno())
            part.replace(path)
        finally:
            with contextlib.suppress(FileNotFoundError):
                part.unlink()
    note = folder / f".{name}.source.part"
    note.write_text(json.dumps(asdict(source), indent=1, ensure_ascii=False), encoding="utf-8")
    note.replace(folder / f"{name}.source.json")
    return path


def read_vector_layer(folder: Path, name: str) -> gpd.GeoDataFrame:
    """Return the shapes of a layer; raise `NothingToWorkWith` when the ground has none of that name."""
    return pyogrio.read_dataframe(_existing(folder / f"{name}.gpkg"), layer=name)


def read_table(folder: Path, name: str, table: str) -> pd.DataFrame:
    """Return a table without geometry that belongs to a vector layer."""
    return pyogrio.read_dataframe(_existing(folder / f"{name}.gpkg"), layer=table, read_geometry=False)


def read_raster_layer(folder: Path, name: str) -> Raster:
    """Return a raster layer; raise `NothingToWorkWith` when the ground has none of that name."""
    return read_geotiff(_existing(folder / f"{name}.tif"))


def read_source(folder: Path, name: str) -> LayerSource:
    """Return where a layer came from."""
    path = _existing(folder / f"{name}.source.json")
    content = json.loads(path.read_text(encoding="utf-8"))
    content["notes"] = tuple(content.get("notes", ()))
    content["covers"] = tuple(content["covers"]) if content.get("covers") else None
    return LayerSource(**content)


def layer_names(folder: Path) -> tuple[str, ...]:
    """Return the names of the layers in a folder, sorted."""
    suffix = ".source.json"
    return tuple(sorted(path.name[: -len(suffix)] for path in folder.glob(f"[!.]*{suffix}")))


def delete_layer(folder: Path, name: str) -> None:
    """Delete a layer with its source file; raise `NothingToWorkWith` when there is none."""
    _existing(folder / f"{name}.source.json").unlink()
    for suffix in (".gpkg", ".tif"):
        with contextlib.suppress(FileNotFoundError):
            (folder / f"{name}{suffix}").unlink()


def vector_drivers() -> tuple[str, ...]:
    """Return the names of the vector drivers that are switched on, sorted."""
    return tuple(sorted(pyogrio.list_drivers()))


def _existing(path: Path) -> Path:
    if not path.is_file():
        name = path.name.split(".")[0]
        raise NothingToWorkWith(
            f"This ground has no layer '{name}'. Add one with: claywalk add DIR {name} FILE"
        )
    return path

"""Opens a foreign vector file safely: looked at first, unpacked or copied aside, one layer chosen."""

from __future__ import annotations

import contextlib
import re
import traceback
import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, NoReturn

import pyogrio
from pyogrio._err import CPLE_BaseError as VectorLibraryError
from pyogrio.errors import CRSError, DataLayerError, DataSourceError, FeatureError, FieldError, GeometryError
from pyproj.exceptions import ProjError
from rasterio._err import CPLE_BaseError as RasterLibraryError
from rasterio.errors import RasterioError
from shapely.errors import ShapelyError

from prospect.errors import ProspectError
from prospect.guard.alias import harmless_name
from prospect.guard.archive import open_archive
from prospect.guard.database import open_database
from prospect.guard.inspection import VECTOR_FORMS, Form, inspect_file, inspect_member
from prospect.guard.refusal import refuse_file, refuse_for_fault
from prospect.issues import IssueLog
from prospect.sources.field_names import field_names, same_name
from prospect.sources.geojson_text import look_over
from prospect.sources.service_answer import as_geojson
from prospect.sources.shapefile_parts import whole_shapefile

OVER_BAD_FILES: tuple[type[Exception], ...] = (
    OSError,
    ValueError,
    ArithmeticError,
    DataSourceError,
    DataLayerError,
    FeatureError,
    FieldError,
    GeometryError,
    CRSError,
    RasterioError,
    ProjError,
    ShapelyError,
    RasterLibraryError,
    VectorLibraryError,
)
"""What pyogrio, rasterio, pyproj and shapely raise over bad files (a bad text is a `ValueError`)."""

_PLACE = re.compile(r"At line (\d+), character (\d+):\s*")
_INNER = (".gpkg", ".shp", ".geojson", ".json")
_ONE_LAYER = (".geojson", ".json", ".shp")
_DRIVERS = {
    ".gpkg": "GPKG",
    ".shp": "ESRI Shapefile",
    ".geojson": "GeoJSON",
    ".json": "GeoJSON",
    ".gdb": "OpenFileGDB",
}
_SHAPE_WORDS = {"polygon": "Polygon", "line": "LineString", "point": "Point"}


@contextlib.contextmanager
def opened(path: Path, kind: str, log: IssueLog, *, wanted: str = "") -> Iterator[Path]:
    """Give a path that the vector library may open: the file itself, a checked copy, or what an archive held.

    Parameters
    ----------
    path
        File, zip archive or `.gdb` folder.
    kind
        Kind of layer.
    log
        Where refusals go.
    wanted
        Name of the layer that the user asked for; picks the file inside an archive of several.
    """
    form = inspect_file(path, kind, VECTOR_FORMS).form
    if form == "zip archive":
        with open_archive(path, kind) as folder:
            inner = _inside(folder, kind, log, wanted)
            with _prepared(inner, inspect_member(inner, log, VECTOR_FORMS).form, kind, log) as ready:
                yield ready
    else:
        with _prepared(path, form, kind, log) as ready:
            yield ready


@contextlib.contextmanager
def library_errors(log: IssueLog, what: str) -> Iterator[None]:
    """Turn what a library raises over a bad file into a refusal with its reason, and mute its warnings.

    Raises
    ------
    InputRefused
        For errors of the classes that the libraries use for bad files.
    ReaderFault
        For any other: that is a fault of the program.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    except (ProspectError, MemoryError):
        # Whoever set the limit knows what to say about memory.
        raise
    except OVER_BAD_FILES as error:
        reason = re.sub(r"\s+", " ", str(error)).strip() or type(error).__name__
        reason = _without_folders(reason, log.file)[:300]
        where = _PLACE.search(reason)
        place = f"line {where[1]}, character {where[2]}" if where else ""
        action = "Export or download it again, perhaps in another form."
        refuse_file(log, _PLACE.sub("", reason).strip(), what, action, place=place)
    except Exception as error:
        refuse_for_fault(log, type(error).__qualname__, traceback.format_exc())


def _without_folders(reason: str, name: str) -> str:
    """Return a library's words with the names of files and without the folders they lie in, which may name people."""
    start = r"(?:(?<![\w/\\])[A-Za-z]:)?(?<![\w.])[/\\]"
    if name:
        reason = re.sub(rf"'?{start}.*?[/\\]?{re.escape(name)}'?", lambda _: name, reason)
    reason = re.sub(rf"(['\"]){start}[^'\"]*[/\\]([^'\"/\\]+)\1", r"\2", reason)
    return re.sub(rf"{start}[^\s'\"]*[/\\]([^\s'\"/\\]+)", r"\1", reason)


def choose_layer(path: Path, kind: str, wanted: str, log: IssueLog) -> str | None:
    """Return the layer to read: the one asked for, else the only or best-named one with shapes.

    None for a form that holds one layer only; listing it would read the whole file once more.
    """
    if path.suffix.lower() in _ONE_LAYER:
        return None
    rules = field_names().of(kind)
    with library_errors(log, f"a file with {kind} in it"):
        layers = [(str(name), shape) for name, shape in pyogrio.list_layers(path)]
    shaped = {name: str(shape) for name, shape in layers if shape is not None}
    if wanted:
        named = [name for name in shaped if name.lower() == wanted.lower()]
        if not named:
            refuse_file(
                log, wanted, f"one of the layers {', '.join(shaped)}", "Mend --map layer=NAME.", field="layer"
            )
        return named[0]
    if not shaped:
        found = f"only tables ({', '.join(name for name, _ in layers)})" if layers else "no layers"
        refuse_file(log, found, "a layer with shapes", "Export the shapes as well.")
    choices = [list(shaped), *_narrowed(shaped, rules.layers, rules.shapes)]
    single = [choice[0] for choice in choices if len(choice) == 1]
    if not single:
        action = "Say which: --map layer=NAME"
        refuse_file(log, f"the layers {', '.join(shaped)}", f"one layer of {kind}", action, field="layer")
    return single[0]


def refuse_bad_system(log: IssueLog) -> NoReturn:
    """Refuse a file whose CRS is written in bytes that are no text."""
    action = "Remove it from the file (or its .prj) and say which CRS it is: --crs EPSG:n"
    refuse_file(log, "a CRS in bytes that are no text", "a CRS in UTF-8", action, field="crs")


def tables_of(path: Path, log: IssueLog) -> list[str]:
    """Return the names of the tables without shapes."""
    with library_errors(log, "a readable file"):
        return [str(name) for name, shape in pyogrio.list_layers(path) if shape is None]


def layer_info(path: Path, layer: str | None, log: IssueLog) -> dict[str, Any]:
    """Return what the library says about a layer: fields, features, crs, total_bounds."""
    with library_errors(log, "a readable layer"):
        try:
            info = pyogrio.read_info(path, layer=layer, force_feature_count=True, force_total_bounds=True)
        except UnboundLocalError:
            # What pyogrio comes to when the words of a CRS are not in UTF-8.
            refuse_bad_system(log)
    # The library takes no name of a driver when it opens a file; it says which one it took.
    expected = _DRIVERS[path.suffix.lower()]
    if info["driver"] != expected:
        action = "Export it again; renaming a file does not change what it is."
        refuse_file(log, f"a file for {info['driver']}", f"one for {expected}", action)
    return dict(info)


def _narrowed(shaped: dict[str, str], names: Sequence[str], shapes: Sequence[str]) -> list[list[str]]:
    fitting = [
        name
        for name, shape in shaped.items()
        if any(_SHAPE_WORDS[word] in shape for word in shapes) or shape in ("Unknown", "GeometryCollection")
    ]
    by_name = [[layer for layer in fitting if same_name(name, layer)] for name in names]
    return [fitting, *by_name]


def _inside(folder: Path, kind: str, log: IssueLog, wanted: str) -> Path:
    files = sorted(path for path in folder.rglob("*") if path.is_file() and "__MACOSX" not in path.parts)
    found = sorted(path for path in folder.rglob("*.gdb") if path.is_dir())
    found += [path for suffix in _INNER for path in files if path.suffix.lower() == suffix]
    if not found:
        listed = ", ".join(path.name for path in files[:8])
        refuse_file(
            log, listed, "a shapefile, GeoPackage, GeoJSON or file geodatabase inside", "Pack it again."
        )
    names = (wanted,) if wanted else field_names().of(kind).layers
    choices = [found, *([path for path in found if same_name(name, path.stem)] for name in names)]
    single = [choice[0] for choice in choices if len(choice) == 1]
    if not single:
        listed = ", ".join(path.stem for path in found[:12])
        action = "Say which: --map layer=NAME"
        refuse_file(log, listed, "one layer in the archive", action, field="layer")
    return single[0]


@contextlib.contextmanager
def _prepared(path: Path, form: Form, kind: str, log: IssueLog) -> Iterator[Path]:
    if form == "geopackage":
        with open_database(path, kind) as copy:
            yield copy
        return
    if form == "shapefile":
        whole_shapefile(path, log)
    elif form == "geojson":
        answer = look_over(path, log)
        if answer is not None:
            with as_geojson(answer, log) as ready:
                yield ready
            return
    with harmless_name(path) as ready:
        yield ready

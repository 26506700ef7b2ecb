"""The command that says what is wrong with the installation or a ground, and mends it."""

from __future__ import annotations

import platform
import shutil
from collections.abc import Callable, Iterator
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Literal

import click

from prospect.cli.ground import as_json
from prospect.cli.printing import print_json, say
from prospect.errors import GroundError, ProspectError, WrongUsage
from prospect.grid import raster_drivers
from prospect.guard.drivers import ALLOWED_DRIVERS
from prospect.layerfile import delete_layer, layer_names, vector_drivers
from prospect.sources.self_test import unsafe_here
from prospect.store import Ground, Place, place_of
from prospect.text import plain

LIBRARIES = (
    "numpy",
    "pandas",
    "geopandas",
    "shapely",
    "pyproj",
    "rasterio",
    "pyogrio",
    "numba",
    "scipy",
    "folium",
    "fpdf2",
    "uharfbuzz",
    "matplotlib",
    "streamlit",
    "streamlit-folium",
)
LEAST_FREE_MB = 500


@click.command(short_help="Say what is wrong, and mend it.")
@click.argument("folder", metavar="[DIR]", required=False, type=click.Path(path_type=Path))
@click.option("--mend", is_flag=True, help="Mend what can be mended without losing anything.")
@click.option(
    "--back-to",
    "backup",
    type=click.Path(path_type=Path),
    help="Bring this backup back; what is there now is kept beside it.",
)
@click.option(
    "--keep",
    type=click.Choice(["here", "there"]),
    help="Where records of this machine and of a shared folder went two ways: which to go on with.",
)
@as_json
def doctor(
    folder: Path | None,
    mend: bool,
    backup: Path | None,
    keep: Literal["here", "there"] | None,
    as_json: bool,
) -> None:
    """Say what is wrong with the installation or a ground, and mend it."""
    wanted = [name for name, given in (("--mend", mend), ("--back-to", backup), ("--keep", keep)) if given]
    if wanted and folder is None:
        raise WrongUsage(f"{wanted[0]} needs the folder of a ground.")
    if len(wanted) > 1:
        raise WrongUsage(f"Give one of {', '.join(wanted)} at a time.")
    done = () if folder is None else _changed(folder, mend, backup, keep)
    checks = [*_installation_checks(), *_disk_checks(folder)]
    if folder is not None:
        checks.extend(_ground_checks(folder))
    well = all(bool(row["well"]) for row in checks)
    if as_json:
        words = {
            "program": _version("claywalk"),
            "python": platform.python_version(),
            "system": platform.platform(),
        }
        print_json({**words, "well": well, "mended": done, "checks": checks})
    else:
        say(f"claywalk {_version('claywalk')}, Python {platform.python_version()}, {platform.platform()}")
        for line in done:
            say(f"done  {plain(line)}")
        for row in checks:
            state = "well " if row["well"] else "ILL  "
            say(f"{state} {row['what']}: {plain(row['name'])}: {plain(row['found'])}")
    if not well:
        raise click.exceptions.Exit(GroundError.exit_code)


COMMANDS = (doctor,)


def _changed(
    folder: Path, mend: bool, backup: Path | None, keep: Literal["here", "there"] | None
) -> tuple[str, ...]:
    if backup is not None:
        Ground.restore(folder, backup)
        return (f"{backup.name} was brought back; what was there is kept beside it.",)
    if keep is not None:
        Ground.keep(folder, keep)
        return (f"The records {'of this machine' if keep == 'here' else 'of the folder'} were kept.",)
    return (*Ground.mend(folder), *_layers_mended(folder)) if mend else ()


def _layers_mended(folder: Path) -> Iterator[str]:
    ground = Ground.open(folder)
    for name in _without_file(ground):
        delete_layer(ground.layers_folder, name)
        ground.note_action("remove layer", name)
        yield f"The layer {name}, whose file is gone, was taken out; add it again."


def _installation_checks() -> Iterator[dict[str, object]]:
    for name in LIBRARIES:
        found = _version(name)
        yield _check("library", name, found != "missing", found)
    copies: tuple[tuple[str, Callable[[], tuple[str, ...]]], ...] = (
        ("raster", raster_drivers),
        ("vector", vector_drivers),
    )
    for copy, drivers in copies:
        extra = sorted(set(drivers()) - set(ALLOWED_DRIVERS))
        found = "only ours are on" if not extra else f"also on: {', '.join(extra)}"
        yield _check("drivers", copy, not extra, found)
    unsafe = unsafe_here()
    advice = "; install the program again in an environment of its own"
    yield _check(
        "drivers",
        "files that only point elsewhere",
        not unsafe,
        f"{unsafe}{advice}" if unsafe else "stay shut",
    )


def _disk_checks(folder: Path | None) -> Iterator[dict[str, object]]:
    there = folder if folder is not None and folder.exists() else Path.cwd()
    free = shutil.disk_usage(there).free // 2**20
    advice = "" if free >= LEAST_FREE_MB else "; make room before you import or score"
    yield _check("disk", "free space", free >= LEAST_FREE_MB, f"{free:,} MB{advice}")


def _ground_checks(folder: Path) -> Iterator[dict[str, object]]:
    yield _check("ground", "folder", True, _place_in_words(place_of(folder)))
    try:
        ground = Ground.open(folder)
        yield from (_check("ground", item.name, item.well, item.found) for item in ground.check_up())
    except ProspectError as error:
        yield _check("ground", "records", False, str(error))
        return
    gone = _without_file(ground)
    for name in ground.layers():
        found = "its file is gone: mend, and add it again" if name in gone else "there"
        yield _check("ground", f"layer {name}", name not in gone, found)
    size = sum(path.stat().st_size for path in ground.derived_folder.rglob("*") if path.is_file())
    yield _check("ground", "derived", True, f"{size / 2**20:.0f} MB, safe to delete")


def _place_in_words(place: Place) -> str:
    if place.is_own_disk:
        return "on this machine's own disk"
    return (
        f"{place.sentence()} The records are worked on in a place of this machine's own and put into the folder whole "
        "after each save."
    )


def _without_file(ground: Ground) -> tuple[str, ...]:
    names = layer_names(ground.layers_folder)
    endings = (".tif", ".gpkg")
    return tuple(
        name
        for name in names
        if not any((ground.layers_folder / f"{name}{end}").is_file() for end in endings)
    )


def _check(what: str, name: str, well: bool, found: str) -> dict[str, object]:
    return {"what": what, "name": name, "well": well, "found": found}


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "missing"

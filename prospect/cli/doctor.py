"""The command that says what is wrong with the installation or a ground, and how to mend it."""

from __future__ import annotations

import platform
import shutil
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import click

from prospect.cli.ground import as_json
from prospect.cli.printing import print_json
from prospect.errors import GroundError, ProspectError
from prospect.grid import raster_drivers
from prospect.guard.drivers import ALLOWED_DRIVERS
from prospect.layerfile import vector_drivers
from prospect.store import Ground

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
    "streamlit",
    "streamlit-folium",
)
LEAST_FREE_MB = 500


@click.command(short_help="Say what is wrong and how to mend it.")
@click.argument("folder", metavar="[DIR]", required=False, type=click.Path(path_type=Path))
@as_json
def doctor(folder: Path | None, as_json: bool) -> None:
    """Say what is wrong with the installation or a ground, and how to mend it."""
    versions = {name: _version(name) for name in LIBRARIES}
    checks = [_check("library", name, found != "missing", found) for name, found in versions.items()]
    for copy, drivers in (("raster", raster_drivers()), ("vector", vector_drivers())):
        extra = sorted(set(drivers) - set(ALLOWED_DRIVERS))
        checks.append(
            _check(
                "drivers",
                copy,
                not extra,
                "only ours are on" if not extra else f"also on: {', '.join(extra)}",
            )
        )
    place = folder if folder is not None and folder.exists() else Path.cwd()
    free = shutil.disk_usage(place).free // 2**20
    checks.append(_check("disk", "free space", free >= LEAST_FREE_MB, f"{free:,} MB"))
    if folder is not None:
        checks.extend(_ground_checks(folder))
    well = all(bool(row["well"]) for row in checks)
    if as_json:
        words = {
            "program": _version("claywalk"),
            "python": platform.python_version(),
            "system": platform.platform(),
        }
        print_json({**words, "well": well, "checks": checks})
    else:
        click.echo(
            f"claywalk {_version('claywalk')}, Python {platform.python_version()}, {platform.platform()}"
        )
        for row in checks:
            click.echo(f"{'well ' if row['well'] else 'ILL  '} {row['what']}: {row['name']}: {row['found']}")
    if not well:
        raise click.exceptions.Exit(GroundError.exit_code)


COMMANDS = (doctor,)


def _check(what: str, name: str, well: bool, found: str) -> dict[str, object]:
    return {"what": what, "name": name, "well": well, "found": found}


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "missing"


def _ground_checks(folder: Path) -> list[dict[str, object]]:
    try:
        ground = Ground.open(folder)
        checks = [_check("ground", item.name, item.well, item.found) for item in ground.check_up()]
    except ProspectError as error:
        return [_check("ground", "records", False, str(error))]
    for name in ground.layers():
        there = any((ground.layers_folder / f"{name}{suffix}").is_file() for suffix in (".tif", ".gpkg"))
        found = "there" if there else "its file is gone: remove the layer and add it again"
        checks.append(_check("ground", f"layer {name}", there, found))
    size = sum(path.stat().st_size for path in ground.derived_folder.rglob("*") if path.is_file())
    checks.append(_check("ground", "derived", True, f"{size / 2**20:.0f} MB, safe to delete"))
    return checks

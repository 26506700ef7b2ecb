"""Commands that show: share, app, doctor."""

from __future__ import annotations

import contextlib
import platform
import shutil
import socket
import subprocess
import sys
import time
from datetime import date
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import click

from prospect.cli.ground import as_json, folder_argument
from prospect.cli.look import purpose_option
from prospect.cli.printing import note, print_json
from prospect.errors import GroundError, ProspectError, WrongUsage
from prospect.grid import raster_drivers
from prospect.guard.drivers import ALLOWED_DRIVERS
from prospect.layerfile import vector_drivers
from prospect.pipeline import choose, find_sites, score, share_content
from prospect.share import EXCHANGE_SUFFIXES, Audience, write_exchange, write_field_map
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
FIRST_PORT = 8501
START_TRIES = 240
START_PAUSE_S = 0.5


@click.command(short_help="Write what others may see.")
@folder_argument
@click.option("--to", "path", required=True, type=click.Path(path_type=Path), help="File to write.")
@click.option(
    "--for", "audience", default="public", show_default=True, metavar="self|helper|owner:PARCEL|public"
)
@click.option("--deposit", metavar="NAME", help="Only ground of this deposit model.")
@click.option("--top", type=click.IntRange(1, 500), default=20, show_default=True)
@purpose_option
@as_json
def share(
    folder: Path, path: Path, audience: str, deposit: str | None, top: int, purpose: str | None, as_json: bool
) -> None:
    """Write what others may see: a one-file map (.html) or a file for other programs, by the ending."""
    suffix = path.suffix.lower()
    if suffix not in (".html", *EXCHANGE_SUFFIXES):
        raise WrongUsage(
            f"--to wants a file ending in .html, {', '.join(EXCHANGE_SUFFIXES)}; got '{path.name}'."
        )
    who = Audience.named(audience)
    ground = Ground.open(folder)
    scored = score(ground, choose(ground, purpose=purpose))
    found, outlines = find_sites(ground, scored, deposit=deposit, top=top)
    content = share_content(ground, scored, found, outlines, today=date.today().isoformat())
    write = write_field_map if suffix == ".html" else write_exchange
    try:
        left_out = write(path, content, who)
    except OSError as error:
        raise GroundError(f"{path} cannot be written: {error.strerror}.") from error
    if as_json:
        print_json({"file": str(path), "for": audience, "sites": len(found), "left_out": left_out})
        return
    click.echo(f"Wrote {path}, {who.title()}.")
    for line in left_out:
        click.echo(f"Left out: {line}")


@click.command(short_help="Open the app on this machine.")
@click.argument("folder", metavar="[DIR]", required=False, type=click.Path(path_type=Path))
@click.option(
    "--port", type=click.IntRange(1024, 65535), help="Port; default 8501 or the next one that is free."
)
def app(folder: Path | None, port: int | None) -> None:
    """Open the app in the browser; it listens on this machine only."""
    sys.exit(open_app(folder, port))


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


COMMANDS = (share, app, doctor)


def open_app(folder: Path | None, port: int | None) -> int:
    """Start the app's server, bound to this machine, and wait until it ends; return its exit code."""
    if folder is not None:
        Ground.open(folder)
    chosen = port or _free_port()
    address = f"http://127.0.0.1:{chosen}"
    note(f"The app is at {address}, on this machine only. Press Ctrl+C here to close it.")
    command = [sys.executable, "-m", "prospect.ui", "--port", str(chosen)]
    with subprocess.Popen(command if folder is None else [*command, str(folder)]) as server:
        try:
            if _answers(chosen, server):
                click.launch(address)
            return server.wait()
        except KeyboardInterrupt:
            server.terminate()
            return 0


def _answers(port: int, server: subprocess.Popen[bytes]) -> bool:
    """Wait until the server takes a connection; False when it ended or stayed silent."""
    for _ in range(START_TRIES):
        if server.poll() is not None:
            return False
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1):
            return True
        time.sleep(START_PAUSE_S)
    return False


def _free_port() -> int:
    for port in (*range(FIRST_PORT, FIRST_PORT + 20), 0):
        with contextlib.suppress(OSError), socket.socket() as door:
            door.bind(("127.0.0.1", port))
            return int(door.getsockname()[1])
    raise GroundError("No port of this machine is free; close some programs.")


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

"""The command that makes the invented ground and runs the whole job on it."""

from __future__ import annotations

import importlib.util
import shutil
import sys
import tempfile
import time
from datetime import date
from pathlib import Path
from types import ModuleType

import click

from prospect.cli.app import open_app
from prospect.cli.ground import as_json
from prospect.cli.look import print_sites, site_words
from prospect.cli.printing import note, print_json, print_log, say
from prospect.definitions import demo_folder
from prospect.errors import GroundError, InputRefused
from prospect.pipeline import Wording, add_layer, choose, find_sites, read_file, score, share_content
from prospect.records import GroundSettings
from prospect.share import Audience, write_field_map
from prospect.store import Ground

ORDER = (
    "elevation",
    "geology",
    "soil",
    "structures",
    "water",
    "wetlands",
    "roads",
    "parcels",
    "keepouts",
    "leads",
    "faces",
    "samples",
    "holes",
)


@click.command(short_help="Make an invented ground and run it all.")
@click.argument("folder", metavar="[DIR]", default="demo-ground", type=click.Path(path_type=Path))
@click.option("--no-app", is_flag=True, help="Do not open the app at the end.")
@click.option("--port", type=click.IntRange(1024, 65535), help="Port of the app.")
@as_json
def demo(folder: Path, no_app: bool, port: int | None, as_json: bool) -> None:
    """Make an invented ground in DIR, import it, score it, print its sites, write its map and open the app."""
    started = time.monotonic()
    ground = Ground.open(folder) if Ground.is_ground(folder) else _made(folder)
    if ground.settings.name == DEMO_NAME and not (folder / ORIGINALS).is_dir():
        note("An earlier start of the demo was broken off; it is made anew.")
        shutil.rmtree(folder)
        ground = _made(folder)
    if ground.settings.name != DEMO_NAME:
        raise GroundError(f"{folder} is a ground of yours, not the demo; give another folder.")
    scored = score(ground, choose(ground))
    found, outlines = find_sites(ground, scored, on=date.today().isoformat())
    path = ground.shared_folder / "prospect-map.html"
    ground.shared_folder.mkdir(exist_ok=True)
    content = share_content(ground, scored, found, outlines, today=date.today().isoformat())
    write_field_map(path, content, Audience("self"))
    seconds = time.monotonic() - started
    if as_json:
        print_json({"sites": [site_words(site) for site in found], "map": str(path), "seconds": seconds})
    else:
        print_sites(found, scored.titles)
        say(f"The map, in one file: {path}")
    note(f"Done in {seconds:.0f} s. Everything here is invented; the place is open ocean.")
    if not no_app:
        sys.exit(open_app(folder, port))


COMMANDS = (demo,)

DEMO_NAME = "Demo ground (invented)"
ORIGINALS = "originals"
"""Folder of the files that the demo was made from; written last, so that a whole demo has it."""


def _made(folder: Path) -> Ground:
    maker = _load_maker()
    note("Making the invented ground …")
    ground = Ground.create(folder, GroundSettings(name=DEMO_NAME))
    try:
        with tempfile.TemporaryDirectory(prefix="claywalk-demo-") as scratch:
            files = maker.make_ground(Path(scratch))
            ground.change_settings(**maker.SETTINGS)
            for kind in ORDER:
                for path in files.get(kind, ()):
                    note(f"Importing {kind}: {path.name}")
                    _import(ground, kind, path)
            shutil.copytree(scratch, folder / ORIGINALS)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return ground


def _import(ground: Ground, kind: str, path: Path) -> None:
    try:
        today = date.today().isoformat()
        intake = add_layer(ground, kind, path, Wording(), today=today, read=read_file)
    except InputRefused as error:
        if error.log is not None:
            print_log(error.log, to_stderr=True)
        raise
    if intake.log.issues:
        print_log(intake.log, to_stderr=True)


def _load_maker() -> ModuleType:
    home = demo_folder()
    spec = importlib.util.spec_from_file_location(
        "claywalk_demo", home / "__init__.py", submodule_search_locations=[str(home)]
    )
    if spec is None or spec.loader is None:
        raise GroundError(f"The demo's maker is not in {home}; install the program again.")
    package = importlib.util.module_from_spec(spec)
    sys.modules["claywalk_demo"] = package
    spec.loader.exec_module(package)
    return importlib.import_module("claywalk_demo.make_ground")

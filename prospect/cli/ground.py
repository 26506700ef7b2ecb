"""Commands that start a ground and fill it: new, set, add, log, remove, check, layers, rocks, undo."""

from __future__ import annotations

import math
import sys
from dataclasses import fields
from datetime import date
from functools import partial
from pathlib import Path

import click

from prospect.cli.log_photos import attach_option, take_photos
from prospect.cli.opening import open_for_looking, open_for_saving
from prospect.cli.printing import note, print_json, print_log, print_table, say
from prospect.errors import InputRefused, WrongUsage
from prospect.issues import IssueLog
from prospect.pipeline import (
    CHECKED_KINDS,
    KINDS,
    LARGE,
    USUAL,
    Intake,
    Wording,
    add_layer,
    area_around,
    area_from_lonlat,
    check_deposit_model,
    correct_rocks,
    layer_states,
    outline_area,
    read_file_guarded,
    read_log_text,
    remove_layer,
    rock_readings,
    take_log,
)
from prospect.pipeline.log_photos import is_of_photos
from prospect.records import GroundSettings
from prospect.settings import SETTING_TEXTS, parse_setting
from prospect.store import Ground
from prospect.text import plain
from prospect.types import Bounds

MINUS_IS_A_NUMBER = {"ignore_unknown_options": True}
as_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
folder_argument = click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
large_option = click.option(
    "--large", is_flag=True, help="Let a large file, which you trust, take more time and memory."
)


@click.command(context_settings=MINUS_IS_A_NUMBER, short_help="Start a ground.")
@folder_argument
@click.option("--bbox", metavar="W,S,E,N", help="The area, degrees west,south,east,north.")
@click.option("--around", metavar="LON,LAT", help="The middle of the area, degrees.")
@click.option("--radius-km", type=float, default=3.0, show_default=True, help="How far around the middle.")
@click.option("--outline", type=click.Path(path_type=Path), help="A file whose shape is the area.")
@click.option("--crs", default="", metavar="EPSG:n", help="CRS to work in; default the area's UTM zone.")
@click.option("--cell", "cell_m", type=float, help="Side of a cell, m; default the elevation's own.")
@as_json
def new(
    folder: Path,
    bbox: str | None,
    around: str | None,
    radius_km: float,
    outline: Path | None,
    crs: str,
    cell_m: float | None,
    as_json: bool,
) -> None:
    """Start a ground in DIR; without an area the first elevation, geology or soil layer sets it."""
    if sum(given is not None for given in (bbox, around, outline)) > 1:
        raise WrongUsage("Give one of --bbox, --around and --outline.")
    if cell_m is not None:
        parse_setting(f"cell_m={cell_m}")
    area: tuple[str, Bounds] | None = None
    if bbox is not None:
        area = area_from_lonlat(_bounds(bbox), crs)
    elif around is not None:
        lon, lat = _numbers(around, 2, "LON,LAT")
        area = area_around(lon, lat, radius_km, crs)
    elif outline is not None:
        area = outline_area(outline, crs)
    settings = GroundSettings(name=folder.resolve().name, crs=crs, cell_m=cell_m)
    ground = Ground.create(folder, settings)
    if area is not None:
        code, box = area
        ground.change_settings(
            crs=code, west=box.west, south=box.south, east=box.east, north=box.north, area_set_by="you"
        )
    if as_json:
        print_json({"ground": str(folder), "settings": ground.settings})
        return
    say(f"Started {folder}.")
    if area is None:
        say("Its area will be set by the first elevation, geology or soil you add.")
    else:
        say(f"Area {area[1].width / 1000:.1f} × {area[1].height / 1000:.1f} km in {area[0]}.")


@click.command("set", short_help="Change the ground's settings, or list them.")
@folder_argument
@click.argument("pairs", nargs=-1, metavar="KEY=VALUE …")
@as_json
def set_(folder: Path, pairs: tuple[str, ...], as_json: bool) -> None:
    """Change settings of the ground, or list them with what each is for."""
    changes = dict(parse_setting(pair) for pair in pairs)
    ground = open_for_saving(folder) if changes else open_for_looking(folder)
    settings = ground.change_settings(**changes) if changes else ground.settings
    rows = [
        {"setting": key, "value": getattr(settings, key), "what it is for": SETTING_TEXTS.get(key, "")}
        for key in (item.name for item in fields(GroundSettings))
    ]
    if as_json:
        print_json({"settings": {row["setting"]: row["value"] for row in rows}})
        return
    if changes:
        say(f"Saved: {', '.join(f'{key} = {plain(value)}' for key, value in changes.items())}.")
        return
    print_table(rows, {"setting": "setting", "value": "value", "what it is for": "what it is for"})


@click.command(short_help="Import a file as a layer or as records.")
@folder_argument
@click.argument("kind", type=click.Choice(KINDS))
@click.argument("path", type=click.Path(path_type=Path))
@click.option(
    "--map",
    "mapping",
    multiple=True,
    metavar="FIELD=COLUMN",
    help="Which column holds a field (elevation: vertical_unit=ft).",
)
@click.option("--legend", type=click.Path(path_type=Path), help="CSV: code, name, age, description, rocks.")
@click.option("--crs", default="", metavar="EPSG:n", help="CRS of a file that does not say.")
@click.option("--replace", "replace_layer", is_flag=True, help="Put it in place of what is there.")
@large_option
@as_json
def add(
    folder: Path,
    kind: str,
    path: Path,
    mapping: tuple[str, ...],
    legend: Path | None,
    crs: str,
    replace_layer: bool,
    large: bool,
    as_json: bool,
) -> None:
    """Import a file or folder as a layer or as records; the same KIND again joins."""
    wording = Wording(crs=crs, mapping=_mapping(mapping), legend=legend)
    _take(
        open_for_saving(folder),
        kind,
        path,
        wording,
        replace_layer=replace_layer,
        large=large,
        as_json=as_json,
    )


@click.command(short_help="Import a paper log: holes, layers, samples, bars, tests, batches.")
@folder_argument
@click.argument("path", type=click.Path(path_type=Path, allow_dash=True))
@click.option("--map", "mapping", multiple=True, metavar="FIELD=COLUMN", help="Which column holds a field.")
@click.option("--crs", default="", metavar="EPSG:n", help="CRS of x and y columns.")
@attach_option
@as_json
def log(folder: Path, path: Path, mapping: tuple[str, ...], crs: str, attach: bool, as_json: bool) -> None:
    """Import a log from CSV, a text or zip of tables, GPX, KML, GeoPackage or photos; '-' reads what is typed in."""
    wording = Wording(crs=crs, mapping=_mapping(mapping))
    photos = str(path) != "-" and is_of_photos(path)
    if attach and not photos:
        raise WrongUsage("--attach is for photos; give a picture, or a folder or zip archive of them.")
    ground = open_for_saving(folder)
    if str(path) == "-":
        _take_pasted(ground, as_json=as_json)
        return
    if photos:
        take_photos(ground, path, wording, attach=attach, as_json=as_json)
        return
    _take(ground, "log", path, wording, replace_layer=False, large=False, as_json=as_json)


@click.command(short_help="Take a layer out; never records.")
@folder_argument
@click.argument("name")
@as_json
def remove(folder: Path, name: str, as_json: bool) -> None:
    """Take a layer out of the ground; your records are never taken out."""
    remove_layer(open_for_saving(folder), name)
    if as_json:
        print_json({"removed": name})
        return
    say(f"Took out {name}.")


@click.command(short_help="Read a file, keep nothing, say how it went.")
@click.argument("kind", type=click.Choice((*CHECKED_KINDS, "deposit")))
@click.argument("path", type=click.Path(path_type=Path))
@click.option("--map", "mapping", multiple=True, metavar="FIELD=COLUMN", help="Which column holds a field.")
@click.option("--legend", type=click.Path(path_type=Path), help="CSV: code, name, age, description, rocks.")
@click.option("--crs", default="", metavar="EPSG:n", help="CRS of a file that does not say.")
@large_option
@as_json
def check(
    kind: str,
    path: Path,
    mapping: tuple[str, ...],
    legend: Path | None,
    crs: str,
    large: bool,
    as_json: bool,
) -> None:
    """Read a file as KIND and say how that went; nothing is kept."""
    refused: InputRefused | None = None
    try:
        if kind == "deposit":
            found = check_deposit_model(path)
        else:
            today = date.today().isoformat()
            wording = Wording(crs=crs, mapping=_mapping(mapping), legend=legend, today=today)
            found = read_file_guarded(kind, path, wording, limits=LARGE if large else USUAL).log
    except InputRefused as error:
        refused, found = error, error.log or IssueLog(path.name, kind)
    if as_json:
        answer = found.as_dict()
        if refused is not None:
            answer["verdict"] = "refused"
        print_json(answer)
    else:
        print_log(found)
    if refused is not None and not as_json:
        say(str(refused), err=True)
    if refused is not None or found.verdict == "refused":
        raise click.exceptions.Exit(InputRefused.exit_code)


@click.command(short_help="Say what is there and what is missing.")
@folder_argument
@as_json
def layers(folder: Path, as_json: bool) -> None:
    """Say what is there, what is missing, what that costs the score, and where it can be had."""
    states = layer_states(open_for_looking(folder))
    if as_json:
        print_json({"layers": states})
        return
    for state in states:
        mark = "there  " if state.present else "missing"
        say(f"{mark}  {state.title} ({state.kind})")
        say(f"         {plain(state.source if state.present else state.costs, 2000)}")
        for line in state.notes if state.present else state.where:
            say(f"         {plain(line, 2000)}")


@click.command(short_help="Show how the rock map was read.")
@folder_argument
@click.option("--set", "corrections", multiple=True, metavar='"UNIT=term:fraction,term:fraction"')
@as_json
def rocks(folder: Path, corrections: tuple[str, ...], as_json: bool) -> None:
    """Show how each map unit's wording was read; --set keeps a reading of your own."""
    ground = open_for_saving(folder) if corrections else open_for_looking(folder)
    if corrections:
        correct_rocks(ground, corrections)
    readings = rock_readings(ground)
    if as_json:
        print_json({"rocks": readings})
        return
    print_table(
        readings,
        {
            "unit": "unit",
            "read_as": "read as",
            "residual_fitness": "weathers to clay",
            "downstream_share": "sends clay down",
            "unread": "not read",
        },
    )


@click.command(short_help="Take back the last thing that was saved.")
@folder_argument
@as_json
def undo(folder: Path, as_json: bool) -> None:
    """Take back the last thing that was saved; nothing is lost, and layers stay as they are."""
    change = open_for_saving(folder).undo()
    if as_json:
        print_json({"taken_back": {"revision": change.revision, "at": change.at, "action": change.action}})
        return
    say(f"Taken back: change {change.revision} of {change.at[:16].replace('T', ' ')} UTC, {change.action}.")


COMMANDS = (new, set_, add, log, remove, check, layers, rocks, undo)


def _take(
    ground: Ground,
    kind: str,
    path: Path,
    wording: Wording,
    *,
    replace_layer: bool,
    large: bool,
    as_json: bool,
) -> Intake:
    today = date.today().isoformat()
    read = partial(read_file_guarded, limits=LARGE if large else USUAL)
    try:
        intake = add_layer(ground, kind, path, wording, today=today, replace_layer=replace_layer, read=read)
    except InputRefused as error:
        if as_json and error.log is not None:
            print_json({**error.log.as_dict(), "verdict": "refused", "notes": ()})
        raise
    if as_json:
        print_json({**intake.log.as_dict(), "notes": intake.notes})
        return intake
    print_log(intake.log)
    for line in intake.notes:
        note(line)
    return intake


def _take_pasted(ground: Ground, *, as_json: bool) -> None:
    text = sys.stdin.buffer.read().decode("utf-8", errors="replace")
    try:
        taken = take_log(ground, read_log_text(text, ground, today=date.today().isoformat()))
    except InputRefused as error:
        if as_json and error.log is not None:
            print_json({**error.log.as_dict(), "verdict": "refused", "notes": ()})
        raise
    if as_json:
        print_json({**taken.log.as_dict(), "notes": taken.notes})
        return
    print_log(taken.log)
    for line in taken.notes:
        note(line)


def _mapping(pairs: tuple[str, ...]) -> dict[str, str]:
    mapping = {}
    for pair in pairs:
        name, equals, column = pair.partition("=")
        if not equals or not name.strip() or not column.strip():
            raise WrongUsage(f"--map wants FIELD=COLUMN, got '{pair}'.")
        mapping[name.strip()] = column.strip()
    return mapping


def _numbers(text: str, count: int, form: str) -> list[float]:
    try:
        numbers = [float(part) for part in text.split(",")]
    except ValueError:
        numbers = []
    if len(numbers) != count or not all(math.isfinite(number) for number in numbers):
        raise WrongUsage(f"Expected {form} as numbers with commas between them, got '{plain(text, 60)}'.")
    return numbers


def _bounds(text: str) -> Bounds:
    west, south, east, north = _numbers(text, 4, "W,S,E,N")
    if west >= east or south >= north:
        raise WrongUsage(
            f"--bbox wants west,south,east,north with west < east and south < north, got '{text}'."
        )
    return Bounds(west, south, east, north)

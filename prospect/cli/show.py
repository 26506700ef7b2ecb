"""The command that shows: what others may see, written to a file."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import click

from prospect.charts import clay_pictures
from prospect.cli.ground import as_json, folder_argument
from prospect.cli.look import purpose_option
from prospect.cli.opening import open_for_looking
from prospect.cli.printing import print_json, say
from prospect.errors import GroundError, WrongUsage
from prospect.pipeline import choose, find_sites, read_probe_points, score, share_content
from prospect.pipeline.clay_reports import clay_report
from prospect.pipeline.letters import MOST_SUGGESTED, owner_view
from prospect.records import Purpose
from prospect.share import (
    EXCHANGE_SUFFIXES,
    Audience,
    Request,
    read_request,
    signed_by,
    write_bag_labels,
    write_clay_sheet,
    write_exchange,
    write_field_map,
    write_letter,
    write_log_tables,
    write_slip,
)
from prospect.store import Ground
from prospect.text import plain

PRODUCTS = ("map", "letter", "slip", "log", "clay", "labels")
_OF_PRODUCTS = (
    ("--from, --request, --at and --spots belong to a letter or a slip", ("writer", "request", "places", "spots"),
     ("letter", "slip")),
    ("--sample belongs to a clay or labels", ("names",), ("clay", "labels")),
    ("--deposit belongs to a map, a file, a letter or a slip", ("deposit",), ("map", "file", "letter", "slip")),
    ("--purpose belongs to what is judged by it", ("purpose",), ("map", "file", "letter", "slip", "clay")),
)  # fmt: skip
"""What is said of options, the arguments that hold them, and the products that they say something to."""


@click.command(
    short_help="Write what others may see.",
    epilog="A request file (TOML) may hold: writer and owner (lists: name, address, telephone), place, scope "
    "(look, walk, auger, dig or take), holes, width_cm, depth_cm, volume_l, buckets, tools, machine, vehicle, days, "
    "days_from and days_until (dates), people, clay_use, sold (true or false), note. Whatever is not said becomes "
    "a line to fill in by hand.",
)
@folder_argument
@click.option("--to", "path", required=True, type=click.Path(path_type=Path), help="File to write.")
@click.option(
    "--for", "audience", default="public", show_default=True, metavar="self|helper|owner:PARCEL|public"
)
@click.option(
    "--product",
    type=click.Choice(PRODUCTS),
    help="map (.html); letter that asks an owner, or slip for them to sign (.pdf, --for owner:PARCEL); "
    "log, your whole log as tables (.zip), clay, what is known of one clay, or labels for bags (.pdf), all --for self. "
    "Without it the ending decides, .pdf being a letter.",
)
@click.option("--deposit", metavar="NAME", help="Only ground of this deposit model.")
@click.option(
    "--top", type=click.IntRange(1, 500), default=20, show_default=True, help="Map, file: how many sites."
)
@purpose_option
@click.option("--from", "writer", metavar="TEXT", help="Letter, slip: who asks, 'Name; address; telephone'.")
@click.option("--request", type=click.Path(path_type=Path), help="Letter, slip: TOML file of what is asked.")
@click.option(
    "--at", "places", multiple=True, metavar="LON,LAT", help="Letter, slip: a planned spot; repeat it."
)
@click.option(
    "--spots", type=click.Path(path_type=Path), help="Letter, slip: CSV of planned spots (id, lon, lat)."
)
@click.option("--sample", "names", multiple=True, help="Clay, labels: name of a sample or batch; repeat it.")
@as_json
def share(
    folder: Path,
    path: Path,
    audience: str,
    product: str | None,
    deposit: str | None,
    top: int,
    purpose: Purpose | None,
    names: tuple[str, ...],
    as_json: bool,
    **asked: Any,
) -> None:
    """Write what others may see, or what you want on paper: a map, a letter or slip, files, a clay, labels, the log."""
    who = Audience.named(audience)
    product = _product(path, who, product)
    today = date.today().isoformat()
    _refuse_what_it_has_no_use_for(product, {**asked, "names": names, "deposit": deposit, "purpose": purpose})
    ground = open_for_looking(folder)
    try:
        if product in ("letter", "slip"):
            said = _write_paper(ground, path, who, product, deposit, purpose, top, today, **asked)
        elif product in ("clay", "labels"):
            said = _write_clay(ground, path, product, names, purpose, today)
        elif product == "log":
            left_out = write_log_tables(path, ground.log_book(), who)
            said = {"sites": 0, "spots": 0, "left_out": left_out, "notes": ()}
        else:
            said = _write_content(ground, path, who, product, deposit, purpose, top, today)
    except OSError as error:
        raise GroundError(f"{path} cannot be written: {error.strerror}.") from error
    if as_json:
        print_json({"file": str(path), "for": audience, "product": product, **said})
        return
    say(f"Wrote {path}, {who.title()}.")
    for line in said["left_out"]:
        say(f"Left out: {line}")
    for line in said["notes"]:
        say(line)


COMMANDS = (share,)


def _product(path: Path, who: Audience, product: str | None) -> str:
    """Return what to write: as asked, else by the ending (`file` = for other programs)."""
    suffix = path.suffix.lower()
    by_suffix = {".html": "map", ".pdf": "letter", ".zip": "log"} | dict.fromkeys(EXCHANGE_SUFFIXES, "file")
    if suffix not in by_suffix:
        endings = ", ".join(by_suffix)
        raise WrongUsage(f"--to wants a file ending in one of {endings}; got '{path.name}'.")
    chosen = product or by_suffix[suffix]
    wanted = {
        "map": ".html",
        "letter": ".pdf",
        "slip": ".pdf",
        "log": ".zip",
        "clay": ".pdf",
        "labels": ".pdf",
    }.get(chosen, suffix)
    if suffix != wanted:
        raise WrongUsage(f"A {chosen} is a {wanted} file; got '{path.name}'.")
    if chosen in ("clay", "labels") and who.role != "self":
        raise WrongUsage(f"The {chosen} product is for yourself: add --for self.")
    if chosen in ("letter", "slip") and who.role != "owner":
        raise WrongUsage(
            "A letter and a slip are for one owner: add --for owner:PARCEL. For anybody else write a map (.html); "
            "a clay and its labels are --product clay and --product labels."
        )
    return chosen


def _refuse_what_it_has_no_use_for(product: str, asked: Mapping[str, Any]) -> None:
    """Refuse options that say nothing to a product, rather than pass them over."""
    for said, names, products in _OF_PRODUCTS:
        if product not in products and any(asked[name] for name in names):
            raise WrongUsage(f"{said}; this is to be a {product}.")


def _write_clay(
    ground: Ground, path: Path, product: str, names: tuple[str, ...], purpose: Purpose | None, today: str
) -> dict[str, Any]:
    """Write the sheet of one clay, or labels of the bags that are named, else of all."""
    book, units = ground.log_book(), ground.settings.units
    if product == "clay":
        if len(names) != 1:
            raise WrongUsage("A sheet is about one clay: name it with --sample NAME.")
        report = clay_report(ground, names[0], purpose or "", book)
        pictures = [one for part in report.preparations for one in clay_pictures(report, part, units)]
        notes = write_clay_sheet(path, report, pictures, units=units, made_on=today)
    else:
        unknown = (
            set(names) - {item.sample_id for item in book.samples} - {item.batch_id for item in book.batches}
        )
        if unknown:
            raise WrongUsage(f"There is no sample or batch '{plain(min(unknown), 60)}' on record.")
        samples = [item for item in reversed(book.samples) if not names or item.sample_id in names]
        batches = [item for item in reversed(book.batches) if not names or item.batch_id in names]
        notes = write_bag_labels(path, samples, batches, units=units, made_on=today)
    return {"sites": 0, "spots": 0, "left_out": (), "notes": notes}


def _write_content(
    ground: Ground,
    path: Path,
    who: Audience,
    product: str,
    deposit: str | None,
    purpose: Purpose | None,
    top: int,
    today: str,
) -> dict[str, Any]:
    scored = score(ground, choose(ground, purpose=purpose))
    found, outlines = find_sites(ground, scored, deposit=deposit, top=top, on=today)
    content = share_content(ground, scored, found, outlines, today=today)
    write = write_field_map if product == "map" else write_exchange
    return {"sites": len(found), "spots": 0, "left_out": write(path, content, who), "notes": ()}


def _write_paper(
    ground: Ground,
    path: Path,
    who: Audience,
    product: str,
    deposit: str | None,
    purpose: Purpose | None,
    top: int,
    today: str,
    *,
    writer: str | None,
    request: Path | None,
    places: tuple[str, ...],
    spots: Path | None,
) -> dict[str, Any]:
    asked = Request() if request is None else read_request(request)
    if writer is not None:
        asked = signed_by(asked, writer)
    view, notes = owner_view(
        ground,
        who.parcel_id,
        _given_spots(places, spots),
        scope=asked.scope or "dig",
        deposit=deposit,
        purpose=purpose,
        most=min(top, MOST_SUGGESTED),
        on=today,
    )
    write = write_letter if product == "letter" else write_slip
    more = write(path, view, asked, units=ground.settings.units, made_on=today)
    left_out = (f"Everything beyond the lines of parcel {who.parcel_id}.",)
    return {"sites": 0, "spots": len(view.spots), "left_out": left_out, "notes": (*notes, *more)}


def _given_spots(places: tuple[str, ...], spots: Path | None) -> list[tuple[float, float]] | None:
    """Return longitudes and latitudes; None when none were given."""
    if not places and spots is None:
        return None
    found = [_place(text) for text in places]
    if spots is not None:
        table = read_probe_points(spots, "")
        found += list(zip(table["lon"].astype(float), table["lat"].astype(float), strict=True))
    return found


def _place(text: str) -> tuple[float, float]:
    try:
        lon, lat = (float(part) for part in text.split(","))
    except ValueError:
        raise WrongUsage(f"--at wants LON,LAT in degrees, got '{text}'.") from None
    return lon, lat

"""Commands that look: score, sites, why, probe."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import date
from pathlib import Path
from typing import Any

import click

from prospect.cli.ground import MINUS_IS_A_NUMBER, as_json, folder_argument
from prospect.cli.land import land_words, print_land
from prospect.cli.opening import open_for_looking
from prospect.cli.printing import note, percent, print_json, print_table, say, write_csv
from prospect.pipeline import (
    choose,
    find_sites,
    ground_report,
    probe,
    read_probe_points,
    score,
    score_folder,
    share_content,
)
from prospect.records import PURPOSES, GroundReport, ModelReading, Site
from prospect.share import Audience, write_exchange
from prospect.text import plain

purpose_option = click.option("--purpose", type=click.Choice(PURPOSES), help="What the clay is wanted for.")
model_option = click.option(
    "--model",
    "models",
    multiple=True,
    type=click.Path(path_type=Path),
    help="A deposit model of your own (TOML).",
)


@click.command("score", short_help="Score the ground for every kind of clay.")
@folder_argument
@click.option("--deposit", "deposits", multiple=True, metavar="NAME", help="Only these deposit models.")
@purpose_option
@model_option
@as_json
def score_(
    folder: Path, deposits: tuple[str, ...], purpose: str | None, models: tuple[Path, ...], as_json: bool
) -> None:
    """Score the ground for every deposit model; write the maps under derived/ and print a summary."""
    ground = open_for_looking(folder)
    choice = choose(ground, deposits, purpose, models)
    scored = score(ground, choice)
    rows: list[dict[str, Any]] = scored.summary()
    if as_json:
        print_json(
            {
                "purpose": scored.purpose,
                "cell_m": scored.grid.cell_m,
                "cells": scored.grid.cells,
                "folder": str(score_folder(ground, scored, choice)),
                "completeness": scored.mean_completeness,
                "deposits": rows,
                "missing": scored.missing,
            }
        )
        return
    say(
        f"Worth a look, for {scored.purpose} clay, on {scored.grid.cells:,} cells of {scored.grid.cell_m:g} m"
    )
    shown = [
        {**row, "can": percent(float(row["can_say_share"])), "leads": percent(float(row["leads_share"]))}
        for row in rows
    ]
    print_table(
        shown,
        {
            "title": "kind of clay",
            "can": "can be said of",
            "leads": "leads on",
            "mean": "mean",
            "best": "best",
        },
    )
    say(f"How much we know, on average: {percent(scored.mean_completeness)}.")
    for line in scored.missing:
        say(f"Missing: {line}")
    note(f"Maps: {score_folder(ground, scored, choice)}")


@click.command(short_help="Rank the candidate sites.")
@folder_argument
@click.option("--deposit", metavar="NAME", help="Only ground of this deposit model.")
@click.option("--top", type=click.IntRange(1, 1000), default=20, show_default=True)
@click.option("--min-area-ha", type=click.FloatRange(0.0), help="Smallest site; default 0.5 ha.")
@purpose_option
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="Write them to a .geojson, .csv, .gpx, .kml or .gpkg.",
)
@as_json
def sites(
    folder: Path,
    deposit: str | None,
    top: int,
    min_area_ha: float | None,
    purpose: str | None,
    out: Path | None,
    as_json: bool,
) -> None:
    """Rank the candidate sites of the ground."""
    ground = open_for_looking(folder)
    scored = score(ground, choose(ground, purpose=purpose))
    today = date.today().isoformat()
    found, outlines = find_sites(ground, scored, deposit=deposit, top=top, min_area_ha=min_area_ha, on=today)
    if out is not None:
        content = share_content(ground, scored, found, outlines, today=today)
        write_exchange(out, replace(content, samples=(), parcels=None), Audience("self"))
        note(f"Wrote {out}.")
    if as_json:
        print_json({"sites": [site_words(site) for site in found]})
        return
    print_sites(found, scored.titles)


@click.command(context_settings=MINUS_IS_A_NUMBER, short_help="Say everything known about a spot.")
@folder_argument
@click.argument("lon", type=float)
@click.argument("lat", type=float)
@purpose_option
@click.option("--all", "everything", is_flag=True, help="Show the parts of every model's criteria.")
@as_json
def why(folder: Path, lon: float, lat: float, purpose: str | None, everything: bool, as_json: bool) -> None:
    """Say everything known about a spot: every criterion, whose ground it is, every caution."""
    ground = open_for_looking(folder)
    scored = score(ground, choose(ground, purpose=purpose))
    report = ground_report(ground, scored, lon, lat, on=date.today().isoformat())
    if as_json:
        print_json({**asdict(report), "land": land_words(report.land)})
        return
    _print_report(report, everything=everything)


@click.command("probe", short_help="Write the scores at many points.")
@folder_argument
@click.argument("points", type=click.Path(path_type=Path))
@click.option("--out", required=True, type=click.Path(path_type=Path), help="CSV to write.")
@click.option("--crs", default="", metavar="EPSG:n", help="CRS of x and y columns.")
@purpose_option
@as_json
def probe_(folder: Path, points: Path, out: Path, crs: str, purpose: str | None, as_json: bool) -> None:
    """Write the scores at many points to a CSV."""
    ground = open_for_looking(folder)
    table = probe(score(ground, choose(ground, purpose=purpose)), read_probe_points(points, crs))
    write_csv(out, table)
    said = int(table["favourability"].notna().sum())
    if as_json:
        print_json({"file": str(out), "points": len(table), "with_a_score": said})
        return
    say(f"Wrote {out}: {said} of {len(table)} points have a score.")


COMMANDS = (score_, sites, why, probe_)

SITE_WORDS = (
    "site",
    "deposit",
    "favourability",
    "completeness",
    "area_ha",
    "lon",
    "lat",
    "rock",
    "slope_pct",
    "height_above_drainage_m",
    "parcels",
    "permission",
    "cautions",
)


def site_words(site: Site) -> dict[str, object]:
    """Return a site in the words of the command's JSON."""
    whole = asdict(site)
    return {name: whole[name] for name in SITE_WORDS}


def print_sites(found: tuple[Site, ...], titles: object) -> None:
    """Print ranked sites as a table, and say so when there are none."""
    if not found:
        say("No ground here stands out. Lower --min-area-ha, or see what is missing: claywalk layers DIR")
        return
    names = dict(titles)  # type: ignore[call-overload]
    rows = [
        {
            "site": site.site,
            "deposit": names.get(site.deposit, site.deposit),
            "worth": round(site.favourability, 2),
            "known": percent(site.completeness),
            "area": f"{site.area_ha:.1f}",
            "at": f"{site.lon:.5f}, {site.lat:.5f}",
            "rock": site.rock[:38],
            "slope": "–" if site.slope_pct is None else f"{site.slope_pct:.0f} %",
            "parcels": ", ".join(site.parcels[:3]) + (" …" if len(site.parcels) > 3 else ""),
        }
        for site in found
    ]
    print_table(
        rows,
        {
            "site": "site",
            "deposit": "kind of clay",
            "worth": "worth a look",
            "known": "we know",
            "area": "ha",
            "at": "lon, lat",
            "rock": "rock",
            "slope": "slope",
            "parcels": "parcels",
        },
    )


def _print_report(report: GroundReport, *, everything: bool) -> None:
    say(f"At {report.lon:.6f}, {report.lat:.6f}")
    say(plain(report.sentence))
    for fact in report.facts:
        say(f"  {fact.label}: {plain(fact.value)}   [{plain(fact.source)}]")
    for model in report.models:
        _print_model(model, whole=everything or model is report.lead)
    if not everything:
        say("\nParts of the criteria are shown for the first model; --all shows them for every one.")
    say("")
    print_land(report.land)
    for line in report.cautions:
        if line not in report.land.cautions:
            say(f"  {plain(line)}")
    if report.missing:
        say("Not known here:")
    for line in report.missing:
        say(f"  {line}")


def _print_model(model: ModelReading, *, whole: bool) -> None:
    say("")
    worth = "–" if model.favourability is None else f"{model.favourability:.2f}"
    linear = "–" if model.linear is None else f"{model.linear:.2f}"
    say(f"{model.title}: worth a look {worth} (linear {linear}), we know {percent(model.completeness)}")
    if model.cannot_say:
        say(f"  {plain(model.cannot_say)}")
    rows = [
        {
            "criterion": "  " * (item.level + 1) + item.title + (" *" if item.defining else ""),
            "value": plain(item.value)[:44],
            "fit": item.membership,
            "weight": item.weight,
            "share": percent(item.share),
            "source": plain(item.source)[:40],
        }
        for item in model.criteria
        if whole or item.level == 0
    ]
    print_table(
        rows,
        {
            "criterion": "  criterion",
            "value": "value",
            "fit": "fit",
            "weight": "weight",
            "share": "share",
            "source": "source",
        },
    )
    for gate in model.gates:
        say(f"  Held back ×{gate.factor:.2g}: {plain(gate.reason)}")

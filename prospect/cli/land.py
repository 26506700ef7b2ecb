"""Commands about leave: whose ground a spot is, what was asked and said, what was seen on the spot."""

from __future__ import annotations

import difflib
import math
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import Any

import click
import geopandas as gpd

from prospect.cli.ground import MINUS_IS_A_NUMBER, as_json, folder_argument
from prospect.cli.opening import open_for_looking, open_for_saving
from prospect.cli.printing import note, print_json, say
from prospect.errors import WrongUsage
from prospect.land import (
    LAYER_TITLES,
    NOBODY_LOOKED,
    Intent,
    ends_on,
    owners_of,
    parcel_names,
    reminders,
    standing,
    unmapped_rules,
    unmatched_permissions,
    why_not_clear,
)
from prospect.layerfile import read_vector_layer
from prospect.pipeline import keep_out_rules, land_check
from prospect.records import SCOPES, STATUSES, LandCheck, Looked, Permission, PermissionStatus, Scope
from prospect.store import Ground
from prospect.text import plain

NAMES_SHOWN = 3
DUE_DAYS, DUE_SHOWN = 14, 5
_LONGEST = 2000


class _Amount(click.FloatRange):
    """Zero or more; 'nan' lies within every range and would be a limit that limits nothing."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the number; refuse what is none."""
        number = super().convert(value, param, ctx)
        if math.isnan(number):
            self.fail("nan is no number.", param, ctx)
        return float(number)


_not_negative = _Amount(0.0, 1e9)


def _scope_option(*names: str, **more: Any) -> Any:
    return click.option(*names, "scope", type=click.Choice(SCOPES), **more)


@click.command(context_settings=MINUS_IS_A_NUMBER, short_help="Say whose ground a spot is.")
@folder_argument
@click.argument("lon", type=float)
@click.argument("lat", type=float)
@click.option("--gps-error", "gps_error_m", type=click.FloatRange(0.1, 1000), default=5.0, show_default=True)
@_scope_option("--for", default="dig", show_default=True, help="What is to be done.")
@click.option("--machine", is_flag=True, help="With a machine.")
@click.option("--depth-m", type=_not_negative, help="How deep.")
@click.option("--volume-m3", type=_not_negative, help="How much ground is moved.")
@click.option("--amount-kg", type=_not_negative, help="How much clay is taken away.")
@click.option("--sells", is_flag=True, help="What is made of it is sold.")
@as_json
def land(
    folder: Path,
    lon: float,
    lat: float,
    gps_error_m: float,
    scope: Scope,
    machine: bool,
    depth_m: float | None,
    volume_m3: float | None,
    amount_kg: float | None,
    sells: bool,
    as_json: bool,
) -> None:
    """Say whose ground a spot is, how near the line, what applies there and whether to go."""
    ground = open_for_looking(folder)
    intent = Intent(scope, machine, depth_m, volume_m3, amount_kg, sells)
    check = land_check(ground, lon, lat, scope=intent, gps_error_m=gps_error_m, on=_today())
    _say_what_is_due(ground)
    if as_json:
        print_json({"lon": lon, "lat": lat, "for": scope, **land_words(check)})
        return
    print_land(check)
    keys = [rule.key for rule in unmapped_rules(scope, keep_out_rules(ground))]
    if check.verdict != "stay out" and any(reason.startswith(NOBODY_LOOKED) for reason in check.reasons):
        note(f"Note what you saw with: claywalk looked DIR LON LAT KEEPOUT --seen TEXT ({', '.join(keys)})")


@click.command(short_help="Note what an owner was asked and said.")
@folder_argument
@click.argument("parcel")
@click.option("--status", required=True, type=click.Choice(STATUSES), help="What happened.")
@click.option("--person", default="", metavar="NAME", help="Who spoke; stays on this machine.")
@click.option("--speaks-as", default="", metavar="TEXT", help="owner, all owners, tenant, agency …")
@click.option("--how", default="", metavar="TEXT", help="On the spot, by telephone, in writing …")
@_scope_option("--scope", help="What for; a grant without it does not count.")
@click.option("--machine", is_flag=True, help="A machine is allowed; without it, hand tools only.")
@click.option("--volume-m3", type=_not_negative, help="How much ground may be moved.")
@click.option("--depth-m", type=_not_negative, help="How deep.")
@click.option("--amount-kg", type=_not_negative, help="How much clay may be taken away.")
@click.option("--may-sell", is_flag=True, help="What is made of it may be sold.")
@click.option("--from", "valid_from", default="", metavar="DATE", help="First day, YYYY-MM-DD.")
@click.option("--until", "valid_until", default="", metavar="DATE", help="Last day, YYYY-MM-DD.")
@click.option("--conditions", default="", metavar="TEXT", help="What was laid down or asked in return.")
@click.option(
    "--document", type=click.Path(path_type=Path), help="A letter or slip to keep beside it (it is copied)."
)
@click.option("--note", "text", default="", metavar="TEXT", help="What else was said.")
@as_json
def permit(
    folder: Path,
    parcel: str,
    status: PermissionStatus,
    person: str,
    speaks_as: str,
    how: str,
    scope: Scope | None,
    machine: bool,
    volume_m3: float | None,
    depth_m: float | None,
    amount_kg: float | None,
    may_sell: bool,
    valid_from: str,
    valid_until: str,
    conditions: str,
    document: Path | None,
    text: str,
    as_json: bool,
) -> None:
    """Add an entry to the permission ledger; entries are never changed, a person's latest answer speaks for them."""
    ground = open_for_saving(folder)
    parcels = _parcels(ground)
    entry = Permission(
        parcel_id=_known_parcel(parcel, parcels),
        status=status,
        scope=scope,
        person=_tidy(person),
        speaks_as=_tidy(speaks_as),
        how=_tidy(how),
        machine=machine,
        depth_m=depth_m,
        volume_m3=volume_m3,
        amount_kg=amount_kg,
        may_sell=may_sell,
        valid_from=_day("--from", valid_from),
        valid_until=_day("--until", valid_until),
        conditions=_tidy(conditions),
        note=_tidy(text),
    )
    if entry.valid_from and entry.valid_until and entry.valid_from > entry.valid_until:
        raise WrongUsage(f"--from {entry.valid_from} is after --until {entry.valid_until}.")
    saved = ground.permit(entry, document)
    if saved.status == "granted" and saved.scope is None:
        note("This grant does not say what for, so it does not count. Add it again with --scope.")
    owners = () if parcels is None else owners_of(parcels, [saved.parcel_id])[saved.parcel_id]
    now = standing(ground.permissions(), saved.parcel_id, saved.scope or "look", _today(), owners)
    if as_json:
        print_json(
            {
                "parcel": saved.parcel_id,
                "status": saved.status,
                "standing": now.word,
                "sentence": now.sentence,
                "cautions": now.cautions,
                "entry": asdict(saved),
            }
        )
        return
    say(f"Noted: parcel {plain(saved.parcel_id)}, {saved.status}.")
    say(plain(now.sentence))
    for caution in now.cautions:
        say(f"  {plain(caution)}")


@click.command(context_settings=MINUS_IS_A_NUMBER, short_help="Note what was seen on the spot.")
@folder_argument
@click.argument("lon", type=float)
@click.argument("lat", type=float)
@click.argument("keepout")
@click.option("--seen", required=True, metavar="TEXT", help="What was seen, in your words.")
@click.option("--not-clear", is_flag=True, help="It is there: keep out.")
@click.option("--ticket", default="", metavar="NO", help="Number of the utility-location ticket.")
@click.option("--on", "seen_on", default="", metavar="DATE", help="Day of looking; default today.")
@click.option("--until", default="", metavar="DATE", help="Last day that it holds, YYYY-MM-DD.")
@click.option("--person", default="", metavar="NAME", help="Who looked; stays on this machine.")
@as_json
def looked(
    folder: Path,
    lon: float,
    lat: float,
    keepout: str,
    seen: str,
    not_clear: bool,
    ticket: str,
    seen_on: str,
    until: str,
    person: str,
    as_json: bool,
) -> None:
    """Note that a keep-out which no map shows is clear, or not, at a spot.

    KEEPOUT is the key of a rule (utility_lines, well_or_septic, unmarked_grave, …), or keepouts, water, wetlands
    or roads for everything of a map that this ground does not have.
    """
    ground = open_for_saving(folder)
    today = _today()
    rules = {rule.key: rule for rule in keep_out_rules(ground)}
    restricting = [key for key, rule in rules.items() if rule.effect != "no matter"]
    key = _known_keepout(keepout, (*restricting, *LAYER_TITLES))
    land_check(ground, lon, lat, on=today)
    entry = Looked(
        keepout=key,
        lon=lon,
        lat=lat,
        clear=not not_clear,
        seen=_said(seen),
        ticket=_tidy(ticket),
        seen_on=_day("--on", seen_on) or today,
        until=_day("--until", until),
        person=_tidy(person),
    )
    if entry.seen_on > today:
        raise WrongUsage(f"--on {entry.seen_on} is still to come.")
    if entry.until and entry.until < entry.seen_on:
        raise WrongUsage(f"--until {entry.until} is before the day of looking, {entry.seen_on}.")
    saved = ground.note_looked(entry)
    rule = rules.get(key)
    title = rule.title if rule is not None else LAYER_TITLES[key].capitalize()
    why = why_not_clear(saved, rule, today) if saved.clear else ""
    end = ends_on(saved, rule) if saved.clear else ""
    word = "not clear" if not saved.clear else "does not count" if why else "clear"
    until_when = f" until {end}" if end and not why else ""
    said = f"does not count: {why}" if why else f"{word} within {saved.radius_m:g} m of this spot{until_when}"
    sentence = f"{title}: {said}."
    if as_json:
        print_json(
            {
                "keepout": key,
                "standing": word,
                "until": end,
                "sentence": sentence,
                "entry": asdict(saved),
            }
        )
        return
    say(f"Noted. {plain(sentence)}")


COMMANDS = (land, permit, looked)


def land_words(check: LandCheck) -> dict[str, object]:
    """Return a land check in the words of the command's JSON."""
    advice = [{**asdict(one), "total_m": one.total_m, "sentence": one.sentence()} for one in check.setbacks]
    return {"headline": check.headline, **asdict(check), "setbacks": advice}


def print_land(check: LandCheck) -> None:
    """Print a land check as sentences, the answer first."""
    say(plain(check.headline))
    for reason in check.reasons[1:]:
        say(f"  {plain(reason)}")
    for hit in check.parcels:
        owner = f", {plain(hit.owner)}" if hit.owner else ""
        say(
            f"  parcel {plain(hit.parcel_id)}{owner}: chance of standing in it {hit.chance_inside:.0%}, "
            f"{abs(hit.line_distance_m):.0f} m {'inside' if hit.line_distance_m >= 0 else 'outside'} the line"
        )
    for advice in check.setbacks:
        say(f"  {advice.sentence()}")
    say("Whatever the answer:")
    for caution in check.cautions:
        say(f"  {caution}")


def _known_parcel(parcel: str, parcels: gpd.GeoDataFrame | None) -> str:
    """Return a parcel's identifier, trimmed; refuse one that the map does not know, with names near it."""
    wanted = plain(parcel, 120).strip()
    if not wanted:
        raise WrongUsage("Say which parcel.")
    if parcels is None:
        note("There is no parcel layer: nobody can tell whether there is such a parcel.")
        return wanted
    known = parcel_names(parcels)
    if wanted not in known:
        near = difflib.get_close_matches(wanted, known, NAMES_SHOWN, cutoff=0.4)
        hint = f" Did you mean {_or(near)}?" if near else ""
        raise WrongUsage(f"There is no parcel '{wanted}' on the map.{hint}")
    return wanted


def _known_keepout(keepout: str, known: tuple[str, ...]) -> str:
    wanted = keepout.strip().casefold().replace("-", "_").replace(" ", "_")
    if wanted not in known:
        near = difflib.get_close_matches(wanted, known, NAMES_SHOWN, cutoff=0.5)
        hint = f"Did you mean {_or(near)}?" if near else f"There are: {', '.join(sorted(known))}."
        raise WrongUsage(f"There is no keep-out '{keepout}'. {hint}")
    return wanted


def _parcels(ground: Ground) -> gpd.GeoDataFrame | None:
    return read_vector_layer(ground.layers_folder, "parcels") if "parcels" in ground.layers() else None


def _say_what_is_due(ground: Ground) -> None:
    """Say what runs out, and what is on record for parcels that are not on the map."""
    due = reminders(ground.permissions(), ground.looked(), _today(), DUE_DAYS, keep_out_rules(ground))
    for sentence in due[-DUE_SHOWN:]:
        note(plain(sentence))
    names = unmatched_permissions(ground.permissions(), _parcels(ground))
    if names:
        note(f"On record, but not on the parcel map: {plain(', '.join(names))}.")


def _day(option: str, text: str) -> str:
    """Return an ISO date; empty for an empty text."""
    cleaned = text.strip()
    try:
        if cleaned and date.fromisoformat(cleaned).isoformat() != cleaned:
            raise ValueError
    except ValueError:
        raise WrongUsage(f"{option} wants a date like 2026-05-20, got '{plain(text, 40)}'.") from None
    return cleaned


def _said(text: str) -> str:
    if not _tidy(text):
        raise WrongUsage("--seen wants what you saw, in a few words.")
    return _tidy(text)


def _tidy(text: str) -> str:
    return plain(text, _LONGEST).strip()


def _or(names: list[str]) -> str:
    return " or ".join(", ".join(names).rsplit(", ", 1))


def _today() -> str:
    return date.today().isoformat()

"""What `log` does with photos: samples of those that say where they are, and which hole each belongs to."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from prospect.cli.printing import note, print_json, print_log, print_table, say
from prospect.errors import InputRefused
from prospect.issues import IssueLog
from prospect.pipeline import Wording, add_layer
from prospect.pipeline.log_photos import Match, accepted, attach_photos, match_photos, read_log_photos
from prospect.store import Ground

attach_option = click.option(
    "--attach", is_flag=True, help="Photos: attach each to its hole where that is sure or likely."
)


def take_photos(ground: Ground, path: Path, wording: Wording, *, attach: bool, as_json: bool) -> None:
    """Take in photos as samples, say which hole each belongs to, and attach them when that is asked for.

    Raises
    ------
    InputRefused
        When none has a position, and none was attached either.
    """
    today = date.today().isoformat()
    refused: InputRefused | None = None
    notes: tuple[str, ...] = ()
    try:
        intake = add_layer(ground, "log", path, wording, today=today)
        log, notes = intake.log, intake.notes
    except InputRefused as error:
        refused, log = error, error.log or IssueLog(path.name, "log")
    try:
        matches = _matches(ground, path, today)
    except InputRefused:  # also those without a position cannot be read, which the log says already
        matches = ()
    done = False
    if attach:
        attached = attach_photos(ground, path, accepted(matches))
        notes += attached.notes
        done = bool(attached.added or attached.there)
    if as_json:
        told = log.as_dict()
        if refused is not None and not done:
            told["verdict"] = "refused"
        print_json({**told, "notes": notes, "photos": [_row(match) for match in matches]})
    else:
        if refused is None or done:
            print_log(log)
        _print_matches(matches)
        for line in notes:
            note(line)
    if refused is not None and not done:
        raise refused


def _matches(ground: Ground, path: Path, today: str) -> tuple[Match, ...]:
    """Return where photos belong; those that lie by no hole and have a place of their own are samples, and left out."""
    holes = ground.holes()
    if not holes:
        return ()
    photos, _, _ = read_log_photos(ground, path, today=today)
    return tuple(match for match in match_photos(photos, holes) if match.hole_id or match.photo.lon is None)


def _print_matches(matches: tuple[Match, ...]) -> None:
    if not matches:
        return
    say("")
    say("Which hole they belong to:")
    columns = {"photo": "photo", "hole": "hole", "how_sure": "how sure", "why": "why"}
    print_table([_row(match) for match in matches], columns)


def _row(match: Match) -> dict[str, object]:
    return {
        "photo": match.photo.name,
        "hole": match.hole_id or None,
        "how_sure": match.sure,
        "why": match.why,
        "others": match.others,
    }

"""A one-page letter that asks a landowner for leave, with a small map of their parcel, as PDF."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Literal

from prospect.share.atomic import write_whole
from prospect.share.paper import (
    BODY,
    HEADING,
    LABEL,
    STRONG,
    TITLE,
    Look,
    Paper,
    Sheet,
    one_page,
    with_notes,
)
from prospect.share.parcel_map import draw_parcel
from prospect.share.parcel_view import ParcelView
from prospect.share.request import SAFE_DEPTH_CM, Request, day_text, rows
from prospect.share.wording import LetterWords, Wording, filled, wording
from prospect.text import plain

Units = Literal["metric", "us"]

MOST_NAME = 120
_MAP_SHARE, _GUTTER_EM = 0.41, 1.6
_MAP_HEIGHT_SHARE = 0.8
_LABEL_EM, _ROOM_TO_WRITE_EM = 6.9, 0.16
_LAW = Look("", 0.92, 1.22)
_BLANKS_FOR_A_PERSON = 3


def write_letter(
    path: Path, view: ParcelView, request: Request, *, units: Units, made_on: str
) -> tuple[str, ...]:
    """Write the letter as PDF in one step and return what there is to say about it.

    Parameters
    ----------
    path
        Target.
    view
        The parcel, cut down to what its owner may see.
    request
        What is asked; what it leaves open becomes a line to fill in by hand.
    units
        `metric` (A4) or `us` (US Letter, feet and gallons beside).
    made_on
        Date of the letter, ISO.

    Raises
    ------
    InputRefused
        When it does not fit on one page; the message says what to shorten.
    GroundError
        When the file cannot be written.
    """
    sheet = letter_sheet(view, request, units=units, made_on=made_on)
    write_whole(path, sheet.pdf)
    return sheet.notes


def letter_sheet(view: ParcelView, request: Request, *, units: Units, made_on: str) -> Sheet:
    """Return the letter as `write_letter` writes it; the same input gives the same bytes."""
    words = wording()
    sheet = one_page(
        lambda paper: _lay(paper, view, request, units, made_on, words),
        units=units,
        title=words.letter.title,
        made_on=made_on,
        shorten=_what_to_shorten(request),
    )
    return with_notes(sheet, *_notes(view, request))


def addressee(view: ParcelView, request: Request, words: Wording) -> str:
    """Return whom the letter is to: as the request says, else the names on record; empty when unknown."""
    if request.owner:
        return request.owner[0]
    return plain(f" {words.joint} ".join(plain(name, MOST_NAME) for name in view.owners), MOST_NAME)


def _lay(
    paper: Paper, view: ParcelView, request: Request, units: Units, made_on: str, words: Wording
) -> float:
    letter = words.letter
    y = _lay_people(paper, paper.top, view, request, words)
    y = lay_title(paper, y, letter.title, day_text(date.fromisoformat(made_on[:10]), units, words))
    y = _lay_opening(paper, y, addressee(view, request, words), letter)
    y = _lay_request(paper, y, view, request, units, words)
    if request.note:
        y = paper.write(paper.left, y, paper.across, request.note) + 0.7 * paper.em
    promises = (
        (*letter.digging, *letter.always) if request.opens_ground else (*letter.closed_ground, *letter.always)
    )
    y = lay_list(paper, y, letter.promises, promises)
    y = _lay_decision(paper, y, request, letter)
    y = _lay_signature(paper, y, request, letter)
    return lay_law_note(paper, y, words.law.letter)


def lay_title(paper: Paper, y: float, title: str, beside: str) -> float:
    """Write the title under a short rule, with a few words at the right margin; return y below."""
    paper.stroke([(paper.left, y), (paper.left + 14, y)], 0.9, accent=True)
    y += 0.5 * paper.em
    below = paper.write(paper.left, y, paper.across, title, TITLE)
    paper.write(paper.left, below - paper.line() - 0.25 * paper.em, paper.across, beside, Look(align="R"))
    return below + 0.45 * paper.em


def lay_list(paper: Paper, y: float, heading: str, sentences: Sequence[str]) -> float:
    """Write a heading and sentences, each behind a short stroke; return y below."""
    y = paper.write(paper.left, y, paper.across, heading, HEADING) + 0.1 * paper.em
    indent = 1.2 * paper.em
    for sentence in sentences:
        middle = y + paper.line() / 2
        paper.stroke([(paper.left, middle), (paper.left + 0.6 * paper.em, middle)], 0.45, accent=True)
        y = paper.write(paper.left + indent, y, paper.across - indent, sentence) + 0.14 * paper.em
    return y + 0.5 * paper.em


def lay_law_note(paper: Paper, y: float, note: str) -> float:
    """Write the note on local law at the foot of the page; return the room between it and `y`, mm."""
    indent = 1.2 * paper.em
    top = paper.bottom - paper.high(note, paper.across - indent, _LAW)
    paper.stroke([(paper.left + 0.3, top), (paper.left + 0.3, paper.bottom)], 0.6, accent=True)
    paper.write(paper.left + indent, top, paper.across - indent, note, _LAW)
    return top - y - 0.8 * paper.em


def lay_person(paper: Paper, x: float, y: float, width: float, label: str, lines: Sequence[str]) -> float:
    """Write a name and an address under a label, or lines to write them on; return y below."""
    y = paper.write(x, y, width, label, LABEL)
    if not lines:
        for _ in range(_BLANKS_FOR_A_PERSON):
            y = paper.blank(x, y, 0.86 * width) + 0.3 * paper.em
        return y
    for number, line in enumerate(lines):
        y = paper.write(x, y, width, line, BODY if number else STRONG)
    return y


def _lay_people(paper: Paper, y: float, view: ParcelView, request: Request, words: Wording) -> float:
    half = (paper.across - 2 * paper.em) / 2
    person = addressee(view, request, words)
    owner = request.owner or ((person,) if person else ())
    left = lay_person(paper, paper.left, y, half, words.letter.writer, request.writer)
    right = lay_person(paper, paper.left + half + 2 * paper.em, y, half, words.letter.owner, owner)
    return max(left, right) + 1.3 * paper.em


def _lay_opening(paper: Paper, y: float, name: str, letter: LetterWords) -> float:
    greeting = filled(letter.greeting, name=name) if name else letter.greeting_nameless
    y = paper.write(paper.left, y, paper.across, greeting) + 0.35 * paper.em
    return paper.write(paper.left, y, paper.across, letter.opening) + 0.8 * paper.em


def _lay_request(
    paper: Paper, y: float, view: ParcelView, request: Request, units: Units, words: Wording
) -> float:
    """Lay what is asked on the left and the map on the right."""
    gutter = _GUTTER_EM * paper.em
    map_width = _MAP_SHARE * (paper.across - gutter)
    table_width = paper.across - gutter - map_width
    left = lay_rows(paper, paper.left, y, table_width, rows(request, len(view.spots), units, words))
    corner = (paper.right - map_width, y)
    right = draw_parcel(paper, view, corner, (map_width, _MAP_HEIGHT_SHARE * map_width), units, words.map)
    return max(left, right) + 0.8 * paper.em


def lay_rows(paper: Paper, x: float, y: float, width: float, said: Sequence[tuple[str, str]]) -> float:
    """Write labels and values in two columns; an empty value is a line to write on; return y below."""
    indent = _LABEL_EM * paper.em
    for label, value in said:
        y += 0.0 if value else _ROOM_TO_WRITE_EM * paper.em
        high = paper.write(x, y + 0.04 * paper.em, indent, label, LABEL)
        if value:
            below = paper.write(x + indent, y, width - indent, value)
        else:
            below = paper.blank(x + indent, y, width - indent)
        y = max(high, below) + 0.42 * paper.em
    return y


def _lay_decision(paper: Paper, y: float, request: Request, letter: LetterWords) -> float:
    y = paper.write(paper.left, y, paper.across, letter.decision, HEADING) + 0.1 * paper.em
    withdraw = letter.withdraw if request.opens_ground else letter.withdraw_walk
    text = " ".join((letter.no, withdraw, letter.others, letter.enclosed))
    return paper.write(paper.left, y, paper.across, text) + 0.6 * paper.em


def _lay_signature(paper: Paper, y: float, request: Request, letter: LetterWords) -> float:
    y = paper.write(paper.left, y, paper.across, letter.thanks) + 1.1 * paper.em
    half = paper.across / 2
    label = paper.wide(letter.sign, LABEL) + 0.5 * paper.em
    paper.write(paper.left, y, label + 1, letter.sign, LABEL)
    below = paper.blank(paper.left + label, y, half - label)
    if request.writer:
        paper.write(paper.left + half + paper.em, y, half - paper.em, request.writer[0])
    return below


def _what_to_shorten(request: Request) -> str:
    named = ", ".join(f"{key} ({size} characters)" for key, size in request.longest()[:3] if size)
    return f"Shorten {named}." if named else "Shorten the names and addresses."


def _notes(view: ParcelView, request: Request) -> tuple[str, ...]:
    notes = []
    if not request.owner and sum(map(len, view.owners)) > MOST_NAME:
        notes.append(
            f"The owner's name in the parcel layer was cut to {MOST_NAME} characters: give owner in --request."
        )
    if request.depth_cm is not None and request.depth_cm > SAFE_DEPTH_CM:
        notes.append(
            "The holes are to be deeper than 1.2 m: nobody may go into one. Work from above, or let somebody "
            "licensed support the walls."
        )
    return tuple(notes)

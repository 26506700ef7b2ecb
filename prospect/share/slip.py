"""A one-page slip on which a landowner says what they allow, to sign, as PDF."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from prospect.cartography import area_in_words
from prospect.share.atomic import write_whole
from prospect.share.letter import lay_law_note, lay_list, lay_title
from prospect.share.paper import BODY, HEADING, LABEL, STRONG, Look, Paper, Sheet, one_page
from prospect.share.parcel_map import draw_parcel
from prospect.share.parcel_view import ParcelView
from prospect.share.request import Request, amount, days, holes, sold
from prospect.share.wording import SlipWords, Wording, filled, wording

Units = Literal["metric", "us"]

_MAP_SHARE, _MAP_HEIGHT_SHARE = 0.36, 0.52
_STEP_EM, _SPACE_EM, _INDENT_EM, _LEAST_LINE_EM = 0.5, 0.4, 1.41, 6.0
_LABEL_EM = 5.2
_CONDITION_LINES = 2


def write_slip(
    path: Path, view: ParcelView, request: Request, *, units: Units, made_on: str
) -> tuple[str, ...]:
    """Write the slip as PDF in one step and return what there is to say about it.

    The parameters and errors are those of `write_letter`. No box is ticked and no limit is set: what the request
    says stands beside the line to fill in, as what was asked for.
    """
    sheet = slip_sheet(view, request, units=units, made_on=made_on)
    write_whole(path, sheet.pdf)
    return sheet.notes


def slip_sheet(view: ParcelView, request: Request, *, units: Units, made_on: str) -> Sheet:
    """Return the slip as `write_slip` writes it; the same input gives the same bytes."""
    words = wording()
    return one_page(
        lambda paper: _lay(paper, view, request, units, words),
        units=units,
        title=words.slip.title,
        made_on=made_on,
        shorten="Shorten place, and the first line of writer.",
    )


def _lay(paper: Paper, view: ParcelView, request: Request, units: Units, words: Wording) -> float:
    slip = words.slip
    y = lay_title(paper, paper.top, slip.title, "")
    y = _lay_parcel(paper, y, view, request, units, words)
    y = _lay_allowed(paper, y, request, units, words)
    y = _lay_conditions(paper, y, slip)
    y = _lay_who(paper, y, slip)
    y = lay_list(paper, y, slip.holds, slip.rules)
    y = _lay_signatures(paper, y, slip)
    return lay_law_note(paper, y, words.law.slip)


def _lay_parcel(
    paper: Paper, y: float, view: ParcelView, request: Request, units: Units, words: Wording
) -> float:
    """Lay which parcel, whose leave and how long on the left, and the map on the right."""
    slip = words.slip
    map_width = _MAP_SHARE * paper.across
    right = paper.right - map_width - 1.6 * paper.em
    below_map = draw_parcel(
        paper,
        view,
        (paper.right - map_width, y),
        (map_width, _MAP_HEIGHT_SHARE * map_width),
        units,
        words.map,
    )
    parcel = f"{view.parcel_id}, {area_in_words(view.area_ha, units)}"
    indent = _LABEL_EM * paper.em
    for label, lines in (
        (slip.parcel, (parcel,)),
        (slip.place, (request.place,) if request.place else ()),
        (slip.given_to, request.writer),
    ):
        paper.write(paper.left, y + 0.04 * paper.em, indent, label, LABEL)
        for line in lines:
            y = paper.write(paper.left + indent, y, right - paper.left - indent, line)
        if not lines:
            for _ in range(3 if label == slip.given_to else 1):
                y = paper.blank(paper.left + indent, y + 0.16 * paper.em, right - paper.left - indent)
        y += 0.55 * paper.em
    paper.write(paper.left, y + 0.04 * paper.em, indent, slip.dates, LABEL)
    row = _Row(paper, y, _LABEL_EM, right).words(slip.start).line(7.5).words(slip.until).line()
    y = row.end(0.1)
    when = days(request, units, words)
    if when:
        asked = filled(slip.asked, what=when)
        y = paper.write(paper.left + indent, y, right - paper.left - indent, asked, LABEL)
    return max(y, below_map) + 0.5 * paper.em


def _lay_allowed(paper: Paper, y: float, request: Request, units: Units, words: Wording) -> float:
    slip = words.slip
    y = _heading(paper, y, slip.tick)
    asked = "; ".join(_asked(request, units, words))
    if asked:
        y = (
            paper.write(paper.left, y, paper.across, filled(slip.asked, what=asked), LABEL)
            + _STEP_EM * paper.em
        )
    for text in (slip.look, slip.walk):
        y = _Row(paper, y).choice(text).end()
    y = _holes(_Row(paper, y).choice(slip.auger), slip).end()
    row = _holes(_Row(paper, y).choice(slip.dig), slip).words(slip.volume).line()
    y = row.end()
    row = _Row(paper, y, _INDENT_EM).choice(slip.by_hand).gap().choice(slip.machine).line()
    y = row.end()
    row = _Row(paper, y).choice(slip.take).words(slip.amount).line(7).words(slip.may_sell)
    y = row.gap().choice(slip.yes).gap().choice(slip.no).end()
    return y + 0.3 * paper.em


def _lay_conditions(paper: Paper, y: float, slip: SlipWords) -> float:
    y = paper.write(paper.left, y, paper.across, slip.conditions, STRONG)
    for _ in range(_CONDITION_LINES):
        y = paper.blank(paper.left, y + _STEP_EM * paper.em, paper.across)
    return y + 0.8 * paper.em


def _lay_who(paper: Paper, y: float, slip: SlipWords) -> float:
    y = _heading(paper, y, slip.who)
    y = _Row(paper, y).choice(slip.alone).gap().choice(slip.shared).line().end()
    y = _Row(paper, y).choice(slip.tenant).line().end()
    row = _Row(paper, y).words(slip.mineral).gap().choice(slip.mineral_mine).gap()
    row = row.choice(slip.mineral_unknown).gap().choice(slip.mineral_other).line()
    return row.end() + 0.3 * paper.em


def _lay_signatures(paper: Paper, y: float, slip: SlipWords) -> float:
    for note in ("", slip.other_owner):
        y += 0.8 * paper.em
        if note:
            y = paper.write(paper.left, y, paper.across, note, LABEL) + 0.2 * paper.em
        row = _Row(paper, y).words(slip.name, LABEL).line(13).words(slip.signature, LABEL).line(13)
        y = row.words(slip.day, LABEL).line().end(0.0)
    return y


class _Row:
    """Words, boxes and lines to write on, from left to right; what does not fit goes on below."""

    def __init__(self, paper: Paper, y: float, indent_em: float = 0.0, right: float | None = None) -> None:
        self.paper, self.y = paper, y
        self.left = self.x = paper.left + indent_em * paper.em
        self.right = paper.right if right is None else right

    def words(self, text: str, look: Look = BODY) -> _Row:
        wide = self.paper.wide(text, look) + 0.1
        if self.x + wide > self.right and self.x > self.left:
            self._go_on()
        below = self.paper.write(self.x, self.y, min(wide, self.right - self.x), text, look)
        self.y = max(self.y, below - self.paper.line(look))
        self.x += wide + _SPACE_EM * self.paper.em
        return self

    def line(self, wide_em: float = 0.0) -> _Row:
        """Draw a line to write on, so many em wide; 0 = to the end of the row, on the next one when too short."""
        least = (wide_em or _LEAST_LINE_EM) * self.paper.em
        if self.x + least > self.right + 0.1:
            self._go_on()
        wide = least if wide_em else self.right - self.x
        self.paper.blank(self.x, self.y, wide)
        self.x += wide + _SPACE_EM * self.paper.em
        return self

    def choice(self, text: str) -> _Row:
        """Draw a box to tick with its words; the two stay together."""
        beside = self.paper.box_width
        if self.x + beside + self.paper.wide(text) > self.right and self.x > self.left:
            self._go_on()
        self.paper.box(self.x, self.y)
        self.x += beside
        return self.words(text)

    def gap(self) -> _Row:
        self.x += 0.8 * self.paper.em
        return self

    def end(self, step_em: float = _STEP_EM) -> float:
        return self.y + self.paper.line() + step_em * self.paper.em

    def _go_on(self) -> None:
        self.left = self.left if self.left > self.paper.left else self.left + _INDENT_EM * self.paper.em
        self.x, self.y = self.left, self.end()


def _holes(row: _Row, slip: SlipWords) -> _Row:
    return row.words(slip.holes).line(3).words(f"{slip.holes_unit},").words(slip.depth).line(5)


def _heading(paper: Paper, y: float, words: str) -> float:
    return paper.write(paper.left, y, paper.across, words, HEADING) + 0.3 * paper.em


def _asked(request: Request, units: Units, words: Wording) -> list[str]:
    label = words.letter.labels
    parts = [
        words.letter.scopes[request.scope] if request.scope else "",
        holes(request, units, words) if request.opens_ground else "",
        amount(request, units, words) if request.opens_ground else "",
        f"{label.machine.lower()}: {request.machine}" if request.machine else "",
        sold(request, words),
    ]
    return [part for part in parts if part]

"""A clay on paper: what was measured, what it says in the trade's order, what it is fit for, and its pictures."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from prospect.charts import Drawing
from prospect.clay import ClayReport
from prospect.clay.report import ALWAYS, PreparationReport
from prospect.share.atomic import write_whole
from prospect.share.paper import BODY, HEADING, LABEL, SMALL, STRONG, TITLE, Look, Paper, about_characters
from prospect.share.paper_drawing import draw

_TYPE_PT = 9.5
_PICTURE_MM = 82.0
_MOST_NAMES = 8


class _Flow:
    """Words and pictures one under the other, over as many pages as they need."""

    def __init__(self, paper: Paper) -> None:
        self.paper, self.y = paper, paper.top

    def room(self, high: float) -> None:
        if self.y + high > self.paper.bottom:
            self.paper.next_page()
            self.y = self.paper.top

    def say(self, words: str, look: Look = BODY, *, left: float = 0.0, before: float = 0.0) -> None:
        self.y += before
        width = self.paper.across - left
        # A heading does not stand alone at the foot of a page.
        below = 3 * self.paper.line() if look is HEADING else 0.0
        self.room(self.paper.high(words, width, look) + below)
        self.y = self.paper.write(self.paper.left + left, self.y, width, words, look)

    def pair(self, name: str, words: str) -> None:
        first = 46.0
        width = self.paper.across - first
        self.room(max(self.paper.high(words, width), self.paper.line()))
        below = self.paper.write(self.paper.left, self.y, first - 3, name, LABEL)
        self.y = max(below, self.paper.write(self.paper.left + first, self.y, width, words))

    def pictures(self, drawings: Sequence[tuple[str, Drawing]]) -> None:
        for start in range(0, len(drawings), 2):
            pair = drawings[start : start + 2]
            high = max(drawing.height * _PICTURE_MM / drawing.width for _, drawing in pair) + 7
            self.room(high)
            for column, (title, drawing) in enumerate(pair):
                left = self.paper.left + column * (_PICTURE_MM + 8)
                self.paper.write(left, self.y, _PICTURE_MM, title, LABEL)
                draw(self.paper, drawing, left, self.y + 5, _PICTURE_MM)
            self.y += high + 2


def write_clay_sheet(
    path: Path,
    report: ClayReport,
    pictures: Sequence[tuple[str, Drawing]],
    *,
    units: Literal["metric", "us"] = "metric",
    made_on: str,
) -> tuple[str, ...]:
    """Write what is known of a clay as a PDF of a few pages; return sentences to tell the person.

    Parameters
    ----------
    path
        Where it goes.
    report
        Of the clay.
    pictures
        Title and drawing, those that have something to show.
    units
        Decides the paper: A4, or US Letter for `us`.
    made_on
        ISO date.
    """
    paper = Paper(units, _TYPE_PT, f"Clay {report.name}", made_on)
    flow = _Flow(paper)
    flow.say(report.name, TITLE)
    flow.say(f"What the clay says, as of {made_on[:10]}", LABEL)
    sample, hole = report.specimen.sample, report.specimen.hole
    facts = [
        ("From hole", hole.hole_id if hole else (sample.hole_id if sample else "")),
        ("Depth", _depths(report, units)),
        ("Dug on", sample.date if sample else (report.specimen.batch.date if report.specimen.batch else "")),
        ("Worth having", f"{report.usable}: {report.usable_because}"),
        ("Known so far", f"{report.completeness:.0%} of what matters"),
    ]
    flow.y += 2
    for name, words in facts:
        if words:
            flow.pair(name, words)
    for caution in report.cautions:
        if caution not in ALWAYS:
            flow.say(f"▲ {caution}", STRONG, before=1)
    for part in report.preparations:
        _preparation(flow, part)
    if pictures:
        flow.room(_PICTURE_MM + 12)
        flow.say("Pictures", HEADING, before=3)
        flow.pictures(pictures)
    flow.say("Measurements", HEADING, before=3)
    told: dict[str, list[str]] = {}
    for item in report.measurements:
        prepared = f" ({item.preparation})" if item.preparation else ""
        told.setdefault(f"{item.sentence()}{prepared}", []).extend(item.sources)
    for words, names in told.items():
        more = f" and {len(names) - _MOST_NAMES} more" if len(names) > _MOST_NAMES else ""
        flow.say(f"{words} [{', '.join(names[:_MOST_NAMES])}{more}]" if names else words, SMALL)
    if not report.measurements:
        flow.say("Nothing was measured yet.", SMALL)
    following = report.next_step
    if following is not None:
        flow.say("Next in the order of work", HEADING, before=3)
        flow.say(f"{following.title}: {following.why}.")
        for line in (*following.how, *(f"▲ {caution}" for caution in following.cautions)):
            flow.say(line, left=4)
    flow.say("Take care", HEADING, before=3)
    for line in (*report.doubts, *(caution for caution in report.cautions if caution in ALWAYS)):
        flow.say(f"▲ {line}")
    write_whole(path, paper.pdf())
    return about_characters(paper.lacking)


def _preparation(flow: _Flow, part: PreparationReport) -> None:
    flow.say(f"{part.title[:1].upper()}{part.title[1:]}", HEADING, before=3)
    for reading in part.readings:
        flow.pair(reading.title, reading.sentence)
    flow.say("What it is fit for", STRONG, before=2)
    for verdict in part.verdicts:
        flow.say(verdict.sentence(), STRONG, before=1)
        known = [f"{reason.title}: {reason.reason}" for reason in verdict.parts if reason.suits is not None]
        if known:
            flow.say("; ".join(known), SMALL, left=4)
        if verdict.untested:
            flow.say(f"Not tested: {'; '.join(verdict.untested)}.", SMALL, left=4)
        if verdict.would_change:
            flow.say(f"Would change it: {' '.join(verdict.would_change)}", SMALL, left=4)


def _depths(report: ClayReport, units: str) -> str:
    sample = report.specimen.sample
    if sample is None or (sample.top_cm is None and sample.bottom_cm is None):
        return ""
    top, bottom = (
        "" if depth is None else f"{depth / 2.54:.0f}" if units == "us" else f"{depth:.0f}"
        for depth in (sample.top_cm, sample.bottom_cm)
    )
    unit = "in" if units == "us" else "cm"
    if not top:
        return f"down to {bottom} {unit}"
    return f"{top} to {bottom} {unit}" if bottom else f"from {top} {unit}"

"""What a clay says as a page: the trade's questions, the verdict for each use, the firing, what to do next."""

from __future__ import annotations

from collections.abc import Iterable

from prospect.clay.firing_curve import FiringStep
from prospect.clay.measuring import Measurement
from prospect.clay.report import ClayReport, PreparationReport
from prospect.clay.verdict import PartVerdict, UseVerdict
from prospect.ui.bench_measures import heat_in_words
from prospect.ui.hole_cards import colour_shown
from prospect.ui.reading import words

_MARKS = {
    "fit": ("reed", "●"),
    "likely fit": ("reed", "◐"),
    "fit with help": ("glaze", "◐"),
    "not fit": ("iron", "■"),
    "not known": ("faded", "○"),
}


def clay_reading(report: ClayReport, prepared: PreparationReport) -> str:
    """Return what one preparation of a clay says: first the wanted use, then the questions, then the other uses."""
    verdicts = list(prepared.verdicts)
    wanted = _use(verdicts[0], opened=True) if verdicts else ""
    others = "".join(_use(verdict) for verdict in verdicts[1:])
    asked = "".join(
        f"<div><h3>{words(one.title)}</h3><p>{words(one.sentence)}</p>{_behind(one.measurements)}</div>"
        for one in prepared.readings
    )
    doubts = "".join(f'<p class="cw-caution">▲ {words(doubt)}</p>' for doubt in report.doubts)
    return (
        f'<section class="cw-clay"><h2>What the clay says</h2><p class="cw-small">It holds for this clay '
        f"{words(prepared.title)}.</p>{asked}{doubts}{firing_table(prepared.steps)}"
        f'<h2>What it is fit for</h2><div class="cw-others">{wanted}{others}</div></section>'
    )


def next_on_the_bench(report: ClayReport) -> str:
    """Return the next step in the order of work: why, how it is done and what to look out for at it."""
    following = report.next_step
    if following is None:
        return "<h2>Next in the order of work</h2><p>Every step of the order of work was done.</p>"
    how = "".join(f"<p>{words(sentence)}</p>" for sentence in following.how)
    cautions = "".join(f'<p class="cw-caution">▲ {words(caution)}</p>' for caution in following.cautions)
    return (
        f'<div class="cw-card cw-next"><h2>Next in the order of work</h2><h3>{words(following.title)}</h3>'
        f'<p class="cw-small">{words(following.why)}</p>{how}{cautions}</div>'
    )


def care(report: ClayReport) -> str:
    """Return what to look out for with this clay, its own cautions first."""
    items = "".join(f"<li>{words(caution)}</li>" for caution in report.cautions)
    return f'<h2>Take care</h2><ul class="cw-care">{items}</ul>' if items else ""


def firing_table(steps: Iterable[FiringStep]) -> str:
    """Return what the bars say at each cone, cool to hot; empty where none was fired."""
    rows = "".join(_step(step) for step in steps)
    head = (
        "<tr><th>cone</th><th>water taken up</th><th>shrinkage in all</th><th>colour</th><th>faults</th></tr>"
    )
    if not rows:
        return ""
    return (
        f'<div class="cw-scroll"><table class="cw-table cw-fired"><caption>Through the kiln, cool to hot</caption>'
        f"<thead>{head}</thead><tbody>{rows}</tbody></table></div>"
    )


def _step(step: FiringStep) -> str:
    absorption, shrinkage = step.absorption_pct, step.total_shrinkage_pct
    colours = "".join(f"{colour_shown(colour)} {words(colour)} " for colour in step.colours)
    cells = (
        words(heat_in_words(step.cone, step.temperature_c)),
        "not measured" if absorption is None else f"{absorption.mean:.1f} %",
        "not measured" if shrinkage is None else f"{shrinkage.mean:.1f} %",
        colours or "not noted",
        words(", ".join(step.faults) or "not looked for"),
    )
    return f"<tr>{''.join(f'<td>{cell}</td>' for cell in cells)}</tr>"


def _use(verdict: UseVerdict, *, opened: bool = False) -> str:
    colour, mark = _MARKS[verdict.fitness]
    title = f"{verdict.use.title[0].upper()}{verdict.use.title[1:]}"
    head = f'<b>{words(title)}</b> <span class="cw-ink-{colour}">{mark} {words(verdict.fitness)}</span>'
    cap = f"<p>Held down by: {words(verdict.capped_by)}</p>" if verdict.capped_by else ""
    reasons = "".join(_part(part) for part in verdict.parts if part.suits is not None)
    untested = _listed("Not tested yet", verdict.untested, "cw-missing")
    change = _listed("What would change this", verdict.would_change, "cw-missing")
    known = f'<p class="cw-small">{verdict.completeness:.0%} of what matters for it is known.</p>'
    body = f"{cap}{known}{f'<ul>{reasons}</ul>' if reasons else ''}{untested}{change}"
    shown = " open" if opened else ""
    return f'<details class="cw-use"{shown}><summary>{head}</summary>{body}</details>'


def _part(part: PartVerdict) -> str:
    advice = f' <span class="cw-small">{words(part.help)}</span>' if part.help else ""
    reason = part.reason.removeprefix(f"{part.title}: ")
    return f"<li><b>{words(part.title)}:</b> {words(reason)}{advice}{_behind(part.measurements)}</li>"


def _behind(measurements: Iterable[Measurement]) -> str:
    items = "".join(f"<li>{words(one.sentence())}</li>" for one in measurements)
    return (
        f'<details class="cw-behind"><summary>What this rests on</summary><ul>{items}</ul></details>'
        if items
        else ""
    )


def _listed(title: str, sentences: Iterable[str], look: str) -> str:
    items = "".join(f"<li>{words(sentence)}</li>" for sentence in sentences)
    return f'<p class="cw-small">{words(title)}</p><ul class="{look}">{items}</ul>' if items else ""

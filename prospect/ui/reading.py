"""The page that a spot is read from: plain sentences with small bars, every foreign word encoded."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from prospect.cartography import (
    known_in_words,
    length_in_words,
    place_in_words,
    share_in_words,
    worth_in_words,
)
from prospect.palette import verdict_mark
from prospect.records import (
    CriterionReading,
    Fact,
    GateReading,
    GroundReport,
    LandCheck,
    ModelReading,
    ParcelHit,
    Setback,
)
from prospect.text import escape_html, plain

# A spot is read for what comes first: an auger hole (`prospect.pipeline.ground_report`).
_READ_FOR = "for an auger hole"
_NOT_FOR_DIGGING = (
    "Digging and taking clay away need leave of their own, and more distance from water and wells."
)


def words(text: object) -> str:
    """Return foreign text fit for a page: no control characters, inert in HTML."""
    return escape_html(plain(text, most=2000))


def spot_page(
    report: GroundReport, site: int = 0, deposit: str = "", units: str = "metric", on_record: str = ""
) -> str:
    """Return the whole reading of one spot.

    Parameters
    ----------
    report
        What is known.
    site
        Rank of the site whose best spot this is; 0 = a spot that was pointed at.
    deposit
        The deposit model to read it as; '' = the one in the headline.
    units
        `metric` or `us`.
    on_record
        What people noted about this ground, as HTML of our own, shown with whose ground it is.
    """
    asked = next((model for model in report.models if model.deposit == deposit), None)
    lead = asked or report.lead
    others = [model for model in report.models if lead is None or model.deposit != lead.deposit]
    parts = [
        _place(report, site),
        _first_line(report.land),
        _heading(report, lead),
        _land(report.land, units, on_record),
        _why(lead) if lead else "",
        _listed("Take care", report.cautions, "cw-care"),
        _listed("Not known here, and what that costs", report.missing, "cw-missing"),
        _others(others),
        _facts(report.facts),
    ]
    return f'<article class="cw-page">{"".join(parts)}</article>'


def bar(share: float | None, kind: str, meaning: str) -> str:
    """Return a small bar; a missing share is an empty hatched one. `meaning` is read out in its stead."""
    if share is None:
        return f'<span class="cw-bar cw-none" role="img" aria-label="{words(meaning)}"></span>'
    return (
        f'<span class="cw-bar cw-{kind}" role="img" aria-label="{words(meaning)}">'
        f'<span style="width:{share:.1%}"></span></span>'
    )


def _place(report: GroundReport, site: int) -> str:
    where = place_in_words(report.lon, report.lat)
    return f'<p class="cw-place">{words(f"Site {site} · {where}" if site else where)}</p>'


def _first_line(land: LandCheck) -> str:
    """Return the answer before anything else: whoever reads no further is not misled."""
    mark = verdict_mark(land.verdict)
    first = land.reasons[0] if land.reasons else "Nothing is on record about this ground."
    more = f'<p class="cw-small">{_NOT_FOR_DIGGING}</p>' if land.verdict == "go" else ""
    what_for = "" if land.verdict == "stay out" else f' <span class="cw-for">· {_READ_FOR}</span>'
    return (
        f'<section class="cw-land cw-first cw-{mark.colour}"><h3><span aria-hidden="true">{mark.shape}</span> '
        f"{words(mark.word.capitalize())}{what_for}</h3>"
        f"<p>{words(first)}</p>{more}</section>"
    )


def _heading(report: GroundReport, lead: ModelReading | None) -> str:
    if lead is None or not lead.can_lead:
        kind = f'<p class="cw-kind">as {words(lead.title)}</p>' if lead else ""
        return (
            f'<header><h2>Cannot say</h2>{kind}<p class="cw-sentence">{words(report.sentence)}</p></header>'
        )
    score = "" if lead.favourability is None else f"{lead.favourability:.2f}"
    worth = worth_in_words(lead.favourability)
    known = f"{share_in_words(lead.completeness)} known"
    return (
        f"<header><h2>{words(worth.capitalize())}</h2>"
        f'<p class="cw-kind">as {words(lead.title)}</p>'
        f'<p class="cw-sentence">{words(report.sentence)}</p>'
        '<dl class="cw-scores">'
        f"<div><dt>worth a look</dt><dd>{bar(lead.favourability, 'worth', f'{score} of 1')}"
        f"<b>{score}</b> of 1</dd></div>"
        f"<div><dt>how much we know</dt><dd>{bar(lead.completeness, 'known', known)}"
        f"{words(share_in_words(lead.completeness))} · {words(known_in_words(lead.completeness))}</dd></div>"
        "</dl></header>"
    )


def _land(land: LandCheck, units: str, on_record: str) -> str:
    owners = "".join(
        f"<li>parcel {words(hit.parcel_id)}{_owner(hit.owner)}: "
        f"{share_in_words(hit.chance_inside)} sure to be inside, {_line(hit, units)}</li>"
        for hit in land.parcels
    )
    reasons = "".join(f"<li>{words(reason)}</li>" for reason in land.reasons[1:])
    setbacks = f"<li>{words(_setbacks(land.setbacks, units))}</li>" if land.setbacks else ""
    return (
        '<section class="cw-whose"><h3>Whose ground, and what applies</h3>'
        + (f"<ul>{owners}</ul>" if owners else "")
        + (f"<ul>{reasons}</ul>" if reasons else "")
        + (f"<ul>{setbacks}</ul>" if setbacks else "")
        + on_record
        + "</section>"
    )


def _setbacks(setbacks: Sequence[Setback], units: str) -> str:
    """Return the advice for every confidence in one sentence, with what comes on top of the errors."""
    told = ", ".join(f"{length_in_words(one.total_m, units)} for {one.confidence:.0%}" for one in setbacks)
    kept = {"of your own": setbacks[0].own_m, "by law": setbacks[0].legal_m}
    on_top = " and ".join(
        f"{length_in_words(metres, units)} {whose}" for whose, metres in kept.items() if metres
    )
    return (
        f"To be sure of the side, stay off the mapped line by {told.replace('%', ' %')}"
        + (f"; in it are {on_top}" if on_top else "")
        + "."
    )


def _line(hit: ParcelHit, units: str) -> str:
    away = length_in_words(abs(hit.line_distance_m), units)
    return f"its line {away} away" if hit.line_distance_m >= 0 else f"the mapped line {away} off"


def _owner(owner: str) -> str:
    return f", {words(owner)}" if owner else ""


def _why(model: ModelReading) -> str:
    return (
        "<section><h3>Why</h3>"
        '<p class="cw-note">Each line is one thing that was looked at: what was found, how well it suits, '
        "and how much of the score rests on it.</p>" + _criteria(model) + "</section>"
    )


def _criteria(model: ModelReading) -> str:
    linear = (
        "" if model.linear is None else f"Weighing the same lines by plain adding gives {model.linear:.2f}. "
    )
    cannot = f'<p class="cw-note">{words(model.cannot_say)}</p>' if model.cannot_say else ""
    return (
        cannot
        + '<ol class="cw-criteria">'
        + "".join(f"<li>{_criterion(whole)}{_parts(parts)}</li>" for whole, parts in _grouped(model.criteria))
        + "</ol>"
        + "".join(_gate(gate) for gate in model.gates)
        + (f'<p class="cw-note">{linear}</p>' if linear else "")
    )


def _grouped(
    criteria: Iterable[CriterionReading],
) -> list[tuple[CriterionReading, list[CriterionReading]]]:
    """Return each criterion of the model with the parts that follow it."""
    groups: list[tuple[CriterionReading, list[CriterionReading]]] = []
    for reading in criteria:
        if reading.level == 0 or not groups:
            groups.append((reading, []))
        else:
            groups[-1][1].append(reading)
    return groups


def _parts(parts: list[CriterionReading]) -> str:
    if not parts:
        return ""
    items = "".join(f'<li class="cw-level-{min(part.level, 3)}">{_criterion(part)}</li>' for part in parts)
    return f'<details><summary>What it is made of</summary><ol class="cw-criteria">{items}</ol></details>'


def _criterion(reading: CriterionReading) -> str:
    known = reading.membership is not None
    suits = f"suits {reading.membership:.2f} of 1" if known else "not known"
    carries = (
        f"carries {share_in_words(reading.share)} of the score"
        if reading.share is not None
        else "left out of the score, not counted as poor"
    )
    defining = " · needed for this kind of ground" if reading.defining else ""
    note = f'<span class="cw-small">{words(reading.note)}</span>' if reading.note else ""
    source = words(reading.source) if reading.source else "no layer for this"
    return (
        f'<span class="cw-line"><span>{words(reading.title)}</span><b>{words(reading.value)}</b></span>'
        f"{bar(reading.membership, 'suits', suits)}"
        f'<span class="cw-small">{suits} · weight {reading.weight:.2g} · {carries}{defining}</span>'
        f'{note}<span class="cw-small cw-source">from {source}</span>'
    )


def _gate(gate: GateReading) -> str:
    cut = "closes it" if gate.factor == 0 else f"multiplies the score by {gate.factor:g}"
    return (
        f'<p class="cw-gate"><b>Held back: {words(gate.title)}.</b> {words(gate.reason)} This {cut}. '
        f'<span class="cw-small">from {words(gate.source)}</span></p>'
    )


def _others(models: Iterable[ModelReading]) -> str:
    rows = "".join(_other(model) for model in models)
    return (
        f'<section><h3>Other kinds of ground here</h3><div class="cw-others">{rows}</div></section>'
        if rows
        else ""
    )


def _other(model: ModelReading) -> str:
    shown = model.favourability if model.can_lead else None
    worth = worth_in_words(shown) if model.can_lead else "cannot say"
    number = f"{shown:.2f}" if shown is not None else "–"
    cautions = _listed("", model.cautions, "cw-care")
    return (
        f'<details><summary><span class="cw-line"><span>{words(model.title)}</span><b>{number}</b></span>'
        f'{bar(shown, "worth", worth)}<span class="cw-small">{words(worth)} · '
        f"{share_in_words(model.completeness)} known</span></summary>{_criteria(model)}{cautions}</details>"
    )


def _facts(facts: Iterable[Fact]) -> str:
    rows = "".join(
        f"<div><dt>{words(fact.label)}</dt><dd>{words(fact.value)}"
        f'<span class="cw-small">{words(fact.source)}</span></dd></div>'
        for fact in facts
    )
    return f'<section><h3>What the layers say</h3><dl class="cw-facts">{rows}</dl></section>' if rows else ""


def _listed(title: str, sentences: Iterable[str], style: str) -> str:
    items = "".join(f"<li>{words(sentence)}</li>" for sentence in sentences)
    heading = f"<h3>{words(title)}</h3>" if title else ""
    return f'<section class="{style}">{heading}<ul>{items}</ul></section>' if items else ""


def table(header: tuple[str, ...], rows: Iterable[tuple[object, ...]], caption: str) -> str:
    """Return a table of foreign text that scrolls by itself on a narrow screen."""
    head = "".join(f'<th scope="col">{words(name)}</th>' for name in header)
    body = "".join("<tr>" + "".join(f"<td>{words(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return (
        f'<div class="cw-scroll"><table class="cw-table"><caption>{words(caption)}</caption>'
        f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def counts_in_words(counts: Mapping[str, int]) -> str:
    """Return the counts of a reading as a sentence."""
    return ", ".join(
        f"{counts[name]} {name}" for name in ("read", "kept", "repaired", "refused") if name in counts
    )

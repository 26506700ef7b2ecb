"""The words beside the map: the ranked list with its reasons, the key, the cautions, the sources."""

from __future__ import annotations

from collections.abc import Sequence

from prospect.cartography import completeness_key, favourability_key, known_in_words, worth_in_words
from prospect.cartography.legend import Key
from prospect.land import CAUTIONS
from prospect.palette import verdict_mark
from prospect.records import CriterionReading, GroundReport, ModelReading, Site
from prospect.share.content import FieldMapContent
from prospect.text import escape_html, plain

_M2_PER_ACRE = 4046.8564224
_FEET_PER_M = 1.0 / 0.3048
_VERDICT_CLASS = {"go": "go", "ask first": "ask", "stay out": "stay", "unknown": "unknown"}
_SPEAKS_FOR, _SPEAKS_AGAINST = 0.6, 0.35


def shown(text: object, most: int = 600) -> str:
    """Return foreign text fit for the page: plain, then encoded."""
    return escape_html(plain(text, most))


def sites_list(content: FieldMapContent, exact: bool) -> str:
    """Return the ranked sites as an ordered list."""
    if not content.sites:
        return '<p class="lead">No ground here stands out enough to be called a site.</p>'
    items = [_site_item(content, site, exact) for site in content.sites]
    return f'<ol class="sites">{"".join(items)}</ol>'


def reason_of(report: GroundReport | None) -> str:
    """Return why a site is on the list: the report's sentence, or else one made of its criteria."""
    if report is None:
        return ""
    if report.sentence:
        return report.sentence
    if report.lead is None:
        return ""
    top = [criterion for criterion in report.lead.criteria if criterion.level == 0]
    known = [criterion for criterion in top if criterion.membership is not None]
    known.sort(key=lambda criterion: -(criterion.share or 0.0))
    parts = (
        ("Speaks for it", [c for c in known if (c.membership or 0.0) >= _SPEAKS_FOR]),
        ("Speaks against it", [c for c in known if (c.membership or 0.0) < _SPEAKS_AGAINST]),
        ("Not known", [c for c in top if c.membership is None]),
    )
    sentences = [
        f"{word}: {', '.join(_lower_first(criterion.title) for criterion in group[:4])}."
        for word, group in parts
        if group
    ]
    return " ".join(sentences)


def site_title(content: FieldMapContent, site: Site) -> str:
    """Return the plain name of a site's leading deposit model."""
    return capital(content.titles.get(site.deposit, site.deposit))


def capital(text: str) -> str:
    """Return text with a capital first letter."""
    return text[:1].upper() + text[1:]


def worth_line(site: Site) -> str:
    """Return how good a site is and how much is known about it, in words."""
    worth = worth_in_words(site.favourability)
    return f"{capital(worth)} ({site.favourability:.2f}); {known_in_words(site.completeness)}"


def key_section(content: FieldMapContent) -> str:
    """Return the key: what colours, strokes and lines mean."""
    lines = [_key_line(_patch(key.colour), f"{key.label} ({key.detail})") for key in favourability_key()]
    lines.append(_key_line(_swatch(""), "no colour: cannot say"))
    if content.completeness is not None:
        lines += [_key_line(_hatch_swatch(key), key.label) for key in completeness_key()[1:]]
    lines.append(
        _key_line(_swatch(_stroke("#9A3F1D", 2.5, "")), "a site's outline, its number at the best spot")
    )
    if content.parcels is not None:
        lines.append(
            _key_line(_swatch(_stroke("#2B3336", 1.2, "5 3")), "parcel line as mapped, not a survey")
        )
    if content.samples:
        lines += [
            _key_line(_swatch(_glyph(mark)), f"sample: {word}")
            for mark, word in (("●", "worth having"), ("✕", "not worth having"), ("○", "not judged"))
        ]
    note = (
        "The colour compares places on this ground with each other. It is not a chance of finding clay, and it "
        "says nothing about safety, ownership or food-safe use."
    )
    return f'<ul class="key">{"".join(lines)}</ul><p class="small">{escape_html(note)}</p>'


def cautions_section(content: FieldMapContent) -> str:
    """Return what to look out for: what always holds, then what the sites' own models add."""
    always = list(CAUTIONS)
    for report in content.readings.values():
        always += list(report.lead.cautions if report.lead else ())
    return _notes(always, "notes cautions")


def notes_section(sentences: Sequence[str], otherwise: str) -> str:
    """Return sentences as a list, or one sentence when there are none."""
    return _notes(sentences, "notes") if sentences else f'<p class="lead">{escape_html(otherwise)}</p>'


def area_text(area_ha: float, units: str) -> str:
    """Return an area in hectares, or in acres for US units."""
    if units == "us":
        return f"{area_ha * 10_000 / _M2_PER_ACRE:.3g} acres"
    return f"{area_ha:.3g} ha"


def length_text(metres: float, units: str) -> str:
    """Return a height in metres, or in feet for US units."""
    return f"{metres * _FEET_PER_M:.0f} ft" if units == "us" else f"{metres:.0f} m"


def _site_item(content: FieldMapContent, site: Site, exact: bool) -> str:
    report = content.readings.get(site.site)
    reason = reason_of(report)
    facts = [area_text(site.area_ha, content.units), site.rock]
    if site.slope_pct is not None:
        facts.append(f"{site.slope_pct:.0f} % slope")
    if site.height_above_drainage_m is not None:
        facts.append(f"{length_text(site.height_above_drainage_m, content.units)} above the stream")
    if site.parcels:
        facts.append(f"parcel {', '.join(site.parcels[:4])}{' …' if len(site.parcels) > 4 else ''}")
    if exact:
        facts.append(f"{site.lon:.5f}, {site.lat:.5f}")
    lines = [
        f'<h3 id="title-{site.site}">{shown(site_title(content, site))}</h3>',
        f'<p class="worth">{escape_html(worth_line(site))}</p>',
        f'<p class="reason">{shown(reason, 900)}</p>' if reason else "",
        f'<p class="small">{" · ".join(shown(fact, 160) for fact in facts if fact)}</p>',
        _permission_line(site, report),
        f'<p class="row"><button type="button" class="plain" data-site="{site.site}">Show on the map</button></p>',
        _why(None if report is None else report.lead, site.cautions),
    ]
    return (
        f'<li class="site" id="site-{site.site}" tabindex="-1" aria-labelledby="title-{site.site}">'
        f'<span class="number">{site.site}</span><div>{"".join(lines)}</div></li>'
    )


def _permission_line(site: Site, report: GroundReport | None) -> str:
    """Return the land's verdict where it was checked, else the ledger's word for the site."""
    if report is not None and report.land.reasons:
        mark = verdict_mark(report.land.verdict)
        reason = shown(report.land.reasons[0], 240)
        return (
            f'<p class="small"><span class="verdict {_VERDICT_CLASS[report.land.verdict]}">'
            f"{escape_html(mark.shape)} {escape_html(mark.word)}:</span> {reason}</p>"
        )
    return f'<p class="small">Leave: {shown(site.permission, 80)}</p>' if site.permission else ""


def _why(lead: ModelReading | None, cautions: Sequence[str]) -> str:
    words = _notes(cautions, "notes small")
    if lead is None:
        return words
    rows, said = [], ""
    for criterion in lead.criteria:
        rows.append(_criterion_row(criterion, said))
        said = criterion.source
    gates = "".join(
        f"<li>{shown(gate.title)}: {shown(gate.reason)} (×{gate.factor:.2g})</li>" for gate in lead.gates
    )
    fired = f'<ul class="notes small">{gates}</ul>' if gates else ""
    return f"<details><summary>Why</summary><table>{''.join(rows)}</table>{fired}{words}</details>"


def _criterion_row(criterion: CriterionReading, said: str) -> str:
    """Return one row; a source that the row above has just named is not named again."""
    value = shown(criterion.value, 160)
    source = "" if criterion.source == said else criterion.source
    note = " · ".join(shown(text, 200) for text in (criterion.note, source) if text)
    if criterion.membership is None:
        strength = '<span class="small">not known</span>'
    else:
        share = max(0.0, min(1.0, criterion.membership))
        strength = (
            f'<svg class="bar" width="64" height="10" viewBox="0 0 64 10" role="img" '
            f'aria-label="{share:.2f} of 1"><rect width="64" height="10" rx="2"/>'
            f'<rect width="{64 * share:.1f}" height="10" rx="2"/></svg>'
        )
    whole = criterion.level == 0 and criterion.share is not None
    share_text = "" if not whole else f'<span class="small">{criterion.share:.0%} of it</span>'
    part = ' class="part"' if criterion.level else ""
    head = shown(criterion.title, 120)
    if value and criterion.membership is not None:
        head += f": {value}"
    if note:
        head += f'<span class="small">{note}</span>'
    return f'<tr{part}><th scope="row">{head}</th><td>{strength} {share_text}</td></tr>'


def _notes(sentences: Sequence[str], class_name: str) -> str:
    once = dict.fromkeys(sentence for sentence in sentences if sentence)
    lines = "".join(f"<li>{shown(sentence)}</li>" for sentence in once)
    return f'<ul class="{class_name}">{lines}</ul>' if lines else ""


def _key_line(swatch: str, label: str) -> str:
    return f"<li>{swatch}<span>{escape_html(label)}</span></li>"


def _swatch(inside: str) -> str:
    return (
        '<svg width="38" height="22" viewBox="0 0 38 22" aria-hidden="true">'
        f'<rect width="38" height="22" fill="#FBF8F1"/>{inside}</svg>'
    )


def _patch(colour: str) -> str:
    return _swatch(f'<rect width="38" height="22" fill="{escape_html(colour)}"/>')


def _hatch_swatch(key: Key) -> str:
    places = (0, 4, 2)[: int(key.detail)]
    strokes = "".join(
        f'<path d="M{x} 0 L{x - 22} 22" stroke="#2B3336" stroke-opacity="0.6" stroke-width="1"/>'
        for place in places
        for x in range(place, 64, 8)
    )
    return _swatch(strokes)


def _stroke(colour: str, width: float, dash: str) -> str:
    return f'<path d="M3 11 H35" stroke="{colour}" stroke-width="{width}" stroke-dasharray="{dash}"/>'


def _glyph(mark: str) -> str:
    return f'<text x="19" y="17" text-anchor="middle" font-size="17" fill="#2B3336">{mark}</text>'


def _lower_first(text: str) -> str:
    return text[:1].lower() + text[1:]

"""Cards for the lists: a site, a layer, a reading report, the map's key."""

from __future__ import annotations

from collections.abc import Mapping

from prospect.cartography import (
    Key,
    area_in_words,
    completeness_key,
    favourability_key,
    length_in_words,
    share_in_words,
    worth_in_words,
)
from prospect.issues import IssueLog
from prospect.palette import ramp
from prospect.pipeline import LayerState
from prospect.records import Site
from prospect.ui.reading import bar, counts_in_words, table, words

_PARCELS_SHOWN = 3
_SEVERITY = {"note": "○ noticed", "warning": "◐ mended", "error": "■ refused"}


def site_card(site: Site, title: str, units: str, chosen: bool) -> str:
    """Return one ranked site in a few lines."""
    slope = "" if site.slope_pct is None else f"{site.slope_pct:.0f} % slope"
    above = site.height_above_drainage_m
    height = "" if above is None else f"{length_in_words(above, units)} above the nearest creek"
    ground = " · ".join(part for part in (site.rock, slope, height) if part)
    leave = " · ".join(part for part in (_parcels(site.parcels), _leave(site.permission)) if part)
    care = f'<p class="cw-small cw-caution">▲ {words(site.cautions[0])}</p>' if site.cautions else ""
    return (
        f'<div class="cw-site{" cw-chosen" if chosen else ""}"><span class="cw-rank">{site.site}</span><div>'
        f'<p class="cw-line"><b>{words(worth_in_words(site.favourability).capitalize())}</b>'
        f"<span>{site.favourability:.2f}</span></p>"
        f"{bar(site.favourability, 'worth', f'{site.favourability:.2f} of 1')}"
        f"<p>{words(title)}, {words(area_in_words(site.area_ha, units))}</p>"
        f'<p class="cw-small">{words(ground)}</p>'
        f'<p class="cw-small">{words(leave)}{" · " if leave else ""}{share_in_words(site.completeness)} known</p>'
        f"{care}</div></div>"
    )


def _parcels(parcels: tuple[str, ...]) -> str:
    if not parcels:
        return ""
    shown = ", ".join(parcels[:_PARCELS_SHOWN])
    return f"parcel {shown}" + (" and more" if len(parcels) > _PARCELS_SHOWN else "")


def _leave(permission: str) -> str:
    return f"leave: {permission}" if permission else ""


def sites_as_text(sites: tuple[Site, ...], titles: Mapping[str, str], units: str) -> str:
    """Return the ranked sites as a table, for reading aloud, printing or copying."""
    rows = [
        (
            site.site,
            titles.get(site.deposit, site.deposit),
            f"{site.favourability:.2f}",
            share_in_words(site.completeness),
            area_in_words(site.area_ha, units),
            f"{site.lat:.5f}, {site.lon:.5f}",
            site.rock,
            ", ".join(site.parcels),
            site.permission,
        )
        for site in sites
    ]
    header = (
        "site",
        "kind of ground",
        "worth a look",
        "known",
        "area",
        "lat, lon",
        "rock",
        "parcels",
        "leave",
    )
    return table(header, rows, "Ranked sites")


def layer_card(state: LayerState, *, noticed: bool = True) -> str:
    """Return what one layer is, where it came from, or what its absence costs.

    Parameters
    ----------
    state
        The layer.
    noticed
        Whether to tell what was noticed when it was read; that can hold names from the file.
    """
    if state.present:
        counts = counts_in_words(state.counts)
        items = "".join(f"<li>{words(note)}</li>" for note in state.notes) if noticed else ""
        notes = f"<details><summary>What was noticed</summary><ul>{items}</ul></details>" if items else ""
        return (
            f'<div class="cw-card"><h3><span aria-hidden="true">●</span> {words(state.title)}</h3>'
            f"<p>On the shelf: {words(state.source)}.</p>"
            f'<p class="cw-small">{words(counts)}</p>{notes}</div>'
        )
    where = "".join(f"<li>{words(place)}</li>" for place in state.where)
    offers = f"<details><summary>Where it can be had</summary><ul>{where}</ul></details>" if where else ""
    return (
        f'<div class="cw-card cw-absent"><h3><span aria-hidden="true">○</span> {words(state.title)}</h3>'
        f"<p>Not here. {words(state.costs)}</p>{offers}</div>"
    )


def reading_report(log: IssueLog) -> str:
    """Return what came of reading a file: the verdict, the counts and every problem."""
    mark = {"accepted": ("reed", "●"), "accepted with notes": ("glaze", "◐")}.get(log.verdict, ("iron", "■"))
    counts = counts_in_words(
        {"read": log.read, "kept": log.kept, "repaired": log.repaired, "refused": log.refused}
    )
    rows = [
        (_SEVERITY[issue.severity], issue.place, issue.field, issue.value, issue.expected, issue.action)
        for issue in log.issues[:200]
    ]
    shown = f"The first 200 of {len(log.issues)} remarks" if len(log.issues) > len(rows) else "Remarks"
    remarks = table(("", "where", "field", "found", "expected", "what was done"), rows, shown) if rows else ""
    return (
        f'<section class="cw-land cw-{mark[0]}"><h3><span aria-hidden="true">{mark[1]}</span> '
        f"{words(log.verdict.capitalize())}</h3><p>{words(log.file)}: {words(counts)}.</p></section>{remarks}"
    )


def map_key(colour_by: str, rocks: tuple[Key, ...], hatched: bool) -> str:
    """Return what the map's colours and strokes mean."""
    parts = []
    if colour_by == "worth":
        steps = ", ".join(f"{ramp().hex(k / 10)} {k * 10}%" for k in range(11))
        labels = "".join(f"<span>{words(key.label)}</span>" for key in reversed(favourability_key()))
        parts.append(
            f'<div class="cw-ramp" style="background:linear-gradient(90deg, {steps})" aria-hidden="true"></div>'
            f'<div class="cw-ramp-words">{labels}</div>'
        )
    elif colour_by == "rocks":
        parts.append('<div class="cw-keys">' + "".join(_swatch(key) for key in rocks) + "</div>")
    if hatched:
        lines = "".join(_hatch(key) for key in completeness_key())
        parts.append(f'<div class="cw-keys"><span>Of what matters:</span>{lines}</div>')
    return f'<div class="cw-key">{"".join(parts)}</div>' if parts else ""


def _swatch(key: Key) -> str:
    return (
        f'<span><i style="background:{key.colour}" aria-hidden="true"></i>{words(key.label)}'
        f'<span class="cw-small"> ({words(key.detail)})</span></span>'
    )


def _hatch(key: Key) -> str:
    return f'<span><i aria-hidden="true" class="cw-strokes-{words(key.detail)}"></i>{words(key.label)}</span>'

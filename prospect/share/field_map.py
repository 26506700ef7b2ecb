"""Writes the field map: one file that opens without a network, on a desk or on a phone in the field."""

from __future__ import annotations

import base64
import hashlib
import re
from functools import cache
from pathlib import Path

import geopandas as gpd
import xstatic.pkg.leaflet as leaflet

from prospect.cartography import clip_features
from prospect.cartography.legend import KNOWN, WORTH
from prospect.palette import Surfaces, colours
from prospect.share.atomic import write_whole
from prospect.share.audience import Audience, for_audience
from prospect.share.content import FieldMapContent
from prospect.share.panel import (
    capital,
    cautions_section,
    key_section,
    notes_section,
    reason_of,
    shown,
    site_title,
    sites_list,
    worth_line,
)
from prospect.share.pictures import completeness_picture, favourability_picture, relief_picture
from prospect.share.provenance import layer_sentence
from prospect.text import escape_html, escape_script, plain
from prospect.types import Bounds

MOST_BYTES = 2_900_000
"""Largest file that is still quick to send and to open on a phone (own judgement)."""
_SIZES = ((1200, 1000, 700), (900, 750, 520), (640, 560, 400), (420, 380, 300), (260, 240, 200))
_HEADLINE_CLASSES, _MODEL_CLASSES = 20, 10
_OUTLINE_ZOOM = 15.0
_SAMPLE_WORDS = {"yes": "worth having", "no": "not worth having", "unknown": "not judged yet"}


def write_field_map(path: Path, content: FieldMapContent, audience: Audience) -> tuple[str, ...]:
    """Write the ground as one HTML file and return a sentence for each thing that was left out.

    Parameters
    ----------
    path
        Target, ending in `.html`; replaced only when the new file is whole.
    content
        Everything; what the audience may not see is taken out here.
    audience
        Who it is for.

    Notes
    -----
    The file holds Leaflet (BSD-2-Clause, notice kept), its pictures and its data; its content security policy
    allows no other source, and no script but the two that were written into it. When the pictures would make
    it larger than `MOST_BYTES`, coarser ones are taken, and that is said.
    """
    allowed, left_out = for_audience(content, audience)
    page, notes = _page_within_size(allowed, audience, left_out)
    write_whole(path, page.encode("utf-8"))
    return (*left_out, *notes)


def field_map_html(
    content: FieldMapContent, audience: Audience, left_out: tuple[str, ...], sizes: tuple[int, int, int]
) -> str:
    """Return the page for content that was already cut to its audience.

    Parameters
    ----------
    sizes
        Longest side of the headline, relief and single-model pictures, pixels.
    """
    style = _theme() + _leaflet_css() + _own_file("field_map.css")
    scripts = (_leaflet_js(), _own_file("field_map.js"))
    policy = (
        "default-src 'none'; img-src data: blob:; base-uri 'none'; form-action 'none'; "
        f"script-src {' '.join(_hash(script) for script in scripts)}; style-src {_hash(style)}"
    )
    library, behaviour = scripts
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="referrer" content="no-referrer">'
        f"<title>{shown(content.name, 80)}: where is it worth a look?</title>"
        f"<style>{style}</style></head><body>"
        f"{_body(content, audience, left_out)}"
        f'<script type="application/json" id="ground">{_data(content, audience, sizes)}</script>'
        f"<script>{library}</script><script>{behaviour}</script></body></html>\n"
    )


def _page_within_size(
    content: FieldMapContent, audience: Audience, left_out: tuple[str, ...]
) -> tuple[str, tuple[str, ...]]:
    page = ""
    for step, sizes in enumerate(_SIZES):
        page = field_map_html(content, audience, left_out, sizes)
        if len(page.encode("utf-8")) <= MOST_BYTES:
            note = "Finer detail of the pictures, to keep the file small." if step > 0 else ""
            return page, (note,) if note else ()
    return page, ("Finer detail of the pictures; the file is large all the same.",)


def _body(content: FieldMapContent, audience: Audience, left_out: tuple[str, ...]) -> str:
    made = " · ".join(
        part
        for part in (shown(content.name, 80), shown(content.made_on, 40), shown(audience.title(), 80))
        if part
    )
    count = len(content.sites)
    return (
        f'<header class="top"><p class="made">{made}</p><h1>Where is it worth a look?</h1>'
        '<button type="button" class="plain" id="theme" aria-label="Light or dark" title="Light or dark">◐</button>'
        "</header>"
        f'<main><section class="sheet-part" aria-label="Map">{_choices(content)}'
        '<div id="map" aria-label="Map of the ground; the list beside it says the same in words"></div>'
        "<noscript><p>The map needs scripts; the list and the reasons do not.</p></noscript></section>"
        '<div class="side"><h2>Sites, the best first</h2>'
        f'<p class="lead">{count} place{"" if count == 1 else "s"} to walk to and auger, with leave.</p>'
        f"{sites_list(content, audience.sees_places)}"
        f"<h2>What the map shows</h2>{key_section(content)}"
        f"<h2>Before you go, before you dig</h2>{cautions_section(content)}"
        f"<h2>What is not known</h2>{notes_section(content.missing, 'Every layer the score asks for was there.')}"
        f"<h2>Left out of this copy</h2>{notes_section(left_out, 'Nothing. Keep it to yourself: it names people.')}"
        f"<h2>Where it comes from</h2>{notes_section(_sources(content), '')}</div></main>"
        f'<template id="north">{_NORTH}</template>'
    )


def _choices(content: FieldMapContent) -> str:
    options = ['<option value="">any kind of clay</option>']
    options += [
        f'<option value="{escape_html(key)}">{shown(capital(content.titles.get(key, key)), 120)}</option>'
        for key in content.favourability
    ]
    boxes = [("relief", "Relief", content.hillshade is not None, True, "")]
    boxes.append(("known", "How much we know", content.completeness is not None, True, ""))
    boxes.append(("sites", "Sites", True, True, "show-sites"))
    boxes.append(("parcels", "Parcel lines", content.parcels is not None, True, ""))
    boxes.append(("samples", "Samples", bool(content.samples), True, ""))
    labels = [
        f'<label><input type="checkbox" data-layer="{layer}"{f" id={box_id}" if box_id else ""}'
        f"{' checked' if checked else ''}>{label}</label>"
        for layer, label, there, checked, box_id in boxes
        if there
    ]
    return (
        '<div class="choices"><label class="for">Ground for '
        f'<select id="looking-for">{"".join(options)}</select></label>{"".join(labels)}'
        '<button type="button" class="plain" id="here" hidden>Where am I?</button>'
        '<span id="here-says" role="status"></span></div>'
    )


def _data(content: FieldMapContent, audience: Audience, sizes: tuple[int, int, int]) -> str:
    """Return everything the script needs as JSON that is inert in the page."""
    headline_px, relief_px, model_px = sizes
    headline = {
        "key": "",
        "title": "any kind of clay",
        "picture": favourability_picture(content.best, _HEADLINE_CLASSES, headline_px).as_data(),
    }
    models = [
        {
            "key": key,
            "title": plain(capital(content.titles.get(key, key)), 120),
            "picture": favourability_picture(raster, _MODEL_CLASSES, model_px).as_data(),
        }
        for key, raster in content.favourability.items()
    ]
    known, shade = content.completeness, content.hillshade
    box = content.grid.lonlat_bounds()
    members = {
        "corners": escape_script([box.south, box.west, box.north, box.east]),
        "units": escape_script(content.units),
        "exact": escape_script(audience.sees_places),
        "iron": escape_script(colours().light.iron),
        "glaze": escape_script(colours().light.glaze),
        "worth": escape_script([list(step) for step in WORTH]),
        "known": escape_script([capital(words) for words in _known_words()]),
        "pictures": escape_script(
            {
                "favourability": [headline, *models],
                "relief": None if shade is None else relief_picture(shade, relief_px).as_data(),
                "completeness": None if known is None else completeness_picture(known, model_px).as_data(),
            }
        ),
        "sites": escape_script([_site_data(content, rank) for rank in range(len(content.sites))]),
        "outlines": _features(content.outlines, box, ["site"]),
        "parcels": _parcels(content, audience, box),
        "samples": escape_script(_samples(content)),
    }
    return "{" + ", ".join(f'"{name}": {member}' for name, member in members.items()) + "}"


def _known_words() -> list[str]:
    """Return what to say for each number of strokes, from none to three."""
    words = [sentence for floor, sentence in KNOWN if floor < 0.9]
    return ["three quarters or more of what matters is known", *words[1:]]


def _site_data(content: FieldMapContent, place: int) -> dict[str, object]:
    site = content.sites[place]
    return {
        "site": site.site,
        "lon": site.lon,
        "lat": site.lat,
        "title": plain(site_title(content, site), 120),
        "worth": worth_line(site),
        "reason": plain(reason_of(content.readings.get(site.site)), 400),
    }


def _features(frame: gpd.GeoDataFrame, box: Bounds, columns: list[str]) -> str:
    if frame.empty:
        return '{"type": "FeatureCollection", "features": []}'
    return clip_features(frame.to_crs("EPSG:4326"), box, _OUTLINE_ZOOM, columns=columns)


def _parcels(content: FieldMapContent, audience: Audience, box: Bounds) -> str:
    if content.parcels is None:
        return "null"
    wanted = ["parcel_id", "owner"] if audience.sees_names else ["parcel_id"]
    columns = [name for name in wanted if name in content.parcels.columns]
    return _features(content.parcels, box, columns)


def _samples(content: FieldMapContent) -> list[dict[str, object]]:
    listed = []
    for sample in content.samples:
        lines = [f"{capital(_SAMPLE_WORDS[sample.usable])}."]
        if sample.top_cm is not None and sample.bottom_cm is not None:
            lines.append(f"{sample.top_cm:.0f} to {sample.bottom_cm:.0f} cm deep")
        lines += [plain(text, 300) for text in (sample.date, sample.note) if text]
        listed.append(
            {
                "name": plain(sample.sample_id, 60),
                "lon": sample.lon,
                "lat": sample.lat,
                "usable": sample.usable,
                "lines": lines,
            }
        )
    return listed


def _sources(content: FieldMapContent) -> tuple[str, ...]:
    date = f" on {content.made_on}" if content.made_on else ""
    return (
        *(layer_sentence(source) for source in content.layers),
        *content.attributions,
        "Colours of the favourability: lajolla, Scientific colour maps by F. Crameri (MIT licence).",
        f"Drawn{date} with Claywalk and Leaflet {leaflet.VERSION} (BSD 2-clause licence).",
    )


@cache
def _own_file(name: str) -> str:
    return Path(__file__).with_name(name).read_text(encoding="utf-8")


@cache
def _leaflet_js() -> str:
    text = (Path(leaflet.BASE_DIR) / "leaflet.js").read_text(encoding="utf-8")
    text = re.sub(r"^//# sourceMappingURL=.*$", "", text, flags=re.MULTILINE)
    return re.sub(r"</(script)", r"<\\/\1", text, flags=re.IGNORECASE)


@cache
def _leaflet_css() -> str:
    """Return Leaflet's style without its pictures, none of which this page uses."""
    text = (Path(leaflet.BASE_DIR) / "leaflet.css").read_text(encoding="utf-8")
    return re.sub(r"url\([^)]*\)", "none", text)


@cache
def _theme() -> str:
    light, dark = _variables(colours().light), _variables(colours().dark)
    fixed = "--iron-solid:#9A3F1D;--sheet-ink:#2B3336;"
    night = "--sheet:#D6D0C4;color-scheme:dark"
    dim = "filter:brightness(.86);"
    return (
        f":root{{{light}{fixed}--sheet:#FBF8F1;color-scheme:light}}"
        f"@media (prefers-color-scheme:dark){{:root:not([data-theme=light]){{{dark}{night}}}"
        f":root:not([data-theme=light]) .leaflet-map-pane>:not(.leaflet-popup-pane){{{dim}}}}}"
        f":root[data-theme=dark]{{{dark}{night}}}"
        f":root[data-theme=dark] .leaflet-map-pane>:not(.leaflet-popup-pane){{{dim}}}"
    )


def _variables(surfaces: Surfaces) -> str:
    names = ("paper", "shelf", "line", "slate", "faded", "iron", "reed", "glaze")
    return "".join(f"--{name}:{getattr(surfaces, name)};" for name in names)


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode('utf-8')).digest()).decode('ascii')}'"


_NORTH = (
    '<div class="north" role="img" aria-label="North is up"><svg width="22" height="34" viewBox="0 0 22 34">'
    '<path d="M11 1 L18 19 L11 15 L4 19 Z" fill="currentColor"/>'
    '<path d="M6.5 33 V22 L15.5 33 V22" fill="none" stroke="currentColor" stroke-width="2"/></svg></div>'
)

"""Holes as rows of a list and as a page of one hole, with its layers in words and as a picture."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from prospect.cartography import place_in_words
from prospect.charts import munsell_to_srgb
from prospect.pipeline.log_photos import PHOTOS
from prospect.records import Hole, HoleLayer, Sample
from prospect.ui.hole_choice import ALL_LAYERS, Difference
from prospect.ui.hole_reading import (
    FACE,
    LAYER_FIELDS,
    content_of_layer,
    facing_in_words,
    layer_in_words,
    of_layer,
    spans_in_words,
)
from prospect.ui.hole_side_by_side import section_of
from prospect.ui.hole_words import answer_in_words, title_of
from prospect.ui.reading import words
from prospect.ui.sample_reading import USABLE, depth_as_number, depth_unit, depths_in_words

_MARKS = {"yes": "cw-reed", "no": "cw-iron", "unknown": ""}
_WORTH = {"yes": "● clay worth having", "no": "■ no clay worth having", "unknown": "○ not judged"}
_FOR_THE_HAND = ("coil", "grit", "fizz", "roots", "stickiness")


def hole_head() -> str:
    """Return the words above the columns of the list; a narrow screen shows none."""
    cells = "".join(
        f"<span>{word}</span>" for word in ("hole", "day", "how deep", "kind", "worth having", "layers")
    )
    return f'<div class="cw-row cw-row-head" aria-hidden="true">{cells}</div>'


def hole_row(hole: Hole, units: str, bags: int) -> str:
    """Return one hole in a line, or as a card on a narrow screen."""
    worth = worth_of(hole)
    cells = (
        f"<b>{words(hole.hole_id)}</b>",
        words(hole.date or "day not known"),
        words(depth_of(hole, units) or "depth not known"),
        words(answer_in_words("kind", hole.kind) if hole.kind else ""),
        f'<i class="{_MARKS[worth]}">{words(USABLE[worth])}</i>',
        words(_in_short(hole, bags)),
    )
    return '<div class="cw-row">' + "".join(f"<span>{cell}</span>" for cell in cells) + "</div>"


def worth_of(hole: Hole) -> str:
    """Return whether any layer is clay worth having; `no` only where every layer was judged."""
    said = {layer.usable for layer in hole.layers}
    return "yes" if "yes" in said else "no" if said == {"no"} else "unknown"


def depth_of(hole: Hole, units: str) -> str:
    """Return how deep a hole went; from its layers alone it is at least so much. Empty when neither is known."""
    unit = depth_unit(units)
    if hole.depth_cm is not None:
        return f"{depth_as_number(hole.depth_cm, unit)} {unit}"
    deepest = deepest_of(hole)
    return "" if deepest is None else f"at least {depth_as_number(deepest, unit)} {unit}"


def deepest_of(hole: Hole) -> float | None:
    """Return the lowest depth that was noted, cm; None when none was."""
    ends = [end for layer in hole.layers for end in (layer.top_cm, layer.bottom_cm) if end is not None]
    return max([*ends, *([] if hole.depth_cm is None else [hole.depth_cm])], default=None)


def hole_page(hole: Hole, units: str, samples: Sequence[Sample] = ()) -> str:
    """Return everything on record about one hole, and its layers to scale; in words they follow as rows."""
    unit = depth_unit(units)
    water = (
        f"at {depth_as_number(hole.water_cm, unit)} {unit}"
        if hole.water_cm is not None
        else "none met"
        if hole.dry == "yes"
        else ""
    )
    facts = (
        (title_of("kind"), answer_in_words("kind", hole.kind)),
        ("Looks to", "" if hole.facing_deg is None else facing_in_words(hole.facing_deg)),
        ("Day", hole.date or "not known"),
        ("How far down the face" if hole.kind == FACE else "How deep it went", depth_of(hole, units)),
        (title_of("stopped"), answer_in_words("stopped", hole.stopped_by)),
        ("Water", water),
        ("Place", _place(hole)),
        *((name, text) for name, text in hole.fields.items() if name != PHOTOS),
        ("Note", hole.note),
    )
    rows = "".join(
        f"<div><dt>{words(label)}</dt><dd>{words(text)}</dd></div>" for label, text in facts if text
    )
    return (
        f'<article class="cw-page cw-hole"><header><h1>{words(hole.hole_id)}</h1></header>'
        f'<dl class="cw-facts">{rows}</dl>{section_of([hole], samples, units) if _is_drawn(hole) else ""}</article>'
    )


def _is_drawn(hole: Hole) -> bool:
    """Whether any layer says from where to where."""
    return any(layer.top_cm is not None and layer.bottom_cm is not None for layer in hole.layers)


def colour_shown(notation: str) -> str:
    """Return a small field of a colour; empty where the words do not read as Munsell."""
    colour = munsell_to_srgb(notation)
    return f'<i class="cw-swatch" style="background:{colour}" aria-hidden="true"></i>' if colour else ""


def layer_row(layer: HoleLayer, number: int, units: str) -> str:
    """Return one layer in readable words: how deep, what it is, what the hand said, and whether it is worth having."""
    texts = content_of_layer(layer, units)
    unit = depth_unit(units)
    hand = [
        f"{title_of(name).lower()}: {answer_in_words(name, texts[name])}"
        for name in _FOR_THE_HAND
        if name in texts
    ]
    if layer.ribbon_cm is not None:
        hand.append(f"ribbon {texts['ribbon']} {unit}")
    if layer.stones_pct is not None:
        hand.append(f"stones {layer.stones_pct:g} %")
    rest = [f"{title_of(name).lower()}: {texts[name]}" for name in ("mottles", "smell") if name in texts]
    told = " · ".join([*hand, *rest, *(f"{name}: {text}" for name, text in layer.fields.items())])
    depth = spans_in_words(layer.top_cm, layer.bottom_cm, units) or f"layer {number}"
    name = layer_in_words(layer)
    return (
        f'<section class="cw-layer"><p class="cw-layer-depth">{words(depth)}</p>'
        f"<div><h3>{words(name)} {colour_shown(layer.moist_colour)}{colour_shown(layer.dry_colour)}</h3>"
        + (f'<p class="cw-note">{words(told)}</p>' if told else "")
        + (f"<p>{words(layer.note)}</p>" if layer.note and layer.note not in name else "")
        + f'<p class="cw-worth"><i class="{_MARKS[layer.usable]}">{words(_WORTH[layer.usable])}</i></p></div></section>'
    )


def noted_layers(layers: Sequence[tuple[int, Mapping[str, str]]], unit: str) -> str:
    """Return the layers typed so far as a few short lines.

    Parameters
    ----------
    layers
        Number and fields of each, from the top down.
    unit
        Of depths without a unit of their own.
    """
    lines = []
    for _, texts in layers:
        top, bottom = texts.get("top", ""), texts.get("bottom", "")
        depth = (
            f"{top}–{bottom} {unit}"
            if top and bottom
            else f"from {top} {unit}"
            if top
            else f"to {bottom} {unit}"
            if bottom
            else "depth not noted"
        )
        told = ", ".join(texts[name] for name in ("texture", "moist colour", "dry colour") if name in texts)
        worth = {"yes": " ●", "no": " ■"}.get(texts.get("usable", ""), "")
        lines.append(f"<li><b>{words(depth)}</b> {words(told)}{worth}</li>")
    return f'<ol class="cw-so-far" aria-label="Layers above">{"".join(lines)}</ol>'


def bag_row(sample: Sample, units: str) -> str:
    """Return one sample of a hole in a line."""
    return (
        f'<div class="cw-row cw-bags"><span><b>{words(sample.sample_id)}</b></span>'
        f"<span>{words(depths_in_words(sample, units) or 'depth not known')}</span>"
        f'<span><i class="{_MARKS[sample.usable]}">{words(USABLE[sample.usable])}</i></span>'
        f"<span>{words(sample.note)}</span></div>"
    )


def difference_card(one: Difference, unit: str) -> str:
    """Return both sides of a difference, one beside the other."""
    title = (
        one.name.capitalize()
        if one.name.startswith("layer ") or one.name == ALL_LAYERS
        else title_of(one.name)
    )
    return (
        f'<div class="cw-both"><h3>{words(title)}</h3><dl>'
        f"<div><dt>on record now</dt><dd>{_side(one, one.theirs, unit)}</dd></div>"
        f"<div><dt>yours</dt><dd>{_side(one, one.mine, unit)}</dd></div></dl></div>"
    )


def _side(one: Difference, texts: Mapping[str, str], unit: str) -> str:
    if not any(texts.values()):
        return "taken out" if one.name.startswith("layer ") else "–"
    if one.name == ALL_LAYERS:
        marks = dict.fromkeys(name.split(" ")[0] for name in texts)
        return "<br>".join(
            _layer_told({n: texts[of_layer(m, n)] for n in LAYER_FIELDS if of_layer(m, n) in texts}, unit)
            for m in marks
        )
    if one.name.startswith("layer "):
        return _layer_told(texts, unit)
    return words(answer_in_words(one.name, texts[one.name]))


def _layer_told(texts: Mapping[str, str], unit: str) -> str:
    depth = f"{texts.get('top', '?')} to {texts.get('bottom', '?')} {unit}"
    told = [
        f"{title_of(name).lower()}: {answer_in_words(name, text)}"
        for name, text in texts.items()
        if name not in ("top", "bottom")
    ]
    return f"<b>{words(depth)}</b> {words('; '.join(told))}"


def _in_short(hole: Hole, bags: int) -> str:
    count = len(hole.layers)
    told = [f"{count} layer{'' if count == 1 else 's'}" if count else "no layers noted"]
    if bags:
        told.append(f"{bags} sample{'' if bags == 1 else 's'}")
    return " · ".join(told)


def _place(hole: Hole) -> str:
    where = place_in_words(hole.lon, hole.lat)
    return where if hole.position_error_m is None else f"{where}, give or take {hole.position_error_m:g} m"

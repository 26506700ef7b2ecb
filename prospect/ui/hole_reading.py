"""What the fields of a hole's form say: a hole with its layers, or what is wrong with which field, in words."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

from prospect.records import Hole, HoleLayer, Sample, Usable
from prospect.sources.numbers import read_number
from prospect.sources.sample_rows import DEEPEST_CM, read_usable
from prospect.text import plain
from prospect.ui.sample_reading import (
    FARTHEST_OFF_M,
    LONGEST_LABEL,
    day_said,
    depth_as_number,
    depth_unit,
    length_said,
    next_name,
    place_as_numbers,
    place_said,
)

ORDER = "layers"
"""Field that holds the marks of the layers, from the top down, with a space between; a mark is never used again."""
PLACE = "at"
"""Field of a layer that holds which one of the hole on record it is, from 1; a new layer has none."""
BAG = "bag"
"""Field of a layer that says that a bag of it goes home, and is to be noted as a sample when the layer is saved."""
HOLE_FIELDS = (
    "name", "kind", "place", "error", "day", "facing", "stopped", "depth", "water", "dry", "note",
)  # fmt: skip
LAYER_FIELDS = (
    "top", "bottom", "coil", "grit", "fizz", "fizz with", "roots", "texture", "ribbon", "moist colour", "dry colour",
    "stickiness", "stones", "mottles", "smell", "usable", "note",
)  # fmt: skip
"""Fields of one layer in the order of the work at the hole; in a draft the layer's mark stands before each."""
WORDED = {
    "coil": "coil",
    "grit": "grit",
    "fizz": "fizz",
    "fizz with": "fizz_with",
    "roots": "roots",
    "texture": "texture",
    "moist colour": "moist_colour",
    "dry colour": "dry_colour",
    "stickiness": "stickiness",
    "mottles": "mottles",
    "smell": "smell",
}
"""Fields of a layer that hold words, and what they are called in the records."""
FACE = "face"
_DEPTHS = ("top", "bottom")
_LONGEST_RIBBON_CM = 60.0
_MARK = re.compile(r"[1-9]\d{0,3}")
_POINTS = ("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW")
_LETTERS = {"north": "N", "south": "S", "east": "E", "west": "W"}


@dataclass(frozen=True, slots=True)
class HoleReading:
    """What a form says.

    Attributes
    ----------
    hole
        The hole; None while something is wrong or missing.
    wrong
        Field → what is wrong with what stands in it.
    missing
        Field → why it cannot be left empty.
    doubts
        What may be meant otherwise, and can be saved as it is.
    order
        The marks of its layers in the order in which the hole has them.
    """

    hole: Hole | None
    wrong: dict[str, str] = field(default_factory=dict)
    missing: dict[str, str] = field(default_factory=dict)
    doubts: tuple[str, ...] = ()
    order: tuple[str, ...] = ()


def marks(content: Mapping[str, str]) -> list[str]:
    """Return the marks of a draft's layers, from the top down."""
    return [mark for mark in content.get(ORDER, "").split() if _MARK.fullmatch(mark)]


def of_layer(mark: str, name: str) -> str:
    """Return what a field of a layer is called in a draft."""
    return f"{mark} {name}"


def layer_of(content: Mapping[str, str], mark: str) -> dict[str, str]:
    """Return the fields of one layer by their own names; those that are empty are left out."""
    named = {name: content.get(of_layer(mark, name), "") for name in LAYER_FIELDS}
    return {name: text for name, text in named.items() if text}


def says_something(content: Mapping[str, str], mark: str) -> bool:
    """Whether anything of a layer was noted besides where it begins, which is put there for the asker."""
    return bool(content.get(of_layer(mark, BAG))) or any(name != "top" for name in layer_of(content, mark))


def bagged(content: Mapping[str, str]) -> list[str]:
    """Return the marks of the layers of which a bag is to be noted as a sample."""
    return [mark for mark in marks(content) if content.get(of_layer(mark, BAG)) == "yes"]


def with_layer_below(content: Mapping[str, str]) -> tuple[dict[str, str], str]:
    """Return what changes when a layer is begun below the others, and its mark; an empty last one is used again."""
    order = marks(content)
    if order and not says_something(content, order[-1]):
        return {}, order[-1]
    used = [int(name.split(" ")[0]) for name in content if _MARK.fullmatch(name.split(" ")[0])]
    mark = str(max([*used, *map(int, order), 0]) + 1)
    changes = {ORDER: " ".join([*order, mark])}
    if not order:
        changes[of_layer(mark, "top")] = "0"
    elif below := content.get(of_layer(order[-1], "bottom"), ""):
        changes[of_layer(mark, "top")] = below
    return changes, mark


def as_the_one_above(content: Mapping[str, str], mark: str) -> dict[str, str]:
    """Return what the layer above says for the fields of a layer that are empty: all but depths and remarks."""
    order = marks(content)
    place = order.index(mark) if mark in order else 0
    if place == 0:
        return {}
    above, here = layer_of(content, order[place - 1]), layer_of(content, mark)
    kept = {name for name in above if name not in (*_DEPTHS, "note") and name not in here}
    return {of_layer(mark, name): above[name] for name in kept}


def deeper(content: Mapping[str, str], mark: str, by: float) -> dict[str, str]:
    """Return the lower end of a layer moved down by so much, from its upper end while it has none."""
    for name in reversed(_DEPTHS):
        text = content.get(of_layer(mark, name), "")
        if text:
            depth = read_number(text)
            return {} if depth is None else {of_layer(mark, "bottom"): f"{depth + by:g}"}
    return {of_layer(mark, "bottom"): f"{by:g}"}


def content_of(hole: Hole, units: str) -> dict[str, str]:
    """Return a hole as the text of the form's fields; fields that are empty are left out."""
    unit = depth_unit(units)
    content = {
        "name": hole.hole_id,
        "kind": hole.kind,
        "place": place_as_numbers(hole.lon, hole.lat),
        "error": _number(hole.position_error_m),
        "day": hole.date,
        "facing": _number(hole.facing_deg),
        "stopped": hole.stopped_by,
        "depth": _depth(hole.depth_cm, unit),
        "water": _depth(hole.water_cm, unit),
        "dry": "" if hole.dry == "unknown" else hole.dry,
        "note": hole.note,
        ORDER: " ".join(str(number) for number in range(1, len(hole.layers) + 1)),
    }
    for number, layer in enumerate(hole.layers, 1):
        texts = content_of_layer(layer, units) | {PLACE: str(number)}
        content |= {of_layer(str(number), name): text for name, text in texts.items()}
    return {name: text for name, text in content.items() if text}


def content_of_layer(layer: HoleLayer, units: str) -> dict[str, str]:
    """Return a layer as the text of its fields; those that are empty are left out."""
    unit = depth_unit(units)
    content = {
        "top": _depth(layer.top_cm, unit),
        "bottom": _depth(layer.bottom_cm, unit),
        **{name: str(getattr(layer, column)) for name, column in WORDED.items()},
        "ribbon": _depth(layer.ribbon_cm, unit),
        "stones": _number(layer.stones_pct),
        "usable": "" if layer.usable == "unknown" else layer.usable,
        "note": layer.note,
    }
    return {name: text for name, text in content.items() if text}


def read_hole(content: Mapping[str, str], units: str, today: str, onto: Hole | None = None) -> HoleReading:
    """Return the hole that the form's fields say.

    Parameters
    ----------
    content
        Text by field; fields that are empty are left out.
    units
        `metric` or `us`: the unit of a depth that does not name its own.
    today
        ISO date; nobody has dug later.
    onto
        The hole that is being changed: what was not touched stays as it is there, to its last decimal and letter.
    """
    wrong: dict[str, str] = {}
    was = content_of(onto, units) if onto else {}
    changes = _hole_said(content, units, today, wrong)
    told = [
        (mark, _layer_said(content, mark, units, wrong, layer_before(content, mark, onto)))
        for mark in marks(content)
        if says_something(content, mark)
    ]
    order, layers = _from_the_top(told)
    name = plain(content.get("name", ""), 80)
    missing = {}
    if not (name or onto):
        missing["name"] = "A hole needs a name: a short one that its samples can bear."
    if "place" not in content:
        missing["place"] = "A hole needs its place. Until you have it, it stays here as a draft."
    untouched = {field for field in HOLE_FIELDS if onto and content.get(field) == was.get(field)}
    wrong = {field: said for field, said in wrong.items() if field not in untouched}
    deepest = max((layer.bottom_cm for layer in layers if layer.bottom_cm is not None), default=None)
    depth = changes["depth"].get("depth_cm")
    if depth is not None and deepest is not None and depth < deepest and "depth" not in wrong:
        unit = depth_unit(units)
        wrong["depth"] = (
            f"The layers go down to {depth_as_number(deepest, unit)} {unit}. Expected a depth that is no smaller."
        )
    if wrong or missing:
        return HoleReading(None, wrong, missing, _doubts(layers, units), order)
    touched = {field for field in HOLE_FIELDS if not onto or content.get(field, "") != was.get(field, "")}
    said = {key: value for field in touched for key, value in changes.get(field, {}).items()}
    base = onto or Hole(name, 0.0, 0.0)
    return HoleReading(replace(base, **said, layers=layers), doubts=_doubts(layers, units), order=order)


def layer_before(content: Mapping[str, str], mark: str, onto: Hole | None) -> HoleLayer | None:
    """Return the layer on record that a layer of the form is; None for a new one."""
    place = content.get(of_layer(mark, PLACE), "")
    if onto is None or not place.isdecimal() or not 1 <= int(place) <= len(onto.layers):
        return None
    return onto.layers[int(place) - 1]


def next_hole_name(taken: Collection[str], newest_first: Sequence[str]) -> str:
    """Return a short name that is free: the one after the newest hole's, or else H1."""
    return next_name(taken, [*newest_first, "H0"])


def bag_name(hole_id: str, taken: Collection[str], newest_first: Sequence[str]) -> str:
    """Return a short free name for the next sample of a hole, `H3-2`; a long name of a hole gives way."""
    stem = f"{plain(hole_id, 80)}-"
    if stem == "-" or len(stem) >= LONGEST_LABEL or not stem.isprintable():
        return next_name(taken, newest_first)
    return next_name(taken, [f"{stem}0"])


def sample_of(hole: Hole, layer: HoleLayer | None, name: str, day: str = "") -> Sample:
    """Return a bag of a layer as a sample: its place, its depths and its day are those of the hole."""
    return Sample(
        name,
        hole.lon,
        hole.lat,
        hole_id=hole.hole_id,
        position_error_m=hole.position_error_m,
        top_cm=layer.top_cm if layer else None,
        bottom_cm=layer.bottom_cm if layer else None,
        date=day or hole.date,
        usable=layer.usable if layer else "unknown",
    )


def samples_from(samples: Sequence[Sample], hole_id: str) -> list[Sample]:
    """Return the samples taken from a hole, the uppermost first, those of no known depth last."""
    found = [sample for sample in samples if hole_id and sample.hole_id == hole_id]
    return sorted(found, key=lambda sample: (sample.top_cm is None, sample.top_cm or 0.0, sample.sample_id))


def spans_in_words(top_cm: float | None, bottom_cm: float | None, units: str) -> str:
    """Return a range of depths; empty when neither end is known."""
    unit = depth_unit(units)
    top, bottom = _depth(top_cm, unit), _depth(bottom_cm, unit)
    if top and bottom:
        return f"{top} to {bottom} {unit}"
    if bottom:
        return f"down to {bottom} {unit}"
    return f"from {top} {unit} on" if top else ""


def layer_in_words(layer: HoleLayer) -> str:
    """Return what a layer is in a few words: texture and colour, or whatever else is known of it."""
    colour = layer.moist_colour or layer.dry_colour
    told = [text for text in (layer.texture, colour) if text]
    if not told:
        told = [
            layer.coil and f"coil {layer.coil}",
            layer.grit and f"{layer.grit} grit",
            layer.smell,
            layer.note,
        ]
    return ", ".join(text for text in told if text) or "nothing noted"


def facing_in_words(degrees: float) -> str:
    """Return a compass bearing as the nearest of sixteen points with its degrees."""
    return f"{_POINTS[round(degrees / 22.5) % 16]} ({degrees:g}°)"


def _hole_said(
    content: Mapping[str, str], units: str, today: str, wrong: dict[str, str]
) -> dict[str, dict[str, Any]]:
    unit = depth_unit(units)
    place = place_said(content.get("place", ""), wrong)
    error_m = length_said(content.get("error", ""), "m", "m", FARTHEST_OFF_M, "error", "5 or 5 m", wrong)
    depth, water = (
        length_said(content.get(name, ""), "cm", unit, DEEPEST_CM, name, f"120 or 120 {unit}", wrong)
        for name in ("depth", "water")
    )
    dry = _usable(content.get("dry", ""))
    if water is not None and dry == "yes":
        wrong["water"] = "Water at a depth, and no water met, cannot both be. Take one of them out."
    return {
        "kind": {"kind": plain(content.get("kind", ""), 80)},
        "place": {"lon": place[0], "lat": place[1]} if place else {},
        "error": {"position_error_m": error_m},
        "day": {"date": day_said(content.get("day", ""), today, wrong)},
        "facing": {"facing_deg": _facing(content.get("facing", ""), wrong)},
        "stopped": {"stopped_by": plain(content.get("stopped", ""), 80)},
        "depth": {"depth_cm": depth},
        "water": {"water_cm": water},
        "dry": {"dry": dry},
        "note": {"note": plain(content.get("note", ""), 4000, lines=True)},
    }


def _layer_said(
    content: Mapping[str, str],
    mark: str,
    units: str,
    wrong: dict[str, str],
    before: HoleLayer | None,
) -> HoleLayer:
    unit = depth_unit(units)
    here: dict[str, str] = {}
    texts = layer_of(content, mark)
    top, bottom = (
        length_said(texts.get(name, ""), "cm", unit, DEEPEST_CM, name, f"30 or 30 {unit}", here)
        for name in _DEPTHS
    )
    if top is not None and bottom is not None and top >= bottom:
        here["bottom"] = "The lower end does not lie below the upper one. Expected a larger depth."
    expected = f"{2 if unit == 'in' else 5} or {2 if unit == 'in' else 5} {unit}"
    ribbon = length_said(texts.get("ribbon", ""), "cm", unit, _LONGEST_RIBBON_CM, "ribbon", expected, here)
    stones = _share(texts.get("stones", ""), here)
    said: dict[str, dict[str, Any]] = {
        "top": {"top_cm": top},
        "bottom": {"bottom_cm": bottom},
        "ribbon": {"ribbon_cm": ribbon},
        "stones": {"stones_pct": stones},
        "usable": {"usable": _usable(texts.get("usable", ""))},
        "note": {"note": plain(texts.get("note", ""), 4000, lines=True)},
        **{name: {column: plain(texts.get(name, ""), 300)} for name, column in WORDED.items()},
    }
    was = content_of_layer(before, units) if before else {}
    touched = {name for name in LAYER_FIELDS if before is None or texts.get(name, "") != was.get(name, "")}
    wrong |= {of_layer(mark, name): fault for name, fault in here.items() if name in touched}
    changes = {key: value for name in touched for key, value in said[name].items()}
    return replace(before or HoleLayer(), **changes)


def _from_the_top(
    told: Sequence[tuple[str, HoleLayer]],
) -> tuple[tuple[str, ...], tuple[HoleLayer, ...]]:
    """Return layers from the top down where every one of them says where it begins, else as they were noted."""
    if all(layer.top_cm is not None for _, layer in told):
        told = sorted(told, key=lambda one: one[1].top_cm or 0.0)
    return tuple(mark for mark, _ in told), tuple(layer for _, layer in told)


def _doubts(layers: Sequence[HoleLayer], units: str) -> tuple[str, ...]:
    """Say where layers overlap or leave a gap: either can be so, and either can be a slip."""
    unit = depth_unit(units)
    doubts = []
    for upper, lower in pairwise(layers):
        end, begin = upper.bottom_cm, lower.top_cm
        if end is None or begin is None or end == begin:
            continue
        ends, begins = depth_as_number(end, unit), depth_as_number(begin, unit)
        if begin < end:
            doubts.append(
                f"A layer ends at {ends} {unit} and the next begins at {begins} {unit}: they overlap."
            )
        else:
            doubts.append(f"From {ends} to {begins} {unit} nothing is noted.")
    return tuple(doubts)


def _usable(text: str) -> Usable:
    return read_usable(text) or "unknown"


def _share(text: str, wrong: dict[str, str]) -> float | None:
    if not text.strip():
        return None
    value = read_number(text.strip().rstrip("% "))
    if value is None or not 0 <= value <= 100:
        wrong["stones"] = f"'{plain(text, 40)}' is not a share. Expected a number from 0 to 100."
        return None
    return value


def _facing(text: str, wrong: dict[str, str]) -> float | None:
    """Read a bearing in degrees, or one of sixteen points in letters or words."""
    bare = text.strip().rstrip("°")
    if not bare:
        return None
    points = bare.lower()
    for word, letter in _LETTERS.items():
        points = points.replace(word, letter.lower())
    points = re.sub(r"[\s-]", "", points).upper()
    if points in _POINTS:
        return _POINTS.index(points) * 22.5
    value = read_number(bare)
    if value is None or not 0 <= value <= 360:
        wrong["facing"] = (
            f"'{plain(text, 40)}' is no direction. Expected degrees from north such as 225, or SW."
        )
        return None
    return value


def _depth(depth_cm: float | None, unit: str) -> str:
    return "" if depth_cm is None else depth_as_number(depth_cm, unit)


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:g}"

"""What two people changed of one hole at the same time, laid side by side, and put together as somebody chose."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from prospect.records import Hole
from prospect.ui.entry import WAS
from prospect.ui.hole_reading import (
    HOLE_FIELDS,
    LAYER_FIELDS,
    ORDER,
    PLACE,
    content_of,
    layer_of,
    marks,
    of_layer,
    says_something,
)

MINE, THEIRS = "mine", "theirs"
ALL_LAYERS = "all layers"


@dataclass(frozen=True, slots=True)
class Difference:
    """Something in which what was typed and what is on record differ.

    Attributes
    ----------
    name
        A field of the hole, `layer 2`, or `all layers`.
    theirs, mine
        What each says: the text of a field, or the fields of a layer by name; empty when there is no such layer.
    offered
        The side of the one who alone changed it; empty when both did, so that nobody decides but the person.
    """

    name: str
    theirs: Mapping[str, str]
    mine: Mapping[str, str]
    offered: str


def differences(content: Mapping[str, str], recorded: Hole, units: str) -> list[Difference]:
    """Return in what a draft and the hole on record differ; layers that only one of the two has are no question.

    Where somebody took layers out meanwhile, which of them is which cannot be told any more: all are one question.
    """
    theirs = content_of(recorded, units)
    found = []
    for name in HOLE_FIELDS[1:]:
        now, mine, was = theirs.get(name, ""), content.get(name, ""), content.get(WAS + name, "")
        if now != mine:
            found.append(Difference(name, {name: now}, {name: mine}, _offered(now, mine, was)))
    before = _layers_before(content)
    if len(recorded.layers) < len(before):
        now_all, mine_all = _spread(_layers(theirs)), _spread(_mine_by_place(content) + _new(content))
        return [
            *found,
            Difference(ALL_LAYERS, now_all, mine_all, _offered(now_all, mine_all, _spread(before))),
        ]
    for number, (now_one, was_one, mine_one) in enumerate(
        zip(_layers(theirs), before, _mine_by_place(content), strict=False), 1
    ):
        if now_one != mine_one:
            found.append(
                Difference(f"layer {number}", now_one, mine_one, _offered(now_one, mine_one, was_one))
            )
    return found


def put_together(
    content: Mapping[str, str], recorded: Hole, units: str, chosen: Mapping[str, str]
) -> dict[str, str]:
    """Return the fields of the hole on record with what of the draft was chosen, and with its new layers."""
    settled = content_of(recorded, units)
    found = differences(content, recorded, units)
    mine = [one for one in found if chosen.get(one.name) == MINE]
    if any(one.name == ALL_LAYERS for one in mine):
        layers = [layer_of(content, mark) for mark in marks(content) if says_something(content, mark)]
        settled = {name: text for name, text in settled.items() if name in HOLE_FIELDS}
        places = list(range(1, len(layers) + 1))
    else:
        layers = _layers(settled)
        for one in mine:
            if one.name.startswith("layer "):
                layers[int(one.name.split(" ")[1]) - 1] = dict(one.mine)
        whole = any(one.name == ALL_LAYERS for one in found)
        places = [number for number, layer in enumerate(layers, 1) if layer]
        layers = [layer for layer in layers if layer] + ([] if whole else _new(content))
        settled = {name: text for name, text in settled.items() if name in HOLE_FIELDS}
    for one in mine:
        if one.name in HOLE_FIELDS:
            settled[one.name] = one.mine[one.name]
    by_place = not any(one.name == ALL_LAYERS for one in mine)
    for number, layer in enumerate(layers, 1):
        settled |= {of_layer(str(number), name): text for name, text in layer.items()}
        if by_place and number <= len(places):
            settled[of_layer(str(number), PLACE)] = str(places[number - 1])
    settled[ORDER] = " ".join(str(number) for number in range(1, len(layers) + 1))
    return {name: text for name, text in settled.items() if text}


def _offered(now: object, mine: object, was: object) -> str:
    return MINE if now == was else THEIRS if mine == was else ""


def _layers(content: Mapping[str, str]) -> list[dict[str, str]]:
    return [layer_of(content, mark) for mark in marks(content)]


def _layers_before(content: Mapping[str, str]) -> list[dict[str, str]]:
    """Return the layers as they were when the change was begun."""
    return _layers({name.removeprefix(WAS): text for name, text in content.items() if name.startswith(WAS)})


def _mine_by_place(content: Mapping[str, str]) -> list[dict[str, str]]:
    """Return the layers of a draft by the place they had; one that was taken out is empty."""
    by_place = {content.get(of_layer(mark, PLACE), ""): layer_of(content, mark) for mark in marks(content)}
    return [by_place.get(str(number), {}) for number in range(1, len(_layers_before(content)) + 1)]


def _new(content: Mapping[str, str]) -> list[dict[str, str]]:
    return [
        layer_of(content, mark)
        for mark in marks(content)
        if of_layer(mark, PLACE) not in content and says_something(content, mark)
    ]


def _spread(layers: Sequence[Mapping[str, str]]) -> dict[str, str]:
    return {
        of_layer(str(number), name): layer[name]
        for number, layer in enumerate([layer for layer in layers if layer], 1)
        for name in LAYER_FIELDS
        if name in layer
    }

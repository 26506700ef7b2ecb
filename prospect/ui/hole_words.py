"""What the questions about a hole and its layers are called, and the words that may answer them."""

from __future__ import annotations

from collections.abc import Mapping

from prospect.clay.vocabulary import questions
from prospect.land.cautions import PIT_WALLS
from prospect.ui.hole_reading import FACE, WORDED

WALLS = PIT_WALLS
DEEP_CM = 120.0
"""From here down nobody goes in, and the caution about walls is said for any hole (`prospect.land.cautions`)."""
OFF_THE_GROUND = (
    "That place lies outside of this ground. Look at the figures and at north or south, east or west. It can be "
    "saved as it is."
)
_COLUMN = {**WORDED, "kind": "kind", "stopped": "stopped_by", "usable": "usable"}
_TITLES = {
    "name": "Name of the hole",
    "place": "Latitude and longitude",
    "error": "Give or take (m)",
    "day": "Day",
    "facing": "Which way does it look?",
    "depth": "How deep it went",
    "water": "Water met at",
    "dry": "No water met",
    "ribbon": "A ribbon breaks at",
    "moist colour": "Colour, moist",
    "dry colour": "Colour, dry",
    "stones": "Stones (% by eye)",
    "mottles": "Mottles: spots of another colour",
    "smell": "Smell",
    "note": "Note",
}
"""What is asked for that no word of the log answers."""
_WORTH = {"yes": "● yes", "no": "■ no"}


def title_of(field: str) -> str:
    """Return what a field of the form is called."""
    return _TITLES[field] if field in _TITLES else questions()[_COLUMN[field]].title


def choices_of(field: str) -> Mapping[str, str]:
    """Return the words that may answer a field, each with the way it is said."""
    if field == "usable":
        return _WORTH
    question = questions().get(_COLUMN.get(field, ""))
    return {word.key: word.title for word in question.words} if question else {}


def answer_in_words(field: str, text: str) -> str:
    """Return an answer the way it is said; words that are none of ours stay as they are."""
    return choices_of(field).get(text, text)


def asks_for_care(kind: str, deepest_cm: float | None) -> bool:
    """Whether to say what walls and banks do: at any pit and face, and from 1.2 m down."""
    return kind in ("pit", FACE) or (deepest_cm is not None and deepest_cm >= DEEP_CM)

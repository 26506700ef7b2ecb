"""Reads layers out of the note of a waypoint: `0-30 cm brown loam; 30-110 clay, N 6/, coil bends, roots none`."""

from __future__ import annotations

import re

from prospect.clay.munsell import read_munsell
from prospect.clay.vocabulary import log_words
from prospect.sources.log_names import field_of
from prospect.sources.numbers import read_length

DEPTH, NOTE = "depth", "note"
_DEPTHS = re.compile(
    r"(?P<top>\d{1,4}(?:[.,]\d{1,2})?)\s*(?P<first>cm|mm|m|in|inch|inches|ft|feet)?\s*(?:-|–|—|to|\.\.)\s*"
    r"(?P<bottom>\d{1,4}(?:[.,]\d{1,2})?)\s*(?P<unit>cm|mm|m|inches|inch|in|ft|feet)?\b(?!\s*[/%])\s*[:,.]?\s*",
    re.IGNORECASE,
)
_PARTED = re.compile(r"(?:^|[;|\n])\s*(?=\d)")
_RUN_ON = re.compile(r"(?:^|(?<=[\s,.]))\s*(?=\d)")
_MOST_LAYERS = 40
_MUNSELL = re.compile(
    r"\b(?:\d{1,2}(?:\.\d)?\s?(?:RP|PB|BG|GY|YR|R|Y|G|B|P)\s?\d(?:\.\d)?\s?/\s?\d{1,2}|N\s?\d(?:\.\d)?\s?/?)"
)
# Answers that stand after their question: `roots few`, `coil: bends`.
_ANSWERED = (
    "coil",
    "grit",
    "fizz",
    "fizz_with",
    "roots",
    "stickiness",
    "ribbon_cm",
    "stones_pct",
    "mottles",
    "smell",
    "usable",
)


def layers_in_note(note: str) -> list[dict[str, str]]:
    """Return the cells of each layer that a note tells of, by heading; empty where the note is no list of layers.

    Parameters
    ----------
    note
        As written with the waypoint.

    Returns
    -------
    list of dict
        `depth`, where it is said `texture`, `colour` and what else a table of layers may hold, and the rest as `note`.

    Notes
    -----
    A note is a list of layers only where it begins with depths, from the top down, and no layer begins above the end of
    the one before; one layer alone must name a unit or a texture. Anything else is a sentence with numbers in it. Words
    and headings are those of a table of layers (`layers/vocabularies/log_names.toml`).
    """
    found = list(_parts(note.strip()))
    if not found or len(found) > _MOST_LAYERS:
        return []
    said = next((unit for _, _, unit, _ in found if unit), "")
    spans = [(_cm(top, unit or said), _cm(bottom, unit or said)) for top, bottom, unit, _ in found]
    ends = [0.0, *(bottom for _, bottom in spans)]
    if any(top >= bottom or top < above for (top, bottom), above in zip(spans, ends, strict=False)):
        return []
    layers = [
        {DEPTH: f"{top}-{bottom} {unit or said}".strip(), **_cells(text)} for top, bottom, unit, text in found
    ]
    return layers if len(layers) > 1 or said or "texture" in layers[0] else []


def _parts(note: str) -> list[tuple[str, str, str, str]]:
    """Return upper and lower depth, unit and words of each part; empty where the note does not begin with depths."""
    begins = _PARTED if re.search(r"[;|\n]", note) else _RUN_ON
    places = dict.fromkeys(match.end() for match in begins.finditer(note))
    starts = [place for place in places if _DEPTHS.match(note, place)]
    if not starts or starts[0] != 0:
        return []
    parts = []
    for start, end in zip(starts, [*starts[1:], len(note)], strict=True):
        depths = _DEPTHS.match(note, start)
        assert depths is not None
        unit = (depths["unit"] or depths["first"] or "").lower()
        parts.append((depths["top"], depths["bottom"], unit, note[depths.end() : end].strip(" \t\r\n;|,.")))
    return parts


def _cm(text: str, unit: str) -> float:
    found = read_length(text.replace(",", "."), "cm", default=unit)
    return 0.0 if found is None else found


def _cells(text: str) -> dict[str, str]:
    """Return what the words of a layer say, by heading; what is no answer of a table stays as a note."""
    cells: dict[str, str] = {}
    rest = []
    colour = _MUNSELL.search(text)
    if colour and read_munsell(colour[0]):
        cells["colour"] = colour[0]
        text = f"{text[: colour.start()]},{text[colour.end() :]}"
    for piece in (" ".join(one.split()) for one in re.split(r"[,;\n]", text)):
        heading, _, answer = piece.replace(":", " ").replace("=", " ").partition(" ")
        name = field_of("layers", heading)[0]
        if "texture" not in cells and (texture := _texture(piece)):
            cells["texture"] = texture
            rest += [piece] if piece.lower() != texture else []
        elif name in _ANSWERED and answer.strip() and name not in cells:
            cells[name] = answer.strip()
        elif piece:
            rest.append(piece)
    return {**cells, **({NOTE: ", ".join(rest)} if rest else {})}


def _texture(piece: str) -> str:
    """Return the texture class that a few words end in or are (`grey silty clay`); the longest that fits."""
    low = piece.lower()
    fits = [word.key for word in log_words()["texture"] if low == word.key or low.endswith(f" {word.key}")]
    return max(fits, key=len, default="")

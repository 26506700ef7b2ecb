"""Reads the cells of a paper log as people write them: numbers with units, words, colours, cones, yes and no."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from prospect.records import Usable
from prospect.sources.log_names import GRAMS, LogField, log_names
from prospect.sources.log_vocabulary import bench_titles, own_words
from prospect.sources.numbers import METRES, read_number, read_range
from prospect.sources.sample_rows import read_usable

CONES = tuple(f"{n:03d}" if n >= 10 else f"0{n}" for n in range(22, 0, -1)) + tuple(
    str(n) for n in range(1, 15)
)
"""Pyrometric cones as they are numbered, coolest first: 022 to 01, then 1 to 14."""

_QUANTITY = re.compile(
    r"^(?:~|≈|ca\.?|about|approx\.?|c\.)?\s*([+\-−]?\s*(?:\d[\d\s ’']*)?(?:[.,]\d+)*(?:[eE][+-]?\d+)?)\s*"
    r"(°\s?[cCfF]?|[a-zA-Z%\"″′']{1,8}|)\.?$"
)
_FRACTION = re.compile(r"^(\d+)?\s*([¼½¾]|[1-9]/(?:2|4|8|16))\s*(in|inch|inches|\"|″)?$")
_PARTS = {"¼": 0.25, "½": 0.5, "¾": 0.75}
_CONE = re.compile(r"^(?:cone|c\s*/|c|∆|Δ|△|\^)?\s*(0?\d{1,2}(?:\.5)?)\s*$", re.IGNORECASE)
_HUES = "YR|GY|BG|PB|RP|R|Y|G|B|P"
_MUNSELL = re.compile(
    rf"^(\d{{1,2}}(?:[.,]\d)?)\s*({_HUES})[\s\-,:]*(\d{{1,2}}(?:[.,]\d)?)\s*[/\\|]\s*(\d{{1,2}}(?:[.,]\d)?)$",
    re.IGNORECASE,
)
_NEUTRAL = re.compile(r"^N\s*[-:]?\s*(\d{1,2}(?:[.,]\d)?)\s*[/\\|]?\s*0?$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Found:
    """What a cell holds.

    Attributes
    ----------
    value
        The value; None where it could not be read.
    said
        What was done to get it (`Turned into 5.1 cm.`); empty where it stands there as it is.
    expected
        What would have been right, where it could not be read.
    """

    value: float | str | tuple[str, ...] | tuple[float, float] | bool | None
    said: str = ""
    expected: str = ""


def read_quantity(text: str, spec: LogField, heading_unit: str, *, decimal_comma: bool = False) -> Found:
    """Read a length, weight, share, bearing or count in the unit of its field."""
    wanted = spec.unit
    expected = _expected(spec)
    fraction = _FRACTION.match(text.strip())
    if fraction and spec.reads == "length":
        unit = fraction[3] or heading_unit or wanted
        part = _PARTS[fraction[2]] if fraction[2] in _PARTS else _ratio(fraction[2])
        value: float | None = float(fraction[1] or 0) + part
    else:
        match = _QUANTITY.match(text.strip())
        value = read_number(match[1], decimal_comma=decimal_comma) if match and match[1].strip() else None
        unit = (match[2].replace(" ", "") if match else "") or heading_unit or wanted
    if value is None:
        return Found(None, expected=expected)
    unit = unit.lower()
    turned = _turned(value, unit, spec)
    if turned is None or not spec.least <= turned <= spec.most:
        return Found(None, expected=expected)
    same = unit in (wanted, heading_unit) or spec.reads in ("percent", "bearing", "number")
    said = "" if same else f"Turned into {turned:.6g} {wanted}."
    return Found(turned, said)


def read_depths(text: str, spec: LogField, heading_unit: str, *, decimal_comma: bool = False) -> Found:
    """Read a depth range such as `30-60`; a single depth is a bottom. The value is a pair, the first perhaps None."""
    both = read_range(text, "cm", decimal_comma=decimal_comma, default=heading_unit)
    if both is None and text.rstrip().endswith("+"):
        single = read_quantity(text.rstrip(" +"), spec, heading_unit, decimal_comma=decimal_comma)
        return Found(None if single.value is None else (single.value, None), expected=_expected(spec))  # type: ignore[arg-type]
    if both is None:
        single = read_quantity(text, spec, heading_unit, decimal_comma=decimal_comma)
        if single.value is None:
            return Found(None, expected="a depth range such as 30-60")
        return Found((None, single.value), single.said)  # type: ignore[arg-type]
    low, high = (round(end, 6) for end in both)
    if min(low, high) < 0 or max(low, high) > spec.most:
        return Found(None, expected="a depth range such as 30-60")
    if low > high:
        return Found((high, low), f"It ran upwards; read as {high:g}-{low:g} cm.")
    return Found((low, high))


def read_temperature(text: str, spec: LogField, heading_unit: str, *, decimal_comma: bool = False) -> Found:
    """Read a temperature in °C or °F; the value is °C."""
    match = _QUANTITY.match(text.strip())
    value = read_number(match[1], decimal_comma=decimal_comma) if match and match[1].strip() else None
    if match is None or value is None:
        return Found(None, expected="a temperature such as 1060 °C or 1940 °F")
    unit = (match[2].replace(" ", "").lower() or heading_unit).lstrip("°").removeprefix("deg")
    if unit not in ("", "c", "f"):
        return Found(None, expected="a temperature in °C or °F")
    turned = round((value - 32) * 5 / 9, 3) if unit == "f" else value
    if not spec.least <= turned <= spec.most:
        return Found(None, expected=f"a temperature up to {spec.most:g} °C (write °F where it is)")
    return Found(turned, f"Turned into {turned:.1f} °C." if unit == "f" else "")


def read_cone(text: str) -> Found:
    """Read a pyrometric cone (`cone 6`, `^06`, `c/04`)."""
    match = _CONE.match(text.strip())
    if match is None or match[1] not in (*CONES, "5.5"):
        return Found(None, expected="a pyrometric cone such as 06, 1 or 6")
    return Found(match[1])


def read_colour(text: str) -> str:
    """Return a Munsell colour as the charts write it (`10yr5/4` → `10YR 5/4`); other words as they are."""
    bare = " ".join(text.split())
    match = _MUNSELL.match(bare)
    if match:
        hue, value, chroma = (match[part].replace(",", ".") for part in (1, 3, 4))
        return f"{_short(hue)}{match[2].upper()} {_short(value)}/{_short(chroma)}"
    neutral = _NEUTRAL.match(bare)
    return f"N {_short(neutral[1].replace(',', '.'))}/" if neutral else text


def read_word(field: str, text: str) -> Found:
    """Read a word of the log, in whatever form it is written."""
    words = known_words(field)
    bare = _plain_word(text)
    found = words.get(bare, "") or words.get(bare.removesuffix("s"), "")
    if not found:
        return Found(None, expected=f"one of {', '.join(dict.fromkeys(words.values()))}")
    return Found(found, "" if bare == found.lower() else f"Read as {found}.")


def read_faults(text: str) -> Found:
    """Read faults parted by commas; the value is a pair of those that are known, in order, or an empty one."""
    if _plain_word(text) in log_names().sound:
        return Found(())
    words = known_words("faults")
    parts = [part for part in re.split(r"[,;/+&\n]|\band\b", text) if part.strip()]
    found = [
        words.get(_plain_word(part), "") or words.get(_plain_word(part).removesuffix("s"), "")
        for part in parts
    ]
    unknown = [part.strip() for part, word in zip(parts, found, strict=True) if not word]
    known = tuple(dict.fromkeys(word for word in found if word))
    expected = f"faults such as {', '.join(dict.fromkeys(words.values()))}" if unknown else ""
    said = (
        ""
        if [w.lower() for w in found] == [_plain_word(p) for p in parts]
        else f"Read as {', '.join(known)}."
    )
    return Found(known, said if known else "", expected)


def read_yes_no(text: str) -> Found:
    """Read yes or no."""
    verdict: Usable | None = read_usable(text)
    return Found(verdict) if verdict is not None else Found(None, expected="yes, no or unknown")


def read_test_kind(text: str) -> Found:
    """Read the kind of a bench test by its key or title."""
    bare = _plain_word(text).removesuffix(" test")
    for key, title in bench_titles().items():
        if bare in (_plain_word(key), _plain_word(title).removesuffix(" test")):
            return Found(key, "" if text == key else f"Read as {key}.")
    return Found(None, expected=f"one of {', '.join(bench_titles())}")


@cache
def known_words(field: str) -> dict[str, str]:
    """Return what may be written → the word of the log, for one field."""
    words: dict[str, str] = {}
    for form, word in own_words(field).items():
        words.setdefault(_plain_word(form), word)
    for word, forms in log_names().said.get(field, {}).items():
        known = words.get(_plain_word(word))
        for form in forms if known else ():
            words.setdefault(_plain_word(form), word)
    return words


def _expected(spec: LogField) -> str:
    unit = {"pct": "%", "deg": "degrees"}.get(spec.unit, spec.unit)
    least = f"{spec.least:g}"
    return f"a number from {least} to {spec.most:g} {unit}".rstrip()


def _turned(value: float, unit: str, spec: LogField) -> float | None:
    if spec.reads == "length":
        return _scaled(value, unit, spec.unit, METRES)
    if spec.reads == "weight":
        return _scaled(value, unit, spec.unit, GRAMS)
    if spec.reads == "percent":
        return value if unit in ("pct", "%", "percent") else None
    if spec.reads == "bearing":
        return value if unit in ("deg", "°") else None
    return value if unit in (spec.unit, "days", "day", "d", "mesh", "") else None


def _scaled(value: float, unit: str, wanted: str, sizes: dict[str, float]) -> float | None:
    if unit == wanted:
        return value
    return float(f"{value * sizes[unit] / sizes[wanted]:.12g}") if unit in sizes else None


def _ratio(text: str) -> float:
    above, below = text.split("/")
    return int(above) / int(below)


def _short(number: str) -> str:
    return f"{float(number):g}"


def _plain_word(text: str) -> str:
    return " ".join(re.sub(r"[_\-]", " ", text.lower()).split()).strip(" .!,;:") or text.strip().lower()

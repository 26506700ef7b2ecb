"""What the fields of a set of bars say, stage by stage: made, dry, fired, boiled, looked at."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from prospect.clay.munsell import read_munsell
from prospect.clay.vocabulary import log_words
from prospect.records import Bar
from prospect.text import plain
from prospect.ui.bars_doubts import doubts_of
from prospect.ui.bench_measures import as_number, cone_said, measure_said
from prospect.ui.bench_reading import BenchReading
from prospect.ui.sample_reading import day_said

MARKS = "marks"
"""Field that holds the marks of the bars in order: `1 2 3 4`."""
SET_FIELDS = ("specimen", "preparation", "day")
"""Asked once for a new set and held by each of its bars."""
FAULT = "fault "
"""Before a fault's word in the name of the field that says whether the bar has it."""
FOUND_NONE = "found none"
FOR_CONE = "for_cone"
"""Column in which a bar keeps the cone that it was made for."""
STAGES: dict[str, str] = {
    "made": "Made",
    "dry": "Bone-dry",
    "fired": "Fired",
    "boiled": "Boiled",
    "looked": "Looked at",
}
_LENGTHS = {"plastic": "plastic_mm", "dry": "dry_mm", "fired": "fired_mm"}
_WEIGHTS = {
    "plastic g": "plastic_g",
    "dry g": "dry_g",
    "fired g": "fired_g",
    "saturated g": "saturated_g",
    "suspended g": "suspended_g",
}
_HEAT = (300.0, 1500.0)
LABELS: dict[str, str] = {
    "name": "Name, as scratched into it",
    "specimen": "Sample or batch",
    "preparation": "What the clay went through before",
    "day": "Day made",
    "for cone": "For cone",
    "plastic": "Between the marks, when made",
    "plastic g": "Weight, when made",
    "dry": "Between the marks, bone-dry",
    "dry g": "Weight, bone-dry",
    "fired": "Between the marks, fired",
    "fired g": "Weight, fired and dry",
    "cone": "Cone that went down",
    "heat": "Highest temperature",
    "atmosphere": "Fired in",
    "saturated g": "Weight after boiling, wiped",
    "suspended g": "Weight hung in water",
    "colour": "Fired colour",
    "found none": "Looked, found none",
    "waited": "Days since the firing",
    "note": "Note",
}
"""What each field of a bar is called."""
FIELDS: dict[str, tuple[str, ...]] = {
    "made": ("name", "for cone", "plastic", "plastic g"),
    "dry": ("dry", "dry g"),
    "fired": ("cone", "heat", "atmosphere", "fired", "fired g"),
    "boiled": ("fired g", "saturated g", "suspended g"),
    "looked": ("colour", "waited", "note"),
}
"""The fields of each stage, besides the faults, which belong to the last."""
_BOUNDS = {"mm": (1.0, 1000.0), "g": (0.1, 10_000.0), "°C": _HEAT, "days": (0.0, 3650.0)}
_LETTERS = "abcdefghijklmnopqrstuvwxyz"


def marks(content: Mapping[str, str]) -> list[str]:
    """Return the marks of the bars in a form, in order."""
    return content.get(MARKS, "").split()


def of_bar(mark: str, name: str) -> str:
    """Return the name that a field of one bar goes by in the form."""
    return f"{mark} {name}"


def unit_of(name: str) -> str:
    """Return the unit in which a field's value is kept; empty for words."""
    if name in _LENGTHS:
        return "mm"
    if name in _WEIGHTS:
        return "g"
    return {"heat": "°C", "waited": "days"}.get(name, "")


def fault_words() -> dict[str, str]:
    """Return every fault and how it is said."""
    return {word.key: word.title for word in log_words()["faults"]}


def bar_content(bar: Bar, system: str) -> dict[str, str]:
    """Return a bar as the text of its fields; fields that are empty are left out."""
    content = {
        "name": bar.bar_id,
        "specimen": bar.specimen,
        "preparation": bar.preparation,
        "day": bar.date,
        "for cone": bar.fields.get(FOR_CONE, ""),
        **{name: as_number(getattr(bar, key), "mm", system) for name, key in _LENGTHS.items()},
        **{name: as_number(getattr(bar, key), "g", system) for name, key in _WEIGHTS.items()},
        "cone": bar.cone,
        "heat": as_number(bar.fired_c, "°C", system),
        "atmosphere": bar.atmosphere,
        "colour": bar.colour,
        **{FAULT + fault: "yes" for fault in bar.faults},
        FOUND_NONE: "yes" if bar.looked_for_faults and not bar.faults else "",
        "waited": as_number(bar.waited_days, "days", system),
        "note": bar.note,
    }
    return {name: text for name, text in content.items() if text}


def set_content(bars: Sequence[Bar], system: str) -> dict[str, str]:
    """Return a set of bars as the text of the form's fields."""
    content = {MARKS: " ".join(str(number) for number in range(1, len(bars) + 1))}
    for number, bar in enumerate(bars, 1):
        content |= {of_bar(str(number), name): text for name, text in bar_content(bar, system).items()}
    return content


def read_bars(
    content: Mapping[str, str], system: str, today: str, onto: Mapping[str, Bar] | None = None
) -> BenchReading:
    """Return the bars that the form's fields say.

    Parameters
    ----------
    content
        Text by field; fields that are empty are left out.
    system
        `metric` or `us`: the unit of a measure that does not name its own.
    today
        ISO date; no bar was made later.
    onto
        Mark → the bar that is being changed: what nobody touched stays as it is there, to its last decimal.
    """
    onto = onto or {}
    wrong: dict[str, str] = {}
    missing: dict[str, str] = {}
    order = marks(content)
    if not order:
        missing[MARKS] = "There is no bar in this set yet."
    shared = {name: content[name] for name in SET_FIELDS if name in content}
    if any(mark not in onto for mark in order) and not shared.get("specimen", "").strip():
        missing["specimen"] = "Of which sample or batch are they made?"
    day_said(shared.get("day", ""), today, wrong)
    bars, names = [], set()
    for mark in order:
        prefix = f"{mark} "
        own = {name.removeprefix(prefix): text for name, text in content.items() if name.startswith(prefix)}
        bar = _read_bar({**shared, **own}, system, today, onto.get(mark), mark, wrong, missing)
        if bar.bar_id and bar.bar_id in names:
            wrong[of_bar(mark, "name")] = "Another bar of this set has that name: each needs its own."
        names.add(bar.bar_id)
        bars.append(bar)
    doubts = doubts_of(bars)
    if wrong or missing:
        return BenchReading((), wrong, missing, doubts)
    return BenchReading(tuple(bars), doubts=doubts)


def bar_names(specimen: str, count: int, taken: Collection[str]) -> list[str]:
    """Return free names for new bars of a specimen: `S3a`, `S3b` … after the last letter in use; then numbers."""
    used = {name.removeprefix(specimen) for name in taken if name.startswith(specimen)}
    last = max((_LETTERS.index(end) for end in used if len(end) == 1 and end in _LETTERS), default=-1)
    names = [f"{specimen}{letter}" for letter in _LETTERS[last + 1 :]][:count]
    number = 1
    while len(names) < count:
        if (name := f"{specimen}-{number}") not in taken and name not in names:
            names.append(name)
        number += 1
    return names


def new_set(
    specimen: str,
    preparation: str,
    cones: str,
    count: int,
    taken: Collection[str],
    today: str,
) -> dict[str, str]:
    """Return the fields of a new set: a bar for each cone named in `cones`, or `count` of them where none is."""
    wanted = [found for part in re.split(r"[,;\s]+", cones) if (found := cone_said(part, "", {}))]
    names = bar_names(specimen, len(wanted) or count, taken)
    content = {
        MARKS: " ".join(str(number) for number in range(1, len(names) + 1)),
        "specimen": specimen,
        "preparation": preparation or "raw",
        "day": today,
    }
    for number, name in enumerate(names, 1):
        content[of_bar(str(number), "name")] = name
        if wanted:
            content[of_bar(str(number), "for cone")] = wanted[number - 1]
    return {name: text for name, text in content.items() if text}


def one_more(content: Mapping[str, str], taken: Iterable[str]) -> dict[str, str]:
    """Return the fields that a further bar of a new set begins with, its mark among the others."""
    order = marks(content)
    mark = str(max((int(one) for one in order), default=0) + 1)
    here = {content.get(of_bar(one, "name"), "") for one in order}
    name = bar_names(content.get("specimen", ""), 1, {*taken, *here})[0]
    return {MARKS: " ".join([*order, mark]), of_bar(mark, "name"): name}


def as_planned(content: Mapping[str, str]) -> dict[str, str]:
    """Return the cones of bars that were made for one and have none yet."""
    return {
        of_bar(mark, "cone"): content[of_bar(mark, "for cone")]
        for mark in marks(content)
        if of_bar(mark, "cone") not in content and of_bar(mark, "for cone") in content
    }


def _read_bar(
    own: Mapping[str, str],
    system: str,
    today: str,
    onto: Bar | None,
    mark: str,
    wrong: dict[str, str],
    missing: dict[str, str],
) -> Bar:
    was = bar_content(onto, system) if onto else {}
    known = {*LABELS, *(FAULT + fault for fault in fault_words()), *own, *was}
    touched = {name for name in known if onto is None or own.get(name, "") != was.get(name, "")}
    found: dict[str, str] = {}
    name = onto.bar_id if onto else plain(own.get("name", ""), 80)
    if not name:
        missing[of_bar(mark, "name")] = "A bar needs a name: the one you scratched into it."
    measure: Callable[[str], float | None] = lambda field: measure_said(  # noqa: E731
        own.get(field, ""), unit_of(field), system, _BOUNDS[unit_of(field)], field, found
    )
    read: dict[str, dict[str, Any]] = {
        "specimen": {"specimen": plain(own.get("specimen", ""), 80)},
        "preparation": {"preparation": plain(own.get("preparation", ""), 80) or "raw"},
        "day": {"date": day_said(own.get("day", ""), today, {})},
        **{field: {key: measure(field)} for field, key in (_LENGTHS | _WEIGHTS).items()},
        "cone": {"cone": cone_said(own.get("cone", ""), "cone", found)},
        "heat": {"fired_c": measure("heat")},
        "atmosphere": {"atmosphere": own.get("atmosphere", "")},
        "colour": {"colour": _colour(own.get("colour", ""))},
        "waited": {"waited_days": measure("waited")},
        "note": {"note": plain(own.get("note", ""), 4000, lines=True)},
    }
    planned = cone_said(own.get("for cone", ""), "for cone", found)
    bar = onto or Bar(name, plain(own.get("specimen", ""), 80))
    changes = {
        key: value for field, values in read.items() if field in touched for key, value in values.items()
    }
    if any(field.startswith(FAULT) or field == FOUND_NONE for field in touched):
        changes |= _faults(own, bar, found)
    if "for cone" in touched:
        rest = {column: text for column, text in bar.fields.items() if column != FOR_CONE}
        changes["fields"] = rest | ({FOR_CONE: planned} if planned else {})
    read_as = replace(bar, **changes)
    found |= _impossible(read_as, touched)
    wrong |= {of_bar(mark, field): said for field, said in found.items() if field in touched}
    return read_as


def _colour(text: str) -> str:
    """Return a Munsell colour as the charts write it; other words as they are."""
    found = read_munsell(text)
    return found.notation if found else plain(text, 300)


def _faults(own: Mapping[str, str], bar: Bar, found: dict[str, str]) -> dict[str, Any]:
    """Return the faults that are said; those that are in nobody's list but on record stay."""
    ours = fault_words()
    said = tuple(fault for fault in ours if own.get(FAULT + fault))
    others = tuple(fault for fault in bar.faults if fault not in ours)
    none = bool(own.get(FOUND_NONE))
    if none and (said or others):
        found[FOUND_NONE] = "Either it has a fault or you found none: tap one of them off."
    return {"faults": said + others, "looked_for_faults": none or bool(said or others)}


def _impossible(bar: Bar, touched: Collection[str]) -> dict[str, str]:
    """Return what cannot be, beside the field where it was typed: weights that break the order of nature."""
    pairs = (
        (
            "dry g",
            bar.dry_g,
            "plastic g",
            bar.plastic_g,
            "It cannot weigh more bone-dry than when it was made.",
        ),
        ("fired g", bar.fired_g, "dry g", bar.dry_g, "It cannot weigh more after the firing than before."),
        (
            "suspended g",
            bar.suspended_g,
            "fired g",
            bar.fired_g,
            "Hung in water it weighs less than dry: its marks read the other way round?",
        ),
    )
    wrong = {}
    for lighter, less, heavier, more, said in pairs:
        # One part in two hundred is what kitchen scales are off (own judgement).
        if less is not None and more is not None and less > more * 1.005:
            wrong[lighter if lighter in touched else heavier] = said
    if bar.saturated_g is not None and bar.fired_g is not None and bar.saturated_g < bar.fired_g * 0.995:
        field = "saturated g" if "saturated g" in touched else "fired g"
        wrong[field] = "A soaked bar cannot weigh less than a dry one."
    return wrong

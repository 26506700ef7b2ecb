"""What the fields of a bench test's form say: a test, or what is wrong with which field, in words."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from prospect.clay.vocabulary import Field, TestKind, test_kind
from prospect.records import Bar, Batch, BenchTest
from prospect.text import plain
from prospect.ui.bench_measures import as_number, asked_in, cone_said, measure_said
from prospect.ui.sample_reading import day_said

MEASURED = "measured "
"""Before the key of a test's own field in the form."""
COMMON: dict[str, str] = {
    "name": "Name of the test",
    "kind": "Kind of test",
    "specimen": "Sample or batch",
    "preparation": "What the clay went through before",
    "day": "Day",
    "note": "Note",
}
PREPARATIONS = ("raw", "screened 30 mesh", "screened 60 mesh", "washed", "blended 20 % sand")
"""Offered where none is in use yet; any other may be typed."""
_ORDER: dict[str, tuple[tuple[str, str], ...]] = {
    "water": (("dry_g", "plastic_g"),),
    "sieve": (("kept_g", "dry_g"),),
    "jar": (("sand_mm", "sand_and_silt_mm"), ("sand_and_silt_mm", "all_mm"), ("sand_mm", "all_mm")),
    "limits": (("plastic_limit_pct", "liquid_limit_pct"),),
}
_PARTS_OF_100 = ("sand_pct", "silt_pct", "clay_pct")
_OFF_100 = 1.0


@dataclass(frozen=True, slots=True)
class BenchReading:
    """What a form of the bench says.

    Attributes
    ----------
    items
        The test, the batch or the bars, in the order of the form; empty while something is wrong or missing.
    wrong
        Field → what is wrong with what stands in it.
    missing
        Field → why it cannot be left empty.
    doubts
        What can be but is odd; it keeps nothing off the record.
    """

    items: tuple[Bar | BenchTest | Batch, ...] = ()
    wrong: dict[str, str] = field(default_factory=dict)
    missing: dict[str, str] = field(default_factory=dict)
    doubts: tuple[str, ...] = ()


def content_of_test(test: BenchTest, system: str) -> dict[str, str]:
    """Return a test as the text of the form's fields; fields that are empty are left out."""
    kind = test_kind(test.kind)
    content = {
        "name": test.test_id,
        "kind": test.kind,
        "specimen": test.specimen,
        "preparation": test.preparation,
        "day": test.date,
        "note": test.note,
    }
    for one in kind.fields if kind else ():
        content[MEASURED + one.key] = (
            as_number(test.values.get(one.key), one.unit, system)
            if one.is_number
            else test.words.get(one.key, "")
        )
    return {name: text for name, text in content.items() if text}


def read_test(
    content: Mapping[str, str], system: str, today: str, onto: BenchTest | None = None
) -> BenchReading:
    """Return the test that the form's fields say.

    Parameters
    ----------
    content
        Text by field; fields that are empty are left out.
    system
        `metric` or `us`: the unit of a measure that does not name its own.
    today
        ISO date; nothing was tested later.
    onto
        The test that is being changed: what the form does not ask for, or nobody touched, stays as it is there.
    """
    wrong: dict[str, str] = {}
    missing: dict[str, str] = {}
    kind = test_kind(onto.kind if onto else content.get("kind", ""))
    was = content_of_test(onto, system) if onto else {}
    touched = {
        name
        for name in {*content, *was, *COMMON}
        if onto is None or content.get(name, "") != was.get(name, "")
    }
    name = onto.test_id if onto else plain(content.get("name", ""), 80)
    specimen = plain(content.get("specimen", ""), 80)
    if not name:
        missing["name"] = "A test needs a name, so that it can be found again."
    if kind is None and onto is None:
        missing["kind"] = "Which test is it?"
    if not specimen:
        missing["specimen"] = "Of which sample or batch?"
    day = day_said(content.get("day", ""), today, wrong)
    values, said = dict(onto.values if onto else {}), dict(onto.words if onto else {})
    for one in kind.fields if kind else ():
        if MEASURED + one.key in touched:
            _take(one, content.get(MEASURED + one.key, ""), system, values, said, wrong)
    if kind is not None and not wrong:
        wrong |= _disorder(kind, values, touched)
    wrong = {field: told for field, told in wrong.items() if field in touched}
    if wrong or missing:
        return BenchReading((), wrong, missing, _doubts(values))
    base = onto or BenchTest(name, specimen, kind.key if kind else "")
    test = replace(
        base,
        specimen=specimen if "specimen" in touched else base.specimen,
        preparation=(plain(content.get("preparation", ""), 80) or "raw")
        if "preparation" in touched
        else base.preparation,
        date=day if "day" in touched else base.date,
        values=values,
        words=said,
        note=plain(content.get("note", ""), 4000, lines=True) if "note" in touched else base.note,
    )
    return BenchReading((test,), doubts=_doubts(values))


def label_of(one: Field, system: str) -> str:
    """Return how a field of a test is asked for, with the unit of a bare number."""
    unit = asked_in(one.unit, system)
    return f"{one.title} ({unit})" if one.is_number and unit else one.title


def name_for_test(specimen: str, kind: str, taken: Collection[str]) -> str:
    """Return a free name for a test of a specimen: `S3 slaking`, then `S3 slaking 2`."""
    stem = f"{specimen} {kind}".strip()
    number = 1
    while (name := stem if number == 1 else f"{stem} {number}") in taken:
        number += 1
    return name


def told_by_test(test: BenchTest, system: str) -> str:
    """Return what a test found, in one line."""
    kind = test_kind(test.kind)
    told = []
    for one in kind.fields if kind else ():
        if one.key in test.values:
            unit = asked_in(one.unit, system)
            number = as_number(test.values[one.key], one.unit, system)
            told.append(f"{one.title.lower()} {number}{'' if unit == '%' else ' '}{unit}".strip())
        elif one.key in test.words:
            titles = {word.key: word.title for word in one.choices}
            told.append(f"{one.title.lower()}: {titles.get(test.words[one.key], test.words[one.key])}")
    return ", ".join(told) or "nothing measured yet"


def _take(
    one: Field, text: str, system: str, values: dict[str, float], said: dict[str, str], wrong: dict[str, str]
) -> None:
    name = MEASURED + one.key
    values.pop(one.key, None)
    said.pop(one.key, None)
    if one.is_number:
        between = (one.least if one.least is not None else 0.0, one.most if one.most is not None else 1e9)
        value = measure_said(text, one.unit, system, between, name, wrong)
        if value is not None:
            values[one.key] = value
        return
    bare = cone_said(text, name, wrong) if one.key == "cone" else plain(text, 300)
    if bare:
        said[one.key] = bare


def _disorder(kind: TestKind, values: Mapping[str, float], touched: Collection[str]) -> dict[str, str]:
    """Return what cannot be beside what: the part is never more than the whole."""
    titles = {one.key: one.title for one in kind.fields}
    wrong = {}
    for less, more in _ORDER.get(kind.key, ()):
        if less in values and more in values and values[less] > values[more]:
            name = MEASURED + (less if MEASURED + less in touched else more)
            wrong[name] = f"“{titles[less]}” cannot be more than “{titles[more]}”. Look at both once more."
    return wrong


def _doubts(values: Mapping[str, float]) -> tuple[str, ...]:
    shares = [values[key] for key in _PARTS_OF_100 if key in values]
    total = sum(shares)
    if len(shares) == len(_PARTS_OF_100) and abs(total - 100) > _OFF_100:
        return (
            f"Sand, silt and clay make {total:g} %, not 100 %: look once more; no texture is read from it as it is.",
        )
    if len(shares) > 1 and total > 100 + _OFF_100:
        return (f"These shares make {total:g} %, more than 100 %: look once more.",)
    return ()

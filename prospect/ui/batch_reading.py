"""What the fields of a batch's form say, and what came of a batch on its way from hole to pots."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from prospect.records import Batch
from prospect.text import plain
from prospect.ui.bench_measures import as_number, in_words, measure_said
from prospect.ui.bench_reading import BenchReading
from prospect.ui.sample_reading import day_said

LABELS: dict[str, str] = {
    "name": "Name on the bucket",
    "hole": "From hole",
    "day": "Day dug",
    "buckets": "Buckets",
    "wet": "As dug",
    "dry": "Dry, before the screen",
    "mesh": "Screen (mesh)",
    "sieved": "Went through, dry",
    "body": "Made into",
    "body kg": "Body, ready to work",
    "pots": "Pots, sound",
    "note": "Note",
}
"""What each field of the form is called."""
MEASURES: dict[str, tuple[str, str, float]] = {
    "buckets": ("buckets", "", 100_000.0),
    "wet": ("wet_kg", "kg", 1e6),
    "dry": ("dry_kg", "kg", 1e6),
    "mesh": ("mesh", "mesh", 1000.0),
    "sieved": ("sieved_kg", "kg", 1e6),
    "body kg": ("body_kg", "kg", 1e6),
    "pots": ("pots", "", 1e6),
}
"""Field → its key in the records, its unit there, and the most that can be."""


def batch_content(batch: Batch, system: str) -> dict[str, str]:
    """Return a batch as the text of the form's fields; fields that are empty are left out."""
    content = {
        "name": batch.batch_id,
        "hole": batch.hole_id,
        "day": batch.date,
        **{field: as_number(getattr(batch, key), unit, system) for field, (key, unit, _) in MEASURES.items()},
        "body": batch.body,
        "note": batch.note,
    }
    return {name: text for name, text in content.items() if text}


def read_batch(
    content: Mapping[str, str], system: str, today: str, onto: Batch | None = None
) -> BenchReading:
    """Return the batch that the form's fields say.

    Parameters
    ----------
    content
        Text by field; fields that are empty are left out.
    system
        `metric` or `us`: the unit of a weight that does not name its own.
    today
        ISO date; nothing was dug later.
    onto
        The batch that is being changed: what nobody touched stays as it is there.
    """
    wrong: dict[str, str] = {}
    missing: dict[str, str] = {}
    was = batch_content(onto, system) if onto else {}
    touched = {name for name in LABELS if onto is None or content.get(name, "") != was.get(name, "")}
    name = onto.batch_id if onto else plain(content.get("name", ""), 80)
    if not name:
        missing["name"] = "A batch needs a name: the one you wrote on the bucket."
    read: dict[str, dict[str, Any]] = {
        "hole": {"hole_id": plain(content.get("hole", ""), 80)},
        "day": {"date": day_said(content.get("day", ""), today, wrong)},
        "body": {"body": plain(content.get("body", ""), 300)},
        "note": {"note": plain(content.get("note", ""), 4000, lines=True)},
    }
    for field, (key, unit, most) in MEASURES.items():
        read[field] = {key: measure_said(content.get(field, ""), unit, system, (0.0, most), field, wrong)}
    changes = {
        key: value for field, values in read.items() if field in touched for key, value in values.items()
    }
    batch = replace(onto or Batch(name), **changes)
    for less, more, said in (
        ("dry", "wet", "It cannot weigh more dry than wet."),
        ("sieved", "dry", "No more can go through the screen than was put on it."),
    ):
        small, large = getattr(batch, MEASURES[less][0]), getattr(batch, MEASURES[more][0])
        if small is not None and large is not None and small > large:
            wrong[less if less in touched else more] = said
    wrong = {field: said for field, said in wrong.items() if field in touched}
    if wrong or missing:
        return BenchReading((), wrong, missing)
    return BenchReading((batch,))


def batch_yield(batch: Batch) -> tuple[float, str] | None:
    """Return how much of a batch went through the screen, percent, and of what; None where it cannot be worked out."""
    if batch.sieved_kg is not None and batch.dry_kg:
        return 100 * batch.sieved_kg / batch.dry_kg, "of the dry weight"
    if batch.sieved_kg is not None and batch.wet_kg:
        return 100 * batch.sieved_kg / batch.wet_kg, "of the weight as dug, water and all"
    return None


def yield_in_words(batch: Batch) -> str:
    """Return the yield in a few words; empty where it cannot be worked out."""
    found = batch_yield(batch)
    return "" if found is None else f"{found[0]:.0f} % {found[1]}"


def way_in_words(batch: Batch, system: str) -> list[tuple[str, str]]:
    """Return the way of a batch from the hole to the pots, each step with what it is; empty where not known."""
    buckets = "" if batch.buckets is None else f"{batch.buckets:g} bucket{'' if batch.buckets == 1 else 's'}"
    dug = ", ".join(filter(None, (buckets, _weight(batch.wet_kg, system))))
    through = "" if batch.mesh is None else f"{batch.mesh:g} mesh"
    sieved = ", ".join(filter(None, (through, _weight(batch.sieved_kg, system))))
    share = batch_yield(batch)
    made = ", ".join(filter(None, (batch.body, _weight(batch.body_kg, system))))
    return [
        ("hole", batch.hole_id),
        ("dug", dug),
        ("through the screen", sieved + (f" ({share[0]:.0f} %)" if share else "")),
        ("made into", made),
        ("pots", "" if batch.pots is None else f"{batch.pots:g} sound"),
    ]


def _weight(weight_kg: float | None, system: str) -> str:
    return "" if weight_kg is None else in_words(weight_kg, "kg", system)

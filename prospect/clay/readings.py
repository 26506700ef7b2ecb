"""Says what is known of a clay in the trade's order: plasticity, maturing temperature, colour, contaminants."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from prospect.clay.firing import ignition_hint
from prospect.clay.firing_curve import firing_steps, maturing_range
from prospect.clay.measuring import Measurement
from prospect.clay.munsell import expected_fired, fired_group
from prospect.clay.plasticity import activity_class, mineral_hint
from prospect.clay.uses import QUESTIONS, Question, judgement

LOW_IRON_PCT = 1.5
"""Iron oxide below which a clay fires nearly white (trade practice, from memory)."""


@dataclass(frozen=True, slots=True)
class Reading:
    """The answer to one of the trade's questions, for one preparation.

    Attributes
    ----------
    question, title
        Which question.
    sentence
        What is known, in words; what is not known is said.
    measurements
        What it rests on.
    """

    question: Question
    title: str
    sentence: str
    measurements: tuple[Measurement, ...]


def reading(question: Question, known: Sequence[Measurement], preparation: str) -> Reading:
    """Return what is known of one of the trade's questions, from the measurements that hold for a preparation."""
    say = {
        "plasticity": _plasticity,
        "maturing": _maturing,
        "colour": _colour,
        "contaminants": _contaminants,
    }[question]
    sentences, behind = say(known, preparation)
    return Reading(question, QUESTIONS[question], " ".join(sentences) or "Not known yet.", tuple(behind))


def _with(known: Sequence[Measurement], *keys: str) -> list[Measurement]:
    return [item for key in keys for item in known if item.key == key]


def _plasticity(known: Sequence[Measurement], _: str) -> tuple[list[str], list[Measurement]]:
    said = []
    index = _with(known, "plasticity_index_pct")
    if index:
        value = float(index[0].value)
        degree = next(
            word
            for limit, word in (
                (3, "not plastic"),
                (10, "slightly plastic"),
                (17, "plastic"),
                (1e9, "very plastic"),
            )
            if value < limit
        )
        group = _with(known, "soil_class")
        said.append(
            f"{degree.capitalize()}: plasticity index {value:.0f} %{f', class {group[0].value}' if group else ''}."
        )
    words = {
        "coil": {
            "bends": "A coil bends without cracks: plastic.",
            "cracks": "A coil bends with cracks: somewhat lean.",
            "breaks": "A coil breaks: lean.",
            "will not roll": "It will not roll: hardly plastic.",
        },
        "throws": {
            "well": "It throws well.",
            "short": "It tears on the wheel: short.",
            "slumps": "It slumps on the wheel.",
            "sticky": "It clings to the hands: fat.",
        },
    }
    for key, told in words.items():
        said += [told[str(item.value)] for item in _with(known, key) if str(item.value) in told]
    for item in _with(known, "ribbon_cm"):
        said.append(f"A ribbon of {item.value:.2g} cm {item.note}.")
    active = _with(known, "activity")
    if active:
        value = float(active[0].value)
        said.append(f"Activity {value:.2f} ({activity_class(value)}): hints at {mineral_hint(value)}.")
    shrinks = _with(known, "drying_shrinkage_pct")
    for item in shrinks:
        said.append(f"It shrinks {item.value:.2g} % while drying{_many(item)}.")
    strength = _with(known, "dry_strength")
    said += [f"Dry strength {item.value}." for item in strength]
    return said, _with(
        known, "plasticity_index_pct", "soil_class", "coil", "throws", "ribbon_cm", "activity", "drying_shrinkage_pct",
        "water_pct", "dry_strength", "texture_class", "texture",
    )  # fmt: skip


def _maturing(known: Sequence[Measurement], preparation: str) -> tuple[list[str], list[Measurement]]:
    steps = firing_steps(known, preparation)
    pores = {item.cone: float(item.value) for item in _with(known, "porosity_pct")}
    said = []
    for step in steps:
        parts = []
        if step.absorption_pct is not None:
            parts.append(f"takes up {step.absorption_pct.mean:.2g} % water")
        if step.total_shrinkage_pct is not None:
            parts.append(f"has shrunk {step.total_shrinkage_pct.mean:.2g} % in all")
        if step.cone in pores:
            parts.append(f"is {pores[step.cone]:.2g} % pores")
        if parts:
            said.append(f"At cone {step.cone} it {_listed(parts)}.")
    for title, band in (("porous ware", (6.0, 15.0)), ("dense ware", (0.0, 3.0))):
        mature = maturing_range(steps, band)
        if mature is not None:
            said.append(f"For {title} {mature.sentence()}.")
    over = next((step for step in steps if step.overfired), None)
    if over is not None:
        said.append(f"Overfired at cone {over.cone}.")
    said += [
        f"A first firing{f' to cone {item.cone}' if item.cone else ''} came out {item.value}."
        for item in _with(known, "came_out")
    ]
    for item in _with(known, "loss_on_ignition_pct"):
        loss = float(item.value)
        said.append(f"It loses {loss:.2g} % on ignition: {ignition_hint(loss)}.")
    if not steps and not said and _with(known, "absorption_pct", "total_shrinkage_pct"):
        said.append("Fired, but the cone is not noted.")
    return said, [
        item
        for item in known
        if item.key
        in (
            "absorption_pct",
            "total_shrinkage_pct",
            "firing_shrinkage_pct",
            "porosity_pct",
            "density_g_cm3",
            "came_out",
            "loss_on_ignition_pct",
        )
    ]


def _colour(known: Sequence[Measurement], _: str) -> tuple[list[str], list[Measurement]]:
    chips = _with(known, "fired_colour")
    raw = _with(known, "moist_colour", "dry_colour")
    groups, why = expected_fired(str(raw[0].value)) if raw else ((), "")
    said = []
    for item in chips:
        group = fired_group(str(item.value))
        at = f" at cone {item.cone}" if item.cone else ""
        said.append(f"Fires {group or item.value}{at}{f' ({item.value})' if group else ''}.")
    said = list(dict.fromkeys(said))
    if chips and groups:
        fired = {fired_group(str(item.value)) for item in chips} - {None}
        agrees = bool(fired & set(groups))
        came = "it was right" if agrees else "the fired chip overrules it"
        said.append(f"The raw colour let expect {' or '.join(groups)}: {came}.")
    elif groups:
        said.append(f"Not fired yet. The raw colour lets expect {' or '.join(groups)}: {why}.")
    elif why:
        said.append(f"Not fired yet: {why}.")
    iron = _with(known, "fe2o3_pct")
    said += [f"{float(item.value):.2g} % iron oxide." for item in iron]
    pale = any(fired_group(str(item.value)) == "white" for item in chips)
    if pale or any(float(item.value) < LOW_IRON_PCT for item in iron):
        said.append(
            "Low in iron: 10 to 15 % of it in a local body lets that stand more heat (common practice)."
        )
    return said, [*chips, *raw, *_with(known, "fe2o3_pct")]


def _contaminants(known: Sequence[Measurement], _: str) -> tuple[list[str], list[Measurement]]:
    said = []
    told = {
        "fizz": lambda item: f"Fizz: {item.value}{f' {item.note}' if item.note else ''}.",
        "lime_range": lambda item: f"That goes with {item.value} of lime.",
        "roots": lambda item: f"Roots: {item.value}." if item.value != "none" else "No roots.",
        "white_line": lambda item: f"White line of salts: {item.value}.",
        "pops": lambda item: (
            f"Lime pops {item.note}: {item.value}." if item.note else f"Lime pops: {item.value}."
        ),
        "coarse_pct": lambda item: (
            f"{item.value:.2g} % stayed on the screen{f' ({item.note})' if item.note else ''}."
        ),
    }
    for key, say in told.items():
        said += [say(item) for item in _with(known, key)]
    faults = list(dict.fromkeys(str(item.value) for item in _with(known, "faults")))
    real = [fault for fault in faults if fault != "none"]
    if real:
        said.append(f"Fired bars showed {', '.join(real)}.")
        said += [cure for cure in (judgement().cure(fault) for fault in real) if cure]
    elif faults:
        said.append("Fired bars were sound.")
    return list(dict.fromkeys(said)), _with(known, *told, "faults", "grit", "stones_pct")


def _listed(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def _many(item: Measurement) -> str:
    spread = item.spread
    return (
        f" ({spread.n} bars, {spread.low:.2g} to {spread.high:.2g} %)"
        if spread is not None and spread.n > 1
        else ""
    )

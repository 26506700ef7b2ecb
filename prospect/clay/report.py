"""What a clay is, said in the trade's order, with everything that it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from prospect.clay.firing_curve import FiringStep, firing_steps
from prospect.clay.measuring import ANY, Measurement, impossible_in, measurements_of, preparations_in
from prospect.clay.preparation import read_preparation
from prospect.clay.readings import Reading, reading
from prospect.clay.specimen import Specimen
from prospect.clay.steps import Step, next_step
from prospect.clay.uses import QUESTIONS, judgement, use_for
from prospect.clay.verdict import UseVerdict, holding_for, judge
from prospect.records import Usable

ALWAYS = (
    "Never taste clay to test it.",
    "Dry clay makes dust that harms the lungs: work it wet, wipe up wet, and wear a fitted respirator in any dust.",
)
FOOD = "Before ware for food is made of it, have a laboratory look at the clay and at what the glazed ware gives off."
FLAGS = {
    "lead": "lead in the ground",
    "arsenic": "arsenic in the ground",
    "asbestos": "rock that may hold asbestos minerals: do not crush or grind it dry, better leave it",
    "land use": "what the ground was used for before (orchard, mine, works, fill)",
    "coal": "coal or black shale near: sulphur, arsenic, uranium may be in it",
}
"""Reasons to ask a laboratory, by the key that a caller gives."""


@dataclass(frozen=True, slots=True)
class PreparationReport:
    """What one preparation of a clay is.

    Attributes
    ----------
    preparation
        As written on record.
    title
        In words.
    readings
        The trade's questions in their order.
    verdicts
        One for each use, the wanted one first.
    steps
        The firing curve, from cool to hot.
    """

    preparation: str
    title: str
    readings: tuple[Reading, ...]
    verdicts: tuple[UseVerdict, ...]
    steps: tuple[FiringStep, ...]

    def verdict(self, use: str) -> UseVerdict | None:
        """Return the verdict for a use by its key."""
        return next((item for item in self.verdicts if item.use.key == use), None)


@dataclass(frozen=True, slots=True)
class ClayReport:
    """Everything that is known of a clay and what it means.

    Attributes
    ----------
    specimen
        What was asked about.
    purpose
        What the clay is wanted for.
    measurements
        Everything that was measured or noted.
    preparations
        Raw first.
    usable, quality, completeness
        To the map, for the purpose: of the best preparation. `usable` is what the person said where they did.
    usable_because
        Why.
    next_step
        What to do next in the order of work; None when all of it was done.
    doubts
        Sentences: figures that cannot be, readings unlike the others, bars without a cone.
    cautions
        What to look out for, the clay's own first.
    """

    specimen: Specimen
    purpose: str
    measurements: tuple[Measurement, ...]
    preparations: tuple[PreparationReport, ...]
    usable: Usable
    quality: float | None
    completeness: float
    usable_because: str
    next_step: Step | None
    doubts: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def name(self) -> str:
        """What the clay is called."""
        return self.specimen.name


def assess(specimen: Specimen, purpose: str = "any", flags: Sequence[str] = ()) -> ClayReport:
    """Return what a clay is and what it is fit for.

    Parameters
    ----------
    specimen
        The clay (`specimen_of`).
    purpose
        One of the purposes of a ground; its use is judged first and decides what goes to the map.
    flags
        Keys of `FLAGS` that hold where it was dug.

    Notes
    -----
    Every sentence rests on measurements that come with it. What was not tested stays unknown: it lowers the
    completeness and is never counted as nought. Verdicts hold for a preparation.
    """
    found = measurements_of(specimen)
    named = preparations_in(found) or ("raw",)
    if not any(read_preparation(item).kind == "raw" for item in named) and any(
        item.preparation == ANY for item in found
    ):
        named = ("raw", *named)
    reports = tuple(_of_preparation(found, item, purpose) for item in named)
    usable, quality, completeness, because = _to_the_map(specimen, reports, purpose)
    return ClayReport(
        specimen,
        purpose,
        found,
        reports,
        usable,
        quality,
        completeness,
        because,
        next_step(specimen),
        (*impossible_in(specimen), *_doubts(found)),
        (*_own_cautions(found, flags), *ALWAYS),
    )


def _of_preparation(found: Sequence[Measurement], preparation: str, purpose: str) -> PreparationReport:
    wanted = use_for(purpose)
    uses = judgement().uses
    ordered = sorted(uses, key=lambda use: use is not wanted)
    known = holding_for(found, preparation)
    return PreparationReport(
        preparation,
        read_preparation(preparation).words,
        tuple(reading(question, known, preparation) for question in QUESTIONS),
        tuple(judge(found, preparation, use) for use in ordered),
        firing_steps(known, preparation),
    )


def _to_the_map(
    specimen: Specimen, reports: Sequence[PreparationReport], purpose: str
) -> tuple[Usable, float | None, float, str]:
    rules = judgement().rules
    verdicts = [
        verdict for report in reports for verdict in report.verdicts if purpose in verdict.use.purposes
    ]
    best = max(verdicts, key=lambda item: (item.quality or 0.0) * item.completeness)
    said = (
        specimen.sample.usable if specimen.sample else specimen.layer.usable if specimen.layer else "unknown"
    )
    how = f"{best.use.title}, {read_preparation(best.preparation).words}"
    if said != "unknown":
        return said, best.quality, best.completeness, "as it was judged by hand"
    if best.quality is None:
        return "unknown", None, best.completeness, "too little was tested"
    if best.quality >= rules.usable_from and best.completeness >= rules.usable_from:
        return "yes", best.quality, best.completeness, f"for {how}"
    if best.quality < rules.useless_below and all(
        verdict.quality is not None and verdict.quality < rules.useless_below for verdict in verdicts
    ):
        return "no", best.quality, best.completeness, f"even for {how}"
    return "unknown", best.quality, best.completeness, f"not enough to say; best for {how}"


def _doubts(found: Sequence[Measurement]) -> list[str]:
    said = [
        f"{item.title}: {', '.join(item.questioned)} unlike the others. Measure again; it still counts."
        for item in found
        if item.questioned
    ]
    said += [
        f"{item.title} of {', '.join(item.sources)}: {item.note}."
        for item in found
        if item.note in ("the cone is not noted",)
    ]
    return list(dict.fromkeys(said))


def _own_cautions(found: Sequence[Measurement], flags: Sequence[str]) -> list[str]:
    rules = judgement().rules
    reasons = [FLAGS[flag] for flag in flags if flag in FLAGS]
    for key, limit, what in (
        ("lead_mg_kg", rules.lead_mg_kg, "lead"),
        ("arsenic_mg_kg", rules.arsenic_mg_kg, "arsenic"),
    ):
        reasons += [
            f"{item.value:g} mg/kg of {what}"
            for item in found
            if item.key == key and (item.number or 0.0) >= limit
        ]
    return [f"{FOOD} The reason here: {'; '.join(dict.fromkeys(reasons))}."] if reasons else []

"""Takes a score apart at one spot, with the same code that made the map, on a window of one cell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from prospect.criteria import Criterion, DepositModel, Factors, Judged, criterion_reader, for_purpose
from prospect.criteria.definition import Combine
from prospect.criteria.evaluate import CELL_WIDE, rule_reader
from prospect.favourability.assess import ROUNDING, ModelScore, PreparedModel, score_window
from prospect.favourability.notes import criterion_note
from prospect.favourability.wording import NOT_KNOWN, value_at
from prospect.records import CriterionReading, GateReading, ModelReading
from prospect.scoring import FLOOR


def explain(
    models: Sequence[DepositModel], factors: Factors, row: int, col: int, purpose: str = "any"
) -> tuple[ModelReading, ...]:
    """Take every model apart at one cell.

    Parameters
    ----------
    models
        In the order in which readings are wanted.
    factors
        The ground.
    row, col
        The cell.
    purpose
        What the clay is wanted for.

    Returns
    -------
    tuple of ModelReading
        One per model. The share of a criterion in a score S of the geometric mean is
        ``w ln(m / .01) / ln(S / .01)`` with the weights w renormalised over the known criteria: how much of the way
        up from the floor it accounts for; shares of the top level sum to 1. The parts of a criterion divide its share
        by weight × membership, or it goes whole to the part that decided. Bonuses that were given stand last, with
        weight and share 0.

    Raises
    ------
    WrongUsage
        When there is no such purpose.
    IndexError
        When the cell is not on the grid.
    """
    rows, cols = factors.grid.shape
    if not (0 <= row < rows and 0 <= col < cols):
        raise IndexError(f"cell ({row}, {col}) is not on a grid of {rows} × {cols}")
    cell = factors.part(slice(row, row + 1), slice(col, col + 1))
    return tuple(_reading(for_purpose(model, purpose), cell) for model in models)


def _reading(model: DepositModel, cell: Factors) -> ModelReading:
    prepared = PreparedModel.of(model, cell)
    model, score = prepared.model, score_window(prepared, CELL_WIDE)
    value = _number(score.value)
    lead = bool(score.can_lead[0, 0])
    return ModelReading(
        deposit=model.key,
        title=model.title,
        favourability=value,
        linear=_number(score.linear),
        completeness=float(score.completeness[0, 0]),
        can_lead=lead,
        cannot_say="" if lead else _cannot_say(model, score),
        criteria=(*_criteria(model, score, cell), *_bonuses(model, score, cell)),
        gates=tuple(_gates(model, score, cell)),
        cautions=tuple(_cautions(model, cell)),
    )


def _cannot_say(model: DepositModel, score: ModelScore) -> str:
    if not score.evidence[0, 0]:
        return f"Cannot say: this model needs {model.needs}."
    known = float(score.completeness[0, 0])
    return (
        f"Cannot say: only {known:.0%} of what this model looks at is known, "
        f"and {model.least_completeness:.0%} is needed."
    ).replace("%", " %")


def _criteria(model: DepositModel, score: ModelScore, cell: Factors) -> Iterator[CriterionReading]:
    for criterion, judged, share in zip(
        model.criteria, score.criteria, top_shares(model, score), strict=True
    ):
        defining = criterion.key in model.defining_criteria
        yield from _below(criterion, judged, criterion.weight, share, cell, defining=defining)


def top_shares(model: DepositModel, score: ModelScore) -> list[float | None]:
    """Return each top criterion's share of the geometric mean's way up from the floor; None when missing."""
    memberships = [_number(judged.membership) for judged in score.criteria]
    lifts = [
        None if membership is None else criterion.weight * float(np.log(max(membership, FLOOR) / FLOOR))
        for criterion, membership in zip(model.criteria, memberships, strict=True)
    ]
    total = sum(lift for lift in lifts if lift is not None)
    if total > 0:
        return [None if lift is None else lift / total for lift in lifts]
    weights = [
        None if membership is None else criterion.weight
        for criterion, membership in zip(model.criteria, memberships, strict=True)
    ]
    known = sum(weight for weight in weights if weight is not None)
    return [None if weight is None else weight / known for weight in weights]


def _below(
    criterion: Criterion,
    judged: Judged,
    weight: float,
    share: float | None,
    cell: Factors,
    *,
    level: int = 0,
    defining: bool = False,
) -> Iterator[CriterionReading]:
    parts = [criterion_reader(part, cell)(CELL_WIDE) for part in criterion.parts]
    memberships = [_number(part.membership) for part in parts]
    yield CriterionReading(
        key=criterion.key,
        title=criterion.title,
        value=_value(criterion, memberships, cell),
        membership=_number(judged.membership),
        weight=weight,
        share=share,
        source=_source(criterion, cell),
        note=criterion_note(criterion, cell, top=level == 0),
        defining=defining,
        level=level,
    )
    if not parts:
        return
    how = criterion.combine or "weighted"
    weights = _part_weights(how, criterion.parts)
    shares = _part_shares(how, memberships, weights, share)
    for part, part_judged, part_weight, part_share in zip(
        criterion.parts, parts, weights, shares, strict=True
    ):
        yield from _below(part, part_judged, part_weight, part_share, cell, level=level + 1)


def _part_weights(how: Combine, parts: Sequence[Criterion]) -> list[float]:
    if how == "weighted":
        return [part.weight for part in parts]
    return [1 / len(parts) if how == "mean" else 1.0 for _ in parts]


def _part_shares(
    how: Combine, memberships: Sequence[float | None], weights: Sequence[float], share: float | None
) -> list[float | None]:
    known = [place for place, membership in enumerate(memberships) if membership is not None]
    if share is None or not known:
        return [None for _ in memberships]
    found = {place: float(memberships[place] or 0.0) for place in known}
    if how in ("weighted", "mean"):
        lifts = {place: weights[place] * found[place] for place in known}
        total = sum(lifts.values())
        parts = {place: lift / total if total > 0 else 1 / len(known) for place, lift in lifts.items()}
    else:
        decided = _decided(how, found)
        parts = {place: float(place == decided) for place in known}
    return [parts[place] * share if place in parts else None for place in range(len(memberships))]


def _decided(how: Combine, found: dict[int, float]) -> int:
    if how == "max":
        return max(found, key=lambda place: found[place])
    if how == "first":
        return min(found)
    return min(found, key=lambda place: found[place])


def _value(criterion: Criterion, memberships: Sequence[float | None], cell: Factors) -> str:
    if not criterion.parts:
        shown = value_at(criterion.factor, cell)
        if shown == NOT_KNOWN and criterion.otherwise:
            return value_at(criterion.otherwise, cell)
        return shown
    known = {place: membership for place, membership in enumerate(memberships) if membership is not None}
    if not known:
        return NOT_KNOWN
    how = criterion.combine or "weighted"
    if how in ("weighted", "mean"):
        return f"{len(known)} of {len(memberships)} known"
    decided = criterion.parts[_decided(how, known)]
    if decided.parts:
        return f"decided by {_lower_first(decided.title)}"
    return f"{_lower_first(decided.title)}: {_value(decided, (), cell)}"


def _source(criterion: Criterion, cell: Factors) -> str:
    names = [leaf.factor for leaf in criterion.leaves() if value_at(leaf.factor, cell) != NOT_KNOWN]
    names += [
        leaf.otherwise
        for leaf in criterion.leaves()
        if leaf.otherwise
        and value_at(leaf.factor, cell) == NOT_KNOWN
        and value_at(leaf.otherwise, cell) != NOT_KNOWN
    ]
    return "; ".join(dict.fromkeys(source for name in names if (source := cell.source(name))))


def _gates(model: DepositModel, score: ModelScore, cell: Factors) -> Iterator[GateReading]:
    for gate, fired in zip(model.gates, score.gates, strict=True):
        share = float(np.broadcast_to(fired, (1, 1))[0, 0])
        if share <= ROUNDING:
            continue
        part = (
            ""
            if share > 1 - ROUNDING
            else f" This holds for {share:.0%} of the soil map unit.".replace("%", " %")
        )
        names = [test.factor for test in gate.conditions if value_at(test.factor, cell) != NOT_KNOWN]
        sources = dict.fromkeys(source for name in names if (source := cell.source(name)))
        yield GateReading(
            gate.key, gate.title, 1 - share * (1 - gate.factor), gate.reason + part, "; ".join(sources)
        )


def _bonuses(model: DepositModel, score: ModelScore, cell: Factors) -> Iterator[CriterionReading]:
    for bonus, fired in zip(model.bonuses, score.bonuses, strict=True):
        share = float(np.broadcast_to(fired, (1, 1))[0, 0])
        if share <= ROUNDING:
            continue
        name = bonus.conditions[0].factor
        yield CriterionReading(
            key=bonus.key,
            title=bonus.title,
            value=value_at(name, cell),
            membership=share,
            weight=0.0,
            share=0.0,
            source=cell.source(name),
            note=f"A bonus: adds {share * bonus.add:.2f} to the score, which is then held to 1.",
        )


def _cautions(model: DepositModel, cell: Factors) -> Iterator[str]:
    for caution in model.cautions:
        degree = rule_reader(caution.conditions, "all", cell)(CELL_WIDE)
        if float(np.broadcast_to(degree, (1, 1))[0, 0]) > ROUNDING:
            yield caution.text


def _number(values: object) -> float | None:
    value = float(np.broadcast_to(np.asarray(values), (1, 1))[0, 0])
    return value if np.isfinite(value) else None


def _lower_first(text: str) -> str:
    return text[:1].lower() + text[1:]

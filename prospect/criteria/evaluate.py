"""Each criterion as a membership on the grid; soil is judged per component first, then by percent."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from prospect.criteria.definition import Adjustment, Combine, Condition, Criterion, Membership
from prospect.criteria.factors import ClassLayer, Factors, Place, factor_list, place_of
from prospect.criteria.tables import TableReader, by_code, holds
from prospect.scoring import weighted_linear_combination, weighted_sum
from prospect.types import FloatArray, IntArray

Window = tuple[slice, slice]
CELL_WIDE: Window = (slice(0, 1), slice(0, 1))


@dataclass(frozen=True, slots=True)
class Judged:
    """A criterion's memberships, and how much of what it looks at is known.

    Attributes
    ----------
    membership
        0..1, NaN = missing; one per cell of the window, or one for all of it.
    known
        Share of its weights with data, 0..1.
    """

    membership: FloatArray
    known: FloatArray


Reader = Callable[[Window], Judged]
DegreeReader = Callable[[Window], FloatArray]


def criterion_reader(criterion: Criterion, factors: Factors) -> Reader:
    """Prepare a criterion for reading window by window.

    Parameters
    ----------
    criterion
        From a deposit model.
    factors
        The ground. What hangs on soil or geologic units alone is worked out here, once per unit.

    Returns
    -------
    callable
        From a pair of slices (rows, columns) to `Judged` arrays that broadcast to the window's shape.
    """
    home = _home(criterion.factors())
    if home in ("soil", "unit"):
        layer = factors.layer(home)
        if layer is None:
            return _missing
        return _taken(layer, judge_rows(criterion, layer, factors))
    if criterion.parts:
        readers = [criterion_reader(part, factors) for part in criterion.parts]
        weights = [part.weight for part in criterion.parts]
        how = criterion.combine or "weighted"
        reader: Reader = lambda window: combine(how, [read(window) for read in readers], weights)  # noqa: E731
    else:
        reader = _leaf_reader(criterion, factors)
    return _adjusted(reader, criterion.adjust, factors)


def judge_rows(criterion: Criterion, layer: ClassLayer, factors: Factors) -> Judged:
    """Return a criterion's memberships per row of a class layer's table (soil component or geologic unit)."""
    table = TableReader(layer, factors.constants)
    if criterion.parts:
        parts = [judge_rows(part, layer, factors) for part in criterion.parts]
        judged = combine(criterion.combine or "weighted", parts, [part.weight for part in criterion.parts])
    else:
        membership = _row_membership(criterion, table)
        judged = Judged(membership, _as_known(membership))
    for change in criterion.adjust:
        judged = _adjust(judged, change, _all([table.test(test) for test in change.conditions]))
    return judged


def rule_reader(conditions: Sequence[Condition], when: str, factors: Factors) -> DegreeReader:
    """Prepare the conditions of a gate, bonus or piece of evidence.

    Parameters
    ----------
    conditions
        None = always.
    when
        `any` or `all`.
    factors
        The ground.

    Returns
    -------
    callable
        From a window to the share of the ground on which the conditions hold, 0..1: 0 or 1 for cells and geologic
        units; of soil conditions, which must hold together in one component, the percent of those components.
    """
    join = _any if when == "any" else _all
    readers: list[DegreeReader] = []
    for place in ("soil", "unit"):
        tests = [test for test in conditions if place_of(test.factor) == place]
        if tests:
            readers.append(_class_rule(tests, join, factors.layer(place), factors))
    readers += [
        _cell_test(test, factors) for test in conditions if place_of(test.factor) in ("cell", "constant")
    ]
    if not readers:
        return _fixed(np.ones((1, 1), dtype=np.float32))
    return lambda window: join([read(window) for read in readers])


def combine(how: Combine, parts: Sequence[Judged], weights: Sequence[float]) -> Judged:
    """Combine judged parts; see `Criterion.combine` for the ways."""
    layers = _stack(part.membership for part in parts)
    known = _stack(part.known for part in parts)
    first = layers[0]
    match how:
        case "weighted":
            share = np.asarray(weights, dtype=np.float32) / np.float32(sum(weights))
            return Judged(weighted_linear_combination(layers, weights), weighted_sum(known, share))
        case "mean":
            equal = np.ones(len(parts), dtype=np.float32)
            return Judged(weighted_linear_combination(layers, equal), known.mean(axis=0))
        case "min":
            return Judged(np.fmin.reduce(layers), known.mean(axis=0))
        case "max":
            return Judged(np.fmax.reduce(layers), known.max(axis=0))
        case "first":
            chosen, chosen_known = first, known[0]
            for layer, part_known in zip(layers[1:], known[1:], strict=True):
                gap = np.isnan(chosen)
                chosen, chosen_known = np.where(gap, layer, chosen), np.where(gap, part_known, chosen_known)
            return Judged(chosen, chosen_known)
        case "limited":
            return Judged(np.where(np.isnan(first), first, np.fmin.reduce(layers)), known[0])
        case "product":
            others = np.prod(np.where(np.isnan(layers[1:]), np.float32(1), layers[1:]), axis=0)
            return Judged(first * others, known[0])


def _leaf_reader(criterion: Criterion, factors: Factors) -> Reader:
    membership = criterion.membership
    assert membership is not None
    read = _factor_reader(criterion, criterion.factor, membership, factors)
    if not criterion.otherwise:
        return lambda window: _judged(read(window))
    instead = _factor_reader(criterion, criterion.otherwise, membership, factors)

    def filled(window: Window) -> Judged:
        values = read(window)
        return _judged(np.where(np.isnan(values), instead(window), values))

    return filled


def _factor_reader(
    criterion: Criterion, name: str, membership: Membership, factors: Factors
) -> Callable[[Window], FloatArray]:
    place = place_of(name)
    if place in ("soil", "unit"):
        layer = factors.layer(place)
        if layer is None:
            return _fixed(_nothing())
        rows = TableReader(layer, factors.constants).membership(name, membership, criterion.beyond)
        taken = _taken(layer, _judged(rows))
        return lambda window: taken(window).membership
    if place == "constant":
        value = np.full((1, 1), factors.constants.get(name, np.nan), dtype=np.float32)
        constant = membership.of_numbers(value)
        return _fixed(constant)
    raster = factors.rasters.get(name)
    if raster is None:
        return _fixed(_nothing())
    if not membership.reads_words:
        return lambda window: membership.of_numbers(raster.values[window])
    by_class = np.append(membership.of_words(factor_list()[name].classes), np.float32(np.nan))
    return lambda window: by_class[class_codes(raster.values[window], len(by_class) - 1)]


def class_codes(values: FloatArray, count: int) -> IntArray:
    """Return class codes as integers; -1 where there is none or it is not one of `count`."""
    known = np.isfinite(values) & (values >= 0) & (values < count)
    return np.where(known, values, -1).astype(np.intp)


def _row_membership(criterion: Criterion, table: TableReader) -> FloatArray:
    assert criterion.membership is not None
    values = table.membership(criterion.factor, criterion.membership, criterion.beyond)
    if criterion.otherwise:
        instead = table.membership(criterion.otherwise, criterion.membership, criterion.beyond)
        values = np.where(np.isnan(values), instead, values)
    return values


def _taken(layer: ClassLayer, rows: Judged) -> Reader:
    membership = by_code(rows.membership, layer, over="known")
    known = by_code(rows.known, layer, over="all")
    return lambda window: Judged(membership[layer.codes[window]], np.nan_to_num(known[layer.codes[window]]))


def _class_rule(
    tests: Sequence[Condition],
    join: Callable[[Sequence[FloatArray]], FloatArray],
    layer: ClassLayer | None,
    factors: Factors,
) -> DegreeReader:
    if layer is None:
        nowhere = join([np.full((1, 1), _when_missing(test), dtype=np.float32) for test in tests])
        return _fixed(nowhere)
    table = TableReader(layer, factors.constants)
    shares = by_code(join([table.test(test) for test in tests]), layer, over="all")
    shares[-1] = join([np.full(1, _when_missing(test), dtype=np.float32) for test in tests])[0]
    unlisted = np.isnan(shares)
    shares[unlisted] = shares[-1]
    return lambda window: shares[layer.codes[window]]


def _cell_test(test: Condition, factors: Factors) -> DegreeReader:
    if place_of(test.factor) == "constant":
        value = np.full((1, 1), factors.constants.get(test.factor, np.nan), dtype=np.float32)
        held = holds(test, value)
        return _fixed(held)
    raster = factors.rasters.get(test.factor)
    if raster is None:
        nowhere = np.full((1, 1), _when_missing(test), dtype=np.float32)
        return _fixed(nowhere)
    names = factor_list()[test.factor].classes
    if not names:
        return lambda window: holds(test, raster.values[window])
    by_class = np.append(
        holds(test, np.arange(len(names), dtype=np.float32)), np.float32(_when_missing(test))
    )
    if test.words or test.without:
        wanted = [
            float((not test.words or name in test.words) and name not in test.without) for name in names
        ]
        by_class[:-1] = wanted
    return lambda window: by_class[class_codes(raster.values[window], len(names))]


def _when_missing(test: Condition) -> float:
    return float(not test.known or test.unknown == "holds")


def _adjusted(reader: Reader, changes: Sequence[Adjustment], factors: Factors) -> Reader:
    for change in changes:
        reader = _one_adjusted(reader, change, rule_reader(change.conditions, "all", factors))
    return reader


def _one_adjusted(reader: Reader, change: Adjustment, degree: DegreeReader) -> Reader:
    return lambda window: _adjust(reader(window), change, degree(window))


def _adjust(judged: Judged, change: Adjustment, degree: FloatArray) -> Judged:
    values, known = judged.membership, judged.known
    target = values
    if change.at_least is not None:
        target = np.fmax(target, np.float32(change.at_least))
    if change.at_most is not None:
        target = np.minimum(target, np.float32(change.at_most))
    moved = np.where(degree > 0, values * (1 - degree) + target * degree, values)
    filled = np.isnan(values) & ~np.isnan(target) & (degree >= 0.5)
    return Judged(np.where(filled, target, moved), np.where(filled, np.float32(1), known))


def _home(names: Iterable[str]) -> Place:
    places: set[Place] = {place_of(name) for name in names}
    places.discard("constant")
    return places.pop() if len(places) == 1 else "cell"


def _judged(membership: FloatArray) -> Judged:
    return Judged(membership, _as_known(membership))


def _as_known(membership: FloatArray) -> FloatArray:
    return (~np.isnan(membership)).astype(np.float32)


def _fixed(value: FloatArray) -> DegreeReader:
    def read(window: Window) -> FloatArray:  # noqa: ARG001
        return value

    return read


def _nothing() -> FloatArray:
    return np.full((1, 1), np.nan, dtype=np.float32)


def _missing(window: Window) -> Judged:  # noqa: ARG001
    return _judged(_nothing())


def _stack(arrays: Iterable[FloatArray]) -> FloatArray:
    return np.stack(np.broadcast_arrays(*arrays))


def _all(degrees: Sequence[FloatArray]) -> FloatArray:
    return np.minimum.reduce(np.broadcast_arrays(*degrees)) if degrees else np.ones(1, dtype=np.float32)


def _any(degrees: Sequence[FloatArray]) -> FloatArray:
    return np.maximum.reduce(np.broadcast_arrays(*degrees)) if degrees else np.zeros(1, dtype=np.float32)

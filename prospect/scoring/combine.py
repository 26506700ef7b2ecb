"""Weighted and fuzzy combinations of memberships in which a missing one is dropped, never taken as zero."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import ArrayLike

from prospect.types import BoolArray, FloatArray

FLOOR = 0.01
"""The least a membership counts as before logarithms and products, so that one zero does not end everything."""

CEILING = 0.99
"""The most a membership counts as in an algebraic sum, so that one certainty does not decide everything."""


def weighted_linear_combination(memberships: ArrayLike, weights: ArrayLike) -> FloatArray:
    """Combine memberships so that a good one pays for a poor one.

    Parameters
    ----------
    memberships : (n, ...)
        One layer per criterion, 0..1; NaN = missing.
    weights : (n,)
        Not negative, not all zero; they are renormalised over what is known at each place.

    Returns
    -------
    (...)
        Sum of weight × membership over the known criteria, divided by their weights; NaN where none is known.

    Raises
    ------
    ValueError
        When the weights do not fit the memberships, are negative, not finite or all zero.

    Notes
    -----
    Weighted linear combination as in Malczewski (1999) and Eastman (1999).
    """
    layers, weight = _aligned(memberships, weights)
    known, total = _known_weight(layers, weight)
    filled = np.where(known, layers, 0)
    return _divide(weighted_sum(filled, weight), total)


def weighted_geometric_mean(
    memberships: ArrayLike, weights: ArrayLike, *, floor: float = FLOOR
) -> FloatArray:
    """Combine memberships so that a poor one cannot be paid for in full.

    Parameters
    ----------
    memberships : (n, ...)
        One layer per criterion, 0..1; NaN = missing.
    weights : (n,)
        Not negative, not all zero; renormalised over what is known at each place.
    floor
        Least value that a membership counts as; there is no upper clip.

    Returns
    -------
    (...)
        Product of membership ** weight with renormalised weights; NaN where nothing is known.

    Raises
    ------
    ValueError
        As for `weighted_linear_combination`, or when `floor` is not above 0.
    """
    if not 0 < floor <= 1:
        raise ValueError(f"the floor must be above 0 and at most 1, got {floor}")
    layers, weight = _aligned(memberships, weights)
    known, total = _known_weight(layers, weight)
    logs = np.log(np.maximum(np.where(known, layers, 1), layers.dtype.type(floor)))
    return np.exp(_divide(weighted_sum(logs, weight), total))


def fuzzy_gamma(memberships: ArrayLike, gamma: float = 0.85) -> FloatArray:
    """Combine memberships between their product (gamma 0) and their algebraic sum (gamma 1).

    Parameters
    ----------
    memberships : (n, ...)
        One layer per criterion, 0..1; NaN = missing, left out of both.
    gamma
        0..1.

    Returns
    -------
    (...)
        ``sum ** gamma * product ** (1 - gamma)``; NaN where nothing is known.

    Raises
    ------
    ValueError
        When `gamma` lies outside 0..1.

    Notes
    -----
    An, Moon and Rencz (1991); Bonham-Carter (1994). The product counts nothing below `FLOOR`, the algebraic sum
    nothing above `CEILING`.
    """
    if not 0 <= gamma <= 1:
        raise ValueError(f"gamma must lie between 0 and 1, got {gamma}")
    layers = _as_float(memberships)
    known = ~np.isnan(layers)
    product = np.prod(np.where(known, np.maximum(layers, FLOOR), 1), axis=0)
    algebraic = 1 - np.prod(np.where(known, 1 - np.minimum(layers, CEILING), 1), axis=0)
    combined = algebraic**gamma * product ** (1 - gamma)
    return np.where(known.any(axis=0), combined, np.nan)


def completeness(memberships: ArrayLike, weights: ArrayLike) -> FloatArray:
    """Return the share of the weights whose criterion is known.

    Parameters
    ----------
    memberships : (n, ...)
        NaN = missing.
    weights : (n,)
        Not negative, not all zero.

    Returns
    -------
    (...)
        0..1.

    Raises
    ------
    ValueError
        As for `weighted_linear_combination`.
    """
    layers, weight = _aligned(memberships, weights)
    _, total = _known_weight(layers, weight)
    return np.asarray(np.minimum(total / weight.sum(), 1), dtype=layers.dtype)


def apply_gates(score: ArrayLike, gates: Iterable[tuple[FloatArray | BoolArray, float]]) -> FloatArray:
    """Multiply a score by the factor of every gate that fired.

    Parameters
    ----------
    score : (...)
        0..1; NaN stays NaN.
    gates
        Pairs of (how far the gate fired, factor): a bool array, or the share of the ground on which it fired,
        0..1; NaN = unknown, which never fires.

    Returns
    -------
    (...)
        ``score * product(1 - share * (1 - factor))``.

    Raises
    ------
    ValueError
        When a factor lies outside 0..1.
    """
    result = _as_float(score).copy()
    for fired, factor in gates:
        if not 0 <= factor <= 1:
            raise ValueError(f"a gate's factor must lie between 0 and 1, got {factor}")
        share = np.nan_to_num(np.asarray(fired, dtype=result.dtype), nan=0.0)
        result *= 1 - share * result.dtype.type(1 - factor)
    return result


def weighted_sum(layers: FloatArray | BoolArray, weights: FloatArray) -> FloatArray:
    """Return the sum of weight × layer over the first axis, in the weights' precision.

    The order of the additions is fixed, so that a cell gets the same sum whatever window it is read in.
    """
    total = np.zeros(layers.shape[1:], dtype=weights.dtype)
    for layer, weight in zip(layers, weights, strict=True):
        total += layer * weight
    return total


def _as_float(values: ArrayLike) -> FloatArray:
    array = np.asarray(values)
    return array if array.dtype in (np.float32, np.float64) else array.astype(np.float64)


def _aligned(memberships: ArrayLike, weights: ArrayLike) -> tuple[FloatArray, FloatArray]:
    layers = _as_float(memberships)
    weight = np.asarray(weights, dtype=layers.dtype)
    if layers.ndim < 1 or weight.shape != layers.shape[:1]:
        raise ValueError(f"{layers.shape[:1]} layers of memberships for {weight.shape} weights")
    if not np.isfinite(weight).all() or (weight < 0).any() or weight.sum() <= 0:
        raise ValueError(f"weights must be finite, not negative and not all zero, got {_listed(weight)}")
    return layers, weight


def _listed(weight: FloatArray) -> Sequence[float]:
    return [float(value) for value in weight]


def _known_weight(layers: FloatArray, weight: FloatArray) -> tuple[BoolArray, FloatArray]:
    known = ~np.isnan(layers)
    return known, weighted_sum(known, weight)


def _divide(above: FloatArray, below: FloatArray) -> FloatArray:
    below = np.asarray(below)
    return np.divide(above, below, out=np.full_like(below, np.nan), where=below > 0)

"""Turns a measured value or a word into a membership 0..1; what is missing stays missing."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from prospect.types import FloatArray

Several = Literal["max", "min", "mean"]
Points = Sequence[tuple[float, float]]

_REDUCE: dict[str, Callable[[Sequence[float]], float]] = {
    "max": max,
    "min": min,
    "mean": lambda values: sum(values) / len(values),
}
_SEPARATORS = re.compile(r"[;,|/–—]|(?<=[a-z])-(?=[a-z]$)")


def up(x: ArrayLike, a: float, b: float) -> FloatArray:
    """Rise from 0 at `a` to 1 at `b`, straight between; NaN stays NaN."""
    return piecewise_linear(x, ((a, 0.0), (b, 1.0)))


def down(x: ArrayLike, a: float, b: float) -> FloatArray:
    """Fall from 1 at `a` to 0 at `b`, straight between; NaN stays NaN."""
    return piecewise_linear(x, ((a, 1.0), (b, 0.0)))


def trapezoid(x: ArrayLike, a: float, b: float, c: float, d: float) -> FloatArray:
    """Rise from `a` to `b`, hold 1 to `c`, fall to 0 at `d`; NaN stays NaN."""
    return piecewise_linear(x, ((a, 0.0), (b, 1.0), (c, 1.0), (d, 0.0)))


def piecewise_linear(
    x: ArrayLike, points: Points, *, scale: Literal["linear", "log10"] = "linear"
) -> FloatArray:
    """Follow straight lines between points, flat beyond the first and the last.

    Parameters
    ----------
    x : (...)
        Values in the unit of the points; NaN stays NaN.
    points
        Pairs (value, membership), values ascending.
    scale
        `log10`: straight between the logarithms of the values; points stay in natural units, and values of 0 or
        less take the lowest point.

    Returns
    -------
    (...) float32
        0..1.
    """
    values = np.asarray(x, dtype=np.float32)
    nodes, heights = np.asarray(points, dtype=np.float64).T
    if scale == "log10":
        nodes = np.log10(nodes)
        positive = np.isnan(values) | (values > 0)
        values = np.log10(values, out=np.full_like(values, nodes[0]), where=positive)
    return np.asarray(np.interp(values, nodes, heights), dtype=np.float32)


def steps(x: ArrayLike, points: Points) -> FloatArray:
    """Take the membership of the last point at or below the value; below the first, that of the first."""
    values = np.asarray(x, dtype=np.float32)
    nodes, heights = np.asarray(points, dtype=np.float32).T
    place = np.clip(np.searchsorted(nodes, values, side="right") - 1, 0, len(nodes) - 1)
    return np.where(np.isnan(values), np.float32(np.nan), heights[place])


def large(x: ArrayLike, midpoint: float, spread: float) -> FloatArray:
    """Rise smoothly through 0.5 at `midpoint`: ``1 / (1 + (x / midpoint) ** -spread)``; 0 at 0 and below."""
    return np.asarray(1 - small(x, midpoint, spread), dtype=np.float32)


def small(x: ArrayLike, midpoint: float, spread: float) -> FloatArray:
    """Fall smoothly through 0.5 at `midpoint`: ``1 / (1 + (x / midpoint) ** spread)``; 1 at 0 and below."""
    ratio = np.maximum(np.asarray(x, dtype=np.float64), 0) / midpoint
    with np.errstate(over="ignore"):
        return np.asarray(1 / (1 + ratio**spread), dtype=np.float32)


def identity(x: ArrayLike) -> FloatArray:
    """Take the value itself, held to 0..1; NaN stays NaN."""
    return np.asarray(np.clip(np.asarray(x, dtype=np.float32), 0, 1), dtype=np.float32)


def classes(
    words: Iterable[object],
    values: Mapping[str, float],
    *,
    several: Several = "max",
    nothing_found: float | None = None,
) -> FloatArray:
    """Look whole names up in a table.

    Parameters
    ----------
    words : (n,)
        A name, or several separated by `;`, `,` or `/`; empty or NaN = unknown. Case does not matter.
    values
        Membership by lower-case name.
    several
        What becomes of several known names.
    nothing_found
        Membership of names that are not in the table; None = unknown.

    Returns
    -------
    (n,) float32
    """
    return _by_text(words, lambda text: _class_values(text, values), several, nothing_found)


def phrases(
    words: Iterable[object],
    values: Mapping[str, float],
    *,
    several: Several = "max",
    nothing_found: float | None = None,
) -> FloatArray:
    """Look for phrases in running text.

    Parameters
    ----------
    words : (n,)
        Text; empty or NaN = unknown. Case does not matter; whole words only, plurals in -s included.
    values
        Membership by phrase. ``a + b`` means both, anywhere. A phrase that is part of a longer one that was
        found does not count.
    several, nothing_found
        As for `classes`.

    Returns
    -------
    (n,) float32
    """
    return _by_text(words, lambda text: _phrase_values(text, values), several, nothing_found)


def found_phrases(text: str, wanted: Iterable[str]) -> tuple[str, ...]:
    """Return the phrases that occur in a text, without those that are part of a longer one found."""
    lowered = text.lower()
    found = [phrase for phrase in wanted if all(_pattern(part).search(lowered) for part in _parts(phrase))]
    return tuple(
        phrase
        for phrase in found
        if not any(len(other) > len(phrase) and _is_within(phrase, other) for other in found)
    )


def is_text(value: object) -> bool:
    """Whether a cell of a table holds words at all."""
    return isinstance(value, str) and bool(value.strip())


def _phrase_values(text: str, values: Mapping[str, float]) -> list[float]:
    return [values[phrase] for phrase in found_phrases(text, values)]


def _by_text(
    words: Iterable[object],
    look: Callable[[str], list[float]],
    several: Several,
    nothing_found: float | None,
) -> FloatArray:
    known: dict[str, float] = {}
    result = []
    for word in words:
        if not is_text(word):
            result.append(np.nan)
            continue
        text = str(word)
        if text not in known:
            found = look(text)
            missing = np.nan if nothing_found is None else nothing_found
            known[text] = _REDUCE[several](found) if found else missing
        result.append(known[text])
    return np.array(result, dtype=np.float32)


def _class_values(text: str, values: Mapping[str, float]) -> list[float]:
    lowered = text.strip().lower()
    if lowered in values:
        return [values[lowered]]
    return [values[name] for part in _SEPARATORS.split(lowered) if (name := part.strip()) in values]


@lru_cache(maxsize=4096)
def _pattern(phrase: str) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w){re.escape(phrase)}(?:s|es)?(?!\w)")


@lru_cache(maxsize=4096)
def _parts(phrase: str) -> tuple[str, ...]:
    return tuple(part.strip().lower() for part in phrase.split(" + "))


def _is_within(phrase: str, other: str) -> bool:
    return all(any(part in longer for longer in _parts(other)) for part in _parts(phrase))

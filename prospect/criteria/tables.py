"""Reads factors from the table of a class layer, row by row, and brings rows to codes by their percent."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

import numpy as np

from prospect.criteria.definition import Beyond, Condition, Membership
from prospect.criteria.factors import SOIL, UNIT, ClassLayer
from prospect.criteria.memberships import found_phrases
from prospect.types import FloatArray


class TableReader:
    """Factors of one table, by their full name."""

    def __init__(self, layer: ClassLayer, constants: Mapping[str, float]) -> None:
        self._layer = layer
        self._constants = constants

    def numbers(self, name: str) -> FloatArray:
        """Return a factor as float32 per row; NaN where it is missing or not a number."""
        if name in self._constants:
            return np.full(len(self._layer.table), self._constants[name], dtype=np.float32)
        return self._layer.numbers(column_of(name))

    def words(self, name: str) -> list[str]:
        """Return a factor as text per row; empty where it is missing."""
        return self._layer.words(column_of(name))

    def membership(self, name: str, membership: Membership, beyond: Beyond | None) -> FloatArray:
        """Return the memberships of a factor per row, float32, NaN = missing."""
        if membership.reads_words:
            return membership.of_words(self.words(name))
        values = self.numbers(name)
        judged = membership.of_numbers(values)
        if beyond is not None and beyond.factor in self._constants:
            out_of_reach = values > beyond.times * self._constants[beyond.factor]
            judged = np.where(out_of_reach, np.minimum(judged, np.float32(beyond.at_most)), judged)
        return judged

    def test(self, condition: Condition) -> FloatArray:
        """Return 1 per row where a condition holds, else 0."""
        if condition.words or condition.without:
            return np.array(
                [_words_hold(condition, text) for text in self.words(condition.factor)], np.float32
            )
        values = self.numbers(condition.factor)
        if np.isnan(values).all() and (texts := self.words(condition.factor)):
            values = np.array([1.0 if text else np.nan for text in texts], dtype=np.float32)
        return holds(condition, values)


def holds(test: Condition, values: FloatArray) -> FloatArray:
    """Return 1 where a test holds of numbers, 0 where not; the missing as the test says."""
    missing = np.isnan(values)
    if not test.known:
        return missing.astype(np.float32)
    held = np.ones(values.shape, dtype=bool)
    if test.at_least is not None:
        held &= values >= test.at_least
    if test.at_most is not None:
        held &= values <= test.at_most
    if test.above is not None:
        held &= values > test.above
    if test.below is not None:
        held &= values < test.below
    return np.where(missing, np.float32(test.unknown == "holds"), held.astype(np.float32))


def by_code(rows: FloatArray, layer: ClassLayer, *, over: Literal["known", "all"]) -> FloatArray:
    """Bring values per row to values per code, weighted by the rows' percent.

    Parameters
    ----------
    rows : (n,)
        One value per row of the table; NaN = missing.
    layer
        Gives the rows' codes and percents.
    over
        `known`: mean over the rows that have a value; `all`: over every row, the missing counting as 0.

    Returns
    -------
    (codes + 1,) float32
        By code; NaN where the table does not list it. The last entry is NaN: what code -1 takes.
    """
    codes, percent = layer.row_codes, layer.row_percent
    size = int(max(codes.max(initial=-1), layer.codes.max(initial=-1))) + 1
    known = ~np.isnan(rows)
    counted = percent * known if over == "known" else percent
    above = np.bincount(codes, weights=np.where(known, rows, 0) * percent, minlength=size)
    below = np.bincount(codes, weights=counted, minlength=size)
    mean = np.divide(above, below, out=np.full(len(below), np.nan), where=below > 0)
    return np.append(mean, np.nan).astype(np.float32)


def column_of(name: str) -> str:
    """Return the column of the table that a factor names."""
    return name.removeprefix(SOIL) if name.startswith(SOIL) else name.removeprefix(UNIT)


def _words_hold(condition: Condition, text: str) -> float:
    if not text:
        return float(not condition.known or condition.unknown == "holds")
    if not condition.known:
        return 0.0
    wanted = not condition.words or bool(found_phrases(text, condition.words))
    return float(wanted and not found_phrases(text, condition.without))

"""What was read at one spot, in words: numbers with their unit, class names, ranges over components."""

from __future__ import annotations

import numpy as np

from prospect.criteria import ClassLayer, Factors, FactorSpec, factor_list, place_of
from prospect.criteria.evaluate import class_codes
from prospect.criteria.tables import TableReader
from prospect.types import FloatArray

NOT_KNOWN = "not known"
MOST_WORDS = 3

_FITNESSES = ("unit_residual_fitness", "unit_downstream_share")
_NOT_OF_THIS_KIND = 0.05
_OF_THIS_KIND = 0.9


def value_at(name: str, factors: Factors) -> str:
    """Return the value of a factor on a ground of one cell, ready to show.

    Parameters
    ----------
    name
        A factor.
    factors
        Of a single cell, as `Factors.part` gives them.

    Returns
    -------
    str
        `not known` where it is missing.
    """
    spec = factor_list()[name]
    if spec.place in ("soil", "unit"):
        layer = factors.layer(place_of(name))
        return NOT_KNOWN if layer is None or not len(layer.table) else _of_rows(spec, layer, factors)
    if spec.place == "constant":
        value = float(factors.constants.get(name, np.nan))
    else:
        raster = factors.rasters.get(name)
        value = np.nan if raster is None else float(raster.values[0, 0])
    if not np.isfinite(value):
        return NOT_KNOWN
    if spec.classes:
        code = int(class_codes(np.array([value]), len(spec.classes))[0])
        return NOT_KNOWN if code < 0 else spec.classes[code].replace("_", " ")
    return number_words(spec, value)


def number_words(spec: FactorSpec, value: float) -> str:
    """Return one number with its unit, rounded to what can be meant; yes or no for such a factor."""
    if spec.holds == "yes_no":
        return "yes" if value >= 0.5 else "no"
    size = abs(value)
    digits = 0 if size >= 100 else 1 if size >= 10 else 2
    shown = f"{value:.{digits}f}"
    if "." in shown:
        shown = shown.rstrip("0").rstrip(".")
    return f"{shown} {spec.unit}".rstrip()


def row_names(layer: ClassLayer) -> list[str]:
    """Return the readable name of each row of a class layer's table."""
    if layer.key not in layer.table:
        return [""] * len(layer.table)
    return [str(name) for name in layer.table[layer.key]]


def _of_rows(spec: FactorSpec, layer: ClassLayer, factors: Factors) -> str:
    table, percent = TableReader(layer, factors.constants), layer.row_percent
    if spec.holds in ("words", "class"):
        return _word_list(table.words(spec.name), percent)
    values = table.numbers(spec.name)
    known = np.isfinite(values) & (percent > 0)
    if not known.any():
        return NOT_KNOWN
    if spec.holds == "yes_no":
        share = float((percent[known] * values[known]).sum() / percent[known].sum())
        return "no" if share == 0 else "yes" if share == 1 else f"yes on {share:.0%}".replace("%", " %")
    mean = float((percent[known] * values[known]).sum() / percent[known].sum())
    if spec.place == "unit":
        return _of_unit(spec, layer, mean)
    least, most = float(values[known].min()), float(values[known].max())
    text = number_words(spec, mean)
    if number_words(spec, least) == number_words(spec, most):
        return text
    unitless = (
        number_words(spec, least).removesuffix(spec.unit).rstrip() if spec.unit else number_words(spec, least)
    )
    return f"{text} ({unitless} to {number_words(spec, most)} over the parts of the map unit)"


def _of_unit(spec: FactorSpec, layer: ClassLayer, value: float) -> str:
    """Return what the rock map says in words: the unit, and how it was read or how far it is of a kind."""
    row = layer.table.iloc[0]
    unit = next((str(row[key]) for key in ("name", "unit") if key in row and str(row[key])), "the map's unit")
    if spec.name in _FITNESSES:
        read_as = str(row["read_as"]) if row.get("read_as") else ""
        return f"{unit}: {read_as}" if read_as else f"{unit}: {value:.2f} of 1"
    if spec.name.endswith("_fraction"):
        return f"{unit}: {value:.0%} of it".replace("%", " %")
    if value <= _NOT_OF_THIS_KIND:
        return f"{unit}: not of this kind"
    return f"{unit}: yes" if value >= _OF_THIS_KIND else f"{unit}: in part ({value:.2f} of 1)"


def _word_list(words: list[str], percent: FloatArray) -> str:
    shares: dict[str, float] = {}
    for word, share in zip(words, percent, strict=True):
        if word:
            shares[word] = shares.get(word, 0.0) + float(share)
    if not shares:
        return NOT_KNOWN
    ordered = sorted(shares, key=lambda word: -shares[word])
    total = float(percent.sum())
    if len(words) == 1:
        return ordered[0]
    shown = [f"{word} ({shares[word] / total:.0%})".replace("%)", " %)") for word in ordered[:MOST_WORDS]]
    return ", ".join(shown)

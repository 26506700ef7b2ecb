"""What must be said wherever a soil survey is used: area, scale, order, years, how much of it has horizons."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from prospect.layerfile import LayerSource
from prospect.sources.soil_survey_tables import SurveyTable
from prospect.sources.soil_survey_words import soil_words

SMALLEST_ON_MAP_CM2 = 0.4
"""Smallest area that a soil map draws at its own scale (Soil Survey Manual, Handbook 18)."""

_YEAR = re.compile(r"\b(1[89]\d\d|20\d\d)\b")


@dataclass(frozen=True, slots=True)
class SurveyFacts:
    """What one survey area says of itself; '' and 0 where it says nothing.

    Attributes
    ----------
    symbol, name
        Of the survey area.
    scale
        Denominator of the map scale.
    orders
        Order of survey to the number of map units mapped so.
    correlated
        Year in which the mapping was settled.
    exported
        Year of the tables.
    """

    symbol: str
    name: str
    scale: float
    orders: Mapping[str, int]
    correlated: str
    exported: str

    def sentence(self) -> str:
        """Return the facts in one sentence."""
        title = f"{self.name} ({self.symbol})" if self.name else self.symbol
        parts = []
        if self.scale:
            smallest = minimum_delineation_ha(self.scale)
            parts.append(f"mapped at 1:{self.scale:,.0f}, smallest area drawn about {smallest:.2g} ha")
        if self.orders:
            listed = (f"{order.lower()} ({_units(count)})" for order, count in self.orders.items())
            parts.append(f"survey {', '.join(listed)}")
        if self.correlated:
            parts.append(f"mapping settled {self.correlated}")
        if self.exported:
            parts.append(f"tables of {self.exported}")
        return f"Soil survey {title}: {'; '.join(parts) or 'says nothing of its scale or year'}."


def minimum_delineation_ha(scale_denominator: float) -> float:
    """Return the smallest area, in hectares, that a soil map of scale 1:`scale_denominator` draws.

    Raises
    ------
    ValueError
        When the scale is not above 0.

    Notes
    -----
    0.4 cm2 on the map (Soil Survey Manual, Handbook 18). Ground smaller than that is never ruled out by the map.
    """
    if not scale_denominator > 0:
        raise ValueError(f"a scale denominator is above 0, got {scale_denominator}")
    return SMALLEST_ON_MAP_CM2 * 1e-4 * scale_denominator**2 / 1e4


def facts_of(tables: Mapping[str, SurveyTable], fallback: str) -> SurveyFacts:
    """Return the facts of one survey area; `fallback` is its symbol when the tables do not say."""
    legend, catalog, delivery = (tables.get(name) for name in ("legend", "sacatalog", "distlegendmd"))
    orders = Counter(order for order in tables["mapunit"].text("invesintens") if order)
    scale = re.sub(r"^1:|[,\s]", "", _first(legend, "projectscale"))
    return SurveyFacts(
        symbol=(_first(legend, "areasymbol") or fallback).upper(),
        name=_first(legend, "areaname") or _first(delivery, "areaname"),
        scale=float(scale) if scale.isdecimal() else 0.0,
        orders=dict(orders.most_common()),
        correlated=_year(_first(legend, "cordate") or _first(delivery, "cordate")),
        exported=_year(_first(catalog, "saverest")),
    )


def survey_source(
    origin: str,
    crs: str,
    counts: Mapping[str, int],
    facts: Sequence[SurveyFacts],
    components: pd.DataFrame,
) -> LayerSource:
    """Return where the layer came from, with the sentences that every use of it must carry."""
    publisher = soil_words().source
    return LayerSource(
        kind="soil",
        origin=origin,
        imported="",
        licence=publisher.licence,
        attribution=publisher.attribution,
        crs=crs,
        vintage=_vintage(facts),
        counts=dict(counts),
        notes=(*(area.sentence() for area in facts), *_coverage(components)),
    )


def _coverage(components: pd.DataFrame) -> list[str]:
    if components.empty:
        return ["No component is described."]
    described = int(components["has_horizons"].sum())
    share = components.loc[components["has_horizons"], "percent"].sum() / components["percent"].sum()
    sentences = [
        f"{described} of {len(components)} components ({share:.0%} by their percent) have horizons; "
        "of the others only what lies around them is known."
    ]
    deepest = components["profile_bottom_cm"].max()
    if pd.notna(deepest):
        sentences.append(f"The survey describes nothing below {deepest:g} cm.")
    return sentences


def _vintage(facts: Sequence[SurveyFacts]) -> str:
    settled = sorted({area.correlated for area in facts if area.correlated})
    exported = sorted({area.exported for area in facts if area.exported})
    parts = []
    if settled:
        parts.append(f"mapped until {'–'.join(dict.fromkeys((settled[0], settled[-1])))}")
    if exported:
        parts.append(f"tables of {'–'.join(dict.fromkeys((exported[0], exported[-1])))}")
    return ", ".join(parts)


def _units(count: int) -> str:
    return f"{count} map unit{'' if count == 1 else 's'}"


def _first(table: SurveyTable | None, column: str) -> str:
    return next((value for value in table.text(column) if value), "") if table is not None else ""


def _year(text: str) -> str:
    found = _YEAR.search(text)
    return found.group(1) if found else ""

"""Which keep-outs, waters, wetlands and roads apply to a measured position."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from scipy.special import ndtr

from prospect.land.position import chance_inside, sigma_of_radius
from prospect.land.rules import Effect, KeepOutRule, shipped_rules
from prospect.records import Scope

LIKELY_ENOUGH = 0.05
"""A rule applies when the true position is at least this likely to be within its reach (own judgement)."""
_REACH_SIGMAS = 8.0


@dataclass(frozen=True, slots=True)
class ConstraintHit:
    """One rule that applies to a position.

    Attributes
    ----------
    rule
        The rule.
    name
        Name of the mapped thing; empty when it has none.
    distance_m
        From the measured position to the thing, m; 0 inside it.
    chance
        Probability that the true position lies within the rule's reach, 0..1.
    """

    rule: KeepOutRule
    name: str
    distance_m: float
    chance: float

    @property
    def effect(self) -> Effect:
        """`stay out` or `ask first`."""
        return self.rule.effect

    def sentence(self) -> str:
        """Return the hit in words: what it is, how far, why."""
        thing = f"{self.rule.title} ({self.name})" if self.name else self.rule.title
        where = "here" if self.distance_m < 0.5 else f"{self.distance_m:.0f} m away"
        reach = f", within the {self.rule.distance_m:.0f} m kept clear" if self.rule.distance_m > 0 else ""
        return f"{thing} {where}{reach}: {self.rule.reason}"


def constraints_at(
    layers: Mapping[str, gpd.GeoDataFrame],
    easting: float,
    northing: float,
    gps_error_m: float,
    scope: Scope,
    rules: Sequence[KeepOutRule] | None = None,
) -> tuple[ConstraintHit, ...]:
    """Return the rules that apply at a position, the hardest first, each rule once with its likeliest shape.

    Parameters
    ----------
    layers
        Frames in one metric CRS by layer name (`water`, `wetlands`, `roads`, `keepouts`), with the columns
        `kind` and, where known, `name`. Layers that are not there are passed over: the caller says so.
    easting, northing
        Measured position, m, same CRS.
    gps_error_m
        68 % radius of the position, m.
    scope
        What is to be done there; a rule that does not hold for it is passed over.
    rules
        Rules to apply; the shipped ones by default.

    Notes
    -----
    The chance of being within a rule's reach is that of lying inside the shape widened by the reach, with the
    errors of position and map added in quadrature; the reach itself comes on top.
    """
    rules = shipped_rules() if rules is None else rules
    sigma = sigma_of_radius(gps_error_m)
    best: dict[str, ConstraintHit] = {}
    for layer, frame in layers.items():
        own = [rule for rule in rules if rule.layer == layer]
        if not own or frame.empty:
            continue
        for row in _near(frame, easting, northing, own, sigma):
            for rule in _speaking(own, frame, row):
                if scope not in rule.scopes:
                    continue
                hit = _hit(rule, frame, row, easting, northing, sigma)
                if hit is not None and (rule.key not in best or hit.chance > best[rule.key].chance):
                    best[rule.key] = hit
    return tuple(
        sorted(best.values(), key=lambda hit: (hit.effect != "stay out", -hit.chance, hit.rule.rank))
    )


def unmapped_rules(scope: Scope, rules: Sequence[KeepOutRule] | None = None) -> tuple[KeepOutRule, ...]:
    """Return the rules about what no map shows that hold for a scope."""
    rules = shipped_rules() if rules is None else rules
    return tuple(rule for rule in rules if rule.layer == "unmapped" and scope in rule.scopes)


def _near(
    frame: gpd.GeoDataFrame, easting: float, northing: float, rules: Sequence[KeepOutRule], sigma: float
) -> list[int]:
    farthest = max(rule.distance_m + _REACH_SIGMAS * math.hypot(sigma, rule.map_error_m) for rule in rules)
    return np.sort(
        frame.sindex.query(shapely.Point(easting, northing), predicate="dwithin", distance=farthest)
    ).tolist()


def _speaking(rules: Sequence[KeepOutRule], frame: gpd.GeoDataFrame, row: int) -> list[KeepOutRule]:
    """Every rule whose words match the kind, else the keep-out's name; else the layer's rules without words."""
    texts = [_text(frame, "kind", row)]
    if rules[0].layer == "keepouts":
        texts.append(_text(frame, "name", row))
    for text in texts:
        matching = [rule for rule in rules if rule.kinds and rule.speaks_for(text)]
        if any(rule.effect == "no matter" for rule in matching):
            return []
        if matching:
            return matching
    return [rule for rule in rules if not rule.kinds]


def _hit(
    rule: KeepOutRule, frame: gpd.GeoDataFrame, row: int, easting: float, northing: float, sigma: float
) -> ConstraintHit | None:
    shape = frame.geometry.iloc[row]
    distance = float(shape.distance(shapely.Point(easting, northing)))
    total = math.hypot(sigma, rule.map_error_m)
    if rule.distance_m > 0:
        chance = chance_inside(shape.buffer(rule.distance_m), easting, northing, total)
    elif shapely.get_dimensions(shape) == 2:
        chance = chance_inside(shape, easting, northing, total)
    else:
        # A line or point has no inside: the chance of standing as near as this by error alone.
        chance = float(2.0 * ndtr(-distance / total)) if total > 0 else float(distance == 0.0)
    if chance < LIKELY_ENOUGH and distance > 0.0:
        return None
    return ConstraintHit(rule, _text(frame, "name", row), distance, chance)


def _text(frame: gpd.GeoDataFrame, column: str, row: int) -> str:
    if column not in frame.columns:
        return ""
    value = frame[column].iloc[row]
    return value.strip() if isinstance(value, str) else ""

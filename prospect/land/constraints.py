"""Which keep-outs, waters, wetlands and roads apply to measured positions."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import shapely
from scipy.special import ndtr

from prospect.land.inside import EdgeTable, areas_of, halves, shares_of, side_by_side
from prospect.land.parcels import trimmed
from prospect.land.position import circular_radius, sigma_of_radius
from prospect.land.rules import Effect, KeepOutRule, shipped_rules
from prospect.records import Scope
from prospect.types import FloatArray, IntArray

LIKELY_ENOUGH = 0.05
"""A rule applies when the true position is at least this likely to be within its reach (own judgement)."""
_REACH_SIGMAS = circular_radius(1.0, 1.0 - LIKELY_ENOUGH)
"""Farther away than this a reach holds less than `LIKELY_ENOUGH` of the chance, whatever its shape."""
_OUTLINED = ("keepouts", "wetlands", "water")
"""Layers in which a line that closes is the outline of something, drawn by hand or by a program for lines."""
_SINGLE = (int(shapely.GeometryType.LINESTRING), int(shapely.GeometryType.LINEARRING))
_FEWEST_CORNERS = 4
_QUARTER_SIDES = 8
_ROUND = 1.0 / math.cos(math.pi / (4 * _QUARTER_SIDES))
"""Round corners of a reach are drawn outside the circle: at most half a per cent too wide, never too narrow."""


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
        Probability that the true position lies within the rule's reach of that thing, 0..1.
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


@dataclass(frozen=True, slots=True)
class ConstraintReadings:
    """The rules that apply to each of many positions; each rule once per position, with its likeliest shape.

    Attributes
    ----------
    rules
        Every rule that was looked at.
    spot, rule
        (hits,) which position and which rule; sorted by position, the hardest first.
    names, distance_m, chance
        (hits,) as in `ConstraintHit`.
    """

    rules: tuple[KeepOutRule, ...]
    spot: IntArray
    rule: IntArray
    names: list[str]
    distance_m: FloatArray
    chance: FloatArray

    def hit(self, number: int) -> ConstraintHit:
        """Return one hit."""
        return ConstraintHit(
            self.rules[self.rule[number]],
            self.names[number],
            float(self.distance_m[number]),
            float(self.chance[number]),
        )


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
    """
    one = np.array([easting], float), np.array([northing], float)
    found = read_constraints(layers, *one, np.array([sigma_of_radius(gps_error_m)]), scope, rules)
    return tuple(found.hit(number) for number in range(len(found.spot)))


def read_constraints(
    layers: Mapping[str, gpd.GeoDataFrame],
    eastings: FloatArray,
    northings: FloatArray,
    sigma_m: FloatArray,
    scope: Scope,
    rules: Sequence[KeepOutRule] | None = None,
) -> ConstraintReadings:
    """Return the rules that apply to each of many positions.

    Parameters
    ----------
    layers, scope, rules
        As for `constraints_at`.
    eastings, northings, sigma_m
        (positions,) m; `sigma_m` is the standard deviation of each position along one axis.

    Notes
    -----
    The chance of being within a rule's reach is that of lying inside the shape widened by the reach, with the
    errors of position and map added in quadrature; the reach itself comes on top. What is farther than 2.45 joint
    standard deviations from the reach holds less than 5 % of the chance and is left out unmeasured. A rule applies
    when its shapes together hold 5 %, so that a lake drawn in pieces counts as one.
    """
    rules = tuple(shipped_rules() if rules is None else rules)
    points = shapely.points(eastings, northings)
    found = [
        _layer_hits(frame, rules, layer, points, sigma_m, scope)
        for layer, frame in layers.items()
        if not frame.empty
    ]
    if not found:
        nothing = np.empty(0, np.intp)
        return ConstraintReadings(rules, nothing, nothing, [], np.empty(0), np.empty(0))
    spot, rule, distance, chance = (np.concatenate([part[k] for part in found]) for k in range(4))
    names = np.concatenate([part[4] for part in found])
    order = np.lexsort((distance, -chance, rule, spot))
    first = np.ones(len(order), bool)
    first[1:] = (np.diff(spot[order]) != 0) | (np.diff(rule[order]) != 0)
    begins = np.flatnonzero(first)
    if len(begins):
        together = np.add.reduceat(chance[order], begins)
        touched = np.minimum.reduceat(distance[order], begins) == 0.0
        order = order[begins[(together >= LIKELY_ENOUGH) | touched]]
    soft = np.array([one.effect != "stay out" for one in rules], bool)
    order = order[np.lexsort((rule[order], -chance[order], soft[rule[order]], spot[order]))]
    return ConstraintReadings(
        rules, spot[order], rule[order], list(names[order]), distance[order], chance[order]
    )


def unmapped_rules(scope: Scope, rules: Sequence[KeepOutRule] | None = None) -> tuple[KeepOutRule, ...]:
    """Return the rules about what no map shows that hold for a scope."""
    rules = shipped_rules() if rules is None else rules
    return tuple(rule for rule in rules if rule.layer == "unmapped" and scope in rule.scopes)


_Hits = tuple[IntArray, IntArray, FloatArray, FloatArray, np.ndarray]


def _layer_hits(
    frame: gpd.GeoDataFrame,
    rules: tuple[KeepOutRule, ...],
    layer: str,
    points: np.ndarray,
    sigma_m: FloatArray,
    scope: Scope,
) -> _Hits:
    """Position, rule, distance, chance and name for every rule of a layer that may apply."""
    own = [number for number, rule in enumerate(rules) if rule.layer == layer and scope in rule.scopes]
    nothing = np.empty(0, np.intp)
    if not own:
        return nothing, nothing, np.empty(0), np.empty(0), np.empty(0, object)
    reach = np.max([_reach(rules[number], sigma_m) for number in own], axis=0)
    eastings, northings = shapely.get_x(points), shapely.get_y(points)
    boxes = shapely.box(eastings - reach, northings - reach, eastings + reach, northings + reach)
    spot, row = frame.sindex.query(boxes)
    drawn = frame.geometry.to_numpy()
    rows = np.unique(row)
    shapes = drawn.copy()
    shapes[rows] = _filled(drawn[rows]) if layer in _OUTLINED else drawn[rows]
    shapely.prepare(shapes[rows])
    near = shapely.dwithin(shapes[row], points[spot], reach[spot])
    spot, row = spot[near], row[near]
    distance = shapely.distance(shapes[row], points[spot])
    rows = np.unique(row)
    names = trimmed(frame.iloc[rows], "name")
    place = np.searchsorted(rows, row)
    pair, rule = _speaking(frame.iloc[rows], names, rules, layer, scope, place)
    spot, place, distance = spot[pair], place[pair], distance[pair]
    along = np.array([one.runs_along for one in rules])[rule]
    distance[along] = shapely.distance(drawn[rows[place[along]]], points[spot[along]])
    # What runs along a line is met as it was drawn; everything else by what the line may enclose.
    met, place = np.concatenate([shapes[rows], drawn[rows]]), place + along * len(rows)
    kept_clear = np.array([one.distance_m for one in rules])
    total = np.hypot(sigma_m[spot], np.array([one.map_error_m for one in rules])[rule])
    near = (distance <= kept_clear[rule] + _REACH_SIGMAS * total) | (distance == 0.0)
    spot, rule, place = spot[near], rule[near], place[near]
    distance, total = distance[near], total[near]
    chance = _chances(met, place, rule, kept_clear, distance, total, eastings[spot], northings[spot])
    return spot, rule, distance, chance, names[place % len(rows)]


def _filled(shapes: np.ndarray) -> np.ndarray:
    """Turn lines that close into the areas that they outline; leave everything else as it is."""
    filled = shapes.copy()
    sort = shapely.get_type_id(shapes)
    may_close = np.isin(sort, _SINGLE) & shapely.is_closed(shapes)
    for place in np.flatnonzero(may_close | (sort == int(shapely.GeometryType.MULTILINESTRING))):
        parts = shapely.get_parts(shapely.line_merge(shapes[place]))
        outlines = parts[shapely.is_closed(parts) & (shapely.get_num_coordinates(parts) >= _FEWEST_CORNERS)]
        if len(outlines):
            inside = shapely.make_valid([shapely.Polygon(outline.coords) for outline in outlines])
            filled[place] = shapely.union_all([shapes[place], *inside])
    return filled


def _reach(rule: KeepOutRule, sigma_m: FloatArray) -> FloatArray:
    return rule.distance_m + _REACH_SIGMAS * np.hypot(sigma_m, rule.map_error_m) + 1e-6


def unshown_rules(frame: gpd.GeoDataFrame, rules: Sequence[KeepOutRule]) -> tuple[KeepOutRule, ...]:
    """Return the rules about kinds of keep-outs of which a map shows none anywhere: it may not be about them.

    Parameters
    ----------
    frame
        The keep-outs, with the columns `kind` and, where known, `name`.
    rules
        The rules to apply.
    """
    own = [number for number, rule in enumerate(rules) if rule.layer == "keepouts"]
    known: dict[str, list[int]] = {}
    texts = set(zip(trimmed(frame, "kind"), trimmed(frame, "name"), strict=True))
    shown = {
        number
        for kind, name in texts
        for number in _rules_for(tuple(rules), own, "keepouts", kind, name, known)
    }
    return tuple(rules[number] for number in own if rules[number].kinds and number not in shown)


def _speaking(
    frame: gpd.GeoDataFrame,
    names: np.ndarray,
    rules: tuple[KeepOutRule, ...],
    layer: str,
    scope: Scope,
    place: IntArray,
) -> tuple[IntArray, IntArray]:
    """Pairs of an entry of `place` and a rule that speaks for that row and holds for the scope."""
    kinds = trimmed(frame, "kind")
    texts: dict[tuple[str, str], int] = {}
    number_of = np.array(
        [texts.setdefault(pair, len(texts)) for pair in zip(kinds, names, strict=True)], np.intp
    )
    own = [number for number, rule in enumerate(rules) if rule.layer == layer]
    known: dict[str, list[int]] = {}
    speaking = [
        np.array(
            [n for n in _rules_for(rules, own, layer, kind, name, known) if scope in rules[n].scopes], np.intp
        )
        for kind, name in texts
    ]
    counts = np.array([len(numbers) for numbers in speaking], np.intp)
    text = number_of[place] if len(place) else np.empty(0, np.intp)
    pair = np.repeat(np.arange(len(place)), counts[text] if len(text) else 0)
    rule = np.concatenate([speaking[number] for number in text]) if len(text) else np.empty(0, np.intp)
    return pair, rule.astype(np.intp)


def _rules_for(
    rules: tuple[KeepOutRule, ...],
    own: list[int],
    layer: str,
    kind: str,
    name: str,
    known: dict[str, list[int]],
) -> list[int]:
    """Every rule whose words match the kind, else the keep-out's name; else the layer's rules without words."""
    for text, is_name in ((kind, False), (name, True))[: 2 if layer == "keepouts" else 1]:
        matching = known.get(text)
        if matching is None:
            matching = known[text] = [number for number in own if rules[number].speaks_for(text)]
        if is_name:
            # What somebody called a place of their own, "X" or "D", is no zone of a map that restricts nothing.
            matching = [n for n in matching if len(text) > 2 and rules[n].effect != "no matter"]
        if any(rules[number].effect == "no matter" for number in matching):
            return [number for number in matching if rules[number].effect == "stay out"]
        if matching:
            return matching
    return [number for number in own if not rules[number].kinds]


def _chances(
    shapes: np.ndarray,
    place: IntArray,
    rule: IntArray,
    kept_clear: FloatArray,
    distance: FloatArray,
    total: FloatArray,
    eastings: FloatArray,
    northings: FloatArray,
) -> FloatArray:
    """Chance of lying within each rule's reach of each shape."""
    # A line or point has no inside: the chance of standing as near as this by error alone.
    with np.errstate(divide="ignore", invalid="ignore"):
        alone = np.where(total > 0, 2.0 * ndtr(-distance / total), distance == 0.0)
    areal = (kept_clear[rule] > 0) | (shapely.get_dimensions(shapes) == 2)[place]
    metres = kept_clear[rule][areal]
    keys, which = np.unique(np.column_stack([place[areal], metres]), axis=0, return_inverse=True)
    widened = np.empty(len(keys), object)

    def widen(chunk: IntArray) -> None:
        near = shapes[keys[chunk, 0].astype(np.intp)]
        widened[chunk] = shapely.buffer(near, keys[chunk, 1] * _ROUND, quad_segs=_QUARTER_SIDES)

    side_by_side(widen, halves(len(keys)))
    as_drawn = keys[:, 1] == 0.0
    widened[as_drawn] = areas_of(shapes[keys[as_drawn, 0].astype(np.intp)])
    edges = EdgeTable.of(widened)
    alone[areal] = shares_of(edges, which.reshape(-1), eastings[areal], northings[areal], total[areal]).chance
    return alone

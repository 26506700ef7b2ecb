"""The exact chance that measured positions lie inside shapes, for many positions and shapes at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.special import owens_t
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from prospect.types import BoolArray, FloatArray, IntArray

REACH_SIGMAS = 7.0
"""Ground farther away than this holds at most exp(-7²/2) = 2.3e-11 of the chance, all shapes together."""
_FAR_SIGMAS = 8.5
"""Beyond this distance T(h, x) ≤ Φ(-h)/2 < 1e-17: only the angle of an edge counts."""
RUN_EDGES = 32
"""Edges that are looked at together when an outline is long."""
_TOUCHING = 1e-12
_EDGES_AT_ONCE = 200_000
_THREADS = 2
_WORTH_SPLITTING = 500


@dataclass(frozen=True, slots=True)
class EdgeTable:
    """The edges of many shapes in one ragged array, in runs of neighbouring edges.

    Attributes
    ----------
    starts, ends
        (edges, 2) corners, m.
    side
        (edges,) +1 where the shape lies to the left of the edge, -1 where it lies to the right.
    runs
        (runs + 1,) where each run of at most `RUN_EDGES` edges of one ring begins.
    first
        (shapes + 1,) where each shape's runs begin.
    low, high
        (runs, 2) corners of the box around each run, m.
    """

    starts: FloatArray
    ends: FloatArray
    side: FloatArray
    runs: IntArray
    first: IntArray
    low: FloatArray
    high: FloatArray

    @classmethod
    def of(cls, shapes: np.ndarray) -> EdgeTable:
        """Return the edges of valid polygons and multipolygons; other shapes have none."""
        parts, of_part = shapely.get_parts(shapes, return_index=True)
        areal = shapely.get_type_id(parts) == shapely.GeometryType.POLYGON
        parts, of_part = parts[areal], of_part[areal]
        rings, of_ring = shapely.get_rings(parts, return_index=True)
        if not len(rings):
            nothing, none = np.empty((0, 2)), np.zeros(1, np.intp)
            first = np.zeros(len(shapes) + 1, np.intp)
            return cls(nothing, nothing, np.empty(0), none, first, nothing, nothing)
        outer = np.diff(of_ring, prepend=-1) != 0
        ring_side = np.where(shapely.is_ccw(rings) == outer, 1.0, -1.0)
        corners, ring = shapely.get_coordinates(rings, return_index=True)
        joined = ring[1:] == ring[:-1]
        starts, ends, ring = corners[:-1][joined], corners[1:][joined], ring[1:][joined]
        place = np.arange(len(ring)) - np.searchsorted(ring, ring)
        begins = np.flatnonzero(place % RUN_EDGES == 0)
        first = np.searchsorted(of_part[of_ring[ring[begins]]], np.arange(len(shapes) + 1))
        low = np.minimum.reduceat(np.minimum(starts, ends), begins)
        high = np.maximum.reduceat(np.maximum(starts, ends), begins)
        return cls(starts, ends, ring_side[ring], np.append(begins, len(ring)), first, low, high)


@dataclass(frozen=True, slots=True)
class Shares:
    """What holds for pairs of a position and a shape.

    Attributes
    ----------
    chance
        Probability that the true position lies inside, 0..1.
    inside
        Whether the measured position itself lies inside, or on the line.
    line_distance_m
        From the measured position to the nearest line, m; negative outside; infinite for a shape without edges.
    """

    chance: FloatArray
    inside: BoolArray
    line_distance_m: FloatArray


def shares_of(
    edges: EdgeTable, which: IntArray, eastings: FloatArray, northings: FloatArray, sigma_m: FloatArray
) -> Shares:
    """Return the exact chance, and the distance to the line, for pairs of a shape and a position.

    Parameters
    ----------
    edges
        The shapes' edges.
    which, eastings, northings, sigma_m
        (pairs,) each: the shape, the measured position (m, the shapes' CRS) and the standard deviation of its
        circular normal error along one axis, m. Zero means a sure position (on the line itself: one half).

    Notes
    -----
    Integrating the circular normal density in polar coordinates about the measured point and applying Green's
    theorem gives P = (1/2π)·∮(1 − exp(−r²/2σ²)) dθ round the boundary. Along a straight edge at distance h
    (in σ) between the tangents x1 and x2 of its end directions that integral is
    sign·[(atan x2 − atan x1)/2π − (T(h, x2) − T(h, x1))] with T the function of D. B. Owen, "Tables for
    computing bivariate normal probabilities", Annals of Mathematical Statistics 27 (1956) 1075–1090. Corners are
    taken relative to the position before anything else, so that large coordinates cost no digits.
    """
    pairs = len(which)
    chance, turns, nearest = np.zeros(pairs), np.zeros(pairs), np.full(pairs, np.inf)
    run_counts = edges.first[which + 1] - edges.first[which]
    edge_counts = edges.runs[edges.first[which + 1]] - edges.runs[edges.first[which]]

    def work(chunk: IntArray) -> None:
        places = eastings[chunk], northings[chunk], sigma_m[chunk]
        chance[chunk], turns[chunk], nearest[chunk] = _ring_sums(edges, which[chunk], *places)

    work_of_each = run_counts + np.minimum(edge_counts, 8 * RUN_EDGES)
    side_by_side(work, list(_chunks(np.flatnonzero(edge_counts), work_of_each)))
    touching = nearest == 0.0
    inside = (turns > 0.5) | touching
    sure = sigma_m == 0.0
    chance = np.where(sure, np.where(touching, 0.5, inside.astype(float)), chance)
    return Shares(
        np.clip(chance, 0.0, 1.0), inside, np.where(turns > 0.5, nearest, np.where(touching, 0.0, -nearest))
    )


def side_by_side(work: Callable[[IntArray], None], chunks: Sequence[IntArray]) -> None:
    """Run array work on chunks two at a time; numpy, scipy and shapely let go of the interpreter meanwhile."""
    if len(chunks) < 2:
        for chunk in chunks:
            work(chunk)
        return
    with ThreadPoolExecutor(_THREADS) as pool:
        for done in pool.map(work, chunks):
            assert done is None


def halves(count: int) -> list[IntArray]:
    """Return the numbers below `count` in two runs, in one when they are few."""
    return np.array_split(np.arange(count), _THREADS if count > _WORTH_SPLITTING else 1)


def _chunks(pairs: IntArray, counts: IntArray) -> Iterator[IntArray]:
    """Cut pairs into runs of about `_EDGES_AT_ONCE` edges, so that memory stays small whatever the shapes."""
    if len(pairs):
        running = np.cumsum(counts[pairs])
        cuts = np.flatnonzero(np.diff(running // _EDGES_AT_ONCE)) + 1
        yield from np.split(pairs, cuts)


def _ring_sums(
    edges: EdgeTable, which: IntArray, eastings: FloatArray, northings: FloatArray, sigma_m: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Chance, full turns of the boundary about the position and distance to it, for pairs that have edges."""
    pair, run, far_turns = _near_runs(edges, which, eastings, northings, sigma_m)
    counts = edges.runs[run + 1] - edges.runs[run]
    edge = _ragged(edges.runs[run], counts)
    begins = np.searchsorted(np.repeat(pair, counts), np.arange(len(which)))
    per_pair = np.diff(begins, append=len(edge))
    x, y = np.repeat(eastings, per_pair), np.repeat(northings, per_pair)
    ax, ay = edges.starts[edge, 0] - x, edges.starts[edge, 1] - y
    bx, by = edges.ends[edge, 0] - x, edges.ends[edge, 1] - y
    ex, ey = bx - ax, by - ay
    length = np.hypot(ex, ey)
    point = length == 0.0
    length[point] = np.inf
    along_a, along_b = (ax * ex + ay * ey) / length, (bx * ex + by * ey) / length
    across = (ax * ey - ay * ex) / length
    height = np.abs(across)
    beyond = np.where(along_a > 0.0, along_a, np.where(along_b < 0.0, along_b, 0.0))
    away = np.where(point, np.hypot(ax, ay), np.hypot(height, beyond))
    per_metre = np.where(sigma_m > 0.0, 1.0 / np.where(sigma_m > 0.0, sigma_m, 1.0), np.inf)
    scale = np.repeat(per_metre, per_pair)
    with np.errstate(invalid="ignore"):
        in_sigmas = height * scale
    # Seen from a point on its own line an edge spans no angle, or a half turn at distance nought: both give 0.
    off_line = (height > 0.0) & ~(in_sigmas <= _TOUCHING)
    safe = np.where(off_line, height, 1.0)
    x1, x2 = along_a / safe, along_b / safe
    signed = edges.side[edge] * np.sign(across)
    turned = np.where(off_line, (np.arctan(x2) - np.arctan(x1)) / (2.0 * np.pi), 0.0) * signed
    near = np.flatnonzero(off_line & (in_sigmas < _FAR_SIGMAS))
    missed = np.zeros_like(turned)
    missed[near] = (owens_t(in_sigmas[near], x2[near]) - owens_t(in_sigmas[near], x1[near])) * signed[near]
    turns = np.add.reduceat(turned, begins) + far_turns
    return turns - np.add.reduceat(missed, begins), turns, np.minimum.reduceat(away, begins)


def _near_runs(
    edges: EdgeTable, which: IntArray, eastings: FloatArray, northings: FloatArray, sigma_m: FloatArray
) -> tuple[IntArray, IntArray, FloatArray]:
    """Return which runs have to be looked at edge by edge, and the turns that all others make about the position.

    Seen from outside its box, a run turns as its chord does. A run is far when its box is farther than the errors
    reach and farther than some corner, so that neither the chance nor the nearest line can lie in it.
    """
    counts = edges.first[which + 1] - edges.first[which]
    pair, run = np.repeat(np.arange(len(which)), counts), _ragged(edges.first[which], counts)
    if not (counts > 1).any():
        return pair, run, np.zeros(len(which))
    x, y = eastings[pair], northings[pair]
    start, last = edges.runs[run], edges.runs[run + 1] - 1
    ax, ay = edges.starts[start, 0] - x, edges.starts[start, 1] - y
    bx, by = edges.ends[last, 0] - x, edges.ends[last, 1] - y
    outside_x = np.maximum(np.maximum(edges.low[run, 0] - x, x - edges.high[run, 0]), 0.0)
    outside_y = np.maximum(np.maximum(edges.low[run, 1] - y, y - edges.high[run, 1]), 0.0)
    begins = np.cumsum(counts) - counts
    corner = np.minimum.reduceat(np.hypot(ax, ay), begins)
    reach = np.maximum(corner, _FAR_SIGMAS * sigma_m)
    near = np.hypot(outside_x, outside_y) <= reach[pair]
    chord = np.arctan2(ax * by - ay * bx, ax * bx + ay * by) / (2.0 * np.pi) * edges.side[start]
    return pair[near], run[near], np.add.reduceat(np.where(near, 0.0, chord), begins)


def _ragged(first: IntArray, counts: IntArray) -> IntArray:
    """Return `first[0], first[0] + 1, …` for `counts[0]` numbers, then the same for the next, in one array."""
    begins = np.cumsum(counts) - counts
    return np.arange(int(counts.sum())) + np.repeat(first - begins, counts)


def polygons_of(shape: BaseGeometry | None) -> tuple[Polygon, ...]:
    """Return the polygons in a shape, mended when invalid; nothing for lines, points and empty shapes."""
    if shape is None or shape.is_empty or shapely.get_dimensions(shape) < 2:
        return ()
    if not shape.is_valid:
        shape = shapely.make_valid(shape)
    if isinstance(shape, Polygon):
        return (shape,)
    if isinstance(shape, MultiPolygon):
        return tuple(shape.geoms)
    parts = getattr(shape, "geoms", ())
    return tuple(polygon for part in parts for polygon in polygons_of(part))


def areas_of(shapes: Sequence[BaseGeometry | None] | np.ndarray) -> np.ndarray:
    """Return each shape as a valid polygon or multipolygon; empty for lines, points and missing shapes."""
    array = np.array(shapes, dtype=object, ndmin=1)
    kind = shapely.get_type_id(array)
    plain = np.isin(kind, (shapely.GeometryType.POLYGON, shapely.GeometryType.MULTIPOLYGON))
    for place in np.flatnonzero(~(plain & shapely.is_valid(array))):
        array[place] = MultiPolygon(polygons_of(array[place]))
    return array

"""The shape of the invented ground: rivers wear down an old plateau, then fill their valley and a lake."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from . import drainage
from .frame import Frame
from .lines import Nearness, curve, meander, nearness, travelled
from .noise import Floats, at, blur, enlarge, noise, shrink, soft_max, step
from .rocks import HARDNESS, LIMESTONE, Bedrock

VALLEY = np.array(
    [
        [-1.4, 5.55],
        [0.6, 6.2],
        [2.2, 6.45],
        [4.0, 5.85],
        [5.7, 5.75],
        [7.3, 6.5],
        [9.2, 6.6],
        [10.8, 6.05],
        [13.6, 6.9],
    ]
)
LAKE_BROOK = np.array([[9.8, 2.2], [10.0, 3.1], [10.25, 4.15], [10.75, 5.0], [10.6, 6.1]])
DAM_SHARE = 0.51

LIME_BROOK = np.array([[2.1, 9.75], [2.75, 8.95], [3.3, 8.2], [3.95, 7.35], [4.35, 6.2]])
"""Points in kilometres east and south of the north-west corner."""

LAKE_CENTRE = (9.75, 2.1)
LAKE_LEVEL = 128.0
SHORELINE = 8.0
BANK_START, BANK_FALL = 58.0, 0.75
"""Return the height of the river bank at the west edge (m) and its fall (m per km of valley)."""

CHANNEL_HALF_M = 13.0


@dataclass(frozen=True)
class Landscape:
    """The finished ground, margins included; curves in fractional (row, col).

    Attributes
    ----------
    height
        Metres above the sea.
    valley, river
        How cells lie to the valley's axis and to the river, in cells.
    floodplain, terrace, lake
        Where the young valley floor, the old one above it and the drained lake's bed lie.
    lake_depth
        Metres below the lake's highest shoreline; negative above it.
    river_path
        The river's centre line.
    streams
        Centre lines of the smaller streams, downstream, each with its catchment at the mouth in km².
    river_wet
        Cells of the river's channel.
    oxbow
        Cells of abandoned river bends.
    """

    height: Floats
    valley: Nearness
    river: Nearness
    floodplain: NDArray[np.bool_]
    terrace: NDArray[np.bool_]
    lake: NDArray[np.bool_]
    lake_depth: Floats
    river_path: Floats
    streams: tuple[tuple[Floats, float], ...]
    river_wet: NDArray[np.bool_]
    oxbow: NDArray[np.bool_]


@dataclass(frozen=True)
class Axis:
    """The main valley's axis, and how cells lie to it."""

    path: Floats
    near: Nearness


@dataclass(frozen=True)
class Floor:
    """What the river laid down: heights, its path, and where young floor, terrace and old bends are."""

    height: Floats
    path: Floats
    river: Nearness
    young: NDArray[np.bool_]
    terrace: NDArray[np.bool_]
    oxbow: NDArray[np.bool_]


def shape_ground(frame: Frame, bedrock: Bedrock, rng: np.random.Generator) -> Landscape:
    """Return the landscape that the rivers make of the bedrock."""
    rough = [noise(rng, frame.shape, wave, octaves) for wave, octaves in ((300, 3), (140, 4), (40, 3))]
    valley_path = _path(frame, VALLEY, 3)
    valley = nearness(valley_path[::4], frame.shape, 170)
    lake_shape = _lake_shape(frame, rough)
    base, fixed = _base_level(frame, valley, lake_shape, rough[0])
    hard = blur(HARDNESS[bedrock.code], 2.0)
    worn = _erode(_plateau(frame, rough), base, hard)
    height = enlarge(worn, 2)
    height = _fine_relief(height, rough[2], bedrock, frame, rng)
    height, lake, lake_depth = _lay_lake(height, lake_shape, _behind(frame, bedrock.dyke), rough)
    floor = _lay_valley(height, frame, Axis(valley_path, valley), rough, rng)
    wet = floor.river.distance * frame.cell_m < CHANNEL_HALF_M
    soft = lake.astype(float)
    laid = _cut(floor.height, floor.path, 0.0, soft)
    for mouth in _mouths(worn, fixed, valley, frame):
        laid = _cut(laid, _across_the_floor(mouth, floor.path), 1.6, soft)
    laid, streams = _streams(laid, wet, soft, frame)
    return Landscape(
        laid,
        valley,
        floor.river,
        floor.young,
        floor.terrace,
        lake,
        lake_depth,
        floor.path,
        streams,
        wet,
        floor.oxbow,
    )


def _plateau(frame: Frame, rough: list[Floats]) -> Floats:
    """Return the old surface before the rivers cut down: an upland in the north, hills in the south."""
    east, south = frame.km
    upland = 262 - 9 * east * 0.5 + 8 * (2.0 - south)
    hills = 168 + 9 * (south - 7.0) + 3.0 * (east - 6)
    north = step(south + 0.05 * (east - 6), 6.2, 4.2)
    north_east = step(east, 7.4, 9.6) * north
    surface = hills * (1 - north) + upland * north - 22 * north_east
    return surface + 13 * rough[0] + 5 * rough[1]


def _lake_shape(frame: Frame, rough: list[Floats]) -> Floats:
    """Return a rounded basin with inlets: 1 at the lake's shore, less inside."""
    east, south = frame.km
    u, v = east - LAKE_CENTRE[0], south - LAKE_CENTRE[1]
    return np.hypot((u + 0.25 * v) / 0.92, (v - 0.2 * u) / 0.62) + 0.10 * rough[0] + 0.09 * rough[1]


def _base_level(
    frame: Frame, valley: Nearness, lake: Floats, rough: Floats
) -> tuple[Floats, NDArray[np.bool_]]:
    """Return heights that the wearing ground runs out to: the valley, two brooks and the lake's basin."""
    base = np.full(frame.shape, np.inf)
    half = 30 + 10 * rough + 9 * np.sin(valley.along / 130)
    base = np.where(valley.distance < half, _bank(frame, valley) - 9, base)
    for points, dam in ((LAKE_BROOK, DAM_SHARE), (LIME_BROOK, 0.0)):
        path = _path(frame, points, 6)
        near = nearness(path, frame.shape, 6)
        share = np.clip(near.along / travelled(path)[-1], 0, 1)
        bank = float(_bank(frame, valley)[tuple(np.round(path[-1]).astype(int))]) - 5
        top = LAKE_LEVEL - 1.5 if dam else 112.0
        bed = bank + (top - bank) * (1 - np.clip((share - dam) / (1 - dam), 0, 1)) ** 1.35
        bed = np.where(share < dam - 0.04, LAKE_LEVEL - 5, bed)
        base = np.where((near.distance < 2.5) & (bed < base), bed, base)
    base = np.where(lake < 0.86, np.minimum(base, LAKE_LEVEL - 6 - 3 * (0.86 - lake)), base)
    return base, np.isfinite(base)


def _erode(plateau: Floats, base: Floats, hard: Floats) -> Floats:
    """Wear the plateau down on ever finer grids; returns heights on cells twice the frame's."""
    height = shrink(plateau, 8)
    for factor, steps, strength, creep in ((8, 70, 0.030, 0.10), (4, 40, 0.020, 0.12), (2, 14, 0.018, 0.25)):
        low = _lowest(base, factor)
        held = np.isfinite(low)
        rock = shrink(hard, factor)
        height = drainage.fill(np.where(held, low, height), held)
        for i in range(steps):
            height = drainage.wear(height + np.where(held, 0, 0.2), held, rock, strength * factor / 8, creep)
            if i == steps // 2 and factor > 2:
                height = drainage.fill(height, held)
        if factor > 2:
            height = enlarge(height, 2) + 0.4 * factor / 4 * shrink(
                noise(np.random.default_rng(factor), plateau.shape, 24, 3), factor // 2
            )
    return height


SINK_REACH = 40
"""Cells around a sinkhole's middle that it lowers; beyond six of its widths nothing is left of it."""


def _fine_relief(
    height: Floats, rough: Floats, bedrock: Bedrock, frame: Frame, rng: np.random.Generator
) -> Floats:
    """Soften the slopes, roughen them a little, and let hollows fall in on the limestone."""
    height = blur(height, 1.2)
    steep = np.clip(np.hypot(*np.gradient(blur(height, 2))) / frame.cell_m, 0, 0.5)
    height = height + (0.25 + 2.2 * steep) * rough * 0.6
    lime = np.argwhere(blur((bedrock.code == LIMESTONE).astype(float), 6) > 0.75)
    height = height + 14 * blur((bedrock.code == LIMESTONE).astype(float), 7)
    for _ in range(16):
        r, c = lime[rng.integers(len(lime))]
        wide, deep = rng.uniform(3, 6.5), rng.uniform(3, 8)
        rows = slice(max(r - SINK_REACH, 0), r + SINK_REACH)
        cols = slice(max(c - SINK_REACH, 0), c + SINK_REACH)
        row, col = (axis[rows, cols] for axis in np.broadcast_arrays(*np.indices(frame.shape, sparse=True)))
        height[rows, cols] -= deep * np.exp(-(((row - r) ** 2 + (col - c) ** 2) / (2 * wide**2)))
    return height


def _lay_lake(
    height: Floats, shape: Floats, behind: NDArray[np.bool_], rough: list[Floats]
) -> tuple[Floats, NDArray[np.bool_], Floats]:
    """Lay the lake's flat bed behind the dyke and cut an old shoreline into the slopes about it."""
    near = behind & (shape < 2.6)
    level, wide = LAKE_LEVEL + SHORELINE, 3.0
    above = np.clip(height - level, -wide, wide)
    bench = level + 0.25 * above + 0.75 * np.sign(above) * above**2 / wide
    height = np.where(near & (np.abs(height - level) < wide), bench, height)
    bed = LAKE_LEVEL - 1.3 * np.exp(-((shape / 0.5) ** 2)) + 0.45 * rough[1] + 0.12 * rough[2]
    laid = np.where(near, soft_max(height, bed, 0.8), height)
    lake = near & (height < bed + 0.3)
    return laid, lake, np.where(near, level - laid, -99.0)


def _lay_valley(
    height: Floats, frame: Frame, axis: Axis, rough: list[Floats], rng: np.random.Generator
) -> Floor:
    """Lay terrace, backswamp and levee into the main valley and cut the river and its old bends."""
    valley = axis.near
    river_path = meander(axis.path, rng, 88, 21)
    river = nearness(river_path, frame.shape, 130)
    metres = np.minimum(river.distance, 130) * frame.cell_m
    outside = valley.distance - (34 + 9 * np.sin(valley.along / 95 + 1.0) + 5 * rough[0])
    kept = rough[0] + 0.9 * np.sin(valley.along / 120) * valley.side
    old = step(outside, 0.0, 3.5) * step(kept, -0.5, -0.1)
    levee = 1.7 * np.exp(-((metres / 170) ** 1.4)) - 0.5 * step(metres, 250, 600)
    surface = _bank(frame, valley) - 1.1 + levee + 0.22 * rough[1] + old * (6.2 + 0.5 * rough[1])
    there = valley.distance < 150
    laid = np.where(there, soft_max(height, np.where(there, surface, -99), 1.6), height)
    filled = there & (height < surface + 0.4)
    young = filled & (old <= 0.5)
    oxbow = _old_bends(frame, axis.path, river, young, rng)
    laid = laid - 1.3 * blur(oxbow.astype(float), 1.0) * young
    laid = laid - 3.0 * np.exp(-((metres / (CHANNEL_HALF_M * 1.15)) ** 4))
    return Floor(laid, river_path, river, young, filled & (old > 0.5), oxbow)


def _mouths(worn: Floats, fixed: NDArray[np.bool_], valley: Nearness, frame: Frame) -> list[Floats]:
    """Return cells (row, col) where brooks of some size come out onto the valley floor."""
    held = shrink(fixed.astype(float), 2) > 0
    receiver, _ = drainage.receivers(worn, held)
    area = drainage.gather(receiver, drainage.levels(receiver), np.ones(receiver.size))
    out = ~held.ravel() & held.ravel()[receiver] & (area * (2 * frame.cell_m / 1000) ** 2 > 1.2)
    found = list(np.column_stack(np.divmod(np.flatnonzero(out), held.shape[1])) * 2.0)
    near = [cell for cell in found if valley.distance[tuple(cell.astype(int))] < 60]
    for points in (LAKE_BROOK, LIME_BROOK):
        path = _path(frame, points, 6)
        distance = valley.distance[tuple(np.round(path).astype(int).T)]
        near.append(path[int(np.argmax(distance < 40))])
    return near


def _across_the_floor(mouth: Floats, river: Floats) -> Floats:
    """Return a brook's way from the valley's margin to the river, aslant downstream."""
    nearest = int(np.argmin(np.hypot(*(river - mouth).T)))
    gap = np.hypot(*(river[nearest] - mouth))
    target = river[min(nearest + int(0.8 * gap / 3) + 4, len(river) - 1)]
    middle = 0.5 * (mouth + river[nearest])
    return curve(np.vstack([mouth, middle, target]), 1.0)


def _old_bends(
    frame: Frame, axis: Floats, river: Nearness, floor: NDArray, rng: np.random.Generator
) -> NDArray:
    """Return pieces of an older course of the river, where it strays far enough from the new one."""
    older = nearness(meander(axis, rng, 74, 25), frame.shape, 4)
    kept = np.sin(older.along / 41 + rng.uniform(0, 6)) > 0.2
    return (older.distance < 1.6) & (river.distance > 7) & kept & floor


def _streams(
    height: Floats, wet: NDArray, soft: Floats, frame: Frame
) -> tuple[Floats, tuple[tuple[Floats, float], ...]]:
    """Find where water gathers on cells twice the frame's, and cut those lines into the ground."""
    coarse = shrink(height, 2)
    drain = shrink(wet.astype(float), 2) > 0.4
    drain[0], drain[-1], drain[:, 0], drain[:, -1] = True, True, True, True
    surface = drainage.fill(coarse, drain)
    receiver, _ = drainage.receivers(surface, drain)
    groups = drainage.levels(receiver)
    cell_km2 = (2 * frame.cell_m / 1000) ** 2
    area = drainage.gather(receiver, groups, np.full(receiver.size, cell_km2))
    lines = _trace(receiver, area, groups, coarse.shape, 0.22)
    for path, mouth in lines:
        height = _cut(height, path, 0.7 + 0.5 * np.sqrt(min(mouth, 12)), soft)
    return height, lines


def _trace(
    receiver: NDArray, area: Floats, groups: list[NDArray], shape: tuple[int, int], least_km2: float
) -> tuple[tuple[Floats, float], ...]:
    """Follow every stream from its head to where it meets a larger one."""
    flowing = area > least_km2
    cells = np.concatenate(groups)
    fed = np.zeros(area.size, dtype=bool)
    inside = flowing & (receiver != np.arange(area.size))
    fed[receiver[inside]] = True
    heads = [c for c in cells[::-1] if inside[c] and not fed[c]]
    taken = np.zeros(area.size, dtype=bool)
    lines = []
    for head in heads:
        path = [head]
        while not taken[path[-1]] and receiver[path[-1]] != path[-1]:
            taken[path[-1]] = True
            path.append(receiver[path[-1]])
        if len(path) < 8:
            continue
        rows, cols = np.divmod(np.array(path), shape[1])
        points = np.column_stack([rows * 2 + 0.5, cols * 2 + 0.5])
        lines.append((_smooth_line(points), float(area[path[-2]])))
    return tuple(lines)


def _smooth_line(points: Floats) -> Floats:
    smooth = points.astype(np.float64)
    for _ in range(6):
        smooth[1:-1] = 0.25 * smooth[:-2] + 0.5 * smooth[1:-1] + 0.25 * smooth[2:]
    return smooth


def _cut(height: Floats, path: Floats, depth: float, soft: Floats) -> Floats:
    """Lower the cells under a stream: its bed never rises downstream, nor lies below what it joins.

    `soft` is 1 where the brook only wanders over level ground and cuts little, 0 elsewhere.
    """
    dense = np.vstack([path[:-1] + (path[1:] - path[:-1]) * t for t in (0, 0.25, 0.5, 0.75)])
    order = np.argsort(np.concatenate([np.arange(len(path) - 1) + t for t in (0, 0.25, 0.5, 0.75)]))
    dense = dense[order]
    ground = at(height, dense[:, 0], dense[:, 1])
    lowered = ground - depth * (1 - 0.7 * at(soft, dense[:, 0], dense[:, 1]))
    bed = np.maximum(np.minimum.accumulate(lowered), ground[-1])
    row, col = np.round(dense).astype(np.int64).T
    rows, cols = height.shape
    for dr, dc, lift in ((0, 0, 0.0), (-1, 0, 0.5), (1, 0, 0.5), (0, -1, 0.5), (0, 1, 0.5)):
        r, c = np.clip(row + dr, 0, rows - 1), np.clip(col + dc, 0, cols - 1)
        np.minimum.at(height, (r, c), bed + lift * depth)
    return height


def _bank(frame: Frame, valley: Nearness) -> Floats:
    """Return the height of the river bank at the nearest point of the valley's axis."""
    return BANK_START - BANK_FALL * valley.along * frame.cell_m / 1000


def _behind(frame: Frame, dyke: Floats) -> NDArray[np.bool_]:
    """Return cells north-east of the dyke."""
    order = np.argsort(dyke[:, 1])
    row = np.interp(np.arange(frame.shape[1]), dyke[order, 1], dyke[order, 0])
    return np.arange(frame.shape[0])[:, None] < row[None, :] - 2


def _lowest(field: Floats, factor: int) -> Floats:
    rows, cols = field.shape
    return field.reshape(rows // factor, factor, cols // factor, factor).min(axis=(1, 3))


def _path(frame: Frame, points: Floats, spacing: float) -> Floats:
    row, col = frame.cell(points[:, 0], points[:, 1])
    return curve(np.column_stack([row, col]), spacing)

"""Forms of a valley that hold fine ground: benches above the floor, hollows, and channels that the stream has left."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import distance_transform_edt, label

from prospect.types import BoolArray, FloatArray, IntArray

EIGHT = np.ones((3, 3))


@dataclass(frozen=True, slots=True, eq=False)
class Hollows:
    """Closed hollows of the ground.

    Attributes
    ----------
    labels : int32 array, shape (rows, cols)
        1.. in each hollow, 0 outside.
    depth_m, area_m2 : arrays, shape (hollows,)
        Greatest depth below the spill level, and area; of hollow 1 first.
    natural_size : bool array, shape (hollows,)
        True where neither speck nor sea: see `closed_depressions`.
    """

    labels: IntArray
    depth_m: FloatArray
    area_m2: FloatArray
    natural_size: BoolArray


def terraces(
    height_above_drainage_m: FloatArray,
    slope_pct: FloatArray,
    cell_m: float,
    *,
    lowest_m: float = 5.0,
    highest_m: float = 20.0,
    steepest_pct: float = 3.0,
    least_area_m2: float = 2000.0,
) -> BoolArray:
    """Return flat benches above the present valley floor.

    Parameters
    ----------
    height_above_drainage_m, slope_pct : arrays of one shape
        NaN is unknown and never bench.
    cell_m : float
        Side of a cell in metres.
    lowest_m, highest_m : float
        Height above drainage, both included (own judgement: above the flood plain, below the upland).
    steepest_pct : float
        Steepest slope, included (own judgement: the tread of a terrace).
    least_area_m2 : float
        Smaller patches, cells that touch at a side or corner together, are left out (own judgement).
    """
    height, slope = np.asarray(height_above_drainage_m), np.asarray(slope_pct)
    _same_shape(height, slope)
    flat = (height >= lowest_m) & (height <= highest_m) & (slope <= steepest_pct)
    parts, number = label(flat, structure=EIGHT)
    area = np.bincount(parts.ravel(), minlength=number + 1) * _cell_area(cell_m)
    kept = area >= least_area_m2
    kept[0] = False
    return kept[parts]


def closed_depressions(
    depth_m: FloatArray,
    cell_m: float,
    *,
    least_depth_m: float = 0.3,
    least_area_m2: float = 200.0,
    least_cells: int = 4,
    largest_area_m2: float = 1.0e6,
    deepest_m: float = 15.0,
) -> Hollows:
    """Return the closed hollows of the ground, specks left out.

    Parameters
    ----------
    depth_m : array, shape (rows, cols)
        Depth below the spill level (`depression_depth`); NaN is unknown and never hollow.
    cell_m : float
        Side of a cell in metres.
    least_depth_m, least_area_m2 : float
        What is shallower at its deepest, or smaller, is noise of the elevation model and no hollow (own judgement).
    least_cells : int
        So is what has fewer cells, however large they are (own judgement).
    largest_area_m2, deepest_m : float
        What is larger or deeper is rather a quarry, a lake or a valley behind a dam: kept, but not
        of natural size (own judgement).
    """
    depth = np.asarray(depth_m)
    parts, number = label(depth > 0, structure=EIGHT)
    cells = np.bincount(parts.ravel(), minlength=number + 1)
    area = cells * _cell_area(cell_m)
    deepest = np.zeros(number + 1, dtype=np.float32)
    np.maximum.at(deepest, parts.ravel(), np.where(parts > 0, depth, 0.0).ravel())
    kept = (deepest >= least_depth_m) & (area >= least_area_m2) & (cells >= least_cells)
    kept[0] = False
    numbers = np.zeros(number + 1, dtype=np.int32)
    numbers[kept] = np.arange(1, int(kept.sum()) + 1)
    natural = (area <= largest_area_m2) & (deepest <= deepest_m)
    return Hollows(numbers[parts], deepest[kept], area[kept], natural[kept])


def abandoned_channels(
    hollows: Hollows,
    floor: BoolArray,
    channels: BoolArray,
    cell_m: float,
    *,
    least_elongation: float = 3.0,
    least_distance_m: float = 20.0,
) -> BoolArray:
    """Return long narrow hollows on a valley floor away from the stream: oxbows and backswamps.

    Parameters
    ----------
    hollows : Hollows
        `closed_depressions`; only those of natural size are taken.
    floor, channels : bool arrays of the same shape
        `valley_floor` and the present stream.
    cell_m : float
        Side of a cell in metres.
    least_elongation : float
        Area over the square of the width, at least (own judgement). The width is that of the rectangle of the same
        area and rim, or twice the greatest distance to dry ground less a cell where that is more; a bent hollow
        counts as long as a straight one.
    least_distance_m : float
        No cell of the hollow lies nearer to the stream (own judgement).

    Notes
    -----
    At least half of the hollow lies on the floor (own judgement). A hollow that the stream still runs through is a
    pool of the stream, not a channel that it left.
    """
    flat, stream = np.asarray(floor, dtype=np.bool_), np.asarray(channels, dtype=np.bool_)
    _same_shape(hollows.labels, flat)
    _same_shape(hollows.labels, stream)
    number = hollows.depth_m.size
    if not number:
        return np.zeros(flat.shape, dtype=np.bool_)
    inside = hollows.labels > 0
    owner = hollows.labels[inside]
    # The rim of the grid ends a hollow as dry ground does.
    to_dry = distance_transform_edt(np.pad(inside, 1), sampling=cell_m)[1:-1, 1:-1][inside]
    reach = np.zeros(number + 1)
    np.maximum.at(reach, owner, to_dry)
    width = np.maximum(2.0 * reach[1:] - cell_m, _width_by_rim(hollows.labels, number) * cell_m)
    on_floor = np.bincount(owner, weights=flat[inside], minlength=number + 1)[1:] * _cell_area(cell_m)
    apart = np.full(number + 1, np.inf)
    if stream.any():
        np.minimum.at(apart, owner, distance_transform_edt(~stream, sampling=cell_m)[inside])
    left = hollows.natural_size & (hollows.area_m2 / width**2 >= least_elongation)
    left &= (on_floor >= 0.5 * hollows.area_m2) & (apart[1:] >= least_distance_m)
    return np.concatenate([[False], left])[hollows.labels]


def _width_by_rim(labels: IntArray, number: int) -> FloatArray:
    """Return the short side, in cells, of the rectangle with each hollow's area and number of outer cell sides."""
    framed = np.pad(labels, 1)
    rim = np.zeros(number + 1)
    for axis in (0, 1):
        before, after = (framed[:-1], framed[1:]) if axis == 0 else (framed[:, :-1], framed[:, 1:])
        differ = before != after
        rim += np.bincount(before[differ], minlength=number + 1)
        rim += np.bincount(after[differ], minlength=number + 1)
    quarter, area = rim[1:] / 4.0, np.bincount(labels.ravel(), minlength=number + 1)[1:]
    return np.asarray(quarter - np.sqrt(np.maximum(quarter**2 - area, 0.0)))


def _cell_area(cell_m: float) -> float:
    if not (np.isfinite(cell_m) and cell_m > 0):
        raise ValueError(f"Invalid cell size '{cell_m}'. It must be a positive number of metres.")
    return float(cell_m) ** 2


def _same_shape(one: FloatArray | IntArray, other: FloatArray | BoolArray) -> None:
    if one.shape != other.shape:
        raise ValueError(f"Invalid shapes {one.shape} and {other.shape}. They must be the same.")

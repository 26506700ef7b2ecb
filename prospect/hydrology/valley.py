"""The flat floor of a valley and where across it a cell lies, from the stream's bank to the foot of the slope."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import distance_transform_edt, label

from prospect.types import BoolArray, FloatArray

# Low, level ground beside a stream (own judgement: the wet and the transition class of height above drainage).
FLOOR_HEIGHT_M = 5.0
FLOOR_SLOPE_PCT = 5.0


def valley_floor(
    height_above_drainage_m: FloatArray, slope_pct: FloatArray, channels: BoolArray
) -> BoolArray:
    """Return low level ground that joins a channel: below 5 m above drainage, slope below 5 %.

    Parameters
    ----------
    height_above_drainage_m, slope_pct : arrays of one shape
        NaN is unknown and never floor.
    channels : bool array of the same shape
        Channel cells are floor whatever their slope.
    """
    channel = np.asarray(channels, dtype=np.bool_)
    low = np.asarray(height_above_drainage_m) < FLOOR_HEIGHT_M
    floor = (low & (np.asarray(slope_pct) < FLOOR_SLOPE_PCT)) | channel
    parts, number = label(floor, structure=np.ones((3, 3)))
    joined = np.zeros(number + 1, dtype=np.bool_)
    joined[np.unique(parts[channel])] = True
    joined[0] = False
    return joined[parts]


def cross_valley_position(
    channels: BoolArray, floor: BoolArray, cell_m: float, known: BoolArray | None = None
) -> FloatArray:
    """Return d / W, the distance to the channel over the half-width of the valley floor.

    Parameters
    ----------
    channels : bool array, shape (rows, cols)
    floor : bool array of the same shape
        `valley_floor`.
    cell_m : float
        Side of a cell in metres.
    known : bool array of the same shape, optional
        False = no data.

    Returns
    -------
    array, shape (rows, cols), float32
        0 on the channel, 1 at the foot of the slope; beyond the floor above 1, measured with the half-width of
        the nearest floor. NaN without data, without a channel, and where the floor runs on into the edge of the
        data, so that its width is not known.

    Notes
    -----
    On the floor ``W = d + e``, with e the straight distance to the nearest cell that is not floor, less half a
    cell: the foot of the slope runs between the two cells.
    """
    channel, flat = np.asarray(channels, dtype=np.bool_), np.asarray(floor, dtype=np.bool_)
    seen = np.ones(flat.shape, dtype=np.bool_) if known is None else np.asarray(known, dtype=np.bool_)
    out = np.full(flat.shape, np.nan, dtype=np.float32)
    if not channel.any():
        return out
    flat = flat | channel
    d = distance_transform_edt(~channel, sampling=cell_m)
    width, bounded = _half_width(flat, seen, d, cell_m)
    rows, cols = distance_transform_edt(~flat, return_distances=False, return_indices=True)
    ratio = d / width[rows, cols]
    usable = seen & bounded[rows, cols]
    out[usable] = ratio[usable]
    out[channel & seen] = 0.0
    return out


def _half_width(
    flat: BoolArray, seen: BoolArray, d: FloatArray, cell_m: float
) -> tuple[FloatArray, BoolArray]:
    """Return d + e on the floor and whether the nearest end of the floor is ground that was seen."""
    framed = np.pad(flat & seen, 1, constant_values=False)
    framed_seen = np.pad(seen, 1, constant_values=False)
    e, (rows, cols) = distance_transform_edt(framed, sampling=cell_m, return_indices=True)
    bounded = framed_seen[rows, cols][1:-1, 1:-1]
    return d + np.maximum(e[1:-1, 1:-1] - 0.5 * cell_m, 0.5 * cell_m), bounded

"""The flat floor of a valley and where across it a cell lies, from the stream's bank to the foot of the slope."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import distance_transform_edt, label

from prospect.hydrology import _kernels as kernels
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
    channels: BoolArray, floor: BoolArray, known: BoolArray | None = None
) -> FloatArray:
    """Return d / W, the distance to the channel over the half-width of the valley floor.

    Parameters
    ----------
    channels : bool array, shape (rows, cols)
    floor : bool array of the same shape
        `valley_floor`.
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
    W is taken on the cell's own side of the stream: along the line from the nearest channel cell through the cell
    and on to the first cell that is not floor, less half a cell, as the foot of the slope runs between the two.
    """
    channel, flat = np.asarray(channels, dtype=np.bool_), np.asarray(floor, dtype=np.bool_)
    seen = np.ones(flat.shape, dtype=np.bool_) if known is None else np.asarray(known, dtype=np.bool_)
    out = np.full(flat.shape, np.nan, dtype=np.float32)
    if not channel.any():
        return out
    flat = flat | channel
    d, (bank_rows, bank_cols) = distance_transform_edt(~channel, return_indices=True)
    width = kernels.half_widths(flat, seen, bank_rows, bank_cols)
    rows, cols = distance_transform_edt(~flat, return_distances=False, return_indices=True)
    out[seen] = (d / width[rows, cols])[seen]
    out[channel & seen] = 0.0
    return out

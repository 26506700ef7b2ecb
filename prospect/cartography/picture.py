"""Turns arrays into small indexed PNG pictures; no data is always transparent."""

from __future__ import annotations

import io
from collections.abc import Sequence

import numpy as np
from PIL import Image

from prospect.palette import Ramp, ramp
from prospect.types import BoolArray, FloatArray, IntArray

CLEAR = 0
"""Palette row of every pixel without data."""

HATCH_PERIOD_PX = 8
HATCH_STEPS: tuple[tuple[float, int], ...] = ((0.75, 0), (0.5, 1), (0.3, 2), (0.0, 3))
"""Completeness from which a hatch of so many strokes per period is drawn; own judgement."""


def render_png(
    values: FloatArray,
    colours: Ramp | None = None,
    *,
    low: float = 0.0,
    high: float = 1.0,
    opacity: float = 1.0,
) -> bytes:
    """Return values as an indexed 8-bit PNG in a colour ramp.

    Parameters
    ----------
    values
        (rows, cols); NaN is drawn clear.
    colours
        The ramp; the favourability ramp when not given.
    low, high
        Values at the two ends of the ramp; anything beyond takes the end's colour.
    opacity
        Of every pixel with data, 0..1.
    """
    if not high > low:
        raise ValueError(f"Invalid range {low}..{high}: the upper end must be above the lower.")
    table = (colours or ramp()).table
    known = np.isfinite(values)
    share = np.clip((np.where(known, values, low) - low) / (high - low), 0.0, 1.0)
    indices = np.where(known, 1 + np.rint(share * 254), CLEAR).astype(np.uint8)
    shades = table[np.rint(np.linspace(0, len(table) - 1, 255)).astype(np.intp)]
    return indexed_png(indices, shades, opacity=opacity)


def render_hillshade(shade: FloatArray, *, strength: float = 0.45) -> bytes:
    """Return a hillshade (0 dark .. 255 lit, NaN clear) as paper-toned relief.

    The picture holds only darkness: black pixels whose opacity grows where the ground turns from the light,
    so that it can lie under or over any colour.
    """
    known = np.isfinite(shade)
    lit = np.clip(np.where(known, shade, 255.0) / 255.0, 0.0, 1.0)
    indices = np.where(known, 1 + np.rint((1.0 - lit) * 254), CLEAR).astype(np.uint8)
    black = np.tile(np.array([43, 51, 54], dtype=np.uint8), (255, 1))
    return indexed_png(indices, black, opacity=np.linspace(0.0, strength, 255))


def render_classes(codes: IntArray, colours: Sequence[str], *, opacity: float = 1.0) -> bytes:
    """Return class codes as a picture; `colours` (`#RRGGBB`) go by code, negative codes are clear.

    Raises
    ------
    ValueError
        When a code has no colour or there are more than 255 colours.
    """
    if len(colours) > 255:
        raise ValueError(f"{len(colours)} classes are more than the 255 that one picture can hold.")
    if codes.size and int(codes.max()) >= len(colours):
        raise ValueError(f"Class {int(codes.max())} has no colour: there are {len(colours)}.")
    table = np.array([_channels(colour) for colour in colours], dtype=np.uint8).reshape(-1, 3)
    return indexed_png(np.where(codes < 0, CLEAR, codes + 1).astype(np.uint8), table, opacity=opacity)


def render_hatch(completeness: FloatArray, *, row0: int = 0, col0: int = 0) -> bytes:
    """Return how much is known as a slanted hatch: the less is known, the closer the strokes.

    Parameters
    ----------
    completeness
        (rows, cols), 0..1, in picture pixels; NaN is drawn clear.
    row0, col0
        Place of the first pixel in the whole picture, so that strokes run on from tile to tile.
    """
    strokes = hatch_mask(completeness, row0=row0, col0=col0)
    ink = np.array([[43, 51, 54]], dtype=np.uint8)
    return indexed_png(strokes.astype(np.uint8), ink, opacity=0.62)


def hatch_mask(completeness: FloatArray, *, row0: int = 0, col0: int = 0) -> BoolArray:
    """Return where the strokes of `render_hatch` fall, (rows, cols)."""
    rows, cols = completeness.shape
    phase = (np.arange(row0, row0 + rows)[:, None] + np.arange(col0, col0 + cols)[None, :]) % HATCH_PERIOD_PX
    width = np.full(completeness.shape, HATCH_STEPS[-1][1], dtype=np.int8)
    for floor, strokes in reversed(HATCH_STEPS):
        width[np.nan_to_num(completeness, nan=-1.0) >= floor] = strokes
    width[~np.isfinite(completeness)] = 0
    # one stroke per period, then a second half a period on, then a third: closer, never thicker
    places = np.array([0, 4, 2])
    drawn = np.zeros(completeness.shape, dtype=bool)
    for count, place in enumerate(places, start=1):
        drawn |= (width >= count) & (phase == place)
    return drawn


def indexed_png(indices: IntArray, table: IntArray, *, opacity: float | FloatArray = 1.0) -> bytes:
    """Return an 8-bit PNG with a colour table.

    Parameters
    ----------
    indices
        (rows, cols) uint8; 0 is clear, k takes row k - 1 of `table`.
    table
        (n, 3) uint8, n at most 255.
    opacity
        0..1, one for all or one per row of `table`.
    """
    picture = Image.fromarray(np.ascontiguousarray(indices, dtype=np.uint8), mode="P")
    picture.putpalette(np.vstack([np.zeros((1, 3), np.uint8), table]).astype(np.uint8).tobytes())
    alpha = np.rint(np.broadcast_to(np.asarray(opacity, dtype=np.float64), (len(table),)) * 255)
    out = io.BytesIO()
    clear = bytes([0, *np.clip(alpha, 0, 255).astype(np.uint8).tolist()])
    picture.save(out, format="PNG", transparency=clear, optimize=False, compress_level=6)
    return out.getvalue()


def _channels(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)

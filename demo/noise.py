"""Smooth seeded noise and the few image operations that an invented landscape needs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import fft

Floats = NDArray[np.float64]


def blur(field: Floats, sigma: float) -> Floats:
    """Return the field smoothed by a Gaussian of `sigma` cells, mirrored at its edges."""
    if sigma <= 0:
        return field
    reach = min(int(4 * sigma) + 1, min(field.shape) - 1)
    padded = np.pad(field, reach, mode="symmetric").astype(np.float32)
    rows, cols = padded.shape
    fy = np.fft.fftfreq(rows)[:, None]
    fx = np.fft.rfftfreq(cols)[None, :]
    damp = np.exp(-2 * (np.pi * sigma) ** 2 * (fy**2 + fx**2)).astype(np.float32)
    smooth = fft.irfft2(fft.rfft2(padded, workers=2) * damp, s=padded.shape, workers=2)
    return smooth[reach:-reach, reach:-reach].astype(np.float64)


def noise(
    rng: np.random.Generator, shape: tuple[int, int], wavelength: float, octaves: int = 4, gain: float = 0.5
) -> Floats:
    """Return fractal noise of mean 0 and standard deviation 1; the longest wave has `wavelength` cells."""
    rows, cols = shape
    fy = np.fft.fftfreq(rows)[:, None]
    fx = np.fft.rfftfreq(cols)[None, :]
    squared = fy**2 + fx**2
    white = fft.rfft2(rng.standard_normal(shape).astype(np.float32), workers=2)
    weight = np.zeros_like(squared, dtype=np.float32)
    for octave in range(octaves):
        sigma = wavelength / 2**octave / 4
        weight += (gain**octave * sigma * np.exp(-2 * (np.pi * sigma) ** 2 * squared)).astype(np.float32)
    field = fft.irfft2(white * weight, s=shape, workers=2).astype(np.float64)
    field -= field.mean()
    return field / field.std()


def shrink(field: Floats, factor: int) -> Floats:
    """Return block means over `factor` × `factor` cells."""
    rows, cols = field.shape
    return field.reshape(rows // factor, factor, cols // factor, factor).mean(axis=(1, 3))


def enlarge(field: Floats, factor: int) -> Floats:
    """Return the field on cells `factor` times smaller, smoothly interpolated."""
    grown = _enlarge_axis(_enlarge_axis(field, factor).T, factor).T
    return np.ascontiguousarray(blur(grown, factor * 0.45))


def at(field: Floats, row: Floats, col: Floats) -> Floats:
    """Return bilinear values at fractional cells; positions outside take the edge's value."""
    rows, cols = field.shape
    row, col = np.clip(row, 0, rows - 1.001), np.clip(col, 0, cols - 1.001)
    r, c = row.astype(np.int64), col.astype(np.int64)
    u, v = row - r, col - c
    top = field[r, c] * (1 - v) + field[r, c + 1] * v
    bottom = field[r + 1, c] * (1 - v) + field[r + 1, c + 1] * v
    return top * (1 - u) + bottom * u


def step(value: Floats, low: float, high: float) -> Floats:
    """Return 0 below `low`, 1 above `high` and a smooth rise between (`low` > `high` falls)."""
    t = np.clip((value - low) / (high - low), 0.0, 1.0)
    return t * t * (3 - 2 * t)


def soft_max(a: Floats, b: Floats, width: float) -> Floats:
    """Return the larger of two surfaces with the crease between them rounded over `width`."""
    h = np.clip(0.5 + 0.5 * (a - b) / width, 0.0, 1.0)
    return b * (1 - h) + a * h + width * h * (1 - h)


def _enlarge_axis(field: Floats, factor: int) -> Floats:
    rows = field.shape[0]
    position = np.clip((np.arange(rows * factor) + 0.5) / factor - 0.5, 0, rows - 1)
    low = np.minimum(position.astype(np.int64), rows - 2)
    share = (position - low)[:, None]
    return field[low] * (1 - share) + field[low + 1] * share

"""Curves on the ground: smooth paths through points, meanders, and the distance of every cell to them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Nearness:
    """How every cell lies to a curve.

    Attributes
    ----------
    distance
        Distance to the curve, in the unit of its points; infinite beyond reach.
    along
        Position of the nearest point along the curve, same unit.
    side
        +1 on the left of the direction of travel (rows grow downwards), -1 on the right.
    """

    distance: Floats
    along: Floats
    side: Floats


def curve(points: Floats, spacing: float) -> Floats:
    """Return a smooth path through the points (Catmull-Rom), resampled to even `spacing`."""
    p = np.vstack([2 * points[0] - points[1], points, 2 * points[-1] - points[-2]])
    t = np.linspace(0, 1, 24, endpoint=False)[:, None]
    pieces = [
        0.5
        * (
            2 * p[i + 1]
            + (p[i + 2] - p[i]) * t
            + (2 * p[i] - 5 * p[i + 1] + 4 * p[i + 2] - p[i + 3]) * t**2
            + (3 * p[i + 1] - p[i] - 3 * p[i + 2] + p[i + 3]) * t**3
        )
        for i in range(len(points) - 1)
    ]
    return resample(np.vstack([*pieces, points[-1:]]), spacing)


def resample(path: Floats, spacing: float) -> Floats:
    """Return the path with evenly spaced points."""
    run = travelled(path)
    wanted = np.linspace(0, run[-1], max(int(run[-1] / spacing) + 1, 2))
    return np.column_stack([np.interp(wanted, run, path[:, 0]), np.interp(wanted, run, path[:, 1])])


def travelled(path: Floats) -> Floats:
    """Return the distance along the path at each of its points."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])


def meander(axis: Floats, rng: np.random.Generator, wavelength: float, swing: float) -> Floats:
    """Return a wandering river about a valley axis (sine-generated curve with a restless wavelength)."""
    run = travelled(axis)
    spacing = run[1]
    drift = np.interp(
        run, np.arange(0, run[-1] + wavelength, wavelength * 0.7), _uneven(run[-1], wavelength, rng)
    )
    phase = np.cumsum(2 * np.pi * spacing / wavelength * (1 + 0.45 * drift))
    swell = np.clip(0.8 + 0.35 * np.roll(drift, int(wavelength / spacing)), 0.35, 1.2)
    tangent = np.gradient(axis, axis=0)
    tangent /= np.hypot(*tangent.T)[:, None]
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    across = swing * swell * (np.sin(phase) + 0.25 * np.sin(0.37 * phase + 1.0))
    down = -0.55 * swing * swell * np.sin(2 * phase + 0.25)
    return resample(axis + normal * across[:, None] + tangent * down[:, None], 3)


def _uneven(length: float, wavelength: float, rng: np.random.Generator) -> Floats:
    count = len(np.arange(0, length + wavelength, wavelength * 0.7))
    return np.clip(rng.standard_normal(count) * 0.6, -1, 1)


def nearness(path: Floats, shape: tuple[int, int], reach: float) -> Nearness:
    """Return how cells within `reach` lie to a path given in fractional (row, col) cells."""
    squared = np.full(shape, np.inf)
    along = np.zeros(shape)
    side = np.ones(shape)
    run = travelled(path)
    for i in range(len(path) - 1):
        (r0, c0), (r1, c1) = path[i], path[i + 1]
        low_r, high_r = max(int(min(r0, r1) - reach), 0), min(int(max(r0, r1) + reach) + 2, shape[0])
        low_c, high_c = max(int(min(c0, c1) - reach), 0), min(int(max(c0, c1) + reach) + 2, shape[1])
        if low_r >= high_r or low_c >= high_c:
            continue
        row = np.arange(low_r, high_r)[:, None] - r0
        col = np.arange(low_c, high_c)[None, :] - c0
        dr, dc = r1 - r0, c1 - c0
        length2 = dr * dr + dc * dc
        t = np.clip((row * dr + col * dc) / length2, 0, 1)
        d2 = (row - t * dr) ** 2 + (col - t * dc) ** 2
        window = (slice(low_r, high_r), slice(low_c, high_c))
        closer = d2 < squared[window]
        squared[window] = np.where(closer, d2, squared[window])
        along[window] = np.where(closer, run[i] + t * np.sqrt(length2), along[window])
        side[window] = np.where(closer, np.sign(row * dc - col * dr), side[window])
    squared[squared > reach * reach] = np.inf
    return Nearness(np.sqrt(squared), along, side)

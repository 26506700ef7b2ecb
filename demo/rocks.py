"""What lies under the invented ground: a granite upland, a folded belt of layered rock, a dyke and faults."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .frame import Frame
from .lines import curve, nearness
from .noise import Floats, noise, step

GRANITE, PEGMATITE, GNEISS, SANDSTONE, SHALE, LIMESTONE, TUFF, MUDSTONE, COAL, DYKE = range(10)
HARDNESS = np.array([1.5, 1.6, 1.7, 1.5, 0.75, 1.35, 1.05, 0.8, 0.9, 2.6])
"""How well each rock withstands a stream, beside 1 for a middling one (own choice)."""

BELT_FAULT = np.array([[-1.2, 5.1], [1.5, 5.0], [4.0, 5.25], [6.8, 4.85], [9.2, 4.45], [13.2, 3.9]])
BLOCK_FAULT = np.array([[7.5, -1.2], [7.9, 1.0], [8.25, 2.8], [8.3, 4.7]])
DYKE_PATH = np.array(
    [[4.2, -1.2], [5.9, 0.3], [7.6, 1.9], [9.1, 3.15], [10.4, 4.3], [11.6, 5.3], [13.2, 6.7]]
)
"""Points in kilometres east and south of the north-west corner."""


@dataclass(frozen=True)
class Bedrock:
    """Rock classes under every cell (margins included), and the curves that cut them (row, col)."""

    code: NDArray[np.int16]
    belt_fault: Floats
    block_fault: Floats
    dyke: Floats


def lay_bedrock(frame: Frame, rng: np.random.Generator) -> Bedrock:
    """Return the rocks of the ground, contacts bent by seeded noise."""
    east, south = frame.km
    bend = [noise(rng, frame.shape, 210, 4) for _ in range(2)]
    x, y = east + 0.16 * bend[0], south + 0.16 * bend[1]
    belt_path = _wander(frame, rng, BELT_FAULT, 0.05)
    block_path = _wander(frame, rng, BLOCK_FAULT, 0.04)
    dyke_path = _wander(frame, rng, DYKE_PATH, 0.03)
    code = _crystalline(x, y)
    in_belt = _south_of(frame, belt_path)
    layered = in_belt | _east_of(frame, block_path)
    height = np.where(in_belt, _height_in_pile(x, y), _height_in_block(x, y))
    code = np.where(layered, _layered(height, x, y), code)
    in_dyke = nearness(dyke_path, frame.shape, 12).distance < 2.6 + 0.6 * bend[0]
    code = np.where(in_dyke & (south < 5.6), DYKE, code)
    return Bedrock(code.astype(np.int16), belt_path, block_path, dyke_path)


def _crystalline(x: Floats, y: Floats) -> NDArray[np.int64]:
    """Return granite with gneiss about it and pods of pegmatite near its edge."""
    rim = np.hypot((x - 3.0) / 5.0, (y - 1.2) / 3.25)
    code = np.where(rim < 1, GRANITE, GNEISS)
    for east, south, long, wide, turn in (
        (5.35, 2.75, 0.42, 0.12, 0.5),
        (6.45, 1.55, 0.36, 0.10, 1.2),
        (2.25, 3.75, 0.50, 0.13, 0.1),
        (0.75, 2.35, 0.30, 0.11, -0.6),
        (4.25, 4.15, 0.33, 0.09, 0.2),
    ):
        u = (x - east) * np.cos(turn) + (y - south) * np.sin(turn)
        v = -(x - east) * np.sin(turn) + (y - south) * np.cos(turn)
        code = np.where(np.hypot(u / long, v / wide) < 1, PEGMATITE, code)
    return code


def _height_in_pile(x: Floats, y: Floats) -> Floats:
    """Return metres above the base of the layered rocks: folds that plunge gently to the east-south-east."""
    turn = np.deg2rad(14)
    along = x * np.cos(turn) + y * np.sin(turn)
    across = -x * np.sin(turn) + y * np.cos(turn)
    fold = -230 * np.cos(2 * np.pi * (across - 5.35) / 3.1)
    return 105 + fold + 30 * along + 14 * np.sin(2 * np.pi * along / 2.3)


def _height_in_block(x: Floats, y: Floats) -> Floats:
    """Return the same east of the other fault, where the pile only tilts."""
    return 180 + 105 * (y - 2.2) - 62 * (x - 10.0) + 30 * np.sin(2 * np.pi * x / 2.9)


def _layered(height: Floats, x: Floats, y: Floats) -> NDArray[np.int64]:
    """Return the pile from its base: shale with a limestone lens, sandstone, tuff, mudstone, coal-bearing beds."""
    lens = np.hypot((x - 3.05) / 1.5, (y - 8.55) / 0.85)
    thick = 120 * step(lens, 1.0, 0.55)
    tops = [(300, SHALE), (365, SANDSTONE), (460, TUFF), (610, MUDSTONE)]
    code = np.full(height.shape, COAL)
    for top, rock in reversed(tops):
        code = np.where(height < top, rock, code)
    return np.where((np.abs(height - 160) < thick) & (height < 300), LIMESTONE, code)


def _wander(frame: Frame, rng: np.random.Generator, points: Floats, amount: float) -> Floats:
    moved = points + rng.normal(0, amount, points.shape)
    row, col = frame.cell(moved[:, 0], moved[:, 1])
    return curve(np.column_stack([row, col]), 12)


def _south_of(frame: Frame, path: Floats) -> NDArray[np.bool_]:
    order = np.argsort(path[:, 1])
    row = np.interp(np.arange(frame.shape[1]), path[order, 1], path[order, 0])
    return np.arange(frame.shape[0])[:, None] > row[None, :]


def _east_of(frame: Frame, path: Floats) -> NDArray[np.bool_]:
    order = np.argsort(path[:, 0])
    col = np.interp(np.arange(frame.shape[0]), path[order, 0], path[order, 1])
    return np.arange(frame.shape[1])[None, :] > col[:, None]

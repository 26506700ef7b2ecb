"""Functions of a cell's surroundings, computed window by window: the same numbers as from the whole grid."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import DTypeLike, NDArray

from prospect.windows.files import Source, write_window
from prospect.windows.tiling import Tiling, Window
from prospect.windows.work import WorkFolder

Stencil = Callable[..., Mapping[str, NDArray[Any]]]


def over_windows(
    stage: str,
    function: Stencil,
    sources: tuple[Source, ...],
    tiling: Tiling,
    reach: int,
    work: WorkFolder,
    results: Mapping[str, DTypeLike],
) -> dict[str, Path]:
    """Compute arrays from the surroundings of each cell.

    Parameters
    ----------
    stage
        Name of the stage in the work folder.
    function
        From one array for each source, all of a window with its halo, to arrays of that shape by name. It must
        give a cell the same value whatever lies further away than `reach`.
    sources
        Grids of the tiling's shape.
    tiling
        The windows.
    reach
        Width of the halo in cells; at the edge of the grid there is none, as in the whole.
    work
        Where the results go.
    results
        Type of each result by name.

    Returns
    -------
    dict
        The .npy file of each result by name.
    """
    paths = {name: work.array(name, tiling.shape, dtype) for name, dtype in results.items()}
    jobs = {
        number: (function, sources, tiling[number], tiling.shape, reach, paths)
        for number in range(len(tiling))
    }
    work.stage(stage, _one_window, jobs)
    return paths


def _one_window(
    function: Stencil,
    sources: tuple[Source, ...],
    window: Window,
    shape: tuple[int, int],
    reach: int,
    paths: Mapping[str, Path],
) -> None:
    outer = window.grown(reach, shape)
    computed = function(*(source.read(outer) for source in sources))
    for name, path in paths.items():
        write_window(path, window, np.asarray(computed[name])[window.within(outer)])

"""Runs the deposit models over a ground too large for memory, some rows at a time, and keeps what came out on disk."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import DTypeLike

from prospect.criteria import DepositModel, Factors, for_purpose
from prospect.favourability.assess import PreparedModel, score_rows
from prospect.favourability.headline import leading
from prospect.grid import Grid, Raster
from prospect.types import FloatArray, IntArray
from prospect.windows import Window, WorkFolder, bands, open_array, write_window

WINDOW_CELLS = 1_000_000


@dataclass(frozen=True, slots=True)
class AssessedOnDisk:
    """What several models say of a ground, as arrays that are read from disk where they are looked at.

    Attributes
    ----------
    favourability
        For each model, 0..1 where it may lead; no data elsewhere.
    best, completeness
        Of the leading model; no data where none may lead.
    deposit
        (rows, cols) int32: number of the leading model, -1 where none may lead.
    """

    favourability: Mapping[str, Raster]
    best: Raster
    completeness: Raster
    deposit: IntArray


def assess_on_disk(
    models: Sequence[DepositModel], factors: Factors, purpose: str, work: WorkFolder
) -> AssessedOnDisk:
    """Score a ground for several models at once and take the best of them; the same numbers as in memory.

    Parameters
    ----------
    models
        In the order to show them; of equal ones the earlier leads.
    factors
        The ground; its rasters may be on disk too (`prospect.windows.open_array`).
    purpose
        What the clay is wanted for.
    work
        Where the results go. Its engine must work here, since what is read from the ground cannot be sent elsewhere.

    Returns
    -------
    AssessedOnDisk

    Raises
    ------
    WrongUsage
        When there is no such purpose.
    Stopped
        When the engine was told to stop; the same call goes on from there.

    Notes
    -----
    Memory stays at a few arrays of a million cells for each thread, whatever the size of the ground.
    """
    grid = factors.grid
    prepared = {model.key: PreparedModel.of(for_purpose(model, purpose), factors) for model in models}
    names = [*(_of(key) for key in prepared), "best", "completeness"]
    kinds: dict[str, DTypeLike] = {"deposit": np.int32}
    for name in names:
        kinds |= {name: np.float32, _mask(name): np.bool_}
    paths = {name: work.array(name, grid.shape, kind) for name, kind in kinds.items()}
    rows = bands(grid.shape, WINDOW_CELLS)
    if not work.is_finished:
        work.stage(
            "assess", _assess, {number: (prepared, rows[number], paths) for number in range(len(rows))}
        )
        work.finish()
    return assessed_on_disk(models, grid, work)


def assessed_on_disk(models: Sequence[DepositModel], grid: Grid, work: WorkFolder) -> AssessedOnDisk:
    """Return what `assess_on_disk` left in a finished work folder, for the same models in the same order."""

    def raster(name: str, source: str) -> Raster:
        return Raster(open_array(work.path(name)), open_array(work.path(_mask(name))), grid, "1", source)

    return AssessedOnDisk(
        {model.key: raster(_of(model.key), model.title) for model in models},
        raster("best", "best deposit model"),
        raster("completeness", "best deposit model"),
        open_array(work.path("deposit")),
    )


def _of(key: str) -> str:
    return f"favourability-{key}"


def _mask(name: str) -> str:
    return f"{name}-mask"


def _assess(prepared: Mapping[str, PreparedModel], window: Window, paths: Mapping[str, Path]) -> None:
    def write(name: str, values: FloatArray) -> None:
        write_window(paths[name], window, values)
        write_window(paths[_mask(name)], window, ~np.isfinite(values))

    results = []
    for key, model in prepared.items():
        value, _, known, can_lead = score_rows(model, window.slices[0], window.shape[1])
        write(_of(key), np.where(can_lead, value, np.float32(np.nan)))
        results.append((value, known, can_lead))
    best, completeness, deposit = leading(window.shape, results)
    write("best", best)
    write("completeness", completeness)
    write_window(paths["deposit"], window, deposit)

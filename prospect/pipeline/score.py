"""Runs the deposit models over a ground and keeps what came out."""

from __future__ import annotations

import contextlib
import json
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from prospect.cache import content_key
from prospect.criteria import DepositModel, shipped_models
from prospect.errors import InputRefused, NothingToWorkWith, WrongUsage
from prospect.favourability import (
    AssessedOnDisk,
    assess_model,
    assess_on_disk,
    assessed_on_disk,
    best_model,
)
from prospect.grid import Grid, Raster, read_geotiff, read_geotiff_grid, write_geotiff, write_geotiff_by_bands
from prospect.pipeline.factors import Landscape, build_landscape, landscape_key
from prospect.pipeline.reading import read_deposit_model
from prospect.records import PURPOSES, Purpose
from prospect.store import Ground
from prospect.types import FloatArray, IntArray
from prospect.windows import Engine, WorkFolder

ALGORITHM = 1
LARGE_CELLS = 25_000_000
"""From here on scores stay on disk: seven models of 25 million cells take 3 GB in memory while they are compared."""


@dataclass(frozen=True, slots=True)
class Scored:
    """Favourability of a whole ground.

    Attributes
    ----------
    grid
        Where the cells are.
    models
        Deposit models in the order to show them.
    favourability
        For each model, 0..1 where it may lead and NaN where it cannot say.
    best, best_deposit, completeness
        The headline: the best model's favourability, which model that is (index into `keys`, -1 = none), and how
        much of its weights had data.
    hillshade
        Shaded relief 0..255; None without elevation.
    missing
        Sentences: what is missing and what it costs.
    purpose
        What the clay is wanted for.
    revision
        Changes whenever any of the rasters may have changed.
    """

    grid: Grid
    models: tuple[DepositModel, ...]
    favourability: Mapping[str, Raster]
    best: Raster
    best_deposit: IntArray
    completeness: Raster
    hillshade: Raster | None
    missing: tuple[str, ...]
    purpose: Purpose
    revision: str

    @property
    def keys(self) -> tuple[str, ...]:
        """Keys of the deposit models, in order."""
        return tuple(model.key for model in self.models)

    @property
    def titles(self) -> Mapping[str, str]:
        """Plain name of each deposit model by its key."""
        return {model.key: model.title for model in self.models}

    def summary(self) -> list[dict[str, object]]:
        """Return one row for each model: where it can be said, where it leads, and how good it gets."""
        rows: list[dict[str, object]] = []
        for number, model in enumerate(self.models):
            raster = self.favourability[model.key]
            known = raster.values[~raster.mask]
            rows.append(
                {
                    "deposit": model.key,
                    "title": model.title,
                    "can_say_share": raster.share_known,
                    "leads_share": float(np.mean(self.best_deposit == number)),
                    "mean": float(known.mean()) if known.size else None,
                    "best": float(known.max()) if known.size else None,
                }
            )
        return rows

    @property
    def mean_completeness(self) -> float | None:
        """How much is known on average where anything can be said; None where nothing can."""
        known = self.completeness.values[~self.completeness.mask]
        return float(known.mean()) if known.size else None

    def only(self, deposit: str) -> Scored:
        """Return the same score with one model to explain, which is quicker."""
        return replace(self, models=tuple(model for model in self.models if model.key == deposit))


@dataclass(frozen=True, slots=True)
class Choice:
    """Which deposit models are run and what the clay is wanted for.

    Attributes
    ----------
    models
        In the order to show them.
    purpose
        One of `prospect.records.PURPOSES`.
    """

    models: tuple[DepositModel, ...]
    purpose: Purpose

    @property
    def key(self) -> str:
        """Changes with the models' content and the purpose."""
        return content_key([repr(model) for model in self.models], self.purpose, ALGORITHM)


def choose(
    ground: Ground, deposits: Sequence[str] = (), purpose: str | None = None, own: Sequence[Path] = ()
) -> Choice:
    """Return the models to run: the shipped ones or those named, and the user's own files.

    Raises
    ------
    WrongUsage
        When a model or purpose of that name does not exist; the message lists those that do.
    DefinitionError
        When a file of the user's has faults.
    """
    wanted = purpose or ground.settings.purpose
    if wanted not in PURPOSES:
        raise WrongUsage(f"There is no purpose '{wanted}'. The purposes are: {', '.join(PURPOSES)}.")
    shipped = shipped_models()
    known = [model.key for model in shipped]
    for name in deposits:
        if name not in known:
            raise WrongUsage(f"There is no deposit model '{name}'. The models are: {', '.join(known)}.")
    chosen = tuple(model for model in shipped if not deposits or model.key in deposits)
    mine = tuple(read_deposit_model(path) for path in own)
    replaced = {model.key for model in mine}
    return Choice((*(model for model in chosen if model.key not in replaced), *mine), wanted)


def score(ground: Ground, choice: Choice | None = None) -> Scored:
    """Return the ground's favourability, computed anew only when something it rests on has changed.

    The rasters are written as GeoTIFF under `derived/score-<key>/`; older ones of the same choice are deleted after
    the new ones are whole.

    Raises
    ------
    NothingToWorkWith
        When there is neither elevation nor a rock map nor a soil survey.
    """
    choice = choice or choose(ground)
    if not set(ground.layers()) & {"elevation", "geology", "soil"}:
        raise NothingToWorkWith(
            "There is nothing to score yet: the ground has no elevation, no geology and no soil. "
            "Add at least one with: claywalk add DIR KIND FILE"
        )
    revision = content_key(landscape_key(ground), choice.key)
    folder = ground.derived_folder / f"score-{choice.key[:8]}-{revision}"
    kept = _load(folder, choice, revision)
    if kept is not None:
        return kept
    landscape = build_landscape(ground)
    if landscape.factors.grid.cells >= LARGE_CELLS:
        scored = _compute_on_disk(landscape, choice, revision, _work_folder(folder))
    else:
        scored = _compute(landscape, choice, revision)
    _save(scored, folder)
    _clear_older(ground, choice, folder)
    return scored


def _clear_older(ground: Ground, choice: Choice, kept: Path) -> None:
    """Delete what earlier runs of the same choice left, and what a killed run left half written."""
    for old in ground.derived_folder.glob(f"*score-{choice.key[:8]}-*"):
        if kept.name not in old.name:
            shutil.rmtree(old, ignore_errors=True)


def score_folder(ground: Ground, scored: Scored, choice: Choice) -> Path:
    """Return where the rasters of a score are."""
    return ground.derived_folder / f"score-{choice.key[:8]}-{scored.revision}"


def _compute(landscape: Landscape, choice: Choice, revision: str) -> Scored:
    with ThreadPoolExecutor(max_workers=2) as pool:
        results = list(
            pool.map(lambda model: assess_model(model, landscape.factors, choice.purpose), choice.models)
        )
    headline = best_model(results)
    grid = landscape.factors.grid
    return Scored(
        grid=grid,
        models=choice.models,
        favourability={
            result.deposit: Raster.of(
                np.where(result.can_lead, result.value.values, np.nan), grid, "1", result.title
            )
            for result in results
        },
        best=headline.value,
        best_deposit=np.asarray(headline.deposit, np.int32),
        completeness=headline.completeness,
        hillshade=landscape.hillshade,
        missing=landscape.missing,
        purpose=choice.purpose,
        revision=revision,
    )


def _compute_on_disk(landscape: Landscape, choice: Choice, revision: str, folder: Path) -> Scored:
    """Score as `_compute` does, with the rasters as files that are read where they are looked at."""
    work = WorkFolder(folder, revision, Engine())
    found = assess_on_disk(choice.models, landscape.factors, choice.purpose, work)
    return _of_arrays(found, landscape.factors.grid, landscape.hillshade, landscape.missing, choice, revision)


def _of_arrays(
    found: AssessedOnDisk,
    grid: Grid,
    hillshade: Raster | None,
    missing: Sequence[str],
    choice: Choice,
    revision: str,
) -> Scored:
    return Scored(
        grid=grid,
        models=choice.models,
        favourability=found.favourability,
        best=found.best,
        best_deposit=found.deposit,
        completeness=found.completeness,
        hillshade=hillshade,
        missing=tuple(missing),
        purpose=choice.purpose,
        revision=revision,
    )


def _work_folder(folder: Path) -> Path:
    """Return where the arrays of a large score are, beside its rasters; the name is cleared together with theirs."""
    return folder.with_name(f"{folder.name}-arrays")


def _save(scored: Scored, folder: Path) -> None:
    """Write the rasters into a folder of their own, which takes its name when all of them are whole."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    part = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
    try:
        _write(scored, part)
        with contextlib.suppress(OSError):  # another run was quicker: its folder holds the same
            part.rename(folder)
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _write(scored: Scored, folder: Path) -> None:
    for key, raster in scored.favourability.items():
        write_geotiff(raster, folder / f"favourability-{key}.tif")
    write_geotiff(scored.best, folder / "favourability-best.tif")
    write_geotiff(scored.completeness, folder / "completeness.tif")
    names = ", ".join(f"{number} = {key}" for number, key in enumerate(scored.keys))

    def deposits(start: int, stop: int) -> FloatArray:
        codes = scored.best_deposit[start:stop]
        return np.where(codes < 0, np.nan, codes)

    write_geotiff_by_bands(deposits, scored.grid, "class", names, folder / "best-deposit.tif")
    if scored.hillshade is not None:
        write_geotiff(scored.hillshade, folder / "hillshade.tif")
    words = {"revision": scored.revision, "purpose": scored.purpose, "missing": scored.missing}
    (folder / "score.json").write_text(json.dumps(words, ensure_ascii=False, indent=1), encoding="utf-8")


def _load(folder: Path, choice: Choice, revision: str) -> Scored | None:
    """Return the rasters of a folder; None when there are none, or when one of them is gone or damaged."""
    try:
        words = json.loads((folder / "score.json").read_text(encoding="utf-8"))
        grid = read_geotiff_grid(folder / "favourability-best.tif")
        if grid.cells >= LARGE_CELLS:
            return _load_arrays(folder, grid, words["missing"], choice, revision)
        best = read_geotiff(folder / "favourability-best.tif")
        deposit = read_geotiff(folder / "best-deposit.tif")
        completeness = read_geotiff(folder / "completeness.tif")
        favourability = {
            model.key: read_geotiff(folder / f"favourability-{model.key}.tif") for model in choice.models
        }
        hillshade = _load_shade(folder)
    except (OSError, ValueError, InputRefused):
        shutil.rmtree(folder, ignore_errors=True)
        return None
    return Scored(
        grid=best.grid,
        models=choice.models,
        favourability=favourability,
        best=best,
        best_deposit=np.where(deposit.mask, -1, np.nan_to_num(deposit.values)).astype(np.int32),
        completeness=completeness,
        hillshade=hillshade,
        missing=tuple(words["missing"]),
        purpose=choice.purpose,
        revision=revision,
    )


def _load_arrays(
    folder: Path, grid: Grid, missing: Sequence[str], choice: Choice, revision: str
) -> Scored | None:
    """Return a large score as `_compute_on_disk` left it; None when its arrays or rasters are not all there."""
    for model in choice.models:
        read_geotiff_grid(folder / f"favourability-{model.key}.tif")
    work = WorkFolder(_work_folder(folder), revision, Engine())
    if not work.is_finished:
        return None
    found = assessed_on_disk(choice.models, grid, work)
    return _of_arrays(found, grid, _load_shade(folder), missing, choice, revision)


def _load_shade(folder: Path) -> Raster | None:
    path = folder / "hillshade.tif"
    return read_geotiff(path) if path.is_file() else None

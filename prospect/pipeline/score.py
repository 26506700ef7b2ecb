"""Runs the deposit models over a ground, keeps what came out, and cuts candidate sites from it."""

from __future__ import annotations

import contextlib
import json
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import geopandas as gpd
import numpy as np

from prospect.cache import content_key
from prospect.criteria import DepositModel, load_deposit_model, shipped_models
from prospect.errors import InputRefused, NothingToWorkWith, WrongUsage
from prospect.favourability import assess_model, best_model, explain
from prospect.grid import Grid, Raster, outline_classes, read_geotiff, write_geotiff
from prospect.land import parcels_touching, permission_word
from prospect.pipeline.factors import Landscape, build_landscape, landscape_key
from prospect.records import PURPOSES, Purpose, Site
from prospect.sites import cut_level, delineate_sites, rank_sites, site_statistics
from prospect.store import Ground
from prospect.types import IntArray

SMALLEST_SITE_HA = 0.5
LARGEST_SITE_HA = 30.0
"""A site larger than this is narrowed to its best parts; a day's walk with an auger (own judgement)."""
FEWEST_CELLS = 6
ALGORITHM = 1


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
    mine = tuple(load_deposit_model(path) for path in own)
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
    scored = _compute(build_landscape(ground), choice, revision)
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


def find_sites(
    ground: Ground,
    scored: Scored,
    *,
    deposit: str | None = None,
    top: int = 20,
    min_area_ha: float | None = None,
) -> tuple[tuple[Site, ...], gpd.GeoDataFrame]:
    """Return ranked candidate sites and their outlines.

    Parameters
    ----------
    ground, scored
        The ground and its favourability.
    deposit
        Only this model's ground; default the headline.
    top
        How many sites at most.
    min_area_ha
        Smallest site; default 0.5 ha.

    Returns
    -------
    sites, outlines
        Sites in rank order, and a frame `site, deposit, favourability, geometry` in the grid's CRS in the same order.
    """
    grid = scored.grid
    if deposit is not None and deposit not in scored.keys:
        raise WrongUsage(
            f"There is no deposit model '{deposit}' here. The models are: {', '.join(scored.keys)}."
        )
    value = scored.best if deposit is None else scored.favourability[deposit]
    which = (
        scored.best_deposit
        if deposit is None
        else np.where(value.mask, -1, scored.keys.index(deposit)).astype(np.int32)
    )
    smallest = SMALLEST_SITE_HA if min_area_ha is None else min_area_ha
    cells = max(FEWEST_CELLS, round(smallest / grid.cell_area_ha))
    labels = delineate_sites(
        value.values,
        which,
        level=cut_level(value.values),
        min_cells=cells,
        max_cells=max(cells, round(LARGEST_SITE_HA / grid.cell_area_ha)),
    )
    landscape = build_landscape(ground)
    others = {"completeness": scored.completeness.values} | {
        name: raster.values
        for name in ("slope_pct", "height_above_drainage_m")
        if (raster := landscape.factors.rasters.get(name)) is not None
    }
    table = rank_sites(site_statistics(labels, value.values, others, grid.cell_area_ha)).head(max(top, 0))
    numbers = labels[table["row"], table["col"]] if len(table) else np.empty(0, int)
    renumbered = np.full(int(labels.max()) + 2, -1, np.int32)
    renumbered[numbers] = np.arange(len(numbers))
    shapes = outline_classes(renumbered[labels], grid) if len(numbers) else {}
    parcels = landscape.land.parcels
    sites = []
    for rank, row in enumerate(table.to_dict("records")):
        easting, northing = grid.xy(row["row"], row["col"])
        lon, lat = grid.to_lonlat(easting, northing)
        key = scored.keys[int(which[row["row"], row["col"]])]
        touching = () if parcels is None else parcels_touching(parcels, shapes[rank])
        sites.append(
            Site(
                site=rank + 1,
                deposit=key,
                favourability=row["favourability"],
                completeness=row["completeness"],
                area_ha=row["area_ha"],
                lon=lon,
                lat=lat,
                easting=easting,
                northing=northing,
                rock=landscape.unit_at(row["row"], row["col"]),
                slope_pct=_or_none(row.get("slope_pct")),
                height_above_drainage_m=_or_none(row.get("height_above_drainage_m")),
                parcels=touching,
                permission="not known whose"
                if parcels is None
                else permission_word((), touching, "auger", ""),
                cautions=_cautions(landscape, scored, key, row["row"], row["col"]),
            )
        )
    frame = gpd.GeoDataFrame(
        {
            "site": [site.site for site in sites],
            "deposit": [site.deposit for site in sites],
            "favourability": [site.favourability for site in sites],
        },
        geometry=[shapes[rank] for rank in range(len(sites))],
        crs=grid.crs,
    )
    return tuple(sites), frame


def _compute(landscape: Landscape, choice: Choice, revision: str) -> Scored:
    results = [assess_model(model, landscape.factors, choice.purpose) for model in choice.models]
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
    deposit = np.where(scored.best_deposit < 0, np.nan, scored.best_deposit)
    names = ", ".join(f"{number} = {key}" for number, key in enumerate(scored.keys))
    write_geotiff(Raster.of(deposit, scored.grid, "class", names), folder / "best-deposit.tif")
    if scored.hillshade is not None:
        write_geotiff(scored.hillshade, folder / "hillshade.tif")
    words = {"revision": scored.revision, "purpose": scored.purpose, "missing": scored.missing}
    (folder / "score.json").write_text(json.dumps(words, ensure_ascii=False, indent=1), encoding="utf-8")


def _load(folder: Path, choice: Choice, revision: str) -> Scored | None:
    """Return the rasters of a folder; None when there are none, or when one of them is gone or damaged."""
    try:
        words = json.loads((folder / "score.json").read_text(encoding="utf-8"))
        best = read_geotiff(folder / "favourability-best.tif")
        deposit = read_geotiff(folder / "best-deposit.tif")
        completeness = read_geotiff(folder / "completeness.tif")
        favourability = {
            model.key: read_geotiff(folder / f"favourability-{model.key}.tif") for model in choice.models
        }
        shade = folder / "hillshade.tif"
        hillshade = read_geotiff(shade) if shade.is_file() else None
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


def _cautions(landscape: Landscape, scored: Scored, key: str, row: int, col: int) -> tuple[str, ...]:
    model = scored.models[scored.keys.index(key)]
    (reading,) = explain((model,), landscape.factors, row, col, scored.purpose)
    return tuple(dict.fromkeys((*(gate.reason for gate in reading.gates), *reading.cautions)))


def _or_none(value: float | None) -> float | None:
    return None if value is None or not np.isfinite(value) else float(value)

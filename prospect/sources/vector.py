"""Reads any vector file into clean shapes with only the columns that are needed: the base of every map reader."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely
from pyproj import CRS

from prospect.guard.inspection import file_name
from prospect.guard.refusal import refuse_file
from prospect.issues import Issue, IssueLog
from prospect.layerfile import LayerSource
from prospect.sources.field_names import (
    Groups,
    field_names,
    fields_sentence,
    find_columns,
    same_name,
    text_column,
)
from prospect.sources.mending import Shapes, mend_shapes, swap_axes
from prospect.sources.opening import choose_layer, layer_info, library_errors, opened, tables_of
from prospect.sources.placing import (
    Placement,
    across_180,
    box_of,
    decide_crs,
    far_off,
    from_lonlat_box,
    place,
    refuse_elsewhere,
    to_lonlat_box,
    widened,
)
from prospect.sources.tally import Tally
from prospect.types import Bounds

MARGIN_M = 2000.0
"""Shapes this far outside the ground belong to it, so that distances are right at its edge (own judgement)."""

MOST_FEATURES = 400_000
FILTER_ABOVE = 20_000
"""Above this many features only those that touch the ground are read, when the ground is known."""


@dataclass(slots=True)
class Features:
    """What was read of a layer.

    Attributes
    ----------
    frame
        Shapes that were kept, with the columns that were needed under their own names; the index is the number
        of the feature in the file, from 1.
    columns
        Field of ours → columns.
    tally
        What happened to each feature so far.
    items
        Numbers of all features read.
    crs
        As text.
    notes
        Sentences worth keeping with the layer.
    side_table, side_table_name
        A table without shapes that was read along; None when the file has none.
    """

    frame: gpd.GeoDataFrame
    columns: Mapping[str, Groups]
    tally: Tally
    items: range
    crs: str
    notes: list[str] = field(default_factory=list)
    side_table: pd.DataFrame | None = None
    side_table_name: str = ""

    def text(self, name: str, joiner: str = ", ") -> pd.Series:
        """Return a field as text, empty where unknown."""
        return text_column(self.frame, self.columns.get(name, ()), joiner)

    def refuse(self, items: pd.Index, name: str, expected: str, action: str) -> None:
        """Leave features out of the frame, with the reason."""
        for item in items:
            self.tally.refuse(int(item), name, "", expected, action)
        self.frame = self.frame.drop(index=items)

    def finish(
        self, frame: gpd.GeoDataFrame, path: Path, kind: str, notes: tuple[str, ...] = ()
    ) -> tuple[gpd.GeoDataFrame, IssueLog, LayerSource]:
        """Return the frame with a fresh index, the settled log and the source."""
        log = self.tally.settle(self.items)
        if not len(frame):
            _refuse_empty(log, kind)
        source = LayerSource(
            kind=kind,
            origin=file_name(path),
            imported="",
            crs=self.crs,
            counts={"read": log.read, "kept": log.kept, "repaired": log.repaired, "refused": log.refused},
            notes=(*self.notes, *notes),
        )
        return frame.reset_index(drop=True), log, source


def read_features(
    path: Path,
    kind: str,
    *,
    crs: str = "",
    mapping: Mapping[str, str] | None = None,
    bounds: Bounds | None = None,
) -> Features:
    """Read one layer of a vector file.

    Parameters
    ----------
    path
        GeoJSON, GeoPackage, shapefile, file geodatabase, or a zip archive with one of them.
    kind
        Kind of layer; decides which columns and sorts of shape are looked for.
    crs
        `EPSG:n` when the file does not say, or says wrongly.
    mapping
        Field → column; `layer` names the layer inside the file.
    bounds
        The ground, longitudes and latitudes; None while unknown.

    Raises
    ------
    InputRefused
        When the file cannot be used; its log says why.
    """
    mapping = dict(mapping or {})
    rules = field_names().of(kind)
    log = IssueLog(file_name(path), kind)
    bounds = None if bounds is None else widened(bounds, MARGIN_M)
    with opened(path, kind, log, wanted=mapping.get("layer", "")) as ready:
        wanted = mapping.get("layer", "") if ready.suffix.lower() in (".gpkg", ".gdb") else ""
        layer = choose_layer(ready, kind, wanted, log)
        info = layer_info(ready, layer, log)
        names = [str(name) for name in info["fields"]]
        columns = find_columns(kind, names, mapping, log)
        needed = (
            names
            if rules.all_columns
            else sorted({c for groups in columns.values() for g in groups for c in g})
        )
        frame, fixed, first_crs, notes = _read(ready, info, needed, crs, bounds, log)
        table_name, table = _side_table(ready, rules.side_table, log)
    tally = Tally(log, "feature")
    shapes, placement = _placed(frame, fixed, first_crs, bounds, tally, kind)
    keep = ~shapely.is_missing(shapes)
    if not keep.any():
        tally.settle(range(1, len(frame) + 1))
        _refuse_empty(log, kind)
    rest = pd.DataFrame(frame.drop(columns="geometry"))[keep]
    clean = gpd.GeoDataFrame(rest, geometry=shapes[keep], crs=placement.crs)
    sentence = fields_sentence({name: groups for name, groups in columns.items() if groups != ((name,),)})
    if sentence:
        notes.append(sentence)
    return Features(clean, columns, tally, range(1, len(frame) + 1), placement.crs, notes, table, table_name)


def _refuse_empty(log: IssueLog, kind: str) -> NoReturn:
    refuse_file(log, "nothing that can be used", f"at least one shape of {kind}", "See the problems.")


def _side_table(path: Path, kind: str, log: IssueLog) -> tuple[str, pd.DataFrame | None]:
    if not kind or path.suffix.lower() not in (".gpkg", ".gdb"):
        return "", None
    names = tables_of(path, log)
    wanted = field_names().of(kind).layers
    name = next((name for want in wanted for name in names if same_name(want, name)), "")
    if not name:
        return "", None
    with library_errors(log, f"a table {name} that can be read"):
        return name, pyogrio.read_dataframe(path, layer=name, read_geometry=False)


def _read(
    path: Path,
    info: dict[str, Any],
    needed: list[str],
    crs: str,
    bounds: Bounds | None,
    log: IssueLog,
) -> tuple[gpd.GeoDataFrame, Shapes, str, list[str]]:
    count, layer = int(info["features"]), str(info["layer_name"])
    if count == 0:
        refuse_file(log, "a layer without any feature", "features", "Export it again.")
    whole = info.get("total_bounds")
    box = None if whole is None else box_of(np.asarray(whole, dtype=float).reshape(-1, 2))
    settled = decide_crs(_crs_of(info), crs, box, log)
    options: dict[str, Any] = {}
    notes: list[str] = []
    if bounds is not None and count > FILTER_ABOVE:
        window = from_lonlat_box(settled, bounds)
        if window is not None:
            options["bbox"] = tuple(window)
    elif count > MOST_FEATURES:
        action = "Start the ground with --bbox first, or cut out the part around your ground."
        refuse_file(log, f"{count:,} features", f"at most {MOST_FEATURES:,}", action)
    with library_errors(log, "features that can be read"):
        frame = _frame(path, layer, needed, "ignore", options, log)
        missing = shapely.is_missing(frame.geometry.to_numpy())
        fixed = frame.geometry.to_numpy()
        if missing.any():
            fixed = _frame(path, layer, [], "fix", options, log).geometry.to_numpy()
    if options:
        notes.append(f"Only the features that touch the ground were read: {len(frame):,} of {count:,}.")
        if not len(frame) and bounds is not None and box is not None:
            refuse_elsewhere(to_lonlat_box(settled, box) or box, bounds, log)
        if len(frame) > MOST_FEATURES:
            refuse_file(
                log, f"{len(frame):,} features", f"at most {MOST_FEATURES:,}", "Make the ground smaller."
            )
    frame.index = pd.RangeIndex(1, len(frame) + 1)
    return frame, fixed, settled, notes


def _frame(
    path: Path, layer: str, columns: list[str], on_invalid: str, options: dict[str, Any], log: IssueLog
) -> gpd.GeoDataFrame:
    unsaid = _encoding_unsaid(path)

    def read(encoding: str | None) -> gpd.GeoDataFrame:
        frame = pyogrio.read_dataframe(
            path,
            layer=layer,
            columns=columns,
            on_invalid=on_invalid,
            encoding=encoding,
            datetime_as_string=True,
            **options,
        )
        return frame if "geometry" in frame else frame.rename_geometry("geometry")

    try:
        return read("UTF-8" if unsaid else None)
    except UnicodeDecodeError:
        if not any(issue.field == "encoding" for issue in log.issues):
            action = "Read as Western European text (Windows-1252); look at names with accents."
            problem = ("bytes that are no UTF-8", "text in UTF-8", action)
            log.note(Issue("warning", log.file, "whole file", "encoding", *problem))
        return read("cp1252")


def _encoding_unsaid(path: Path) -> bool:
    """Whether a shapefile says nothing of its encoding: no .cpg, and no code page in byte 30 of the table."""
    if path.suffix.lower() != ".shp" or any(path.with_suffix(end).exists() for end in (".cpg", ".CPG")):
        return False
    table = next((t for t in (path.with_suffix(".dbf"), path.with_suffix(".DBF")) if t.exists()), None)
    if table is None:
        return False
    with table.open("rb") as handle:
        head = handle.read(30)
    return len(head) == 30 and head[29] == 0


def _crs_of(info: dict[str, Any]) -> str | None:
    found = info.get("crs")
    return str(found) if found else None


def _placed(
    frame: gpd.GeoDataFrame, fixed: Shapes, crs: str, bounds: Bounds | None, tally: Tally, kind: str
) -> tuple[Shapes, Placement]:
    stored = np.asarray(frame.geometry.to_numpy(), dtype=object)
    items = list(range(1, len(frame) + 1))
    stored, fixed = stored.copy(), np.array(fixed, dtype=object)
    for index in far_off(np.where(shapely.is_missing(stored), fixed, stored), crs).tolist():
        tally.refuse(
            items[index], "geometry", "coordinates far off the others", f"a place in {crs[:20]}", "Left out."
        )
        stored[index] = fixed[index] = None
    box = box_of(shapely.bounds(np.where(shapely.is_missing(stored), fixed, stored)).reshape(-1, 2))
    if box is None:
        refuse_file(tally.log, "no shape with coordinates", "shapes", "Export it again.")
    placement = place(crs, box, bounds, tally.log)
    shapes = mend_shapes(stored, fixed, items, field_names().of(kind).shapes, tally)
    if placement.swapped:
        shapes = swap_axes(shapes)
        for item, shape in zip(items, shapes, strict=True):
            if shape is not None:
                tally.repair(item, "position", "latitude first", "longitude first", "Exchanged.")
    if CRS.from_user_input(placement.crs).is_geographic:
        for index in across_180(shapes).tolist():
            found, expected = "a step of more than 180° of longitude", "a shape cut in two at 180°"
            tally.refuse(
                items[index], "geometry", found, expected, "Left out: it would lie around the earth."
            )
            shapes[index] = None
    return shapes, placement


def as_lonlat(frame: gpd.GeoDataFrame) -> Shapes:
    """Return the shapes of a frame in WGS 84 degrees."""
    return np.asarray(frame.geometry.to_crs("EPSG:4326").to_numpy(), dtype=object)

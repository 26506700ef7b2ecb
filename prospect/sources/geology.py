"""Reads a geological map: the wording of every unit, from the map itself, its description table or a legend."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

import geopandas as gpd
import pandas as pd

from prospect.issues import Issue, IssueLog
from prospect.layerfile import LayerSource
from prospect.sources.csv_rows import read_csv_rows
from prospect.sources.field_names import Groups, field_names, find_columns, nothing_said, text_column
from prospect.sources.vector import Features, read_features
from prospect.types import Bounds

COLUMNS = ("unit", "name", "age", "description", "rocks", "confidence")
_TERM_ADDRESS = re.compile(r"^(?:https?://\S*[/#]|urn:\S*:)([A-Za-z][\w-]*)$")


def read_geologic_units(
    path: Path,
    *,
    crs: str = "",
    mapping: Mapping[str, str] | None = None,
    legend: Path | None = None,
    bounds: Bounds | None = None,
) -> tuple[gpd.GeoDataFrame, IssueLog, LayerSource]:
    """Read the polygons of a geological map.

    Parameters
    ----------
    path
        Vector file. A description table beside the polygons in a GeoPackage or geodatabase is joined by itself.
    crs
        `EPSG:n` when the file does not say.
    mapping
        `unit`, `name`, `age`, `description`, `rocks`, `rocks_minor`, `confidence` → column; `layer` → layer.
    legend
        CSV with one row for each unit code: words for a map that has only codes.
    bounds
        The ground, longitudes and latitudes.

    Returns
    -------
    GeoDataFrame
        `unit, name, age, description, rocks, confidence` as text (empty = not said) and `geometry`, in the
        file's own CRS. `rocks` is wording, not yet parsed.
    IssueLog
    LayerSource

    Raises
    ------
    InputRefused
        When nothing can be used.
    """
    features = read_features(path, "geology", crs=crs, mapping=mapping, bounds=bounds)
    frame = _wording(features)
    frame["unit"] = frame["unit"].where(frame["unit"] != "", frame["name"])
    table = _legend(legend, features)
    if table is not None:
        frame = _joined(frame, table, features)
    for fallback in ("name", "rocks", "description"):
        frame["unit"] = frame["unit"].where(frame["unit"] != "", frame[fallback].str.slice(0, 60))
    nothing_said(features.tally.log, "unit", int((frame["unit"] == "").sum()))
    wordless = (frame[["name", "description", "rocks"]] == "").all(axis=1) & (frame["unit"] != "")
    if wordless.any():
        codes = sorted(frame.loc[wordless, "unit"].unique())
        features.tally.note(
            "description",
            ", ".join(codes[:12]),
            "words for every unit",
            f"{len(codes)} unit(s) have only a code: give their words with --legend CSV.",
            warning=True,
        )
    return features.finish(frame, path, "geology")


def _wording(features: Features) -> gpd.GeoDataFrame:
    joiners = {"age": " to "}
    table = {name: features.text(name, joiners.get(name, ", ")) for name in COLUMNS}
    table["rocks"] = _rocks(features.frame, features.columns.get("rocks", ()))
    minor = _terms(features.text("rocks_minor"))
    table["rocks"] = (
        table["rocks"].where(minor == "", table["rocks"] + "; minor " + minor).str.removeprefix("; ")
    )
    return gpd.GeoDataFrame(table, geometry=features.frame.geometry, crs=features.frame.crs)


def _rocks(frame: pd.DataFrame, groups: Groups) -> pd.Series:
    """Return the first wording of each row that is one: an address of an age or a unit type is none."""
    result = pd.Series("", index=frame.index, dtype=object)
    for group in groups:
        result = result.where(result != "", _terms(text_column(frame, (group,))))
    return result


def _terms(words: pd.Series) -> pd.Series:
    """Turn addresses of vocabulary terms and class codes into words."""
    codes = field_names().geology.codes

    def one(text: str) -> str:
        parts = [part.strip() for part in text.split(", ")]
        words = (codes.get(part, _TERM_ADDRESS.sub(_term, part)) for part in parts)
        return ", ".join(filter(None, words))

    return words.map({text: one(text) for text in words.unique()})


def _term(match: re.Match[str]) -> str:
    return match.group(1).replace("_", " ") if "lithology" in match.group(0).lower() else ""


def _legend(legend: Path | None, features: Features) -> pd.DataFrame | None:
    """Return the words for each unit code; the user's legend before the map's own table."""
    log = features.tally.log
    if legend is not None:
        rows = read_csv_rows(legend, "legend")
        for line in sorted(rows.odd)[:20]:
            found, expected = "more cells than headings", "one cell for each heading"
            action = "The cells beyond the last heading were left out."
            rows.log.note(Issue("warning", rows.log.file, f"row {line}", "", found, expected, action))
        features.tally.log.issues.extend(rows.log.issues)
        features.notes.append(f"Words of the units from {legend.name}.")
        return _legend_table(rows.frame(), rows.log, features)
    if features.side_table is None:
        return None
    features.notes.append(f"Words of the units from its table {features.side_table_name}.")
    return _legend_table(features.side_table, log, features)


def _legend_table(frame: pd.DataFrame, log: IssueLog, features: Features) -> pd.DataFrame:
    columns = find_columns("legend", frame.columns, {}, log)
    table = pd.DataFrame({name: text_column(frame, columns.get(name, ())) for name in COLUMNS})
    table["rocks"] = _terms(table["rocks"])
    # Headings of a description table have no code.
    table = table[table["unit"] != ""]
    twice = table["unit"].duplicated()
    if twice.any():
        features.tally.note(
            "unit",
            ", ".join(sorted(table.loc[twice, "unit"].unique())[:12]),
            "each code once in the legend",
            "The first line of each was taken.",
            warning=True,
        )
    return table[~twice].set_index("unit")


def _joined(frame: gpd.GeoDataFrame, table: pd.DataFrame, features: Features) -> gpd.GeoDataFrame:
    known = frame["unit"].isin(table.index)
    if not known.any():
        features.tally.note(
            "unit",
            ", ".join(sorted(frame["unit"].unique())[:8]),
            f"codes of the legend, such as {', '.join(table.index[:5])}",
            "No code of the map is in the legend; say which column has it: --map unit=COLUMN",
            warning=True,
        )
    elif absent := sorted(set(frame.loc[~known, "unit"]) - {""}):
        features.tally.note(
            "unit",
            ", ".join(absent[:12]),
            "every code of the map in the legend",
            f"{len(absent)} unit(s) are not in the legend and keep what the map says of them.",
        )
    for name in COLUMNS[1:]:
        words = frame["unit"].map(table[name]).fillna("").astype(object)
        frame[name] = words.where(words != "", frame[name])
    return frame

"""Turns shapes and points with a word for what they are into the normal form of water, structures and keep-outs."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

import geopandas as gpd
import pandas as pd

from prospect.guard.inspection import file_name
from prospect.issues import IssueLog
from prospect.layerfile import LayerSource
from prospect.sources.field_names import Groups, LayerFields, as_text, field_names, nothing_said, text_column
from prospect.sources.vector import read_features
from prospect.text import plain
from prospect.types import Bounds

_YES = ("yes", "true", "y")


def read_marks(
    path: Path,
    kind: str,
    *,
    crs: str = "",
    mapping: Mapping[str, str] | None = None,
    bounds: Bounds | None = None,
) -> tuple[gpd.GeoDataFrame, IssueLog, LayerSource]:
    """Read a layer whose shapes each have a `kind`, a `name` and a `source`.

    Parameters
    ----------
    path
        Vector file.
    kind
        Kind of layer, one with `kind` among its fields in the file of names.
    crs, mapping, bounds
        As for `prospect.sources.vector.read_features`.

    Returns
    -------
    GeoDataFrame
        The fields of the kind as text (`kind` in our words where they are known, else as written in lower case;
        the layer's own name where nothing is said) and `geometry`, in the file's own CRS.
    """
    features = read_features(path, kind, crs=crs, mapping=mapping, bounds=bounds)
    rules = field_names().of(kind)
    columns = {name: features.text(name) for name in rules.fields}
    columns["kind"] = kinds_of(features.frame, features.columns.get("kind", ()), rules)
    table = pd.DataFrame(
        {name: column.map(lambda text: plain(text, 2000)) for name, column in columns.items()}
    )
    return features.finish(as_marks(table, kind, path, features.frame, features.tally.log), path, kind)


def as_marks(
    table: pd.DataFrame, kind: str, path: Path, shapes: gpd.GeoDataFrame, log: IssueLog
) -> gpd.GeoDataFrame:
    """Return a frame in normal form; where no kind is said the file's name says it, else the layer's own word."""
    silent = table["kind"] == ""
    if silent.any():
        own = {"keepouts": "keep-out"}.get(kind, kind.removesuffix("s"))
        words = re.sub(r"[^a-z]+", " ", path.stem.lower()).strip()
        known = our_word(words, field_names().of(kind))
        word = known if silent.all() and known and kind != "outline" else own
        table["kind"] = table["kind"].where(~silent, word)
        if kind != "outline":
            nothing_said(log, "kind", int(silent.sum()), f"Taken as '{word}'.")
    table["source"] = table["source"].where(table["source"] != "", file_name(path))
    return gpd.GeoDataFrame(table, geometry=shapes.geometry, crs=shapes.crs)


def kinds_of(frame: pd.DataFrame, groups: Groups, rules: LayerFields) -> pd.Series:
    """Return the kind of each row: the first column with a word we know, else the first with any text."""
    first = pd.Series("", index=frame.index, dtype=object)
    known = first.copy()
    for group in groups:
        # A plain "yes" in a column means what the column is called.
        named = pd.DataFrame({c: _yes_as(as_text(frame[c]), c.rsplit(".", 1)[-1]) for c in group})
        words = text_column(named, (group,)).map(lambda text: our_word(text, rules))
        ours = words.isin(_vocabulary(rules))
        known = known.where((known != "") | ~ours, words)
        first = first.where(first != "", words)
    return known.where(known != "", first)


def our_word(text: str, rules: LayerFields) -> str:
    """Return codes translated, known phrases in our word, everything else in lower case."""
    codes = {code.lower(): word for code, word in rules.codes.items()}
    parts = [codes.get(part.strip().lower(), part.strip()) for part in text.split(", ")]
    lower = re.sub(r"_+", " ", ", ".join(parts).lower()).strip()
    for phrase in rules.phrases:
        if any(re.search(rf"\b{re.escape(word)}", lower) for word in phrase.words):
            return phrase.kind
    return lower


def _vocabulary(rules: LayerFields) -> set[str]:
    return {phrase.kind for phrase in rules.phrases} | set(rules.codes.values())


def _yes_as(texts: pd.Series, word: str) -> pd.Series:
    return texts.where(~texts.str.lower().isin(_YES), word)

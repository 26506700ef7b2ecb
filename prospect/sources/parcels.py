"""Reads parcels: identifiers as text, owners only when the file names them, stacked parcels kept and said."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from prospect.guard.inspection import file_name
from prospect.issues import IssueLog
from prospect.layerfile import LayerSource
from prospect.sources.numbers import read_length
from prospect.sources.vector import Features, read_features
from prospect.text import plain
from prospect.types import Bounds


def read_parcels(
    path: Path,
    *,
    crs: str = "",
    mapping: Mapping[str, str] | None = None,
    bounds: Bounds | None = None,
) -> tuple[gpd.GeoDataFrame, IssueLog, LayerSource]:
    """Read parcel polygons.

    Parameters
    ----------
    path
        Vector file.
    crs
        `EPSG:n` when the file does not say.
    mapping
        `parcel_id`, `owner`, `source`, `line_error_m` → column; `layer` → layer inside the file.
    bounds
        The ground, longitudes and latitudes; None while unknown.

    Returns
    -------
    GeoDataFrame
        `parcel_id` (text, leading zeros kept), `owner` (personal data: local only), `source`, `line_error_m`
        (m, NaN where not said) and `geometry`, in the file's own CRS. Parcels lying on each other are all there.
    IssueLog
    LayerSource

    Raises
    ------
    InputRefused
        When nothing can be used.
    """
    features = read_features(path, "parcels", crs=crs, mapping=mapping, bounds=bounds)
    identifiers = features.text("parcel_id")
    nameless = features.frame.index[identifiers == ""]
    action = "Left out: without it no permission can be kept for the parcel."
    features.refuse(nameless, "parcel_id", "an identifier", action)
    frame = pd.DataFrame(
        {
            "parcel_id": identifiers.drop(index=nameless).map(lambda text: plain(text, 120)),
            "owner": features.text("owner", " and ").map(lambda text: plain(text, 300)),
            "source": features.text("source").map(lambda text: plain(text, 300)),
        }
    )
    frame["source"] = frame["source"].where(frame["source"] != "", file_name(path))
    frame["line_error_m"] = _line_errors(features)
    parcels = gpd.GeoDataFrame(frame, geometry=features.frame.geometry, crs=features.frame.crs)
    _say_what_is_odd(parcels, features)
    return features.finish(parcels, path, "parcels")


def _line_errors(features: Features) -> pd.Series:
    texts = features.text("line_error_m")
    errors = np.full(len(texts), np.nan)
    for index, (item, text) in enumerate(zip(texts.index, texts, strict=True)):
        value = read_length(text, "m") if text else None
        if value is not None and 0 <= value <= 1000:
            errors[index] = value
        elif text:
            expected = "0 to 1000 m"
            features.tally.repair(int(item), "line_error_m", text, expected, "Taken as not known.")
    return pd.Series(errors, index=texts.index)


def _say_what_is_odd(parcels: gpd.GeoDataFrame, features: Features) -> None:
    tally = features.tally
    shapes = pd.Series(shapely.to_wkb(shapely.normalize(parcels.geometry.to_numpy())), index=parcels.index)
    stacked = int(shapes.duplicated(keep=False).sum())
    if stacked:
        tally.note(
            "geometry",
            f"{stacked} parcels",
            "one parcel on one piece of ground",
            "Several records lie on the same shape (several owners, or flats); all were kept.",
        )
    repeated = parcels["parcel_id"][parcels["parcel_id"].duplicated()].unique()
    if len(repeated):
        tally.note(
            "parcel_id",
            ", ".join(sorted(repeated)[:8]),
            "each identifier once",
            "An identifier that has several shapes or records: all were kept under it.",
        )
    damaged = parcels["parcel_id"][parcels["parcel_id"].str.fullmatch(r"\d(\.\d+)?[eE]\+\d+")]
    if len(damaged):
        tally.note(
            "parcel_id",
            ", ".join(damaged[:5]),
            "identifiers as text",
            "A spreadsheet turned identifiers into rounded numbers; get the file again from its publisher.",
            warning=True,
        )

"""Reads samples from tables, waypoint files and point layers."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from prospect.guard.inspection import file_name
from prospect.guard.refusal import refuse_file
from prospect.issues import IssueLog
from prospect.layerfile import LayerSource
from prospect.records import Sample
from prospect.sources.point_rows import read_point_rows
from prospect.sources.sample_rows import make_samples
from prospect.types import Bounds


def read_points(
    path: Path,
    *,
    crs: str = "",
    mapping: Mapping[str, str] | None = None,
    bounds: Bounds | None = None,
    kind: str = "samples",
    today: str = "",
) -> tuple[tuple[Sample, ...], IssueLog, LayerSource]:
    """Read samples.

    Parameters
    ----------
    path
        CSV (any usual delimiter, encoding and decimal sign), GPX, KML, KMZ, or a vector file with points.
    crs
        `EPSG:n` of the coordinates when they are not WGS 84 degrees.
    mapping
        Field of a sample (or `lon`, `lat`, `x`, `y`, `position`, `depth`) → column.
    bounds
        The ground, longitudes and latitudes: the evidence for putting exchanged coordinates right.
    kind
        What the log calls them.
    today
        ISO date; a later one in the file is a mistake. Empty = not known.

    Returns
    -------
    tuple of Sample
        Every column that is no field of ours is kept as text in `Sample.fields`.
    IssueLog
        Each row is kept, repaired or refused, with its line, field, value and what was expected.
    LayerSource

    Raises
    ------
    InputRefused
        When nothing can be used.
    """
    rows = read_point_rows(path, kind, crs=crs, mapping=mapping, bounds=bounds)
    samples = make_samples(rows, today)
    if bounds is not None:
        outside = [s.sample_id for s in samples if not bounds.contains(s.lon, s.lat)]
        if outside:
            action = f"Kept: {len(outside)} of {len(samples)} lie outside the ground."
            rows.tally.note("position", ", ".join(outside[:8]), "places on your ground", action)
    log = rows.tally.settle(rows.items)
    if not samples:
        refuse_file(log, "no row that can be used", "at least one with a position", "See the problems.")
    counts = {"read": log.read, "kept": log.kept, "repaired": log.repaired, "refused": log.refused}
    notes = tuple(note for note in rows.notes if note)
    return samples, log, LayerSource(kind, file_name(path), "", crs=rows.crs, counts=counts, notes=notes)

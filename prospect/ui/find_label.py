"""Finds what a label on a bag, a bucket or a bar stands for, and the spot on the map where it came from."""

from __future__ import annotations

from dataclasses import dataclass

from prospect.records import LogBook


@dataclass(frozen=True, slots=True)
class Labelled:
    """What goes by a label.

    Attributes
    ----------
    kind
        `sample`, `hole`, `batch` or `bar`.
    name
        Its name as it is on record.
    spot
        Longitude and latitude where its clay came from; None where no record leads to a place.
    """

    kind: str
    name: str
    spot: tuple[float, float] | None


def find_label(book: LogBook, label: str) -> list[Labelled]:
    """Return everything that goes by a label, however its letters are cased or spaced; nothing for an empty one."""
    wanted = _bare(label)
    if not wanted:
        return []
    named: list[tuple[str, str]] = [
        *(("sample", one.sample_id) for one in book.samples),
        *(("hole", one.hole_id) for one in book.holes),
        *(("batch", one.batch_id) for one in book.batches),
        *(("bar", one.bar_id) for one in book.bars),
    ]
    return [Labelled(kind, name, _spot(book, kind, name)) for kind, name in named if _bare(name) == wanted]


def _spot(book: LogBook, kind: str, name: str) -> tuple[float, float] | None:
    if kind == "sample":
        return next(((one.lon, one.lat) for one in book.samples if one.sample_id == name), None)
    if kind == "hole":
        return next(((one.lon, one.lat) for one in book.holes if one.hole_id == name), None)
    if kind == "batch":
        hole = next((one.hole_id for one in book.batches if one.batch_id == name), "")
        return _spot(book, "hole", hole) if hole else None
    specimen = next((one.specimen for one in book.bars if one.bar_id == name), "")
    if not specimen:
        return None
    return _spot(book, "sample", specimen) or _spot(book, "batch", specimen)


def _bare(text: str) -> str:
    return "".join(text.split()).casefold()

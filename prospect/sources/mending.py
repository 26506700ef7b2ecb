"""Mends the shapes of a layer one by one: what cannot be mended is refused, what was changed is said."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from prospect.sources.tally import Tally
from prospect.types import FloatArray

Shapes = NDArray[np.object_]

_DIMENSION = {"point": 0, "line": 1, "polygon": 2}
_TYPE_DIMENSION = {0: 0, 1: 1, 2: 1, 3: 2, 4: 0, 5: 1, 6: 2}
_TYPE_WORD = {0: "a point", 1: "a line", 2: "a polygon"}
_COLLECTION = 7
_FEW_SEGMENTS, _SAMPLE, _MOST_TOUCHING, _MOST_CROSSINGS = 60, 50, 18.0, 2_000


def mend_shapes(
    shapes: Shapes, fixed: Shapes, items: Sequence[int], sorts: Sequence[str], tally: Tally
) -> Shapes:
    """Return the shapes made valid, two-dimensional and of the sorts wanted; None where one was refused.

    Parameters
    ----------
    shapes : (n,) object
        Shapely geometries as stored; None where the file has none or it cannot be decoded.
    fixed : (n,) object
        The same, decoded with unclosed rings closed.
    items
        Number of each item in the file.
    sorts
        Of "polygon", "line", "point".
    tally
        Where repairs and refusals are said.
    """
    result = shapes.copy()
    wanted = {_DIMENSION[sort] for sort in sorts}
    expected = " or ".join(f"a {sort}" for sort in sorts)
    for index in np.flatnonzero(shapely.is_missing(shapes) | shapely.is_empty(shapes)).tolist():
        result[index] = _unclosed(fixed[index], items[index], expected, tally)
    result = shapely.force_2d(result)
    _refuse_not_finite(result, items, tally)
    types = shapely.get_type_id(result)
    dimensions = np.array([_TYPE_DIMENSION.get(int(code), -1) for code in types])
    for index in np.flatnonzero((types >= 0) & ~np.isin(dimensions, list(wanted))).tolist():
        result[index] = _other_sort(result[index], int(types[index]), items[index], wanted, expected, tally)
    bad = ~shapely.is_missing(result) & ~shapely.is_valid(result)
    for index in np.flatnonzero(bad).tolist():
        result[index] = _made_valid(result[index], items[index], wanted, tally)
    return result


def swap_axes(shapes: Shapes) -> Shapes:
    """Return the shapes with x and y exchanged."""
    return shapely.transform(shapes, lambda coordinates: coordinates[:, ::-1])


def _unclosed(fixed: object, item: int, expected: str, tally: Tally) -> object:
    if fixed is None or shapely.is_empty(fixed):
        tally.refuse(item, "geometry", "no shape", expected, "Left out.")
        return None
    tally.repair(
        item, "geometry", "a ring that does not close", "closed rings", "Closed with a straight line."
    )
    return fixed


def _refuse_not_finite(shapes: Shapes, items: Sequence[int], tally: Tally) -> None:
    coordinates, owners = shapely.get_coordinates(shapes, return_index=True)
    for index in np.unique(owners[~np.isfinite(coordinates).all(axis=1)]).tolist():
        tally.refuse(
            items[index], "geometry", "a coordinate that is no number", "finite numbers", "Left out."
        )
        shapes[index] = None


def _other_sort(shape: object, code: int, item: int, wanted: set[int], expected: str, tally: Tally) -> object:
    if code != _COLLECTION:
        found = _TYPE_WORD[_TYPE_DIMENSION[code]]
        tally.refuse(item, "geometry", found, expected, "Left out.")
        return None
    part = _parts(shape, wanted)
    if part is None:
        tally.refuse(item, "geometry", "a collection of other shapes", expected, "Left out.")
        return None
    kept = len(shapely.get_parts(part))
    lost = len(shapely.get_parts(shapely.get_parts(shape))) - kept
    word = _TYPE_WORD[_TYPE_DIMENSION[int(shapely.get_type_id(part))]].removeprefix("a ")
    action = f"Kept its {kept} {word}(s), left out {lost} other part(s): give them as features of their own."
    tally.repair(item, "geometry", "a collection of shapes", expected, action)
    return part


def is_tangled(shape: object) -> bool:
    """Whether an outline crosses itself so often that mending it would take minutes.

    Notes
    -----
    The time to mend grows with about the square of the crossings. They are estimated from a sample of segments: how
    many others have a box that touches theirs, of which a sound outline has a handful (limits: own judgement).
    """
    coordinates, owners = shapely.get_coordinates(shapely.get_rings(shape), return_index=True)
    joined = owners[1:] == owners[:-1]
    segments = shapely.linestrings(np.stack([coordinates[:-1][joined], coordinates[1:][joined]], axis=1))
    if len(segments) < _FEW_SEGMENTS:
        return False
    sample = np.unique(np.linspace(0, len(segments) - 1, _SAMPLE).astype(int))
    touching = shapely.STRtree(segments).query(segments[sample]).shape[1] / len(sample)
    return touching > _MOST_TOUCHING and touching * len(segments) > _MOST_CROSSINGS


def _made_valid(shape: object, item: int, wanted: set[int], tally: Tally) -> object:
    if is_tangled(shape):
        found, expected = "an outline that crosses itself over and over", "a shape that can be mended"
        tally.refuse(item, "geometry", found, expected, "Left out: draw it again.")
        return None
    reason = str(shapely.is_valid_reason(shape)).split("[")[0].strip().lower()
    dimension = _TYPE_DIMENSION[int(shapely.get_type_id(shape))]
    mended = _parts(shapely.make_valid(shape), {dimension} if dimension in wanted else wanted)
    if mended is None:
        tally.refuse(
            item, "geometry", reason, "a shape with extent", "Left out: nothing remains when mended."
        )
        return None
    change = ""
    if dimension == 2:
        before, after = float(shapely.area(shape)), float(shapely.area(mended))
        change = f" Its area went from {before:.6g} to {after:.6g} square units of the file."
    tally.repair(item, "geometry", reason, "a valid shape", f"Mended.{change}")
    return mended


def _parts(shape: object, wanted: set[int]) -> object:
    """Return the parts of the highest wanted dimension as one shape; None when there are none."""
    pieces = shapely.get_parts(shapely.get_parts(shape))
    sizes: FloatArray = np.array([_TYPE_DIMENSION.get(int(code), -1) for code in shapely.get_type_id(pieces)])
    for dimension in sorted(wanted, reverse=True):
        chosen = pieces[(sizes == dimension) & ~shapely.is_empty(pieces)]
        if dimension == 2:
            chosen = chosen[shapely.area(chosen) > 0]
        elif dimension == 1:
            chosen = chosen[shapely.length(chosen) > 0]
        if len(chosen) == 1:
            return chosen[0]
        if len(chosen):
            build = (shapely.multipoints, shapely.multilinestrings, shapely.multipolygons)[dimension]
            return build(chosen)
    return None

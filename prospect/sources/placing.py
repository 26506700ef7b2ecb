"""Decides in which CRS the coordinates of a file really are, on evidence, and whether they touch the ground."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import NoReturn

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError

from prospect.guard.refusal import refuse_file
from prospect.issues import Issue, IssueLog
from prospect.types import Bounds, FloatArray, IntArray

WGS84 = "EPSG:4326"
_SLACK_DEG = 0.5
_REGISTERED = re.compile(r"[A-Za-z]{2,10}:[0-9]{1,7}")
_NAMES_A_FILE = re.compile(r"grids=[^\s\"]*[/\\]|PARAMETERFILE\[\s*\"[^\"]*[/\\]", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Placement:
    """How coordinates are to be read.

    Attributes
    ----------
    crs
        As text that pyproj reads.
    swapped
        Whether x and y must be exchanged first.
    """

    crs: str
    swapped: bool = False


def read_crs(said: str, log: IssueLog) -> CRS:
    """Return the CRS that the user named; refuse the file's reading when there is no such CRS."""
    expected = "a CRS such as EPSG:32611"
    # Only numbers from a register: a definition in words may name files of its own.
    if not _REGISTERED.fullmatch(said.strip()):
        refuse_file(log, said[:80], expected, "Mend --crs.", field="crs")
    try:
        system = CRS.from_user_input(said.strip())
    except CRSError:
        refuse_file(log, said, expected, "Mend --crs.", field="crs")
    if not (system.is_projected or system.is_geographic):
        refuse_file(log, said, "a projected CRS or one in degrees", "Mend --crs.", field="crs")
    return system


def crs_text(system: CRS) -> str:
    """Return a CRS as `EPSG:n` where it has a number, else as WKT."""
    # A file's own WKT often lacks only an axis remark; 70 is the confidence that pyproj itself asks for.
    code = system.to_epsg(min_confidence=70)
    return f"EPSG:{code}" if code else system.to_wkt()


def decide_crs(found: str | None, said: str, box: Bounds | None, log: IssueLog) -> str:
    """Return the CRS to start from: what the user says, else what the file says.

    Raises
    ------
    InputRefused
        When neither says any, with what to do; the box of the coordinates helps to guess and is in the message.
    """
    known = _known(found, log)
    if said:
        system = read_crs(said, log)
        if known is not None and not known.equals(system, ignore_axis_order=True):
            action = f"Read as {said}, because you said so."
            expected = "the CRS that was given"
            log.note(Issue("warning", log.file, "whole file", "crs", known.name, expected, action))
        return crs_text(system)
    return crs_text(known) if known is not None else _no_crs(box, log)


def place(crs: str, box: Bounds, ground: Bounds | None, log: IssueLog) -> Placement:
    """Return how the coordinates in `box` are to be read, or refuse a file that lies elsewhere.

    Parameters
    ----------
    crs
        From `decide_crs`.
    box
        Of all finite coordinates, as stored (x, y).
    ground
        The ground in longitudes and latitudes; None while unknown.
    log
        Where the repair or refusal is said.
    """
    geographic = CRS.from_user_input(crs).is_geographic
    if geographic and not _fits_degrees(box):
        turned = _turned(box)
        if abs(box.west) <= 90 and abs(box.east) <= 90 and _fits_degrees(turned):
            return _swap(crs, box, turned, ground, log)
        action = "Its coordinates are not degrees. Say which CRS they are in: --crs EPSG:n"
        refuse_file(log, _numbers(box), f"degrees, as {_name(crs)} says", action, field="crs")
    if not geographic and _fits_degrees(box) and max(box.width, box.height) < 360:
        return _mislabelled(crs, box, ground, log)
    lonlat = to_lonlat_box(crs, box)
    if lonlat is None:
        action = "The CRS does not fit the coordinates. Say which it is: --crs EPSG:n"
        refuse_file(log, _numbers(box), f"coordinates that {_name(crs)} can place", action, field="crs")
    if ground is not None and not lonlat.overlaps(ground):
        if not (geographic and _fits_degrees(_turned(box)) and _turned(box).overlaps(ground)):
            refuse_elsewhere(lonlat, ground, log)
        return _swap(crs, box, _turned(box), ground, log)
    return Placement(crs)


def refuse_elsewhere(found: Bounds, ground: Bounds, log: IssueLog) -> NoReturn:
    """Refuse a file that does not touch the ground, with both boxes in words."""
    action = "The file lies somewhere else. Is it the right file, and the right CRS (--crs EPSG:n)?"
    refuse_file(log, degrees(found), f"a place within {degrees(ground)}", action, field="position")


def to_lonlat_box(crs: str, box: Bounds) -> Bounds | None:
    """Return a box in degrees; None when the CRS cannot place it."""
    try:
        moved = Transformer.from_crs(crs, WGS84, always_xy=True).transform_bounds(*box)
    except (ProjError, CRSError):
        return None
    if not all(np.isfinite(moved)) or moved[0] > moved[2] or moved[1] > moved[3]:
        return None
    return Bounds(*moved)


def from_lonlat_box(crs: str, box: Bounds) -> Bounds | None:
    """Return a box in degrees as a box in `crs`; None when the CRS cannot place it."""
    try:
        moved = Transformer.from_crs(WGS84, crs, always_xy=True).transform_bounds(*box)
    except (ProjError, CRSError):
        return None
    if not all(np.isfinite(moved)) or moved[0] > moved[2] or moved[1] > moved[3]:
        return None
    return Bounds(*moved)


def widened(ground: Bounds, metres: float) -> Bounds:
    """Return a box in degrees wider by a distance on every side (111,320 m to a degree of latitude)."""
    tall = metres / 111_320
    wide = tall / max(math.cos(math.radians(max(abs(ground.south), abs(ground.north)))), 0.01)
    return Bounds(ground.west - wide, ground.south - tall, ground.east + wide, ground.north + tall)


def box_of(coordinates: FloatArray) -> Bounds | None:
    """Return the box of (n, 2) coordinates, leaving out what is not finite; None when nothing is left."""
    finite = coordinates[np.isfinite(coordinates).all(axis=1)]
    if not len(finite):
        return None
    low, high = finite.min(axis=0), finite.max(axis=0)
    return Bounds(float(low[0]), float(low[1]), float(high[0]), float(high[1]))


def far_off(shapes: NDArray[np.object_], crs: str) -> IntArray:
    """Return the indices of the few shapes whose numbers no place in `crs` has, though most shapes' have.

    When most of them have such numbers it is the CRS that is wrong, and none is returned.
    """
    edges = np.abs(shapely.bounds(shapes))
    limit = np.array([180 + _SLACK_DEG, 90, 180 + _SLACK_DEG, 90])
    if not CRS.from_user_input(crs).is_geographic:
        limit = np.full(4, 1e8)
    with np.errstate(invalid="ignore"):
        bad = (edges > limit).any(axis=1)
    known = np.isfinite(edges).all(axis=1) | bad
    return np.flatnonzero(bad) if bad.sum() * 2 < known.sum() else np.zeros(0, dtype=np.int64)


def across_180(shapes: NDArray[np.object_]) -> IntArray:
    """Return the indices of shapes in degrees that step across 180° instead of being cut there (RFC 7946, 3.1.9).

    A step of a whole turn is none of them: the edge of a map of the world.
    """
    edges = shapely.bounds(shapes)
    with np.errstate(invalid="ignore"):
        wide = np.flatnonzero(edges[:, 2] - edges[:, 0] > 180)
    found = []
    for index in wide.tolist():
        parts = shapely.get_parts(shapes[[index]])
        lines = shapely.get_rings(parts) if shapely.get_dimensions(parts[0]) == 2 else parts
        places, owners = shapely.get_coordinates(lines, return_index=True)
        steps = np.abs(np.diff(places[:, 0]))[owners[1:] == owners[:-1]]
        if ((steps > 180) & (steps < 360 - _SLACK_DEG / 100)).any():
            found.append(index)
    return np.array(found, dtype=np.int64)


def degrees(box: Bounds) -> str:
    """Return a box in degrees in words: `112.5 to 113.0° E, 22.0 to 22.4° S`."""
    return f"{_span(box.west, box.east, 'E', 'W')}, {_span(box.south, box.north, 'N', 'S')}"


def _swap(crs: str, box: Bounds, turned: Bounds, ground: Bounds | None, log: IssueLog) -> Placement:
    if ground is not None and not turned.overlaps(ground):
        refuse_elsewhere(turned, ground, log)
    log.note(
        Issue(
            "warning",
            log.file,
            "whole file",
            "position",
            _numbers(box),
            "longitude first, latitude second",
            "Latitude and longitude were exchanged in this file; put right.",
        )
    )
    return Placement(crs, swapped=True)


def _mislabelled(crs: str, box: Bounds, ground: Bounds | None, log: IssueLog) -> Placement:
    found, expected = f"{_numbers(box)}, which look like degrees", f"coordinates of {_name(crs)}"
    if ground is None or not box.overlaps(ground):
        action = "If they are longitude and latitude say --crs EPSG:4326"
        refuse_file(log, found, expected, action, field="crs")
    action = "Read as longitude and latitude, which puts them on your ground."
    log.note(Issue("warning", log.file, "whole file", "crs", found, expected, action))
    return Placement(WGS84)


def _known(found: str | None, log: IssueLog) -> CRS | None:
    if found and _NAMES_A_FILE.search(found):
        expected = "a CRS that stands by itself"
        action = "Say which CRS it is: --crs EPSG:n"
        refuse_file(log, "a CRS that names a file elsewhere", expected, action, field="crs")
    try:
        return CRS.from_user_input(found) if found else None
    except CRSError:
        return None


def _no_crs(box: Bounds | None, log: IssueLog) -> NoReturn:
    hint = "Say which it is: --crs EPSG:n"
    if box is not None and _fits_degrees(box):
        hint = "The numbers look like degrees; if they are longitude and latitude say --crs EPSG:4326"
    elif box is not None:
        hint = f"Its coordinates run {_numbers(box)}; ask its publisher for the CRS and say --crs EPSG:n"
    refuse_file(log, "no coordinate reference system", "a CRS in the file (or its .prj)", hint, field="crs")


def _fits_degrees(box: Bounds) -> bool:
    return abs(box.west) <= 180 + _SLACK_DEG >= abs(box.east) and abs(box.south) <= 90 >= abs(box.north)


def _turned(box: Bounds) -> Bounds:
    return Bounds(box.south, box.west, box.north, box.east)


def _name(crs: str) -> str:
    return crs if len(crs) < 20 else CRS.from_user_input(crs).name


def _numbers(box: Bounds) -> str:
    return f"x {box.west:.6g} to {box.east:.6g}, y {box.south:.6g} to {box.north:.6g}"


def _span(low: float, high: float, positive: str, negative: str) -> str:
    if low >= 0:
        return f"{low:.4f} to {high:.4f}° {positive}"
    if high <= 0:
        return f"{-high:.4f} to {-low:.4f}° {negative}"
    return f"{-low:.4f}° {negative} to {high:.4f}° {positive}"

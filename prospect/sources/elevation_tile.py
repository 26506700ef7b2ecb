"""Reads one elevation raster: its CRS, its vertical unit, its no-data values, within limits of size."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from affine import Affine
from pyproj import CRS
from rasterio.windows import Window

from prospect.guard.alias import harmless_name
from prospect.guard.inspection import RASTER_FORMS, inspect_file
from prospect.guard.refusal import refuse_file
from prospect.issues import Issue, IssueLog
from prospect.sources.opening import library_errors
from prospect.sources.placing import box_of, decide_crs, from_lonlat_box, place
from prospect.types import Bounds, FloatArray

MOST_CELLS = 150_000_000
"""600 MB of float32; a whole 10 m tile of one degree has 117 million cells."""

MOST_BLOCK_BYTES = 100_000_000
"""A block is decoded whole for any cell of it; blocks of this size hold 5,000 × 5,000 cells (own judgement)."""

MOST_RATIO, RATIO_FROM_CELLS = 100.0, 40_000_000
"""Beyond so many cells, heights that unpack to so many times the file are no land's (own judgement: the bound for
archives; elevation packs to a half or a tenth)."""

HIGHEST_M, LOWEST_M = 9000.0, -11_000.0
"""Beyond the highest peak (8,849 m) and the deepest sea floor (10,935 m): no elevation."""

METRES = {"m": 1.0, "ft": 0.3048, "us-ft": 1200 / 3937}
"""The international foot is 0.3048 m by definition, the US survey foot 1200/3937 m."""

_UNIT_WORDS = {
    "m": ("m", "metre", "metres", "meter", "meters"),
    "ft": ("ft", "foot", "feet", "international foot", "international feet"),
    "us-ft": ("us-ft", "ftus", "us survey foot", "us survey feet", "foot_us", "survey foot", "survey feet"),
}
_OTHER_UNITS = re.compile(
    r"(mm|cm|dm|km|(milli|centi|deci|kilo)met(er|re)s?|deg(ree)?s?|°|%|percent|rad(ian)?s?)", re.IGNORECASE
)
_OTHER_RASTER = re.compile(
    r"(?:^|[_\W])(slopes?|aspect|hill_?shades?|shading|curvature)(?:[_\W]|$)", re.IGNORECASE
)
_UNIT_IN_NAME = re.compile(r"(?:^|[_\W])(ft|feet|foot)(?:[_\W]|$)", re.IGNORECASE)
_GAP_MARK, _LOWEST_LAND_M = -999.0, -450.0
"""What some programs write into gaps, taken so only where all else is above the lowest shore (-430 m, the Dead Sea)."""

_CLIFF_M = 50.0
_PADDING_CELLS = 8
_STRIP_CELLS = 4_000_000


@dataclass(frozen=True, slots=True)
class ElevationSource:
    """Elevation as it came, but in metres and with its gaps marked.

    Attributes
    ----------
    values
        (n, m) float32, m; NaN where there is no data.
    transform
        Affine from (col, row) to x, y in `crs`.
    crs
        As text that pyproj reads.
    unit
        Unit that the file was in: `m`, `ft` or `us-ft`.
    notes
        Sentences worth keeping with the layer.
    """

    values: FloatArray
    transform: Affine
    crs: str
    unit: str
    notes: tuple[str, ...] = ()


def read_tile(
    path: Path, crs: str, vertical_unit: str, bounds: Bounds | None, log: IssueLog
) -> ElevationSource:
    """Read one GeoTIFF or height tile; see `prospect.sources.elevation.read_elevation`."""
    form = inspect_file(path, "elevation", RASTER_FORMS).form
    driver = "GTiff" if form == "geotiff" else "SRTMHGT"
    with (
        library_errors(log, "an elevation raster"),
        harmless_name(path) as ready,
        rasterio.open(ready, driver=driver) as source,
    ):
        band = _band(source, log)
        settled = _crs(source, crs, bounds, log)
        window = _window(source, settled, bounds, log)
        _bounded(source, band, window, ready.stat().st_size, log)
        unit, how = _unit(source, band, vertical_unit, path.name, settled, log)
        values, stored_how = _read_metres(source, band, window, METRES[unit], log)
        _say_if_other(source, band, path.name, log)
        whole_numbers = np.issubdtype(np.dtype(source.dtypes[band - 1]), np.integer)
        eight_bits = source.dtypes[band - 1] == "uint8"
        transform = source.window_transform(window)
    notes = _looked_over(values, bool(whole_numbers), log)
    if eight_bits:
        notes.append("Heights are numbers from 0 to 255, as of a picture: look whether they are no shading.")
    notes.extend(filter(None, (stored_how, how)))
    if not (transform.b == 0 and transform.d == 0):
        notes.append("The raster is turned; it is straightened when it is placed on the ground.")
    elif transform.e > 0:
        values = np.ascontiguousarray(values[::-1])
        transform = transform * Affine.translation(0, values.shape[0]) * Affine.scale(1, -1)
    return ElevationSource(values, transform, settled, unit, tuple(notes))


def _band(source: Any, log: IssueLog) -> int:
    types = set(source.dtypes)
    if any(name.startswith("complex") for name in types):
        refuse_file(log, "complex numbers", "heights", "Is this radar data?", field="bands")
    picture = source.count >= 3 and types <= {"uint8"}
    if picture or "palette" in [interp.name for interp in source.colorinterp]:
        refuse_file(
            log,
            f"a picture of {source.count} colour band(s)",
            "heights",
            "Get the elevation itself.",
            field="bands",
        )
    if source.count > 1:
        _say(log, "warning", "bands", str(source.count), "one band", "The first band was read.")
    return 1


def _crs(source: Any, said: str, bounds: Bounds | None, log: IssueLog) -> str:
    transform = source.transform
    if transform == Affine.identity() or transform.determinant == 0:
        action = "Export it as GeoTIFF with its position, or give the file it was made from."
        refuse_file(
            log, "a raster without a position", "a GeoTIFF with its position", action, field="position"
        )
    corners = [
        transform * c for c in ((0, 0), (source.width, 0), (0, source.height), (source.width, source.height))
    ]
    box = box_of(np.array(corners, dtype=float))
    if box is None:
        expected = "a GeoTIFF with its position"
        refuse_file(log, "a position that is no number", expected, "Export it again.", field="position")
    found = source.crs.to_wkt() if source.crs else None
    settled = decide_crs(_horizontal(found), said, box, log)
    placement = place(settled, box, bounds, log)
    _cell_size(transform, placement.crs, log)
    if placement.swapped:
        action = "Export the raster again with longitude as x."
        refuse_file(log, "longitude and latitude exchanged", "x = longitude", action, field="position")
    return placement.crs


def _cell_size(transform: Affine, crs: str, log: IssueLog) -> None:
    side = math.sqrt(abs(transform.determinant))
    geographic = CRS.from_user_input(crs).is_geographic
    low, high, unit = (5e-7, 1.0, "degrees") if geographic else (0.05, 100_000.0, "map units")
    if not low <= side <= high:
        action = "Its position is not what it seems; export it again."
        found = f"cells of {side:.3g} {unit}"
        refuse_file(log, found, f"cells of {low:g} to {high:g} {unit}", action, field="position")


def _horizontal(wkt: str | None) -> str | None:
    """Return the horizontal part of a CRS that also has heights."""
    if not wkt:
        return None
    system = CRS.from_wkt(wkt)
    if system.is_compound:
        system = system.sub_crs_list[0]
    if not (system.is_projected or system.is_geographic):
        return None
    return str(system.to_wkt())


def _window(source: Any, crs: str, bounds: Bounds | None, log: IssueLog) -> Window:
    whole = Window(0, 0, source.width, source.height)
    local = None if bounds is None else from_lonlat_box(crs, bounds)
    window = whole
    if local is not None:
        inverse = ~source.transform
        corners = [inverse * (x, y) for x in (local.west, local.east) for y in (local.south, local.north)]
        cols, rows = [c[0] for c in corners], [c[1] for c in corners]
        col0 = max(int(np.floor(min(cols))) - _PADDING_CELLS, 0)
        row0 = max(int(np.floor(min(rows))) - _PADDING_CELLS, 0)
        col1 = min(int(np.ceil(max(cols))) + _PADDING_CELLS, source.width)
        row1 = min(int(np.ceil(max(rows))) + _PADDING_CELLS, source.height)
        if col0 < col1 and row0 < row1:
            window = Window(col0, row0, col1 - col0, row1 - row0)
    cells = int(window.width) * int(window.height)
    if cells > MOST_CELLS:
        action = "Start the ground with --bbox so that only that part is read, or cut the part out first."
        found = f"{int(window.height):,} × {int(window.width):,} cells"
        refuse_file(log, found, f"at most {MOST_CELLS:,} cells", action, field="cells")
    return window


def _bounded(source: Any, band: int, window: Window, size: int, log: IssueLog) -> None:
    """Refuse a raster that unpacks to more than it can hold, before any of it is unpacked."""
    cell_bytes = np.dtype(source.dtypes[band - 1]).itemsize
    rows, cols = source.block_shapes[band - 1]
    together = source.count if source.interleaving is not None and source.interleaving.name == "pixel" else 1
    block = rows * cols * cell_bytes * together
    if block > MOST_BLOCK_BYTES:
        found = f"blocks of {block / 1e6:,.0f} MB"
        action = "Export it again as a tiled GeoTIFF."
        refuse_file(log, found, f"blocks of at most {MOST_BLOCK_BYTES / 1e6:,.0f} MB", action, field="blocks")
    cells = int(window.width) * int(window.height)
    ratio = source.width * source.height * cell_bytes / max(size, 1)
    if cells > RATIO_FROM_CELLS and ratio > MOST_RATIO:
        found = f"{cells:,} cells that unpack to {ratio:,.0f} times the file"
        expected = f"at most {MOST_RATIO:.0f} times as much"
        refuse_file(log, found, expected, "Cut out the part around your ground and give that.", field="cells")


def _unit(source: Any, band: int, said: str, name: str, crs: str, log: IssueLog) -> tuple[str, str]:
    """Return the vertical unit and how it was known; what is not known is metres, and said when in doubt."""
    if said:
        unit = _unit_word(said)
        if not unit:
            refuse_file(log, said, "m, ft or us-ft", "Mend the vertical unit.", field="vertical unit")
        return unit, f"Heights read as {unit}, as you said." if unit != "m" else ""
    for where, word in (("band", source.units[band - 1] or ""), ("CRS", _vertical_word(source))):
        unit = _unit_word(word)
        if unit:
            return (
                unit,
                f"Heights were in {word}, as its {where} says; turned into metres." if unit != "m" else "",
            )
        if word and where == "band":
            _other_unit(word, log)
    description = source.descriptions[band - 1] or ""
    if _UNIT_IN_NAME.search(Path(name).stem) or _UNIT_IN_NAME.search(description):
        action = "Read as feet and turned into metres."
        _say(log, "warning", "vertical unit", name, "the unit in the band or the CRS", action)
        return "ft", "Heights read as feet, as the name says; turned into metres."
    system = CRS.from_user_input(crs)
    if system.is_projected and "foot" in system.axis_info[0].unit_name.lower():
        action = "Read as metres although the map is in feet. If heights are feet too, say the vertical unit."
        _say(log, "warning", "vertical unit", "not said", "the unit of the heights", action)
    return "m", ""


def _other_unit(word: str, log: IssueLog) -> None:
    expected = "heights in m, ft or us-ft"
    if _OTHER_UNITS.fullmatch(_bare_unit(word)):
        action = "Turn them into metres first; if the file is wrong about its unit say --map vertical_unit=m"
        refuse_file(log, f"numbers in {word[:40]}", expected, action, field="vertical unit")
    action = "Read as metres; if they are not, say the vertical unit."
    _say(log, "warning", "vertical unit", word[:40], expected, action)


def _say_if_other(source: Any, band: int, name: str, log: IssueLog) -> None:
    """Say when a raster may be something else that was worked out from heights."""
    found = _OTHER_RASTER.search(source.descriptions[band - 1] or "") or _OTHER_RASTER.search(Path(name).stem)
    if found:
        action = "Read as heights in metres; look whether it is not a shading or slope made from them."
        _say(log, "warning", "values", found[1], "heights", action)


def _vertical_word(source: Any) -> str:
    if not source.crs:
        return ""
    system = CRS.from_wkt(source.crs.to_wkt())
    vertical = [part for part in system.sub_crs_list if part.is_vertical]
    return vertical[0].axis_info[0].unit_name if vertical else ""


def _unit_word(word: str) -> str:
    plain = _bare_unit(word)
    return next((unit for unit, words in _UNIT_WORDS.items() if plain in words), "")


def _bare_unit(word: str) -> str:
    return word.strip(" []()").lower()


def _scaling(source: Any, band: int) -> tuple[float, float, str]:
    """Return what stored numbers are multiplied by and what is added, as the file says, and that in words."""
    scale, offset = float(source.scales[band - 1]), float(source.offsets[band - 1])
    if not (math.isfinite(scale) and math.isfinite(offset)) or scale == 0 or (scale, offset) == (1.0, 0.0):
        return 1.0, 0.0, ""
    return (
        scale,
        offset,
        f"Stored numbers were multiplied by {scale:g} and {offset:g} was added, as the file says.",
    )


def _read_metres(
    source: Any, band: int, window: Window, factor: float, log: IssueLog
) -> tuple[FloatArray, str]:
    """Read in strips, so that what is needed beside the result stays small; also say how numbers were scaled."""
    values: FloatArray = np.empty((int(window.height), int(window.width)), dtype=np.float32)
    declared = source.nodatavals[band - 1]
    strip = max(1, _STRIP_CELLS // values.shape[1])
    odd, sample = 0, 0.0
    scale, offset, how = _scaling(source, band)
    for row in range(0, values.shape[0], strip):
        part = values[row : row + strip]
        stored = source.read(
            band, window=Window(window.col_off, window.row_off + row, part.shape[1], part.shape[0])
        )
        part[...] = stored
        part *= np.float32(scale)
        part += np.float32(offset)
        part *= np.float32(factor)
        gaps = (
            source.read_masks(band, window=Window(window.col_off, window.row_off + row, *part.shape[::-1]))
            == 0
        )
        gaps |= np.isnan(part)
        if declared is not None and np.isfinite(declared):
            gaps |= stored == declared
        absurd = ~gaps & ((part > HIGHEST_M) | (part < LOWEST_M) | (stored == -9999) | (stored == -32768))
        if absurd.any():
            odd += int(np.count_nonzero(absurd))
            sample = float(stored[absurd].flat[0])
        part[gaps | absurd] = np.nan
    if odd:
        action = f"Taken as no data in {odd:,} of {values.size:,} cells."
        _say(log, "warning", "values", f"{sample:g}", f"{LOWEST_M:g} to {HIGHEST_M:g} m", action)
    _take_out_marks(values, (_GAP_MARK * scale + offset) * factor, log)
    return values, how


def _take_out_marks(values: FloatArray, mark: float, log: IssueLog) -> None:
    marked = values == np.float32(mark)
    count = int(np.count_nonzero(marked))
    lowest = float(np.min(values, initial=np.inf, where=~(marked | np.isnan(values)))) if count else -np.inf
    if count and mark < _LOWEST_LAND_M < lowest < np.inf:
        values[marked] = np.nan
        action = (
            f"Taken as no data in {count:,} of {values.size:,} cells: all others are {lowest:.0f} m or more."
        )
        _say(
            log, "warning", "values", f"{mark:g}", "heights of land, or a mark for gaps that is said", action
        )


def _looked_over(values: FloatArray, whole_numbers: bool, log: IssueLog) -> list[str]:
    known = int(np.count_nonzero(np.isfinite(values)))
    if not known:
        action = "Nothing is known here: get the tile that covers your ground."
        refuse_file(log, "no data in any cell", "heights", action, field="values")
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    if low == high:
        action = "Kept; a plain has some relief, so look whether this is elevation at all."
        _say(log, "warning", "values", f"{low:g} m everywhere", "heights that differ", action)
    if low == 0 < high:
        above = float(np.min(values, initial=np.inf, where=values > 0))
        if above > _CLIFF_M:
            action = "Kept as heights; if 0 stands for gaps, export it again with 0 marked as no data."
            found = f"0 m, then nothing below {above:.0f} m"
            _say(log, "warning", "values", found, "heights without a jump", action)
    notes = [f"Heights run from {low:.0f} to {high:.0f} m; {known / values.size:.0%} of the cells are known."]
    if whole_numbers:
        notes.append("Heights are whole numbers: slopes come in steps on gentle ground.")
    return notes


def _say(log: IssueLog, severity: Any, field: str, value: str, expected: str, action: str) -> None:
    log.note(Issue(severity, log.file, "", field, value, expected, action))

"""Reads positions as people write them: decimal degrees, degrees and minutes, UTM; and decides about exchanged ones."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from pyproj import CRS, Transformer

from prospect.sources.numbers import read_number
from prospect.types import Bounds

Axis = Literal["lon", "lat"]

_SIDES = {"N": ("lat", 1), "S": ("lat", -1), "E": ("lon", 1), "O": ("lon", 1), "W": ("lon", -1)}
_MARKS = re.compile(r"[°º˚'′’\"″”dms:\s]+", re.IGNORECASE)
_METRES = r"[\s,]+(\d{5,8}(?:\.\d+)?)\s*m?\s*"
_UTM = re.compile(
    rf"^\s*(?:UTM\s*)?(\d{{1,2}})\s*([C-HJ-NP-X]){_METRES}E?{_METRES}N?\s*$",
    re.IGNORECASE,
)
_PAIR = re.compile(r"^(.*?[NS])[\s,;]+(.*?[EW])$|^([NS].*?)[\s,;]+([EW].*)$", re.IGNORECASE)
_SQUARE = re.compile(r"(\d{1,2})([C-HJ-NP-X])([A-HJ-NP-Z])([A-HJ-NP-V])(\d{4,10})", re.IGNORECASE)
_COLUMNS = ("STUVWXYZ", "ABCDEFGH", "JKLMNPQR")
_ROWS = "ABCDEFGHJKLMNPQRSTUV"
_BEYOND_DEG = 10.0
_RUN_TOGETHER = re.compile(r"[+-]?0\d{3,}([.,]\d+)?")
_BANDS = "CDEFGHJKLMNPQRSTUVWX"


@dataclass(frozen=True, slots=True)
class Spot:
    """A position in WGS 84 degrees, with what had to be done to it (empty when nothing)."""

    lon: float
    lat: float
    mended: str = ""


def read_degrees(text: str, axis: Axis, *, decimal_comma: bool = False) -> float | None:
    """Return an angle in decimal degrees, or None when the text is none or out of range.

    Parameters
    ----------
    text
        `35.4521`, `-83.1`, `83.1 W`, `35°27'12.3"N`, `35 27 12.3 N`, `N35 27.205`.
    axis
        Which one it should be; a letter of the other axis makes it None.
    decimal_comma
        Whether the file writes decimals with a comma.
    """
    bare = text.strip().upper().replace("−", "-")
    letters = re.findall(r"[NSEOW]", bare)
    sign = 1.0
    if letters:
        if len(letters) > 1 or not (bare[0] == letters[0] or bare[-1] == letters[0]):
            return None
        of_axis, turn = _SIDES[letters[0]]
        if of_axis != axis:
            return None
        bare, sign = bare.strip(letters[0]).strip(), float(turn)
        if bare.startswith("-") and sign > 0:
            return None
        bare = bare.lstrip("-")
    # Receivers write 35° 27.2' as 03527.2.
    if _RUN_TOGETHER.fullmatch(bare):
        return None
    parts = [part for part in _MARKS.split(bare) if part]
    numbers = [read_number(part, decimal_comma=decimal_comma or "." not in part) for part in parts]
    if not 1 <= len(numbers) <= 3 or any(number is None for number in numbers):
        return None
    degrees, minutes, seconds = [number or 0.0 for number in numbers] + [0.0] * (3 - len(numbers))
    whole = all(number == math.floor(number) for number in (degrees, minutes)[: len(numbers) - 1])
    if not (0 <= minutes < 60 and 0 <= seconds < 60 and whole):
        return None
    size = abs(degrees) + minutes / 60 + seconds / 3600
    return math.copysign(size, -1.0 if bare.startswith("-") else 1.0) * sign


def read_position(text: str) -> tuple[float, float] | None:
    """Return longitude and latitude of a position in one text: UTM with zone and band, or a marked pair.

    `17S 318601 3930332` (the letter is the band of the grid zone, not "south"), `17SLV1860130332` (the middle
    of the square is taken), `35°27'N 83°3'W`, `N35.45 W83.05`. A pair without letters is not read: which comes
    first is not known.
    """
    square = _SQUARE.fullmatch(re.sub(r"\s", "", text))
    if square:
        return _from_square(
            int(square[1]), square[2].upper(), square[3].upper() + square[4].upper(), square[5]
        )
    grid = _UTM.match(text)
    if grid:
        return _from_utm(int(grid[1]), grid[2].upper(), float(grid[3]), float(grid[4]))
    pair = _PAIR.match(text.strip())
    if pair is None:
        return None
    first, second = (pair[1], pair[2]) if pair[1] else (pair[3], pair[4])
    lat, lon = read_degrees(first, "lat"), read_degrees(second, "lon")
    return None if lat is None or lon is None else (lon, lat)


def to_lonlat(crs: str, x: float, y: float) -> tuple[float, float] | None:
    """Return longitude and latitude (WGS 84) of a point in `crs`; None where the CRS cannot place it."""
    lon, lat = _transformer(crs).transform(x, y)
    return (float(lon), float(lat)) if math.isfinite(lon) and math.isfinite(lat) else None


def is_used_at(crs: str, lon: float, lat: float) -> bool:
    """Whether a point, WGS 84 degrees, lies where a CRS is used or within 10° of it (own judgement)."""
    area = CRS.from_user_input(crs).area_of_use
    if area is None:
        return True
    # Areas across 180° have their west east of their east.
    width = (area.east - area.west) % 360 or 360.0
    beyond = (lon - area.west + _BEYOND_DEG) % 360 <= width + 2 * _BEYOND_DEG
    return beyond and area.south - _BEYOND_DEG <= lat <= area.north + _BEYOND_DEG


def in_degrees(crs: str) -> bool:
    """Whether a CRS is in degrees."""
    return bool(CRS.from_user_input(crs).is_geographic)


def settle(lon: float, lat: float, ground: Bounds | None) -> Spot | None:
    """Return the spot that two numbers mean, or None when they mean none.

    Longitude and latitude are exchanged, or a missing minus put back, only on evidence: the latitude is beyond
    90°, or the spot falls outside the ground and inside it when mended.
    """
    possible = abs(lon) <= 180 and abs(lat) <= 90
    turned_possible = abs(lat) <= 180 and abs(lon) <= 90
    if lon == 0 and lat == 0:
        return None
    if ground is None:
        if possible:
            return Spot(lon, lat)
        return (
            Spot(lat, lon, "Longitude and latitude were exchanged; put right.") if turned_possible else None
        )
    near = ground.padded(0.1 * max(ground.width, ground.height) + 0.01)
    if possible and near.contains(lon, lat):
        return Spot(lon, lat)
    if turned_possible and near.contains(lat, lon):
        return Spot(lat, lon, "Longitude and latitude were exchanged; put right.")
    if possible and near.contains(-lon, lat):
        return Spot(-lon, lat, "A minus was missing in the longitude (west is negative); put back.")
    if possible and near.contains(lon, -lat):
        return Spot(lon, -lat, "A minus was missing in the latitude (south is negative); put back.")
    return Spot(lon, lat) if possible else None


def _from_utm(zone: int, band: str, easting: float, northing: float) -> tuple[float, float] | None:
    if not (1 <= zone <= 60 and 100_000 <= easting < 1_000_000):
        return None
    north = band >= "N"
    place = to_lonlat(f"EPSG:{(32600 if north else 32700) + zone}", easting, northing)
    if place is None:
        return None
    # Bands are 8° high from 80° S, the last one 12°. A letter that does not fit may be meant as "south".
    low = -80 + 8 * _BANDS.index(band)
    high = low + (12 if band == "X" else 8)
    return place if low - 0.1 <= place[1] <= high + 0.1 else None


def _from_square(zone: int, band: str, letters: str, digits: str) -> tuple[float, float] | None:
    """Return the middle of a square of the military grid: letters repeat every 3 zones and every 2,000 km."""
    columns = _COLUMNS[zone % 3]
    if len(digits) % 2 or letters[0] not in columns:
        return None
    half = len(digits) // 2
    side = 10.0 ** (5 - half)
    easting = (columns.index(letters[0]) + 1) * 100_000 + (int(digits[:half]) + 0.5) * side
    row = (_ROWS.index(letters[1]) - (0 if zone % 2 else 5)) % 20
    northing = row * 100_000 + (int(digits[half:]) + 0.5) * side
    places = (_from_utm(zone, band, easting, northing + turn * 2_000_000) for turn in range(5))
    return next((place for place in places if place is not None), None)


@lru_cache(maxsize=16)
def _transformer(crs: str) -> Transformer:
    return Transformer.from_crs(crs, "EPSG:4326", always_xy=True)

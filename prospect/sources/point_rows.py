"""Reads rows that have a position, from tables, waypoints and point layers alike, and places each one."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import shapely

from prospect.guard.archive import open_archive
from prospect.guard.inspection import POINT_FORMS, file_name, inspect_file, inspect_member
from prospect.guard.refusal import refuse_file
from prospect.issues import Issue, IssueLog
from prospect.sources.coordinates import (
    Spot,
    in_degrees,
    is_used_at,
    read_degrees,
    read_position,
    settle,
    to_lonlat,
)
from prospect.sources.csv_rows import read_csv_rows
from prospect.sources.field_names import Groups, as_text, fields_sentence, find_columns
from prospect.sources.numbers import read_number
from prospect.sources.placing import crs_text, read_crs
from prospect.sources.tally import Tally
from prospect.sources.vector import as_lonlat, read_features
from prospect.sources.waypoints import read_gpx, read_kml
from prospect.types import Bounds

Cells = dict[str, str]
_GROUPED = re.compile(r"[+-]?\d{1,3}(,\d{3})+")
_PAIRS = (("lon", "lat"), ("x", "y"))
POSITION_FIELDS = ("lon", "lat", "x", "y", "position")


@dataclass(slots=True)
class PointRows:
    """Rows with a position.

    Attributes
    ----------
    rows
        Number of each item in the file and its cells by column.
    spots
        Position of each item that has one; an item without is refused already.
    columns
        Field of ours → columns.
    tally
        What happened to each item so far.
    items
        Numbers of all items.
    decimal_comma
        Whether numbers are written with a decimal comma.
    crs
        CRS that positions were in.
    notes
        Sentences worth keeping.
    """

    rows: list[tuple[int, Cells]]
    columns: dict[str, Groups]
    tally: Tally
    decimal_comma: bool = False
    crs: str = "EPSG:4326"
    spots: dict[int, Spot] = field(default_factory=dict)
    items: list[int] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def text(self, cells: Cells, name: str) -> str:
        """Return a field of a row as text, empty where unknown."""
        group = self.group(cells, name)
        if len(group) == 1:
            return cells[group[0]]
        return " ".join(cells[column] for column in group if cells.get(column))

    def group(self, cells: Cells, name: str) -> tuple[str, ...]:
        """Return the columns that give a field its value in one row."""
        for group in self.columns.get(name, ()):
            for column in group:
                if cells.get(column):
                    return group
        return ()

    def heading(self, name: str) -> str:
        """Return the column that a field comes from, empty when there is none."""
        groups = self.columns.get(name, ())
        return groups[0][0] if groups else ""


def read_point_rows(
    path: Path,
    kind: str,
    *,
    crs: str = "",
    mapping: Mapping[str, str] | None = None,
    bounds: Bounds | None = None,
) -> PointRows:
    """Read and place the rows of a CSV, GPX, KML, KMZ or vector file.

    Parameters
    ----------
    path
        The file.
    kind
        Kind of layer or record, with `lon, lat, x, y, position` among its fields.
    crs
        `EPSG:n` of the coordinates when they are not WGS 84 degrees.
    mapping
        Field → column.
    bounds
        The ground, longitudes and latitudes: the evidence for putting exchanged coordinates right.

    Raises
    ------
    InputRefused
        When the file cannot be used.
    """
    mapping = dict(mapping or {})
    log = IssueLog(file_name(path), kind)
    form = inspect_file(path, kind, POINT_FORMS).form
    if form == "table":
        table = read_csv_rows(path, kind, log)
        result = _from_rows(table.rows, table.columns, kind, mapping, Tally(log, "row"))
        for line in table.shifted:
            action = "Left out: which value is which cannot be told. Put quotes around what holds a comma."
            result.tally.refuse(line, "", "more cells than headings", "one cell for each heading", action)
        for line in table.odd - table.shifted:
            action = "The cells beyond the last heading were left out."
            result.tally.repair(line, "", "more cells than headings", "one cell for each heading", action)
        place_rows(result, crs, bounds)
    elif form in ("gpx", "kml") or path.suffix.lower() == ".kmz":
        cells = _waypoints(path, kind, form, log)
        names = list(dict.fromkeys(name for point in cells for name in point))
        result = _from_rows(list(enumerate(cells, 1)), names, kind, mapping, Tally(log, "waypoint"))
        place_rows(result, "", bounds)
    else:
        result = _from_layer(path, kind, crs, mapping, bounds)
    result.notes.append(fields_sentence({k: v for k, v in result.columns.items() if v != ((k,),)}))
    return result


def _waypoints(path: Path, kind: str, form: str, log: IssueLog) -> list[Cells]:
    if form == "gpx":
        return read_gpx(path, log).cells
    if form == "kml":
        return read_kml(path, log).cells
    with open_archive(path, kind) as folder:
        inner = sorted(folder.rglob("*.kml"), key=lambda found: (found.name.lower() != "doc.kml", str(found)))
        if not inner:
            refuse_file(log, "no KML document in it", "a KMZ with a KML document", "Export it again as KML.")
        for other in inner[1:9]:
            action = f"Passed over; only {inner[0].name} was read."
            place = f"member {other.name}"
            log.note(Issue("warning", log.file, place, "", "another document", "one document", action))
        inspect_member(inner[0], log, ("kml",))
        return read_kml(inner[0], log).cells


def _from_rows(
    rows: list[tuple[int, Cells]], names: list[str], kind: str, mapping: Mapping[str, str], tally: Tally
) -> PointRows:
    columns = _columns(kind, names, mapping, tally.log)
    result = PointRows(rows, columns, tally, items=[item for item, _ in rows])
    numbers = [result.text(cells, name) for _, cells in rows[:500] for name in ("lon", "lat", "x", "y")]
    # Two commas in one number part thousands.
    result.decimal_comma = any("," in text for text in numbers) and not any(
        "." in text or text.count(",") > 1 for text in numbers
    )
    return result


def _columns(kind: str, names: list[str], mapping: Mapping[str, str], log: IssueLog) -> dict[str, Groups]:
    """Return the columns of the kind's own fields and, whatever the kind, of the position."""
    if kind in ("samples", "holes"):
        return find_columns(kind, names, mapping, log)
    where = {name: column for name, column in mapping.items() if name in POSITION_FIELDS}
    rest = {name: column for name, column in mapping.items() if name not in POSITION_FIELDS}
    placed = find_columns("samples", names, where, log)
    return find_columns(kind, names, rest, log) | {n: g for n, g in placed.items() if n in POSITION_FIELDS}


def _from_layer(
    path: Path, kind: str, crs: str, mapping: Mapping[str, str], bounds: Bounds | None
) -> PointRows:
    features = read_features(path, kind, crs=crs, mapping=mapping, bounds=bounds)
    frame = features.frame
    names = [name for name in frame.columns if name != "geometry"]
    texts = {name: list(as_text(frame[name])) for name in names}
    rows = [
        (int(item), {name: texts[name][index] for name in names}) for index, item in enumerate(frame.index)
    ]
    points = shapely.centroid(as_lonlat(frame))
    spots = {
        item: Spot(float(x), float(y))
        for (item, _), x, y in zip(rows, shapely.get_x(points), shapely.get_y(points), strict=True)
    }
    degrees = in_degrees(features.crs)
    places = dict(zip(spots, shapely.get_num_geometries(frame.geometry.to_numpy()).tolist(), strict=True))
    for item, spot in list(spots.items()):
        if spot.lon == 0 and spot.lat == 0:
            action = "Left out: without a position it cannot be used."
            features.tally.refuse(item, "position", "0, 0", _expected(""), action)
            del spots[item]
        elif places[item] > 1:
            action = "Left out: which of them it is cannot be told."
            features.tally.refuse(item, "geometry", f"{places[item]} points in one", "one point", action)
            del spots[item]
        elif degrees and (mended := settle(spot.lon, spot.lat, bounds)) and mended.mended:
            shown = f"{spot.lon:g}, {spot.lat:g}"
            features.tally.repair(item, "position", shown, "a place on your ground", mended.mended)
            spots[item] = mended
    columns = {
        name: groups for name, groups in features.columns.items() if name not in ("lon", "lat", "x", "y")
    }
    items = list(features.items)
    return PointRows(rows, columns, features.tally, False, features.crs, spots, items, features.notes)


def place_rows(result: PointRows, crs: str, bounds: Bounds | None, *, every: bool = True) -> None:
    """Place every row that can be placed and refuse the others.

    Parameters
    ----------
    result
        Rows without spots.
    crs, bounds
        As for `read_point_rows`.
    every
        Whether each row must have a position; else one that says nothing of it is left as it is.

    Raises
    ------
    InputRefused
        When there are no columns of positions and each row must have one, or numbers want a CRS.
    """
    found = set(result.columns)
    if not ({"lon", "lat"} <= found or {"x", "y"} <= found or "position" in found):
        if not every:
            return
        names = ", ".join(list(result.rows[0][1])[:40])
        action = "Call the columns lon and lat, or say which they are: --map lon=COLUMN --map lat=COLUMN"
        refuse_file(
            result.tally.log, f"the columns {names}", "longitude and latitude", action, field="position"
        )
    system = crs_text(read_crs(crs, result.tally.log)) if crs else ""
    if not system and not {"lon", "lat"} <= found and "position" not in found:
        _need_crs(result)
    result.crs = system or "EPSG:4326"
    if result.decimal_comma and system and not in_degrees(system) and _thousands(result):
        result.decimal_comma = False
    if result.decimal_comma:
        result.notes.append("Numbers are written with a decimal comma.")
    for item, cells in result.rows:
        if result.tally.is_refused(item):
            continue
        if not any(cells.values()):
            result.tally.refuse(item, "", "an empty row", "a position", "Left out.")
            continue
        if not every and not any(result.text(cells, name) for name in POSITION_FIELDS):
            continue
        spot = _spot(result, cells, system, bounds)
        if isinstance(spot, str):
            action = "Left out: without a position it cannot be used."
            result.tally.refuse(item, "position", spot, _expected(system), action)
            continue
        result.spots[item] = spot
        if spot.mended:
            pairs = [(result.text(cells, one), result.text(cells, two)) for one, two in _PAIRS]
            shown = ", ".join(next((pair for pair in pairs if any(pair)), ()))
            result.tally.repair(item, "position", shown, "a place on your ground", spot.mended)


def _spot(result: PointRows, cells: Cells, system: str, bounds: Bounds | None) -> Spot | str:
    """Return the position of a row, or the text that is none."""
    lon_text, lat_text = result.text(cells, "lon"), result.text(cells, "lat")
    x_text, y_text = result.text(cells, "x"), result.text(cells, "y")
    if system and not in_degrees(system):
        return _projected(x_text or lon_text, y_text or lat_text, system, result.decimal_comma, bounds)
    first, second = (lon_text, lat_text) if lon_text or lat_text else (x_text, y_text)
    if first and second:
        lon = read_degrees(first, "lon", decimal_comma=result.decimal_comma)
        lat = read_degrees(second, "lat", decimal_comma=result.decimal_comma)
        if lon is None or lat is None:
            turned_lon = read_degrees(second, "lon", decimal_comma=result.decimal_comma)
            turned_lat = read_degrees(first, "lat", decimal_comma=result.decimal_comma)
            if turned_lon is not None and turned_lat is not None:
                return Spot(turned_lon, turned_lat, "Longitude and latitude were exchanged; put right.")
        if lon is None or lat is None:
            return f"{first}, {second}"
        if system and system != "EPSG:4326":
            moved = to_lonlat(system, lon, lat)
            return f"{first}, {second}" if moved is None else Spot(*moved)
        return settle(lon, lat, bounds) or f"{first}, {second}"
    text = result.text(cells, "position")
    pair = read_position(text) if text else None
    return Spot(*pair) if pair else text or ", ".join(filter(None, (first, second)))


def _thousands(result: PointRows) -> bool:
    """Whether every comma stands before three figures: no map counts metres in thousandths near its origin."""
    texts = [result.text(cells, name) for _, cells in result.rows for name in ("lon", "lat", "x", "y")]
    return all(_GROUPED.fullmatch(text) for text in texts if "," in text)


def _projected(
    x_text: str, y_text: str, system: str, decimal_comma: bool, bounds: Bounds | None
) -> Spot | str:
    x = read_number(x_text, decimal_comma=decimal_comma)
    y = read_number(y_text, decimal_comma=decimal_comma)
    if x is None or y is None or (x == 0 and y == 0):
        return ", ".join(filter(None, (x_text, y_text)))
    place, turned = to_lonlat(system, x, y), to_lonlat(system, y, x)
    if turned and bounds and bounds.contains(*turned) and not (place and bounds.contains(*place)):
        return Spot(*turned, "Easting and northing were exchanged; put right.")
    return Spot(*place) if place and is_used_at(system, *place) else f"{x_text}, {y_text}"


def _need_crs(result: PointRows) -> None:
    """Refuse x and y without a CRS unless all of them are degrees, and then say so."""
    for _, cells in result.rows:
        x, y = (
            read_number(result.text(cells, axis), decimal_comma=result.decimal_comma) for axis in ("x", "y")
        )
        if x is not None and y is not None and (abs(x) > 180 or abs(y) > 180):
            found = f"x {x:g}, y {y:g} without a CRS"
            action = "Say which CRS the numbers are in: --crs EPSG:n"
            refuse_file(result.tally.log, found, "a CRS for x and y", action, field="crs")
    action = "All are small enough for degrees: read as longitude and latitude."
    result.tally.note("crs", "x and y without a CRS", "a CRS for x and y", action, warning=True)


def _expected(system: str) -> str:
    if system and not in_degrees(system):
        return f"two numbers of a place where {system[:20]} is used"
    return "a longitude from -180 to 180 and a latitude from -90 to 90, not both zero"

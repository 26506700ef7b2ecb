"""Gathers holes and their layers from the rows that speak of them, in whatever tables those stand."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from prospect.records import Hole, HoleLayer
from prospect.sources.coordinates import Spot
from prospect.sources.log_cells import read_depths
from prospect.sources.log_names import log_names
from prospect.sources.log_row import LogRows, Values, own_fields, read_values
from prospect.sources.numbers import read_length, unit_of_heading
from prospect.sources.point_rows import Cells

Place = tuple[float, float]
_SHALLOWEST_LAST = float("inf")


@dataclass(slots=True)
class _LayerRow:
    """A layer and the row that it stands in; `with_hole` = the row says something of the hole as well."""

    table: LogRows
    item: int
    layer: HoleLayer
    with_hole: bool


@dataclass(slots=True)
class _Draft:
    """What rows say of one hole."""

    name: str
    facts: dict[str, Any] = field(default_factory=dict)
    own: dict[str, str] = field(default_factory=dict)
    spot: Spot | None = None
    error_m: float | None = None
    rows: list[tuple[LogRows, int]] = field(default_factory=list)
    layers: list[_LayerRow] = field(default_factory=list)


class HoleRows:
    """Holes in the making.

    Parameters
    ----------
    today
        ISO date, later ones are mistakes; empty = not known.
    """

    def __init__(self, today: str = "") -> None:
        self._today = today
        self._drafts: dict[str, _Draft] = {}

    def take(self, table: LogRows) -> None:
        """Take the rows of a table of holes or of layers."""
        last = ""
        for item, cells in table.rows:
            if table.tally.is_refused(item):
                continue
            last = self._take_row(table, item, cells, last) or last

    def names(self) -> set[str]:
        """Return the names of the holes so far."""
        return set(self._drafts)

    def finish(self, places: dict[str, Place]) -> tuple[Hole, ...]:
        """Return the holes; one without a position takes that on record for its name, else its rows are refused.

        Parameters
        ----------
        places
            Longitude and latitude known by the name of a hole.
        """
        holes = []
        for draft in self._drafts.values():
            layers = _in_order(draft.layers)
            place = (draft.spot.lon, draft.spot.lat) if draft.spot else places.get(draft.name)
            if place is None:
                _refuse_placeless(draft)
                continue
            if draft.spot is None:
                table = draft.rows[0][0]
                action = "Took the position that is known for it, from its hole on record or its samples."
                table.tally.note("position", draft.name, "a position for each hole", action)
            facts = {key: value for key, value in draft.facts.items() if value != ""}
            holes.append(
                Hole(
                    hole_id=draft.name,
                    lon=round(place[0], 8),
                    lat=round(place[1], 8),
                    position_error_m=draft.error_m if draft.spot else None,
                    layers=layers,
                    fields=draft.own,
                    **facts,
                )
            )
        return tuple(holes)

    def _take_row(self, table: LogRows, item: int, cells: Cells, last: str) -> str:
        hole = read_values(table, item, cells, table.of("holes"), self._today)
        layers = [
            found
            for number in table.numbers("layers")
            if (found := read_values(table, item, cells, _layer_columns(table, number), self._today)).values
            or found.own
        ]
        name = hole.values.pop("hole_id", "") or _named(table, item, cells)
        if not name and last and layers:
            name = last
            action = f"Taken as of hole {last}, the one above."
            table.tally.repair(item, table.heading("hole_id"), "", "the name of the hole", action)
        if not name:
            action = "Left out: say which hole it is."
            table.tally.refuse(item, table.heading("hole_id"), "", "the name of the hole", action)
            return ""
        draft = self._drafts.setdefault(name, _Draft(name))
        draft.rows.append((table, item))
        own = own_fields(table, cells)
        with_hole = bool(hole.values) or item in table.spots
        self._add_facts(draft, table, item, hole)
        if table.kind == "holes":
            draft.own.update({key: text for key, text in own.items() if key not in draft.own})
            own = {}
        self._place(draft, table, item, cells)
        if not layers and own:
            layers = [Values()]
        for number, found in enumerate(layers):
            layer = _layer(table, item, found, own if number == 0 else {})
            if layer is not None:
                draft.layers.append(_LayerRow(table, item, layer, with_hole))
        return name

    def _add_facts(self, draft: _Draft, table: LogRows, item: int, hole: Values) -> None:
        for key, value in hole.values.items():
            if draft.facts.setdefault(key, value) != value:
                action = f"Kept what was said first: {draft.facts[key]}."
                table.tally.repair(
                    item, table.heading(key), value, f"one {key} for hole {draft.name}", action
                )
                draft.own.setdefault(f"{table.heading(key)} (other)", f"{value}")
        draft.own.update({key: text for key, text in hole.own.items() if key not in draft.own})

    def _place(self, draft: _Draft, table: LogRows, item: int, cells: Cells) -> None:
        spot = table.spots.get(item)
        if spot is None:
            return
        if draft.spot is None:
            draft.spot = spot
            draft.error_m = _error(table, cells)
        elif (round(spot.lon, 8), round(spot.lat, 8)) != (round(draft.spot.lon, 8), round(draft.spot.lat, 8)):
            action = f"Kept the first: {draft.spot.lat:g}, {draft.spot.lon:g}."
            shown = f"{spot.lat:g}, {spot.lon:g}"
            table.tally.repair(item, "position", shown, f"one position for hole {draft.name}", action)


def _layer_columns(table: LogRows, number: int) -> list[Any]:
    return [column for column in table.of("layers", number) if column.field != "hole_id"]


def _named(table: LogRows, item: int, cells: Cells) -> str:
    columns = [column for column in table.columns if column.field == "hole_id"]
    return str(read_values(table, item, cells, columns).values.get("hole_id", ""))


def _error(table: LogRows, cells: Cells) -> float | None:
    column = next((c for c in table.columns if c.field == "position_error_m"), None)
    text = cells.get(column.heading, "") if column else ""
    unit = unit_of_heading(column.heading) if column else ""
    value = read_length(text, "m", decimal_comma=table.decimal_comma, default=unit) if text else None
    return round(value, 2) if value is not None and 0 <= value <= 100_000 else None


def _layer(table: LogRows, item: int, found: Values, own: dict[str, str]) -> HoleLayer | None:
    values = dict(found.values)
    _range_in_one_cell(table, values, found)
    top, bottom = values.pop("depths", (None, None))
    top, bottom = values.pop("top_cm", top), values.pop("bottom_cm", bottom)
    if top is not None and bottom is not None and top > bottom:
        action = f"It ran upwards; read as {bottom:g}-{top:g} cm."
        table.tally.repair(
            item, table.heading("top_cm"), f"{top:g}-{bottom:g}", "a top above its bottom", action
        )
        top, bottom = bottom, top
    if top is not None and top == bottom:
        action = "Left out: mend its depths."
        table.tally.refuse(
            item, table.heading("bottom_cm"), f"{top:g}-{bottom:g}", "a layer with a thickness", action
        )
        return None
    return HoleLayer(top_cm=top, bottom_cm=bottom, fields={**own, **found.own}, **values)


def _range_in_one_cell(table: LogRows, values: dict[str, Any], found: Values) -> None:
    """Take a range that stands where only one depth was asked for (`30-60` under `from`)."""
    for key in ("top_cm", "bottom_cm"):
        column = next((column for column in table.of("layers") if column.field == key), None)
        text = found.own.get(column.heading, "") if column else ""
        if column and text and not {"top_cm", "bottom_cm", "depths"} & set(values):
            spec = log_names().layers.fields["depths"]
            both = read_depths(text, spec, column.unit, decimal_comma=table.decimal_comma)
            if isinstance(both.value, tuple):
                values["depths"] = both.value
                del found.own[column.heading]


def _start(row: _LayerRow) -> float:
    ends = (row.layer.top_cm, row.layer.bottom_cm)
    return next((end for end in ends if end is not None), _SHALLOWEST_LAST)


def _in_order(rows: list[_LayerRow]) -> tuple[HoleLayer, ...]:
    """Return the layers from the top down, without those that overlap one already taken; the tally says so."""
    known = [row for row in rows if _start(row) != _SHALLOWEST_LAST]
    ordered = sorted(known, key=_start)
    if [id(row) for row in ordered] != [id(row) for row in known]:
        deepest = -1.0
        for row in known:
            if _start(row) < deepest:
                _say(row, "top_cm", _depths(row.layer), "layers from the top down", "Put in order.")
            deepest = max(deepest, _start(row))
        rows = [*ordered, *(row for row in rows if _start(row) == _SHALLOWEST_LAST)]
    taken: list[_LayerRow] = []
    for row in rows:
        other = next((one for one in taken if _overlap(one.layer, row.layer)), None)
        if other is None:
            taken.append(row)
            continue
        place = f"{other.table.tally.noun} {other.item}"
        if other.layer == row.layer:
            _leave_out(row, f"Left out: the same as {place}.", "each layer once")
        else:
            action = f"Left out: it overlaps {_depths(other.layer)} cm of {place}. Mend its depths."
            _leave_out(row, action, "layers that do not overlap")
    return tuple(row.layer for row in taken)


def _overlap(one: HoleLayer, other: HoleLayer) -> bool:
    if one.bottom_cm is None or other.bottom_cm is None:
        pair = [(layer.top_cm, layer.bottom_cm) for layer in (one, other)]
        return one == other and pair[0] != (None, None)
    # Where only the bottom is known, nothing says how far up it reaches.
    tops = [layer.bottom_cm if layer.top_cm is None else layer.top_cm for layer in (one, other)]
    assert tops[0] is not None
    assert tops[1] is not None
    same = one.bottom_cm == other.bottom_cm
    return same or (tops[0] < other.bottom_cm and tops[1] < one.bottom_cm)


def _say(row: _LayerRow, key: str, value: str, expected: str, action: str) -> None:
    row.table.tally.repair(row.item, row.table.heading(key), value, expected, action)


def _leave_out(row: _LayerRow, action: str, expected: str) -> None:
    several = len(row.table.numbers("layers")) > 1
    tell = row.table.tally.repair if row.with_hole or several else row.table.tally.refuse
    tell(row.item, row.table.heading("top_cm"), _depths(row.layer), expected, action)


def _depths(layer: HoleLayer) -> str:
    return "-".join("?" if end is None else f"{end:g}" for end in (layer.top_cm, layer.bottom_cm))


def _refuse_placeless(draft: _Draft) -> None:
    action = "Left out: give the hole its longitude and latitude, save the hole first, or give a sample that names it."
    for table, item in draft.rows:
        table.tally.refuse(item, "position", draft.name, "a position for the hole", action)

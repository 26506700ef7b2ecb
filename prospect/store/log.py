"""Holes, bars, bench tests and batches: rows to records and back, under a connection that somebody else opened."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from types import MappingProxyType
from typing import Any, Literal, get_args

from prospect.records import Bar, Batch, BenchTest, Hole, HoleLayer
from prospect.store.outside import value_of
from prospect.store.samples import ChangedMeanwhile, point_of
from prospect.store.schema import EXTENT_OF_HOLES
from prospect.store.typed import typed

LogKind = Literal["hole", "bar", "test", "batch"]
LogItem = Hole | Bar | BenchTest | Batch
LOG_KINDS: tuple[LogKind, ...] = get_args(LogKind)


@dataclass(frozen=True, slots=True)
class Shelf:
    """Where one kind of record is kept.

    Attributes
    ----------
    table
        The table.
    record
        The dataclass.
    name
        Field that holds the short name, unique on the shelf.
    noun, plural
        What a record is called.
    """

    table: str
    record: type[Any]
    name: str
    noun: str
    plural: str

    @property
    def columns(self) -> tuple[str, ...]:
        """Columns of the table that hold a field of the record, in its order."""
        return tuple(
            _COLUMN.get(item.name, item.name) for item in fields(self.record) if item.name != "layers"
        )


SHELVES: Mapping[LogKind, Shelf] = MappingProxyType(
    {
        "hole": Shelf("holes", Hole, "hole_id", "Hole", "holes"),
        "bar": Shelf("bars", Bar, "bar_id", "Bar", "bars"),
        "test": Shelf("bench_tests", BenchTest, "test_id", "Test", "bench tests"),
        "batch": Shelf("batches", Batch, "batch_id", "Batch", "batches"),
    }
)

# The fields whose name is a word of SQL.
_COLUMN = {"values": "measured", "words": "described"}
_FIELD = {column: field for field, column in _COLUMN.items()}
_AS_JSON = ("fields", "measured", "described", "faults")
_YES_OR_NO = ("looked_for_faults",)
_LAYER = tuple(item.name for item in fields(HoleLayer))


@dataclass(frozen=True, slots=True)
class OnRecord:
    """A hole, bar, test or batch on record and the revision of the change that wrote it so."""

    item: LogItem
    revision: int


def kind_of(item: LogItem) -> LogKind:
    """Return the kind of a record."""
    return next(kind for kind, shelf in SHELVES.items() if isinstance(item, shelf.record))


def name_of(item: LogItem) -> str:
    """Return the short name of a record."""
    return str(getattr(item, SHELVES[kind_of(item)].name))


def item_of(kind: LogKind, values: Mapping[str, Any]) -> LogItem:
    """Return a record of the values that the audit keeps of it.

    Raises
    ------
    GroundError
        When a value is not what its field holds.
    """
    shelf = SHELVES[kind]
    made: LogItem = typed(shelf.record, values, f"{shelf.noun.lower()} {values.get(shelf.name, '')}")
    return made


def all_items(connection: sqlite3.Connection, kind: LogKind) -> tuple[Any, ...]:
    """Return every record of a kind in the order it was saved."""
    layers: dict[str, list[dict[str, Any]]] = {}
    if kind == "hole":
        for hole_id, layer in _layers(connection, "ORDER BY hole_id, place", ()):
            layers.setdefault(hole_id, []).append(layer)
    return tuple(held.item for held in _read(connection, kind, "ORDER BY fid", (), layers))


def items_named(connection: sqlite3.Connection, kind: LogKind, names: Iterable[str]) -> dict[str, OnRecord]:
    """Return the records of a kind that go by some names."""
    column = SHELVES[kind].name
    found: dict[str, OnRecord] = {}
    for name in dict.fromkeys(names):
        layers: dict[str, list[dict[str, Any]]] = {}
        if kind == "hole":
            layers[name] = [
                layer for _, layer in _layers(connection, "WHERE hole_id = ? ORDER BY place", (name,))
            ]
        for held in _read(connection, kind, f"WHERE {column} = ?", (name,), layers):
            found[name] = held
    return found


def insert_items(connection: sqlite3.Connection, items: Iterable[LogItem], revision: int) -> None:
    """Write new records."""
    for item in items:
        shelf = SHELVES[kind_of(item)]
        named = (*shelf.columns, *(("geom",) if isinstance(item, Hole) else ()), "revision")
        connection.execute(
            f"INSERT INTO {shelf.table} ({', '.join(named)}) VALUES ({', '.join('?' * len(named))})",  # noqa: S608
            (*_row(item), revision),
        )
        if isinstance(item, Hole):
            _put_layers(connection, item)
    connection.execute(EXTENT_OF_HOLES)


def update_item(connection: sqlite3.Connection, item: LogItem, revision: int) -> None:
    """Write a record over the one of its name; a hole with all its layers."""
    shelf = SHELVES[kind_of(item)]
    named = (*shelf.columns, *(("geom",) if isinstance(item, Hole) else ()), "revision")
    connection.execute(
        f"UPDATE {shelf.table} SET {', '.join(f'{name} = ?' for name in named)} WHERE {shelf.name} = ?",  # noqa: S608
        (*_row(item), revision, name_of(item)),
    )
    if isinstance(item, Hole):
        connection.execute("DELETE FROM hole_layers WHERE hole_id = ?", (item.hole_id,))
        _put_layers(connection, item)
        connection.execute(EXTENT_OF_HOLES)


def delete_items(connection: sqlite3.Connection, kind: LogKind, names: Iterable[str]) -> None:
    """Take records out; a hole with its layers."""
    shelf = SHELVES[kind]
    for name in names:
        connection.execute(f"DELETE FROM {shelf.table} WHERE {shelf.name} = ?", (name,))  # noqa: S608
        if kind == "hole":
            connection.execute("DELETE FROM hole_layers WHERE hole_id = ?", (name,))
    connection.execute(EXTENT_OF_HOLES)


def item_held_at(
    connection: sqlite3.Connection, kind: LogKind, name: str, revision: int, mine: LogItem | None
) -> OnRecord:
    """Return a record that is there as of a revision.

    Raises
    ------
    ChangedMeanwhile
        When it is there otherwise, or no longer.
    """
    theirs = items_named(connection, kind, (name,)).get(name)
    if theirs is None or theirs.revision != revision:
        raise ChangedMeanwhile(f"{SHELVES[kind].noun} {name}", mine, theirs)
    return theirs


def as_told(item: LogItem) -> dict[str, Any]:
    """Return a record as the audit keeps it."""
    return asdict(item)


def names_on(connection: sqlite3.Connection, kind: LogKind) -> list[str]:
    """Return the names of a kind in the order they were saved."""
    shelf = SHELVES[kind]
    rows = connection.execute(f"SELECT {shelf.name} FROM {shelf.table} ORDER BY fid")  # noqa: S608 - our own names
    return [str(name) for (name,) in rows]


def _read(
    connection: sqlite3.Connection,
    kind: LogKind,
    which: str,
    arguments: Sequence[object],
    layers: Mapping[str, list[dict[str, Any]]],
) -> Iterator[OnRecord]:
    shelf = SHELVES[kind]
    query = f"SELECT {', '.join(shelf.columns)}, revision FROM {shelf.table} {which}"  # noqa: S608 - our own names
    for row in connection.execute(query, tuple(arguments)).fetchall():
        values = {
            _FIELD.get(name, name): _value(name, value)
            for name, value in zip(shelf.columns, row, strict=False)
        }
        if kind == "hole":
            values["layers"] = layers.get(str(values["hole_id"]), [])
        yield OnRecord(item_of(kind, values), row[-1])


def _layers(
    connection: sqlite3.Connection, which: str, arguments: Sequence[object]
) -> Iterator[tuple[str, dict[str, Any]]]:
    query = f"SELECT hole_id, {', '.join(_LAYER)} FROM hole_layers {which}"  # noqa: S608 - our own names
    for hole_id, *row in connection.execute(query, tuple(arguments)).fetchall():
        yield hole_id, {name: _value(name, value) for name, value in zip(_LAYER, row, strict=True)}


def _put_layers(connection: sqlite3.Connection, hole: Hole) -> None:
    named = ("hole_id", "place", *_LAYER)
    connection.executemany(
        f"INSERT INTO hole_layers ({', '.join(named)}) VALUES ({', '.join('?' * len(named))})",  # noqa: S608
        [
            (hole.hole_id, place, *(_stored(name, getattr(layer, name)) for name in _LAYER))
            for place, layer in enumerate(hole.layers)
        ],
    )


def _row(item: LogItem) -> tuple[object, ...]:
    shelf = SHELVES[kind_of(item)]
    values = tuple(_stored(name, getattr(item, _FIELD.get(name, name))) for name in shelf.columns)
    return (*values, point_of(item.lon, item.lat)) if isinstance(item, Hole) else values


def _stored(column: str, value: object) -> object:
    return json.dumps(value, ensure_ascii=False) if column in _AS_JSON else value


def _value(column: str, value: Any) -> Any:
    if column in _YES_OR_NO:
        return bool(value)
    return value_of(value) if column in _AS_JSON else value

"""Makes bars, bench tests and batches of the rows of a paper log."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any, TypeVar

from prospect.records import Bar, Batch, BenchTest
from prospect.sources.log_names import Column
from prospect.sources.log_row import (
    STAYS,
    LogRows,
    Values,
    measured_field,
    own_fields,
    read_measured,
    read_values,
)
from prospect.sources.log_vocabulary import bench_titles
from prospect.sources.point_rows import Cells

Item = TypeVar("Item", Bar, BenchTest, Batch)
_NAME = {Bar: "bar_id", BenchTest: "test_id", Batch: "batch_id"}


class BenchRows:
    """Bars, bench tests and batches in the making.

    Parameters
    ----------
    today
        ISO date, later ones are mistakes; empty = not known.
    """

    def __init__(self, today: str = "") -> None:
        self._today = today
        self.bars: dict[str, Bar] = {}
        self.tests: dict[str, BenchTest] = {}
        self.batches: dict[str, Batch] = {}
        self._places: dict[tuple[type, str], str] = {}

    def take(self, table: LogRows) -> None:
        """Take the rows of a table of bars, bench tests or batches."""
        readers: dict[str, Callable[[LogRows, int, Cells], None]] = {
            "bars": self._bar_row,
            "tests": self._test_row,
            "batches": self._batch_row,
        }
        for item, cells in table.rows:
            if table.tally.is_refused(item):
                continue
            if not any(cells.values()):
                table.tally.refuse(item, "", "an empty row", "something in it", "Left out.")
                continue
            readers[table.kind](table, item, cells)

    def take_beside(
        self, table: LogRows, item: int, cells: Cells, specimen: str, date: str = ""
    ) -> dict[str, str]:
        """Take the bars and bench measurements in the row of a sample; return what of them could not be read."""
        for number in table.numbers("bars"):
            found = read_values(table, item, cells, table.of("bars", number), self._today)
            if not found.values and not found.own:
                continue
            name = f"{specimen} bar {number or 1}"
            bar = Bar(bar_id=name, specimen=specimen, fields=found.own, **found.values)
            self._keep(self.bars, bar, table, item)
        return self._measured(table, item, cells, specimen, {"date": date} if date else {})

    def _bar_row(self, table: LogRows, item: int, cells: Cells) -> None:
        found = read_values(table, item, cells, table.of("bars"), self._today)
        specimen = found.values.pop("specimen", "")
        if not specimen:
            self._say_specimen(table, item)
            return
        name = found.values.pop("bar_id", "") or self._free(self.bars, f"{specimen} bar")
        shared: dict[str, Any] = {
            key: found.values[key] for key in ("date", "preparation") if key in found.values
        }
        left = self._measured(table, item, cells, specimen, shared)
        fields = {**own_fields(table, cells), **found.own, **left}
        self._keep(self.bars, Bar(bar_id=name, specimen=specimen, fields=fields, **found.values), table, item)

    def _batch_row(self, table: LogRows, item: int, cells: Cells) -> None:
        found = read_values(table, item, cells, table.of("batches"), self._today)
        name = found.values.pop("batch_id", "")
        if not name:
            action = "Left out: give the batch a name."
            table.tally.refuse(item, table.heading("batch_id"), "", "the name of the batch", action)
            return
        fields = {**own_fields(table, cells), **found.own}
        self._keep(self.batches, Batch(batch_id=name, fields=fields, **found.values), table, item)

    def _test_row(self, table: LogRows, item: int, cells: Cells) -> None:
        found = read_values(table, item, cells, table.of("tests"), self._today)
        specimen = found.values.pop("specimen", "")
        if not specimen:
            self._say_specimen(table, item)
            return
        key, text, unit = (str(found.values.pop(name, "")) for name in ("field", "value", "unit"))
        if text and not key:
            found.own.setdefault(table.heading("value"), text)
        if text and key:
            # It may join a test that an earlier row began, and says itself where it is left out.
            self._single(table, item, found, specimen, key, text, unit)
            return
        before = dict(self.tests)
        self._measured(table, item, cells, specimen, found.values, found.own | own_fields(table, cells))
        if self.tests == before and not table.tally.is_refused(item):
            action = "Left out: give a measurement under the name of its test."
            expected = f"a test that is one of {', '.join(bench_titles())}"
            table.tally.refuse(item, table.heading("kind"), found.values.get("kind", ""), expected, action)

    def _single(
        self, table: LogRows, item: int, found: Values, specimen: str, key: str, text: str, unit: str
    ) -> None:
        """Take a row that holds one measurement: what was measured, and its value."""
        kind = str(found.values.pop("kind", ""))
        kinds = [kind] if kind else list(bench_titles())
        hit = next(((k, *measured_field(k, key)) for k in kinds if measured_field(k, key)[0]), None)
        if hit is None:
            action = "Left out: say which test it is, and what was measured."
            table.tally.refuse(item, table.heading("field"), key, "a measurement of a bench test", action)
            return
        kind, name, said = hit
        read = read_measured(kind, name, text, unit or said, decimal_comma=table.decimal_comma)
        if read.value is None:
            table.tally.refuse(item, table.heading("value"), text, read.expected, "Left out: mend the row.")
            return
        if read.said:
            table.tally.repair(
                item, table.heading("value"), text, "a value in the unit of its test", read.said
            )
        test_id = str(found.values.pop("test_id", "")) or f"{specimen} {kind}"
        there = self.tests.get(test_id)
        more = {key: value for key, value in found.values.items() if key in ("date", "preparation", "note")}
        test = BenchTest(test_id=test_id, specimen=specimen, kind=kind, words=dict(found.own), **more)
        if there is not None and (there.specimen, there.kind) == (specimen, kind):
            test = there
        target = test.words if isinstance(read.value, str) else test.values
        if name in target:
            test = BenchTest(self._free(self.tests, test_id), specimen, kind, words=dict(found.own), **more)
            target = test.words if isinstance(read.value, str) else test.values
        target[name] = read.value  # type: ignore[assignment]
        self.tests[test.test_id] = test

    def _measured(
        self,
        table: LogRows,
        item: int,
        cells: Cells,
        specimen: str,
        said: dict[str, Any],
        own: dict[str, str] | None = None,
    ) -> dict[str, str]:
        """Take the bench measurements of a row, a test for each kind that has any; return what belongs to none."""
        said, own = dict(said), dict(own or {})
        kind = str(said.pop("kind", ""))
        columns = [_for_kind(column, kind) for column in table.of("measured")]
        by_kind: dict[str, tuple[dict[str, float], dict[str, str]]] = {kind: ({}, {})} if kind else {}
        for column in columns:
            found = read_values(table, item, cells, [column], self._today)
            where, key = column.field.split(".", 1)
            if found.own:
                own.update(found.own)
            for value in found.values.values():
                numbers, words = by_kind.setdefault(where, ({}, {}))
                if isinstance(value, str):
                    words[key] = value
                else:
                    numbers[key] = float(value)
        for heading in list(own) if kind else []:
            key, unit = measured_field(kind, heading)
            if key:
                read = read_measured(kind, key, own[heading], unit, decimal_comma=table.decimal_comma)
                target: Any = by_kind[kind][1 if isinstance(read.value, str) else 0]
                if read.value is not None:
                    target[key] = read.value
                    del own[heading]
                else:
                    table.tally.repair(item, heading, own[heading], read.expected, STAYS)
        given = str(said.pop("test_id", ""))
        for number, (where, (values, words)) in enumerate(by_kind.items()):
            name = given if given and number == 0 else f"{specimen} {where}"
            if not given:
                name = self._free(self.tests, name)
            test = BenchTest(
                test_id=name,
                specimen=specimen,
                kind=where,
                values=values,
                words={**words, **(own if number == 0 else {})},
                **{key: value for key, value in said.items() if key in ("date", "preparation", "note")},
            )
            self._keep(self.tests, test, table, item)
        return {} if by_kind else own

    def _keep(self, items: dict[str, Item], found: Item, table: LogRows, row: int) -> None:
        key = _NAME[type(found)]
        name = getattr(found, key)
        earlier = items.get(name)
        if earlier == found:
            place = self._places[type(found), name]
            action = f"Left out: the same as {place}."
            table.tally.refuse(row, table.heading(key), name, "each once", action)
            return
        if earlier is not None:
            other = self._free(items, name)
            action = f"The name is that of {self._places[type(found), name]}; called {other}."
            table.tally.repair(row, table.heading(key), name, "each name once", action)
            found = replace(found, **{key: other})  # type: ignore[arg-type]
            name = other
        items[name] = found
        self._places[type(found), name] = f"{table.tally.noun} {row}"

    def _free(self, items: Iterable[str], name: str) -> str:
        taken = set(items)
        if name not in taken and not name.endswith(" bar"):
            return name
        gap = " " if name.endswith(" bar") else "-"
        number = 1 if name.endswith(" bar") else 2
        while f"{name}{gap}{number}" in taken:
            number += 1
        return f"{name}{gap}{number}"

    def _say_specimen(self, table: LogRows, item: int) -> None:
        action = "Left out: say which sample or batch it is made of."
        table.tally.refuse(item, table.heading("specimen"), "", "the name of a sample or a batch", action)


def _for_kind(column: Column, kind: str) -> Column:
    """Return a column of a measurement as one of a kind of test, where that kind has it as well."""
    key, _ = measured_field(kind, column.heading) if kind else ("", "")
    return (
        Column(column.heading, column.table, f"{kind}.{key}", column.unit, column.number) if key else column
    )

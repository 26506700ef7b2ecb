"""Reads a paper log, whole: tables, a zip of tables, pasted text, waypoints, points or photos become one log book."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from prospect.errors import InputRefused
from prospect.guard.archive import member_names, open_archive
from prospect.guard.folder import files_below
from prospect.guard.inspection import POINT_FORMS, file_name, inspect_file, inspect_member
from prospect.guard.refusal import refuse_file
from prospect.issues import Issue, IssueLog
from prospect.layerfile import LayerSource
from prospect.records import Bar, BenchTest, Hole, LogBook, Sample
from prospect.sources.bar_rows import BenchRows
from prospect.sources.coordinates import Spot
from prospect.sources.csv_rows import table_text
from prospect.sources.field_names import Groups
from prospect.sources.hole_rows import HoleRows, Place
from prospect.sources.layers_in_notes import layers_in_note
from prospect.sources.log_exact import README, TABLES, NotAsWritten, read_exact
from prospect.sources.log_names import which_table
from prospect.sources.log_row import LogRows, log_rows
from prospect.sources.log_text import Piece, split_tables
from prospect.sources.point_rows import POSITION_FIELDS, Cells, PointRows, place_rows, read_point_rows
from prospect.sources.sample_rows import samples_by_item
from prospect.sources.tally import Tally
from prospect.text import plain
from prospect.types import Bounds

TABLE_ENDINGS = (".csv", ".tsv", ".tab", ".txt")
_NOTES = ("desc", "description", "cmt")
_POINT_ENDINGS = (".gpx", ".kml", ".kmz", ".gpkg", ".geojson", ".json", ".shp")
_HOLE_WORD = re.compile(r"\b(hole|auger|bore|boring|borehole|pit|face|spade|bank|cut)\b", re.IGNORECASE)
_SPOKEN = {
    "holes": ("hole", "holes"),
    "samples": ("sample", "samples"),
    "bars": ("bar", "bars"),
    "tests": ("bench test", "bench tests"),
    "batches": ("batch", "batches"),
}


@dataclass(frozen=True, slots=True)
class Known:
    """What is on record already, as far as a log needs it.

    Attributes
    ----------
    places
        Longitude and latitude by the name of a hole: its own, else that of a sample that names it.
    specimens
        Names of samples and batches.
    """

    places: Mapping[str, Place] = field(default_factory=dict)
    specimens: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class LogReading:
    """What a log held.

    Attributes
    ----------
    book
        What was read.
    log
        Each row kept, repaired or refused, and every problem.
    source
        Where it came from.
    """

    book: LogBook
    log: IssueLog
    source: LayerSource


@dataclass(frozen=True, slots=True)
class Asked:
    """How a log is to be read.

    Attributes
    ----------
    usual
        The kind that a list of places is taken for where nothing else tells: `samples` or `holes`.
    crs
        `EPSG:n` of x and y columns.
    mapping
        Field → column.
    bounds
        The ground, longitudes and latitudes.
    today
        ISO date; empty = not known.
    known
        What is on record already.
    """

    usual: str = "samples"
    crs: str = ""
    mapping: Mapping[str, str] = field(default_factory=dict)
    bounds: Bounds | None = None
    today: str = ""
    known: Known = field(default_factory=Known)


def read_log(path: Path, kind: str, asked: Asked) -> LogReading:
    """Read a log from a file.

    Parameters
    ----------
    path
        A table, a text of several tables, a zip of tables, GPX, KML, KMZ or a vector file with points.
    kind
        What the log of issues calls it.
    asked
        How it is to be read.

    Raises
    ------
    InputRefused
        When nothing of it can be used.
    """
    log = IssueLog(file_name(path), kind)
    exact: LogBook | None = None
    tables: list[LogRows] = []
    crs = "EPSG:4326"
    if path.suffix.lower() == ".zip" and _holds_tables(path):
        with open_archive(path, kind) as folder:
            files = files_below(folder, log)
            exact = _exact(files, log)
            if exact is None:
                tables = _archive_tables(folder, files, kind, log, asked)
            else:
                log.keep(_items(exact))
    elif inspect_file(path, kind, POINT_FORMS).form == "table":
        text = table_text(path, kind, log)
        tables = _text_tables(text, path.stem, "row", log, asked)
    else:
        tables, log, crs = _point_tables(path, kind, asked)
    book = exact if exact is not None else _book(tables, log, asked)
    return _finished(book, log, kind, asked, crs)


def read_log_pasted(path: Path, kind: str, asked: Asked) -> LogReading:
    """Read a log from text that somebody pasted, as `read_log` does from a file; places are lines of the text."""
    log = IssueLog("pasted text", kind)
    text = table_text(path, kind, log)
    tables = _text_tables(text, "", "line", log, asked)
    return _finished(_book(tables, log, asked), log, kind, asked, "EPSG:4326")


def spoken(book: LogBook) -> str:
    """Return what a book holds, in words (`12 holes with 40 layers, 60 bars`)."""
    parts = []
    for name, (one, many) in _SPOKEN.items():
        items = getattr(book, name)
        if items:
            parts.append(f"{len(items)} {one if len(items) == 1 else many}")
        if items and name == "holes" and (layers := sum(len(hole.layers) for hole in book.holes)):
            parts[-1] += f" with {layers} layer{'' if layers == 1 else 's'}"
    return ", ".join(parts) or "nothing"


def _finished(book: LogBook, log: IssueLog, kind: str, asked: Asked, crs: str) -> LogReading:
    if asked.bounds is not None:
        places: list[Hole | Sample] = [*book.holes, *book.samples]
        outside = [_named(one) for one in places if not asked.bounds.contains(one.lon, one.lat)]
        if outside:
            action = f"Kept: {len(outside)} of {len(places)} lie outside the ground."
            problem = (", ".join(outside[:8]), "places on your ground", action)
            log.note(Issue("note", log.file, "whole file", "position", *problem))
    known = asked.known.specimens | {s.sample_id for s in book.samples} | {b.batch_id for b in book.batches}
    made: list[Bar | BenchTest] = [*book.bars, *book.tests]
    unknown = list(dict.fromkeys(one.specimen for one in made if one.specimen not in known))
    if unknown:
        action = "Kept; add the sample or batch, or mend the name, so that bars and tests find their clay."
        problem = (", ".join(unknown[:8]), "a sample or a batch that is on record", action)
        log.note(Issue("warning", log.file, "whole file", "specimen", *problem))
    log.add_up()
    if not book:
        refuse_file(log, "no row that can be used", "at least one that can", "See the problems.")
    counts = {"read": log.read, "kept": log.kept, "repaired": log.repaired, "refused": log.refused}
    notes = (f"Read {spoken(book)}.",)
    return LogReading(book, log, LayerSource(kind, log.file, "", crs=crs, counts=counts, notes=notes))


def _named(one: Hole | Sample) -> str:
    return one.sample_id if isinstance(one, Sample) else one.hole_id


def _items(book: LogBook) -> int:
    return sum(len(getattr(book, name)) for name in _SPOKEN)


def _holds_tables(path: Path) -> bool:
    names = [name.lower() for name in member_names(path)]
    others = (".shp", ".gdbtable", *_POINT_ENDINGS)
    return any(name.endswith(TABLE_ENDINGS) for name in names) and not any(n.endswith(others) for n in names)


def _exact(files: list[Path], log: IssueLog) -> LogBook | None:
    """Return what an export of ours holds; one that was changed so that it does not hang together is refused whole."""
    try:
        book = read_exact(files)
    except NotAsWritten as error:
        action = (
            f"Nothing of the archive was read. Mend it there, or take {README} out of the archive to have its tables "
            "read as anybody's."
        )
        for wrong in error.wrong:
            place = plain(wrong.place, 80)
            log.note(
                Issue("error", log.file, place, wrong.field, plain(wrong.value, 200), wrong.expected, action)
            )
        raise InputRefused(log.issues[-len(error.wrong)].sentence(), log) from None
    others = sorted(plain(file.name, 60) for file in files if file.name not in (README, *TABLES))
    if book is not None and others:
        log.note(Issue("note", log.file, "whole file", "", ", ".join(others[:8]), "tables", "Passed over."))
    return book


def _archive_tables(folder: Path, files: list[Path], kind: str, log: IssueLog, asked: Asked) -> list[LogRows]:
    tables: list[LogRows] = []
    passed = []
    for file in sorted(files):
        if file.suffix.lower() not in TABLE_ENDINGS or file.name == README:
            passed.append(file.name)
            continue
        place = file.relative_to(folder).as_posix()
        inspect_member(file, log, ("table",))
        noun = f"{plain(place, 80)}, row"
        apart = IssueLog(log.file, kind)
        try:
            split_tables(table_text(file, kind, apart), apart, title=file.stem, usual=asked.usual)
        except InputRefused as refused:
            # One table that is none of a log does not keep the others out.
            problems = [issue for issue in apart.issues if issue.severity == "error"] or [
                Issue("error", log.file, "", "", file.name, "a table of a log", str(refused))
            ]
            log.refuse(*(replace(issue, place=f"member {plain(place, 80)}") for issue in problems))
            continue
        tables += _text_tables(table_text(file, kind, log), file.stem, noun, log, asked)
    if passed and not (len(passed) == 1 and passed[0] == README):
        found = ", ".join(plain(name, 60) for name in passed[:8])
        log.note(Issue("note", log.file, "whole file", "", found, "tables", "Passed over."))
    return tables


def _text_tables(text: str, title: str, noun: str, log: IssueLog, asked: Asked) -> list[LogRows]:
    pieces = split_tables(text, log, title=title, usual=asked.usual)
    found = []
    for number, piece in enumerate(pieces, 1):
        called = noun if len(pieces) == 1 or noun != "row" else f"table {number}, row"
        table = _piece_table(piece, called, log, asked)
        found.append(table)
    return found


def _piece_table(piece: Piece, noun: str, log: IssueLog, asked: Asked) -> LogRows:
    tally = Tally(log, noun)
    for line in piece.table.shifted:
        action = "Left out: which value is which cannot be told. Put quotes around what holds a comma."
        tally.refuse(line, "", "more cells than headings", "one cell for each heading", action)
    for line in piece.table.odd - piece.table.shifted:
        action = "The cells beyond the last heading were left out."
        tally.repair(line, "", "more cells than headings", "one cell for each heading", action)
    table = log_rows(
        piece.title,
        piece.table.columns,
        piece.table.rows,
        tally,
        usual=asked.usual,
        mapping=_checked(asked.mapping, piece.table.columns, log),
    )
    if table is None:
        action = "Say which column it is: --map hole_id=COLUMN"
        refuse_file(log, ", ".join(piece.table.columns[:40]), "the headings of a log", action, place="row 1")
    return table


def _checked(mapping: Mapping[str, str], columns: list[str], log: IssueLog) -> Mapping[str, str]:
    for name, column in mapping.items():
        if name != "layer" and column.lower() not in (heading.lower() for heading in columns):
            action = f"Mend --map {name}=COLUMN."
            refuse_file(log, column, f"one of the columns {', '.join(columns[:40])}", action, field=name)
    return mapping


def _point_tables(path: Path, kind: str, asked: Asked) -> tuple[list[LogRows], IssueLog, str]:
    """Return the tables of waypoints or a point layer: places that say they are holes, their layers, and the others."""
    rows = read_point_rows(path, "samples", crs=asked.crs, mapping=asked.mapping, bounds=asked.bounds)
    rows.tally.log.kind = kind
    headings = list(dict.fromkeys(name for _, cells in rows.rows for name in cells))
    told = path.suffix.lower() not in (".gpx", ".kml", ".kmz")
    kind_of_all = which_table(headings, "", asked.usual)[0] if told else ""
    parts: dict[str, list[tuple[int, Cells]]] = {}
    layers: list[Cells] = []
    for item, cells in rows.rows:
        note, within = ("", []) if told or rows.tally.is_refused(item) else _layers_in(cells)
        layers += within
        part = "holes" if within else kind_of_all or _kind_of_point(cells, asked.usual)
        kept = {name: text for name, text in cells.items() if name != note}
        parts.setdefault(part, []).append((item, kept))
    tables = []
    for part, members in parts.items():
        table = log_rows(path.stem, headings, members, rows.tally, usual=asked.usual, kind=part)
        assert table is not None
        table.spots = {item: spot for item, spot in rows.spots.items() if item in dict(members)}
        table.placed = True
        table.crs = rows.crs
        tables.append(table)
    if layers:
        names = list(dict.fromkeys(name for cells in layers for name in cells))
        tally = Tally(rows.tally.log, "layer in a note, number")
        table = log_rows("layers", names, list(enumerate(layers, 1)), tally, usual=asked.usual, kind="layers")
        assert table is not None
        tables.append(table)
    return tables, rows.tally.log, rows.crs


def _layers_in(cells: Cells) -> tuple[str, list[Cells]]:
    """Return which note of a waypoint with a name tells of layers, and those, each with the name of its hole."""
    name = cells.get("name", "")
    for note in _NOTES if name else ():
        if layers := layers_in_note(cells.get(note, "")):
            return note, [{"hole": name, **layer} for layer in layers]
    return "", []


def _kind_of_point(cells: Cells, usual: str) -> str:
    said = " ".join(cells.get(name, "") for name in ("type", "sym", "kind"))
    named = re.match(r"(hole|auger|bore|pit|face)\b", cells.get("name", ""), re.IGNORECASE)
    return "holes" if usual == "holes" or named or _HOLE_WORD.search(said) else "samples"


def _book(tables: list[LogRows], log: IssueLog, asked: Asked) -> LogBook:
    """Put the tables together: holes first, as samples may take their place, then what was made of the clay."""
    points = {id(table): _placed(table, asked) for table in tables}
    holes, bench = HoleRows(asked.today), BenchRows(asked.today)
    for kind in ("holes", "layers"):
        for table in tables:
            if table.kind == kind:
                holes.take(table)
    sampled = _sampled_places(tables, points)
    found = holes.finish({**sampled, **asked.known.places})
    places = {**sampled, **asked.known.places, **{hole.hole_id: (hole.lon, hole.lat) for hole in found}}
    samples: list[Sample] = []
    for table in tables:
        if table.kind == "samples":
            samples += _samples(table, points[id(table)], places, bench, asked.today)
    for kind in ("bars", "tests", "batches"):
        for table in tables:
            if table.kind == kind:
                bench.take(table)
    for tally in dict.fromkeys(table.tally for table in tables):
        items = [item for table in tables if table.tally is tally for item, _ in table.rows]
        tally.settle(sorted(items))
    return LogBook(
        found,
        _by_name(samples, log),
        tuple(bench.bars.values()),
        tuple(bench.tests.values()),
        tuple(bench.batches.values()),
    )


def _by_name(samples: list[Sample], log: IssueLog) -> tuple[Sample, ...]:
    """Return samples of several tables, each name once."""
    kept: dict[str, Sample] = {}
    for sample in samples:
        name, number = sample.sample_id, 2
        while name in kept and kept[name] != replace(sample, sample_id=name):
            name, number = f"{sample.sample_id}-{number}", number + 1
        if name != sample.sample_id:
            problem = (
                sample.sample_id,
                "each name once",
                f"The name is taken in another table; called {name}.",
            )
            log.note(Issue("warning", log.file, f"sample {sample.sample_id}", "sample_id", *problem))
        kept[name] = replace(sample, sample_id=name)
    return tuple(kept.values())


def _placed(table: LogRows, asked: Asked) -> PointRows:
    """Return a table's rows as places; rows without a position of their own are left for later."""
    columns: dict[str, Groups] = {
        column.field: ((column.heading,),) for column in table.columns if column.table in ("samples", "place")
    }
    points = PointRows(table.rows, columns, table.tally, spots=dict(table.spots))
    if not table.placed and table.kind in ("holes", "layers", "samples"):
        texts = [points.text(cells, name) for _, cells in table.rows[:500] for name in POSITION_FIELDS]
        points.decimal_comma = any("," in text for text in texts) and not any("." in text for text in texts)
        place_rows(points, asked.crs, asked.bounds, every=False)
        points.decimal_comma = points.decimal_comma or table.decimal_comma
        table.spots = points.spots
        table.crs = points.crs
        for note in points.notes:
            table.tally.note("", note, "a decimal point", note)
    return points


def _sampled_places(tables: list[LogRows], points: Mapping[int, PointRows]) -> dict[str, Place]:
    places: dict[str, Place] = {}
    for table in tables:
        if table.kind != "samples":
            continue
        rows = points[id(table)]
        for item, cells in table.rows:
            hole = plain(rows.text(cells, "hole_id"), 80)
            spot = rows.spots.get(item)
            if hole and spot is not None:
                places.setdefault(hole, (spot.lon, spot.lat))
    return places


def _samples(
    table: LogRows, points: PointRows, places: Mapping[str, Place], bench: BenchRows, today: str
) -> list[Sample]:
    borrowed = 0
    for item, cells in points.rows:
        if item in points.spots or points.tally.is_refused(item):
            continue
        hole = plain(points.text(cells, "hole_id"), 80)
        if hole in places:
            points.spots[item] = Spot(*places[hole])
            borrowed += 1
            continue
        action = "Left out: give it a longitude and latitude, or the name of a hole that has a position."
        points.tally.refuse(item, "position", hole, "a position, or a hole that has one", action)
    if borrowed:
        action = "Took the position of the hole that the sample names."
        points.tally.note("position", f"{borrowed} without one", "a position for each sample", action)
    beside = [column for column in table.columns if column.table not in ("samples", "place")]
    apart = {column.heading for column in beside}
    whole = dict(points.rows)
    points.rows = [
        (item, {heading: text for heading, text in cells.items() if heading not in apart})
        for item, cells in points.rows
    ]
    samples = []
    for item, sample in samples_by_item(points, today).items():
        left = bench.take_beside(table, item, whole[item], sample.sample_id, sample.date) if beside else {}
        samples.append(replace(sample, fields={**sample.fields, **left}) if left else sample)
    return samples

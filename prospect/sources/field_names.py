"""Finds which columns of a file hold which field of ours, from a data file of names and the user's own mapping."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import field
from functools import cache

import numpy as np
import pandas as pd
from pydantic.dataclasses import dataclass

from prospect.definitions import STRICT, layers_folder, read_definition
from prospect.guard.refusal import refuse_file
from prospect.issues import Issue, IssueLog

Groups = tuple[tuple[str, ...], ...]
"""Columns of a field: the first group with any text in a row gives its value; one group's columns are joined."""

_UNIT_AT_END = re.compile(r"[\s_(\[]+(mm|cm|m|in|inch|inches|ft|feet)[)\]]?\s*$", re.IGNORECASE)


@dataclass(frozen=True, config=STRICT)
class Phrases:
    """A kind of ours and the words that stand for it."""

    kind: str
    words: tuple[str, ...]


@dataclass(frozen=True, config=STRICT)
class LayerFields:
    """Names that one kind of layer goes by.

    Attributes
    ----------
    layers
        Names of layers inside a file, the best first.
    shapes
        Sorts of geometry that belong into the layer.
    one_of
        Fields of which at least one must be found.
    fields
        Columns of each field.
    codes
        Exact value → our word.
    phrases
        Words inside a value → our word, the first that fits.
    side_table
        Kind of a table without shapes that is read along when the file has one.
    all_columns
        Whether columns of no field are wanted, too.
    """

    layers: tuple[str, ...]
    fields: dict[str, Groups]
    shapes: tuple[str, ...] = ()
    one_of: tuple[str, ...] = ()
    codes: dict[str, str] = field(default_factory=dict)
    phrases: tuple[Phrases, ...] = ()
    side_table: str = ""
    all_columns: bool = False


@dataclass(frozen=True, config=STRICT)
class NullWords:
    """What other files write for nothing."""

    words: tuple[str, ...]
    prefixes: tuple[str, ...]


@dataclass(frozen=True, config=STRICT)
class FieldNames:
    """The whole file of names."""

    null: NullWords
    words: dict[str, tuple[str, ...]]
    geology: LayerFields
    legend: LayerFields
    structures: LayerFields
    water: LayerFields
    wetlands: LayerFields
    roads: LayerFields
    keepouts: LayerFields
    outline: LayerFields
    leads: LayerFields
    faces: LayerFields
    parcels: LayerFields
    samples: LayerFields

    def of(self, kind: str) -> LayerFields:
        """Return the names of one kind of layer; holes are samples."""
        found: LayerFields = getattr(self, "samples" if kind == "holes" else kind)
        return found


@cache
def field_names() -> FieldNames:
    """Return the names that travel with the program."""
    return read_definition(layers_folder() / "vocabularies" / "field_names.toml", FieldNames)


def find_columns(
    kind: str, columns: Iterable[str], mapping: Mapping[str, str], log: IssueLog
) -> dict[str, Groups]:
    """Return the file's own column names for every field that was found.

    Parameters
    ----------
    kind
        Kind of layer.
    columns
        Columns of the file.
    mapping
        What the user says: field → column, or several joined by `+`. It replaces what would be guessed.
    log
        Where refusals go.

    Raises
    ------
    InputRefused
        When the mapping names a field or column that is not there, or nothing needed is found.
    """
    rules = field_names().of(kind)
    real = list(columns)
    found: dict[str, Groups] = {}
    for name, groups in rules.fields.items():
        present = tuple(
            here for group in groups if (here := tuple(filter(None, (_match(c, real) for c in group))))
        )
        if present:
            found[name] = present
    said = _said(rules, real, mapping, log)
    found.update(said)
    if rules.one_of and not any(name in found for name in rules.one_of):
        wanted = " or ".join(rules.one_of)
        refuse_file(
            log,
            f"the columns {_listed(real)}",
            f"a column for {wanted}",
            f"Say which column it is: --map {rules.one_of[-1]}=COLUMN",
        )
    # A column that the user gave to one field is not also guessed for another.
    taken = {column for groups in said.values() for group in groups for column in group}
    return {
        name: groups
        for name, groups in found.items()
        if name in said or not all(column in taken for group in groups for column in group)
    }


def text_column(frame: pd.DataFrame, groups: Groups, joiner: str = ", ") -> pd.Series:
    """Return one text for each row of a frame, empty where no column has any."""
    result = pd.Series("", index=frame.index, dtype=object)
    for group in groups:
        texts = [as_text(frame[column]) for column in group]
        if len(texts) == 1:
            joined = texts[0]
        else:
            joined = pd.Series(
                [joiner.join(dict.fromkeys(filter(None, row))) for row in zip(*texts, strict=True)],
                index=frame.index,
                dtype=object,
            )
        result = result.where(result != "", joined)
    return result


def as_text(column: pd.Series) -> pd.Series:
    """Return a column as text: whole numbers without a decimal point, what stands for nothing as empty."""
    null = field_names().null
    # Lists and objects, as GeoJSON may hold.
    column = column.map(lambda value: value if np.isscalar(value) or value is None else _written_out(value))

    def one(value: object) -> str:
        if value is None or (isinstance(value, float) and value != value):
            return ""
        if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
            return str(int(value))
        text = "" if value is pd.NaT or value is pd.NA else " ".join(str(value).split())
        nothing = text.lower() in null.words or text.startswith(null.prefixes)
        return "" if nothing else text

    known = {value: one(value) for value in column.drop_duplicates() if _hashable(value)}
    return column.map(lambda value: known[value] if value in known else one(value)).astype(object)


def _written_out(value: object) -> object:
    if isinstance(value, np.ndarray):
        value = value.tolist()
    if isinstance(value, list) and all(isinstance(part, (str, int, float)) for part in value):
        return ", ".join(str(part) for part in value)
    return json.dumps(value, ensure_ascii=False) if isinstance(value, (list, dict)) else value


def same_name(ours: str, theirs: str) -> bool:
    """Whether a column of a file goes by one of our names."""
    last = theirs.rsplit(".", 1)[-1]
    plain, wanted = _bare(last), _bare(ours)
    cut = len(last) == 10 and len(ours) > 10 and plain == _bare(ours[:10])
    return cut or wanted in (plain, _bare(_UNIT_AT_END.sub("", last)))


def _said(
    rules: LayerFields, real: list[str], mapping: Mapping[str, str], log: IssueLog
) -> dict[str, Groups]:
    said: dict[str, Groups] = {}
    for name, column in mapping.items():
        if name == "layer":
            continue
        if name not in rules.fields:
            refuse_file(log, name, f"one of the fields {', '.join(rules.fields)}", "Mend --map.", field=name)
        wanted = [column] if _exact(column, real) else column.split("+")
        group = tuple(_exact(part.strip(), real) for part in wanted)
        if not all(group):
            action = f"Mend --map {name}=COLUMN."
            refuse_file(log, column, f"one of the columns {_listed(real)}", action, field=name)
        said[name] = (group,)
    return said


def fields_sentence(found: Mapping[str, Groups]) -> str:
    """Return a sentence that says which columns were taken for what."""
    pairs = [
        f"{name} from {' or '.join(' + '.join(group) for group in groups)}" for name, groups in found.items()
    ]
    return f"Read {', '.join(pairs)}." if pairs else ""


def nothing_said(
    log: IssueLog, field: str, count: int, action: str = "Kept; what it is stays unknown there."
) -> None:
    """Note that items have no text for a field."""
    if count:
        log.note(
            Issue(
                "note",
                log.file,
                f"{count} item(s)",
                field,
                "",
                "text",
                action,
            )
        )


def _match(ours: str, real: list[str]) -> str:
    return next((theirs for theirs in real if same_name(ours, theirs)), "")


def _exact(given: str, real: list[str]) -> str:
    if given in real:
        return given
    lower = [column for column in real if column.lower() == given.lower()]
    return lower[0] if lower else ""


def _bare(name: str) -> str:
    return re.sub(r"[^0-9a-z]", "", name.lower()) or name.lower()


def _listed(columns: list[str], most: int = 40) -> str:
    shown = ", ".join(columns[:most])
    return f"{shown} and {len(columns) - most} more" if len(columns) > most else shown or "(none)"


def _hashable(value: object) -> bool:
    return isinstance(value, (str, int, float)) and value == value

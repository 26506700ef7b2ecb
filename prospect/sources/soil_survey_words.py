"""The published table layouts, ranges and words of soil survey exports, read from their data file."""

from __future__ import annotations

from functools import lru_cache

from pydantic.dataclasses import dataclass

from prospect.definitions import STRICT, layers_folder, read_definition


@dataclass(frozen=True, config=STRICT)
class TableLayout:
    """Where a table is and which columns it has, in order.

    Attributes
    ----------
    file
        Name of the text file, without its ending.
    columns
        Column names parted by blanks; `x_lrh` stands for `x_l x_r x_h`.
    """

    file: str
    columns: str

    def names(self) -> tuple[str, ...]:
        """Return the column names in order, written out."""
        return tuple(
            name
            for word in self.columns.split()
            for name in ((word[:-3] + end for end in "lrh") if word.endswith("_lrh") else (word,))
        )


@dataclass(frozen=True, config=STRICT)
class Words:
    """The words, all in lower case, that carry meaning for clay."""

    clayey_families: frozenset[str]
    mineralogies: frozenset[str]
    old_mineralogies: dict[str, str]
    lithic: frozenset[str]
    paralithic: frozenset[str]
    flooding: tuple[str, ...]
    wet: frozenset[str]
    lime_fragments: tuple[str, ...]
    parent_kinds: tuple[str, ...]


@dataclass(frozen=True, config=STRICT)
class Publisher:
    """Who publishes the surveys, and under which licence."""

    licence: str
    attribution: str


@dataclass(frozen=True, config=STRICT)
class SoilWords:
    """The whole data file."""

    source: Publisher
    words: Words
    ranges: dict[str, tuple[float, float]]
    tables: dict[str, TableLayout]


@lru_cache(maxsize=1)
def soil_words() -> SoilWords:
    """Return the published layouts, ranges and words.

    Raises
    ------
    DefinitionError
        When the data file was damaged.
    """
    return read_definition(layers_folder() / "vocabularies" / "soil_words.toml", SoilWords)

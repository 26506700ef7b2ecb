"""The table of a map's units: what each was read as, what it weathers to, and what its wording says beside."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pandas as pd

from prospect.rock.corrections import read_rocks
from prospect.rock.evidence import (
    ages_of,
    contaminants_by_words,
    evidence_names,
    evidence_of,
    felsic_by_words,
    names_asbestos,
)
from prospect.rock.fitness import Fitness, parent_rocks, roll_up
from prospect.rock.lexicon import lexicon
from prospect.rock.mix import RockMix, coded
from prospect.rock.wording import parse_rock

WORDED = ("unit", "name", "age", "description", "rocks", "confidence")
READ_FROM = ("rocks", "description", "name")
READ_FROM_UNSURE = ("description", "name", "rocks")
UNSURE = ("low", "questionable")
ENOUGH_KNOWN = 0.5
COLUMNS = (
    "unit", "name", "age", "description", "rocks", "read_as", "unread", "residual_fitness", "downstream_share",
    "known_share", "fired_colour", "contaminants", "carbonate_fraction", "mafic_fraction", "felsic_fraction",
    "asbestos_flag", "anthropogenic", "gates", "hazards", "confidence", "read_from", "note",
)  # fmt: skip


def unit_table(frame: pd.DataFrame, corrections: Mapping[str, str] | None = None) -> pd.DataFrame:
    """Return one row for each distinct unit of a geologic map, in the order in which the units first appear.

    Parameters
    ----------
    frame
        Polygons in normal form: `unit, name, age, description, rocks, confidence`; columns that are missing
        count as empty, and `rocks` may be text or a list. Where polygons of one unit carry different words, the
        first that are not empty are read.
    corrections
        A person's own reading by unit, `term:fraction,term:fraction`; it stands above the map's words.

    Returns
    -------
    pandas.DataFrame
        `rocks` in coded form, `read_as` in plain words, `unread` a list of words; `residual_fitness` (R),
        `downstream_share` (P), `known_share`, `carbonate_fraction`, `mafic_fraction`, `felsic_fraction` 0..1 with NaN
        where unknown; `fired_colour` letters of L, B, R, D; `contaminants`, `gates` and `hazards` joined with `; `;
        `read_from` the column read, or `correction`; and the columns of `evidence_names`, 0..1, NaN where nothing of
        the unit can be read.

    Raises
    ------
    WrongUsage
        When a correction is not of the coded form.
    """
    given = corrections or {}
    rows = [_unit_row(words, given.get(words["unit"])) for words in _distinct_units(frame)]
    table = pd.DataFrame(rows, columns=[*COLUMNS, *evidence_names()])
    numbers = ["residual_fitness", "downstream_share", "known_share", *evidence_names()]
    numbers += [column for column in COLUMNS if column.endswith("_fraction")]
    return table.astype(dict.fromkeys(numbers, "float64")).astype(
        {"asbestos_flag": "bool", "anthropogenic": "bool"}
    )


def describe(mix: RockMix) -> str:
    """Return what a mix was read as, in words for people."""
    parts = [f"{lexicon().label(term)} {_percent(fraction)}" for term, fraction in mix.terms]
    words = "read as " + ", ".join(parts) if parts else "nothing could be read"
    if mix.unread:
        words += "; not read: " + ", ".join(f"'{_short(word)}'" for word in mix.unread)
    return f"{words} ({mix.note})" if mix.note else words


def _distinct_units(frame: pd.DataFrame) -> list[dict[str, str]]:
    words = {
        column: [_text(value) for value in frame[column]] if column in frame else [""] * len(frame)
        for column in WORDED
    }
    units: dict[str, dict[str, str]] = {}
    differing: dict[str, set[str]] = {}
    for at, key in enumerate(words["unit"]):
        row = units.setdefault(key, {**dict.fromkeys(WORDED, ""), "unit": key})
        for column in WORDED:
            value = words[column][at]
            if not row[column]:
                row[column] = value
            elif value and value != row[column] and column in READ_FROM:
                differing.setdefault(key, set()).add(column)
    return [{**row, "differing": ", ".join(sorted(differing.get(key, ())))} for key, row in units.items()]


def _unit_row(words: dict[str, str], correction: str | None) -> dict[str, object]:
    mix, read_from = (read_rocks(correction), "correction") if correction else _best_reading(words)
    wordings = tuple(words[column] for column in ("rocks", "name", "description"))
    ages = _ages(words)
    fitness = roll_up(mix, felsic_by_words=felsic_by_words(wordings))
    contaminants = (*fitness.contaminants, *contaminants_by_words(wordings))
    note = mix.note
    if words["differing"]:
        note = f"{note}; " if note else ""
        note += f"polygons of this unit differ in {words['differing']}; the first was read"
    return {
        **{column: words[column] for column in ("unit", "name", "age", "description", "confidence")},
        **_fitness_columns(fitness),
        "rocks": coded(mix),
        "read_as": describe(replace(mix, note="")).removeprefix("read as "),
        "unread": list(mix.unread),
        "contaminants": "; ".join(dict.fromkeys(contaminants)),
        "asbestos_flag": fitness.asbestos or names_asbestos(wordings),
        "read_from": read_from,
        "note": note,
        **evidence_of(mix, wordings, ages),
    }


def _fitness_columns(fitness: Fitness) -> dict[str, object]:
    return {
        "residual_fitness": fitness.residual_fitness,
        "downstream_share": fitness.downstream_share,
        "known_share": fitness.known_share,
        "fired_colour": fitness.fired_colour,
        "carbonate_fraction": fitness.carbonate,
        "mafic_fraction": fitness.mafic,
        "felsic_fraction": fitness.felsic,
        "anthropogenic": fitness.anthropogenic,
        "gates": "; ".join(fitness.gates),
        "hazards": "; ".join(fitness.hazards),
    }


def _best_reading(words: dict[str, str]) -> tuple[RockMix, str]:
    """Return the first column's reading that says enough; a mere class gives way to rocks named further on."""
    readings: list[tuple[float, RockMix, str]] = []
    # A map that doubts its own class of material is better read from its words.
    unsure = words["confidence"].lower().startswith(UNSURE)
    for column in READ_FROM_UNSURE if unsure else READ_FROM:
        if words[column]:
            mix = parse_rock(words[column])
            known = roll_up(mix).known_share
            if known >= ENOUGH_KNOWN and not _is_only_a_class(mix):
                return mix, column
            readings.append((known, mix, column))
    if not readings:
        return RockMix(), ""
    _, mix, column = max(readings, key=lambda reading: (reading[0], bool(reading[1].terms)))
    return mix, column


def _is_only_a_class(mix: RockMix) -> bool:
    broad = lexicon().classes | parent_rocks().umbrella
    return all(term in broad for term, _ in mix.terms)


def _ages(words: dict[str, str]) -> frozenset[str]:
    for column in ("age", "name", "description"):
        if found := ages_of(words[column]):
            return found
    return frozenset()


def _text(value: Any) -> str:
    if isinstance(value, list | tuple):
        return ",".join(str(part).strip() for part in value)
    return "" if pd.isna(value) else str(value).strip()


def _percent(fraction: float) -> str:
    percent = 100.0 * fraction
    return f"{percent:.0f} %" if percent >= 1 or percent == 0 else "under 1 %"


def _short(words: str, most: int = 60) -> str:
    return words if len(words) <= most else words[: most - 1] + "…"

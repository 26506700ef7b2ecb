"""What a soil survey says around the horizons: restrictions, parent material, landform, wetness, mineralogy."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from prospect.sources.soil_survey_tables import SurveyTable
from prospect.sources.soil_survey_words import soil_words

ByComponent = Mapping[str, Mapping[str, object]]


def restrictions(table: SurveyTable | None, cokeys: frozenset[str]) -> ByComponent:
    """Return `restriction_kind, restriction_depth_cm` of the shallowest one, and the depths to bedrock."""
    if table is None:
        return {}
    kinds, depths = table.lower("reskind"), table.numbers("resdept_r")
    words = soil_words().words
    found: dict[str, dict[str, object]] = {}
    for cokey, rows in _rows_by_owner(table, "cokey", cokeys, "a component of the export").items():
        # A restriction of unknown depth comes last, so that one with a depth names the component.
        first = min(rows, key=lambda row: (np.isnan(depths[row]), np.nan_to_num(depths[row]), row))
        values: dict[str, object] = {
            "restriction_kind": kinds[first],
            "restriction_depth_cm": float(depths[first]),
        }
        for column, names in (("lithic_depth_cm", words.lithic), ("paralithic_depth_cm", words.paralithic)):
            of_kind = [depths[row] for row in rows if kinds[row] in names and not np.isnan(depths[row])]
            if of_kind:
                values[column] = float(min(of_kind))
        found[cokey] = values
    return found


def parent_materials(
    groups: SurveyTable | None, parts: SurveyTable | None, cokeys: frozenset[str]
) -> ByComponent:
    """Return `parent_material` (text) and `parent_kinds` (lower-case words joined by ';', top first)."""
    if groups is None:
        return {}
    chosen = _representative(groups, _rows_by_owner(groups, "cokey", cokeys, "a component of the export"))
    names, keys = groups.text("pmgroupname"), groups.text("copmgrpkey")
    members = _rows_by_owner(parts, "copmgrpkey", frozenset(keys), "a parent material group") if parts else {}
    order = parts.numbers("pmorder") if parts else np.zeros(0)
    found: dict[str, dict[str, object]] = {}
    for cokey, rows in chosen.items():
        texts: list[str] = []
        kinds: list[str] = []
        for row in rows:
            listed = sorted(
                members.get(keys[row], ()),
                key=lambda part: (np.isnan(order[part]), np.nan_to_num(order[part]), part),
            )
            own = [parts.lower("pmkind")[part] for part in listed] if parts else []
            texts.append(names[row] or (_written_out(parts, listed) if parts else ""))
            kinds.extend([kind for kind in own if kind] or _kinds_in(texts[-1]))
        found[cokey] = {
            "parent_material": "; ".join(_once(texts)),
            "parent_kinds": ";".join(_once(kinds)),
        }
    return found


def landforms(table: SurveyTable | None, cokeys: frozenset[str]) -> ByComponent:
    """Return `landform`: forms parted by '; ', then 'on' and the landscapes, in lower case."""
    if table is None:
        return {}
    chosen = _representative(table, _rows_by_owner(table, "cokey", cokeys, "a component of the export"))
    types, names = table.lower("geomftname"), table.lower("geomfname")
    found: dict[str, dict[str, object]] = {}
    for cokey, rows in chosen.items():
        forms = "; ".join(_once(names[row] for row in rows if types[row] != "landscape"))
        ground = "; ".join(_once(names[row] for row in rows if types[row] == "landscape"))
        text = " on ".join(part for part in (forms, ground) if part)
        if text:
            found[cokey] = {"landform": text}
    return found


def wetness(months: SurveyTable | None, moisture: SurveyTable | None, cokeys: frozenset[str]) -> ByComponent:
    """Return `flooding` of the worst month, and `water_table_cm`, the shallowest wet depth of the year."""
    if months is None:
        return {}
    scale = {word: rank for rank, word in enumerate(soil_words().words.flooding)}
    classes, keys = months.lower("flodfreqcl"), months.text("comonthkey")
    by_component = _rows_by_owner(months, "cokey", cokeys, "a component of the export")
    wet = _wet_depths(moisture, frozenset(keys))
    found: dict[str, dict[str, object]] = {}
    for row in (row for rows in by_component.values() for row in rows):
        if classes[row] and classes[row] not in scale:
            months.mend(row, "flodfreqcl", classes[row], "a flooding class", "Taken as unknown.")
    for cokey, rows in by_component.items():
        known = [classes[row] for row in rows if classes[row] in scale]
        depths = [wet[keys[row]] for row in rows if keys[row] in wet]
        found[cokey] = {}
        if known:
            found[cokey]["flooding"] = max(known, key=scale.__getitem__)
        if depths:
            found[cokey]["water_table_cm"] = min(depths)
    return found


def family_mineralogies(
    table: SurveyTable, minerals: SurveyTable | None, cokeys: frozenset[str]
) -> list[str]:
    """Return the family mineralogy of each component row, '' where it does not speak of the clay.

    Parameters
    ----------
    table
        `component`, with the particle-size class and the full family name.
    minerals
        `cotaxfmmin`, or None: then the family name is read.
    cokeys
        Keys of the usable components.

    Notes
    -----
    Only families whose particle-size class is clayey are read; elsewhere the class describes coarser grains
    (Keys to Soil Taxonomy). In "clayey over loamy" families the mineralogy of the clayey part counts.
    """
    given: dict[str, list[str]] = defaultdict(list)
    if minerals is not None:
        words = minerals.lower("taxminalogy")
        owned = _rows_by_owner(minerals, "cokey", cokeys, "a component of the export")
        for cokey, rows in owned.items():
            given[cokey] = [words[row] for row in rows]
    sizes, names = table.lower("taxpartsize"), table.lower("taxclname")
    return [
        _mineralogy(sizes[row], names[row], given.get(cokey, []))
        for row, cokey in enumerate(table.text("cokey"))
    ]


def _mineralogy(size: str, family: str, given: Sequence[str]) -> str:
    words = soil_words().words
    phrases = [part.strip() for part in family.split(",")]
    sizes = (size or phrases[0]).split(" over ")
    clayey = [position for position, part in enumerate(sizes) if part.strip() in words.clayey_families]
    if not clayey:
        return ""
    # The family name holds the order of two mineralogies; the table's rows come in none.
    named = phrases[1].split(" over ") if len(phrases) > 1 else []
    listed = named if len(named) > 1 else list(given) or named
    word = ""
    if len(listed) == len(sizes):
        word = listed[clayey[0]]
    elif len(listed) == 1 and clayey[0] == 0:
        word = listed[0]
    word = words.old_mineralogies.get(word.strip(), word.strip())
    return word if word in words.mineralogies else ""


def _rows_by_owner(
    table: SurveyTable, column: str, owners: frozenset[str], expected: str
) -> dict[str, list[int]]:
    found: dict[str, list[int]] = defaultdict(list)
    for position, key in enumerate(table.text(column)):
        if key in owners:
            found[key].append(position)
        else:
            table.refuse(position, column, key, expected, "The line was left out.")
    return dict(found)


def _representative(table: SurveyTable, owned: Mapping[str, list[int]]) -> dict[str, list[int]]:
    """Return each owner's rows that are marked representative, or all of them where none is marked."""
    marks = table.lower("rvindicator")
    return {owner: [row for row in rows if marks[row] == "yes"] or rows for owner, rows in owned.items()}


def _written_out(parts: SurveyTable, rows: Sequence[int]) -> str:
    modifiers, kinds, origins = parts.lower("pmmodifier"), parts.lower("pmkind"), parts.lower("pmorigin")
    phrases = []
    for row in rows:
        phrase = " ".join(word for word in (modifiers[row], kinds[row]) if word)
        if origins[row]:
            phrase = f"{phrase} from {origins[row]}" if phrase else origins[row]
        phrases.append(phrase)
    return " over ".join(_once(phrases))


def _kinds_in(text: str) -> list[str]:
    """Return the kinds of parent material that a text names, in the order it names them."""
    rest = f" {text.lower()} "
    found: list[tuple[int, str]] = []
    for kind in sorted(soil_words().words.parent_kinds, key=len, reverse=True):
        at = rest.find(kind)
        if at > 0 and not rest[at - 1].isalpha() and not rest[at + len(kind)].isalpha():
            found.append((at, kind))
            rest = rest.replace(kind, " " * len(kind))
    return [kind for _, kind in sorted(found)]


def _wet_depths(moisture: SurveyTable | None, months: frozenset[str]) -> dict[str, float]:
    if moisture is None:
        return {}
    depths, states = moisture.numbers("soimoistdept_r"), moisture.lower("soimoiststat")
    found: dict[str, float] = {}
    for month, rows in _rows_by_owner(moisture, "comonthkey", months, "a month of a component").items():
        wet = [
            depths[row] for row in rows if states[row] in soil_words().words.wet and not np.isnan(depths[row])
        ]
        if wet:
            found[month] = float(min(wet))
    return found


def _once(words: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(word for word in words if word))

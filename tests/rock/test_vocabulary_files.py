"""The vocabulary files: every term known, every number with its reference."""

from __future__ import annotations

import csv
import tomllib
from typing import Any

import pytest

from prospect.definitions import layers_folder
from prospect.errors import DefinitionError
from prospect.rock import lithology, parent_rocks
from prospect.rock.lexicon import lexicon
from prospect.rock.vocabulary import Term, Vocabulary

FOLDER = layers_folder() / "vocabularies"


def toml(name: str) -> dict[str, Any]:
    return tomllib.loads((FOLDER / name).read_text(encoding="utf-8"))


def readings() -> list[tuple[str, str]]:
    words = toml("synonyms.toml")
    found = [item for table in ("whole", "words", "adjectives") for item in words[table].items()]
    return found + [("combination", combination["reads"]) for combination in words["combinations"]]


@pytest.mark.parametrize(("phrase", "reads"), readings())
def test_every_reading_names_known_terms_and_whole_shares(phrase: str, reads: str) -> None:
    parts = [part.partition(":") for part in reads.split(",")]
    assert all(term in lithology() for term, _, _ in parts)
    assert sum(float(fraction or 1) for _, _, fraction in parts) == pytest.approx(1.0)


def test_own_terms_have_an_official_parent_and_a_reason() -> None:
    with (FOLDER / "lithology.csv").open(encoding="utf-8") as lines:
        official = {row["term"] for row in csv.DictReader(lines)}
    with (FOLDER / "own_terms.csv").open(encoding="utf-8") as lines:
        for row in csv.DictReader(lines):
            assert row["term"] not in official
            assert set(row["broader"].split(";")) & official
            assert row["why"]


def test_every_number_says_where_it_is_from() -> None:
    def check(node: Any, covered: bool, path: str) -> None:
        if isinstance(node, dict):
            covered = covered or bool(node.get("reference"))
            for key, value in node.items():
                check(value, covered, f"{path}.{key}")
        elif isinstance(node, list):
            for at, value in enumerate(node):
                check(value, covered, f"{path}[{at}]")
        elif isinstance(node, (int, float)) and not isinstance(node, bool):
            assert covered, path

    for name in ("parent_rock.toml", "synonyms.toml", "unit_wording.toml"):
        check(toml(name), False, name)


def test_parent_rock_numbers_are_shares_and_colours_are_letters() -> None:
    for row in toml("parent_rock.toml")["rows"]:
        assert 0.0 <= row["residual_fitness"] <= 1.0
        assert 0.0 <= row["downstream_share"] <= 1.0
        assert set(row["fired_colour"]) <= set("LBRD")
    for rule in (rule for item in toml("unit_wording.toml")["evidence"] for rule in item["rules"]):
        assert 0.0 < rule["value"] <= 1.0


def test_no_term_has_two_rows() -> None:
    terms = [term for row in toml("parent_rock.toml")["rows"] for term in row["terms"]]
    assert len(terms) == len(set(terms))


def test_every_official_label_reads_as_its_own_term() -> None:
    from prospect.rock import parse_rock

    astray = {
        term.key: parse_rock(term.label).terms
        for term in lithology().terms.values()
        if parse_rock(term.key.replace("_", " ")).main != term.key
        and term.label not in toml("synonyms.toml")["words"]
    }
    # The whole wordings of map schemas say more than the bare term does.
    assert set(astray) <= {"clastic_sedimentary_rock", "unconsolidated_material"} | set(astray) & {
        key for key in lithology().terms if key.replace("_", " ") in toml("synonyms.toml")["words"]
    }


def test_labels_are_for_known_terms() -> None:
    assert set(lexicon().labels) <= set(lithology().terms)


def test_a_vocabulary_with_an_unknown_parent_is_refused() -> None:
    with pytest.raises(DefinitionError, match="nowhere"):
        Vocabulary({"clay": Term("clay", "clay", ("nowhere",))})


def test_nearest_terms() -> None:
    assert "granite" in lithology().nearest("granyte")
    assert "mica_schist" in lithology().nearest("mica shist")
    assert lithology().nearest("qqqq") == ()


def test_every_row_and_umbrella_is_a_term() -> None:
    assert set(parent_rocks().rows) <= set(lithology().terms)
    assert not set(parent_rocks().rows) & parent_rocks().umbrella

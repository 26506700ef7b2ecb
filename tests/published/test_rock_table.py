"""The parent-rock table against its reference values, and the terms against the open CGI vocabulary."""

from __future__ import annotations

import csv

import pytest

from prospect.definitions import layers_folder
from prospect.rock import lithology, parent_rocks

# Reference values of the parent-rock table. They have no outside source: own judgement throughout, set to agree with
# the saprolites of Loferski 1981 (USGS) and the residual kaolins of Sand 1956; a change must be made knowingly.
OWN_JUDGEMENT = [
    ("pegmatite", 0.95, 0.8, "L"),
    ("kaolinitic_altered_rock", 0.95, 0.9, "L"),
    ("argillic_altered_rock", 0.80, 0.7, "LB"),
    ("advanced_argillic_altered_rock", 0.60, 0.5, "L"),
    ("granite", 0.85, 0.8, "LB"),
    ("monzogranite", 0.85, 0.8, "LB"),
    ("alkali_feldspar_granite", 0.80, 0.8, "LB"),
    ("granodiorite", 0.85, 0.8, "B"),
    ("tonalite", 0.75, 0.7, "BR"),
    ("aplite", 0.80, 0.7, "L"),
    ("quartz_monzonite", 0.80, 0.7, "B"),
    ("monzonite", 0.65, 0.7, "B"),
    ("syenite", 0.80, 0.7, "LB"),
    ("trachyte", 0.70, 0.7, "LB"),
    ("anorthosite", 0.70, 0.6, "L"),
    ("rhyolite", 0.70, 0.7, "LB"),
    ("dacite", 0.70, 0.7, "B"),
    ("porphyry", 0.65, 0.6, "B"),
    ("acidic_igneous_rock", 0.78, 0.7, "LB"),
    ("andesite", 0.50, 0.6, "R"),
    ("diorite", 0.55, 0.6, "R"),
    ("quartz_diorite", 0.60, 0.6, "R"),
    ("basalt", 0.40, 0.5, "RD"),
    ("gabbro", 0.45, 0.5, "RD"),
    ("ash_tuff_lapillistone_and_lapilli_tuff", 0.65, 0.7, "LB"),
    ("tuffite", 0.70, 0.8, "LB"),
    ("tephra", 0.45, 0.5, "LR"),
    ("orthogneiss", 0.80, 0.8, "B"),
    ("metaplutonic_rock", 0.75, 0.8, "B"),
    ("gneiss", 0.75, 0.7, "BR"),
    ("paragneiss", 0.60, 0.6, "R"),
    ("migmatite", 0.65, 0.6, "R"),
    ("granulite", 0.55, 0.6, "R"),
    ("metavolcanic_rock", 0.60, 0.6, "BR"),
    ("phyllite", 0.50, 0.7, "R"),
    ("schist", 0.45, 0.5, "R"),
    ("slate", 0.35, 0.6, "R"),
    ("argillite", 0.50, 0.6, "R"),
    ("amphibolite", 0.40, 0.4, "D"),
    ("eclogite", 0.30, 0.4, "D"),
    ("hornfels", 0.25, 0.3, "R"),
    ("serpentinite", 0.05, 0.05, "D"),
    ("quartzite", 0.03, 0.02, ""),
    ("marble", 0.08, 0.05, ""),
    ("skarn", 0.10, 0.1, ""),
    ("greisen", 0.40, 0.4, "LB"),
    ("claystone", 0.90, 0.95, "BR"),
    ("shale", 0.75, 0.9, "R"),
    ("siltstone", 0.45, 0.5, "R"),
    ("organic_bearing_mudstone", 0.45, 0.6, "RD"),
    ("carbonate_rich_mudstone", 0.25, 0.3, "LB"),
    ("clastic_sandstone", 0.15, 0.2, "BR"),
    ("arenite", 0.05, 0.05, "BR"),
    ("wacke", 0.35, 0.4, "BR"),
    ("clastic_conglomerate", 0.05, 0.1, ""),
    ("limestone", 0.15, 0.1, "R"),
    ("impure_limestone", 0.30, 0.1, "R"),
    ("chalk", 0.05, 0.02, ""),
    ("coal", 0.05, 0.05, "LB"),
    ("rock_salt", 0.0, 0.0, ""),
    ("residual_material", 0.85, 0.8, ""),
    ("bauxite", 0.30, 0.3, ""),
    ("duricrust", 0.05, 0.3, ""),
    ("clay", 0.95, 0.95, ""),
    ("mud", 0.80, 0.9, ""),
    ("silt", 0.35, 0.4, ""),
    ("sand", 0.03, 0.05, ""),
    ("gravel", 0.0, 0.0, ""),
    ("clastic_sediment", 0.40, 0.5, ""),
    ("diamicton", 0.25, 0.4, ""),
    ("peat", 0.05, 0.0, ""),
    # rows for terms that are broader than the ones above
    ("syenitoid", 0.75, 0.7, "LB"),
    ("trachytoid", 0.65, 0.7, "LB"),
    ("latitic_rock", 0.60, 0.6, "B"),
    ("doleritic_rock", 0.42, 0.5, "RD"),
    ("tephritoid", 0.35, 0.4, "RD"),
    ("pyroclastic_rock", 0.60, 0.7, "LB"),
    ("glassy_igneous_rock", 0.35, 0.4, "LB"),
    ("phaneritic_igneous_rock", 0.65, 0.65, "B"),
    ("fine_grained_igneous_rock", 0.55, 0.6, "BR"),
    ("clastic_sedimentary_rock", 0.35, 0.5, "BR"),
    ("silicate_mud", 0.85, 0.9, ""),
    ("foliated_metamorphic_rock", 0.50, 0.5, "R"),
    ("metasomatic_rock", 0.40, 0.4, "B"),
]


@pytest.mark.parametrize(("term", "residual", "downstream", "colour"), OWN_JUDGEMENT)
def test_parent_rock_values(term: str, residual: float, downstream: float, colour: str) -> None:
    rock = parent_rocks().of(term)
    assert rock.residual_fitness == pytest.approx(residual)
    assert rock.downstream_share == pytest.approx(downstream)
    assert set(rock.fired_colour) == set(colour)


@pytest.mark.parametrize(
    "term",
    [
        "rock",
        "sediment",
        "sedimentary_rock",
        "igneous_rock",
        "metamorphic_rock",
        "compound_material",
        "unconsolidated_material",
    ],
)
def test_umbrella_terms_are_unknown(term: str) -> None:
    assert parent_rocks().of(term).residual_fitness is None


# CGI Simple Lithology, CGI-IUGS and OGC: number of terms, broader terms (a term may have two), the published spelling.
@pytest.mark.parametrize(
    ("term", "broader"),
    [
        ("granite", {"granitoid"}),
        ("granitoid", {"acidic_igneous_rock", "phaneritic_igneous_rock"}),
        ("basalt", {"basic_igneous_rock", "fine_grained_igneous_rock"}),
        ("clay", {"mud"}),
        ("mud", {"clastic_sediment", "mud_size_sediment"}),
        ("claystone", {"clastic_mudstone"}),
        ("shale", {"clastic_mudstone"}),
        ("clastic_mudstone", {"clastic_sedimentary_rock", "generic_mudstone"}),
        ("chalk", {"limestone"}),
        ("slate", {"foliated_metamorphic_rock"}),
        ("residual_material", {"material_formed_in_surficial_environment"}),
        ("diamicton", {"clastic_sediment"}),
        ("tuffite", {"rock"}),
        ("travertine", {"chemical_sedimentary_material", "limestone"}),
    ],
)
def test_broader_terms_of_the_open_vocabulary(term: str, broader: set[str]) -> None:
    assert set(lithology().terms[term].broader) == broader


def test_the_open_vocabulary_is_whole() -> None:
    with (layers_folder() / "vocabularies" / "lithology.csv").open(encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    assert len(rows) == 265
    assert len({row["term"] for row in rows}) == 265
    tops = {row["term"] for row in rows if not row["broader"]}
    assert tops == {"compound_material"}
    assert "phonolilte" in {row["term"] for row in rows}  # the published spelling


def test_reach_of_broad_terms() -> None:
    terms = lithology()
    assert terms.is_broader("sedimentary_rock", "chalk")
    assert terms.is_broader("igneous_rock", "granite")
    assert not terms.is_broader("granite", "granite")
    assert not terms.is_broader("metamorphic_rock", "granite")
    assert len(terms.under("compound_material")) == len(terms)

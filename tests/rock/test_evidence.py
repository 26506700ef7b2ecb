"""What the wording says beside the rock; the values are own judgement, the words common practice."""

from __future__ import annotations

import math

import pytest

from prospect.rock import ages_of, evidence_names, evidence_of, parse_rock
from prospect.rock.evidence import contaminants_by_words, felsic_by_words, names_asbestos


def evidence(wording: str, age: str = "") -> dict[str, float]:
    return evidence_of(parse_rock(wording), (wording,), ages_of(age))


@pytest.mark.parametrize(
    ("wording", "age", "name"),
    [
        ("Alluvium", "Holocene", "alluvium"),
        ("Sand, silt and clay on flood plains", "Quaternary", "alluvium"),
        ("Alluvium", "", "water_laid"),
        ("Varved clay of a glacial lake", "Pleistocene", "lake_bed"),
        ("Lacustrine sediment, mostly fine-grained", "", "lake_bed"),
        ("Tuffaceous claystone", "Miocene", "altered_ash"),
        ("Volcanic ash altered to clay", "Ordovician", "altered_ash"),
        ("Claystone and shale", "Permian", "mudrock"),
        ("Kaolinitic clay and sand", "Cretaceous", "coastal_plain"),
        ("Lignitic clay", "Eocene", "coastal_plain"),
        ("Saprolite over granite", "", "residual_material"),
        ("Granite, weathered in place to white sand", "", "residual_material"),
        ("Tuff, altered to pale claystone", "Eocene", "altered_ash"),
        ("Tuff, laid in a freshwater lake", "Eocene", "water_laid"),
        ("Granite, deeply weathered", "", "residual_material"),
        ("Boulder clay", "Pleistocene", "till"),
        ("Sand and gravel", "", "sand_gravel"),
        ("Glauconitic sand", "Eocene", "marine_shelly"),
        ("Welded rhyolitic tuff", "", "welded_or_glassy"),
        ("Tuff, zeolitized", "", "zeolitic"),
        ("Water", "", "open_water"),
        ("Granite", "", "bedrock"),
        ("Terrace deposits, sand and gravel", "Pleistocene", "terrace"),
        ("Loess", "Quaternary", "surficial_cover"),
    ],
)
def test_words_speak_for_their_kind(wording: str, age: str, name: str) -> None:
    assert evidence(wording, age)[name] >= 0.7


@pytest.mark.parametrize(
    ("wording", "age", "name"),
    [
        ("Granite", "", "alluvium"),
        ("Pegmatite, feldspar altered to white clay", "", "altered_ash"),
        ("Pegmatite, feldspar altered to white kaolin", "", "coastal_plain"),
        ("Granite, in places coarse", "", "residual_material"),
        ("Shale of fluvial origin", "Triassic", "alluvium"),
        ("Sandstone, in part marine", "", "lake_bed"),
        ("Tuff, nonwelded", "", "welded_or_glassy"),
        ("Tuff, not welded", "", "welded_or_glassy"),
        ("Nonmarine clay", "Eocene", "marine_shelly"),
        ("Non-marine clay", "Eocene", "marine_shelly"),
        ("Clay without shell fragments", "", "marine_shelly"),
        ("Alluvium overlying till", "Quaternary", "till"),
        ("Glacial till", "Pleistocene", "water_laid"),
        ("Clay", "Cretaceous", "residual_material"),
        ("Residual clay over limestone", "", "surficial_cover"),
        ("Granite", "Cretaceous", "coastal_plain"),
    ],
)
def test_present_but_not_of_this_kind(wording: str, age: str, name: str) -> None:
    assert evidence(wording, age)[name] == pytest.approx(0.05)


def test_ash_beds_of_any_age_are_ash() -> None:
    values = [
        evidence("clay with ash beds", age)["altered_ash"]
        for age in ("Quaternary", "Miocene", "Ordovician", "")
    ]
    assert len(set(values)) == 1
    assert values[0] >= 0.7


def test_minor_parts_count_less() -> None:
    whole, minor = evidence("Tuffaceous beds; shale"), evidence("Shale; minor tuffaceous beds")
    assert 0.05 < minor["altered_ash"] < whole["altered_ash"]


def test_age_matters_where_it_should() -> None:
    assert (
        evidence("sand and clay", "Eocene")["coastal_plain"]
        > evidence("sand and clay", "Holocene")["coastal_plain"]
    )
    assert (
        evidence("sand and clay", "Holocene")["surficial_cover"]
        > evidence("sand and clay", "Eocene")["surficial_cover"]
    )


def test_unreadable_wording_is_unknown_throughout() -> None:
    found = evidence("Kgr 12")
    assert set(found) == set(evidence_names())
    assert all(math.isnan(value) for value in found.values())


# Bounds of the International Chronostratigraphic Chart: Quaternary from 2.58 Ma, Neogene 23.03, Palaeogene 66,
# Cretaceous 145 (rounded).
@pytest.mark.parametrize(
    ("text", "ages"),
    [
        ("Late Pleistocene to Holocene", {"quaternary"}),
        ("10 ka", {"quaternary"}),
        ("0-2 Ma", {"quaternary"}),
        ("2-16 Ma", {"quaternary", "neogene"}),
        ("Late Cretaceous to Eocene", {"cretaceous", "palaeogene"}),
        ("Tertiary", {"neogene", "palaeogene"}),
        ("65.5 to 55 Ma", {"palaeogene"}),
        ("2629", {"older"}),
        ("Carboniferous", {"older"}),
        ("", set()),
        ("unknown", set()),
    ],
)
def test_ages(text: str, ages: set[str]) -> None:
    assert ages_of(text) == ages


def test_composition_asbestos_and_contaminants_by_words() -> None:
    assert felsic_by_words(("rhyolitic and basaltic tuff",)) == pytest.approx(0.575)
    assert felsic_by_words(("tuff",)) is None
    assert names_asbestos(("schist with chrysotile veins",))
    assert not names_asbestos(("schist without chrysotile",))
    assert contaminants_by_words(("Pyritic, gypsiferous shale",)) == ("pyrite", "gypsum")
    assert contaminants_by_words(("shale, no pyrite",)) == ()

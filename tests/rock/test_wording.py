"""How a map's wording is read; readings are trade usage (common practice, no source) unless a source is named."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prospect.rock import RockMix, coded, lithology, parse_rock

CHERT = "non_clastic_siliceous_sedimentary_rock"
IRONSTONE = "iron_rich_sedimentary_rock"
TUFF = "ash_tuff_lapillistone_and_lapilli_tuff"
SANDSTONE = "clastic_sandstone"
CONGLOMERATE = "clastic_conglomerate"
METASEDIMENT = "metasedimentary_rock"
COARSE = "phaneritic_igneous_rock"
MARL = "carbonate_rich_mudstone"


def shares(text: str) -> dict[str, float]:
    return dict(parse_rock(text).terms)


@pytest.mark.parametrize(
    ("wording", "term"),
    [
        ("granite", "granite"),
        ("Granites", "granite"),
        ("Gneisses", "gneiss"),
        ("rapakivi granite", "granite"),
        ("Hornblende-biotite granodiorite", "granodiorite"),
        ("Augen gneiss", "orthogneiss"),
        ("granite gneiss", "orthogneiss"),
        ("granite–gneiss", "orthogneiss"),
        ("metagranitic rock", "orthogneiss"),
        ("Clayey", "clay"),
        ("Sandy", "sand"),
        ("Granitic", "granitoid"),
        ("trap", "doleritic_rock"),
        ("Trap rock sills", "doleritic_rock"),
        ("Dolerite dyke or sill", "doleritic_rock"),
        ("diabase", "doleritic_rock"),
        ("greenstone", "chlorite_actinolite_epidote_metamorphic_rock"),
        ("fireclay", "underclay"),
        ("Seat earth", "underclay"),
        ("underclay below coal seam", "underclay"),
        ("saprolite", "residual_material"),
        ("Residual soils from granite", "residual_material"),
        ("residuum over limestone", "limestone_residuum"),
        ("Varved clay", "clay"),
        ("bentonite", "bentonite"),
        ("tonstein", "tonstein"),
        ("marl", MARL),
        ("calcareous shale", MARL),
        ("tuffaceous claystone", "tuffite"),
        ("ignimbrite", TUFF),
        ("BIF", IRONSTONE),
        ("Banded iron-formation", IRONSTONE),
        ("chert", CHERT),
        ("Boulder clay", "diamicton"),
        ("Ball clay", "kaolin_clay"),
        ("kaolinised granite", "kaolinitic_altered_rock"),
        ("graywacke", "wacke"),
        ("greywacke", "wacke"),
        ("arkosic sandstone", "arkose"),
        ("black shale", "organic_bearing_mudstone"),
        ("sandy limestone", "impure_limestone"),
        ("soapstone", "serpentinite"),
        ("Brecciated limestones", "limestone"),
        ("Nummulitic limestones", "limestone"),
        ("Clastic carbonate series", "carbonate_sedimentary_rock"),
        ("Scree", "gravel_size_sediment"),
        ("Made ground (undivided)", "anthropogenic_unconsolidated_material"),
        ("Mine dumps", "anthropogenic_unconsolidated_material"),
        ("sand-stone", SANDSTONE),
        ("phonolite", "phonolilte"),  # the open vocabulary spells its term so
        ("Qal", "alluvium"),
    ],
)
def test_one_rock(wording: str, term: str) -> None:
    assert parse_rock(wording).terms == ((term, 1.0),)
    assert parse_rock(wording).unread == ()


@pytest.mark.parametrize(
    ("wording", "term"),
    [
        ("granit", "granite"),
        ("grantie", "granite"),
        ("gneis", "gneiss"),
        ("shist", "schist"),
        ("basalit", "basalt"),
        ("limstone", "limestone"),
        ("Limeston", "limestone"),
        ("quartzit", "quartzite"),
        ("conglomrate", CONGLOMERATE),
        ("sandston", SANDSTONE),
    ],
)
def test_slips_of_the_pen_are_read_and_said(wording: str, term: str) -> None:
    mix = parse_rock(wording)
    assert mix.terms == ((term, 1.0),)
    assert wording.lower() in mix.note


@pytest.mark.parametrize(
    "word",
    [
        "state",
        "slope",
        "grave",
        "single",
        "information",
        "basal",
        "marine",
        "cherry",
        "petite",
        "arose",
        "chart",
        "peak",
    ],
)
def test_ordinary_words_are_no_slips(word: str) -> None:
    assert parse_rock(word).terms == ()


@pytest.mark.parametrize(
    ("wording", "expected"),
    [
        ("granite and gneiss", {"granite": 0.5, "gneiss": 0.5}),
        ("granite/gneiss", {"granite": 0.5, "gneiss": 0.5}),
        ("Granite and/or gneiss", {"granite": 0.5, "gneiss": 0.5}),
        ("gneiss-schist", {"gneiss": 0.5, "schist": 0.5}),
        ("interbedded shale and limestone", {"shale": 0.5, "limestone": 0.5}),
        ("shale interbedded with limestone", {"shale": 0.5, "limestone": 0.5}),
        ("rhyolite to andesite", {"rhyolite": 0.5, "andesite": 0.5}),
        ("Marls,Sandstones,Conglomerates", {MARL: 1 / 3, SANDSTONE: 1 / 3, CONGLOMERATE: 1 / 3}),
        ("siltstone/mudstone", {"siltstone": 0.5, "clastic_mudstone": 0.5}),
        ("basaltic and andesitic flows", {"basalt": 0.5, "andesite": 0.5}),
        ("sands and clays", {"sand": 0.5, "clay": 0.5}),
        ("Silt and clay of unspecified origin", {"silt": 0.5, "clay": 0.5}),
        # dominant .6, major .3, minor .1 (own judgement), in proportion where not all three are named
        ("mainly granite with gneiss and minor schist", {"granite": 0.6, "gneiss": 0.3, "schist": 0.1}),
        ("Mainly granite, minor gneiss", {"granite": 6 / 7, "gneiss": 1 / 7}),
        ("sandstone with shale", {SANDSTONE: 2 / 3, "shale": 1 / 3}),
        ("sandstone; minor shale and coal", {SANDSTONE: 0.75, "shale": 0.125, "coal": 0.125}),
        ("shale; chert is rare", {"shale": 6 / 7, CHERT: 1 / 7}),
        ("granite, the feldspar altered to kaolin", {"granite": 0.5, "kaolinitic_altered_rock": 0.5}),
        ("shale with chert nodules", {"shale": 6 / 7, CHERT: 1 / 7}),
        ("alaskite", {"alkali_feldspar_granite": 0.7, "pegmatite": 0.3}),
        ("sandy clay", {"clay": 0.7, "sand": 0.3}),
    ],
)  # fmt: skip
def test_mixed_units(wording: str, expected: dict[str, float]) -> None:
    assert shares(wording) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("wording", "expected"),
    [
        ("no clay, sand and gravel", {"sand", "gravel"}),
        ("gravel without clay", {"gravel"}),
        ("sandstone (not limestone)", {SANDSTONE}),
        ("limestone-free clay", {"clay"}),
        ("non-calcareous clay", {"clay"}),
        ("shale; limestone absent", {"shale"}),
        ("limestone-derived soils; clay", {"clay"}),
        ("alluvium derived from granite", {"alluvium"}),
        ("Sand derived from granite, minor clay", {"sand", "clay"}),
        ("granitic gravel", {"gravel"}),
        ("clay-rich sand", {"sand"}),
        ("Clay County shale", {"shale"}),
        ("Chalk River gneiss", {"gneiss"}),
        ("Marble Canyon limestone", {"limestone"}),
        ("Granite Mountain quartzite", {"quartzite"}),
        ("Slate Hill Formation: sandstone", {SANDSTONE}),
        ("gravel, mostly granite and quartzite pebbles", {"gravel"}),
        ("sandstone containing clay clasts", {SANDSTONE}),
        ("conglomerate with limestone boulders", {CONGLOMERATE, "boulder_gravel_size_sediment"}),
        ("schist interpreted as metamorphosed sandstone", {"schist"}),
        ("clay, overlying granite", {"clay"}),
        ("residual clay over granite gneiss", {"residual_material"}),
        ("limestone quarry in shale", {"shale"}),
    ],
)
def test_rocks_that_are_named_and_not_there(wording: str, expected: set[str]) -> None:
    assert set(shares(wording)) == expected


# Facts of wording met on open maps: 1:500 000 geology of Western Australia (fields DESCRIPTN, ROCKTYPE1), the bedrock
# of Antikythera (field Type), the 1:1 000 000 map of Arizona (descriptions and StandardLithology), shortened.
@pytest.mark.parametrize(
    ("wording", "expected"),
    [
        # two blanks stand where a comma was lost
        ("Chert  banded iron-formation  mudstone", {CHERT, IRONSTONE, "clastic_mudstone"}),
        ("Foliated  gneissic  or migmatitic metagranitic rock", {"orthogneiss"}),
        ("Sedimentary and felsic volcanic rocks; local intrusive rocks", {"sedimentary_rock", "rhyolitoid", COARSE}),
        ("Layered mafic and ultramafic sills; coarse-grained pyroxenite", {"basic_igneous_rock", "pyroxenite"}),
        ("Sedimentary rock  undivided; includes conglomerate  and chert", {CONGLOMERATE, CHERT}),
        ("Sandstone (sandy rock of SLTTs)", {SANDSTONE}),
        ("Mud (muddy sediment)", {"mud"}),
        ("Volcanic-lithic sedimentary rock (tuffite)", {"tuffite"}),
        ("Granitic rock (granitoid)", {"granitoid"}),
        ("Quartzo feldspathic non layered gneiss", {"gneiss"}),
        ("Flysch", {SANDSTONE, "clastic_mudstone"}),
        ("Rudist bearing limestones", {"limestone"}),
        ("Sandstone and conglomerate derived from lava with associated tuffs", {SANDSTONE, CONGLOMERATE, TUFF}),
        ("Metasedimentary rocks, mostly derived from shale, with minor conglomerate", {METASEDIMENT, CONGLOMERATE}),
        ("metasandstone of the Jurassic Vampire Formation, and quartzite", {METASEDIMENT, "quartzite"}),
        ("quartzite and gravel of the Jurassic Planet Volcanics", {"quartzite", "gravel"}),
        ("sedimentary siliciclastic, igneous mafic volcanic", {"clastic_sedimentary_rock", "basic_igneous_rock"}),
        ("acidic plutonic rock", {"granitoid"}),
        ("basic volcanic rock", {"basalt"}),
    ],
)  # fmt: skip
def test_wording_of_open_maps(wording: str, expected: set[str]) -> None:
    assert set(shares(wording)) == expected


# GeMS GeoMaterial list (U.S. Geological Survey, Geologic Map Schema): names of the list and what they are.
@pytest.mark.parametrize(
    ("name", "main"),
    [
        ("Sand and gravel of unspecified origin", "sand"),
        ("Alluvial sediment, mostly fine-grained", "silicate_mud"),
        ("Glacial till, mostly clayey", "diamicton"),
        ("Lacustrine sediment, mostly fine-grained", "silicate_mud"),
        ("Residual material", "residual_material"),
        ("Peat and muck", "peat"),
        ("Mostly mudstone", "clastic_mudstone"),
        ("Dolomite", "dolostone"),
        ("Coarse-grained, felsic-composition intrusive igneous rock", "granitoid"),
        ("Fine-grained, mafic-composition intrusive igneous rock", "doleritic_rock"),
        ("Felsic-composition air-fall tephra", "tephra"),
        ("Mafic-composition lava flows", "basalt"),
        ("Slate and phyllite, of sedimentary-rock origin", "slate"),
        ("Meta-ultramafic rock", "serpentinite"),
        ('"Made" or human-engineered land', "anthropogenic_unconsolidated_material"),
    ],
)
def test_names_of_the_open_map_schema(name: str, main: str) -> None:
    assert parse_rock(name).main == main
    assert parse_rock(name).share_read == pytest.approx(1.0)


def test_lists_of_whole_names_share_by_rank() -> None:
    mix = parse_rock("Igneous, volcanic, Alluvial sediment, mostly fine-grained; minor Sedimentary, clastic")
    expected = {
        "fine_grained_igneous_rock": 6 / 13,
        "silicate_mud": 0.9 * 6 / 13,
        "sand": 0.1 * 6 / 13,
        "clastic_sedimentary_rock": 1 / 13,
    }
    assert dict(mix.terms) == pytest.approx(expected)
    # a sentence with such a word in it is read as a sentence
    assert shares("Sand, glacial, well sorted") == {"sand": 1.0}


@pytest.mark.parametrize(
    "wording",
    [
        "",
        "  ",
        "Water",
        "ICE",
        "Unmapped area",
        "unknown",
        "No data",
        "n/a",
        "http://www.opengis.net/def/nil/OGC/0/missing",
    ],
)
def test_nothing_named_is_nothing_read_and_nothing_unread(wording: str) -> None:
    assert parse_rock(wording) == RockMix()


def test_open_addresses_are_terms() -> None:
    # Forms of address: CGI-IUGS vocabularies, http and the older URN.
    for address in (
        "http://resource.geosciml.org/classifier/cgi/lithology/granite",
        "https://www.opengis.net/def/geosciml/classifier/cgi/lithology/granite/",
        "urn:cgi:classifier:CGI:SimpleLithology:201001:granite",
    ):
        assert parse_rock(address).terms == (("granite", 1.0),)


def test_coded_form_comes_back() -> None:
    mix = parse_rock("granite:0.6,gneiss:0.3")
    assert mix.terms == (("granite", 0.6), ("gneiss", 0.3))
    assert mix.share_read == pytest.approx(0.9)
    assert parse_rock(coded(mix)).terms == mix.terms
    assert parse_rock("granite:60%, biotite gneiss:30%").terms == mix.terms
    assert shares("granite:60,gneiss:40") == pytest.approx({"granite": 0.6, "gneiss": 0.4})


def test_abbreviations_only_where_they_are_safe() -> None:
    assert set(shares("ss, sh and ls")) == {SANDSTONE, "shale", "limestone"}
    assert parse_rock("the sh word").terms == ()
    assert shares("cgl and sst") == pytest.approx({CONGLOMERATE: 0.5, SANDSTONE: 0.5})


def test_words_like_rocks_take_their_share_unread() -> None:
    mix = parse_rock("Foobarite and granite")
    assert mix.terms == (("granite", 0.5),)
    assert mix.unread == ("foobarite",)
    assert parse_rock("Tonschiefer").unread == ("Tonschiefer",)


def test_own_proportions() -> None:
    mix = parse_rock("mainly granite, minor gneiss", proportions={"dominant": 0.9, "minor": 0.1})
    assert dict(mix.terms) == pytest.approx({"granite": 0.9, "gneiss": 0.1})


@pytest.mark.parametrize(
    "wording",
    [
        "granite, " * 5000,
        "Granite " * 5000,
        "a" * 100_000,
        "no " * 5000,
        "(" * 5000,
        "clay (" * 5000,
        "1:" * 5000,
    ],
)
def test_endless_wording_ends(wording: str) -> None:
    mix = parse_rock(wording)
    assert mix.share_read <= 1.0 + 1e-9
    assert all(len(word) <= 200 for word in mix.unread)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.sampled_from([*"ab ,.;()-/&:05%\n", "granite", " clay ", " no ", " minor ", "shale", " with "])
    )
)
def test_any_text_is_read_without_fault(pieces: list[str]) -> None:
    mix = parse_rock("".join(pieces))
    assert 0.0 <= mix.share_read <= 1.0 + 1e-9
    assert all(term in lithology() and fraction > 0 for term, fraction in mix.terms)


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=80))
def test_foreign_letters_do_no_harm(text: str) -> None:
    assert parse_rock(text).share_read <= 1.0 + 1e-9

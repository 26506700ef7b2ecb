"""The words of the invented rock map: one row per map unit, as a survey would write them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class MapUnit:
    """One row of the description of map units.

    Attributes
    ----------
    unit
        Letter code on the map.
    name, age, description
        As printed in the legend.
    material
        Term of the open list of geologic materials (GeMS).
    sureness
        How sure the material is: High, Medium or Low.
    key
        Place in the legend's order.
    """

    unit: str
    name: str
    age: str
    description: str
    material: str
    sureness: str
    key: str


BEDROCK = (
    MapUnit(
        "Do",
        "Ommerdale Granite",
        "Devonian",
        "Coarse-grained biotite granite, pale pink. Weathered in place to sandy white and buff saprolite 6 to 20 m "
        "thick on the upland flats; fresh corestones on the steep valley sides.",
        "Coarse-grained, felsic-composition intrusive igneous rock",
        "High",
        "003-002",
    ),
    MapUnit(
        "Dop",
        "Pegmatite of the Ommerdale Granite",
        "Devonian",
        "Pegmatite of perthite feldspar, quartz and muscovite books in lenses up to a few hundred metres long; "
        "feldspar altered to white kaolin near the surface.",
        "Coarse-grained, felsic-composition intrusive igneous rock",
        "High",
        "003-003",
    ),
    MapUnit(
        "Ov",
        "Velleth Gneiss",
        "Ordovician",
        "Banded biotite-garnet gneiss with mica schist layers; forms the rim of the upland.",
        "Schist and gneiss, of sedimentary-rock origin",
        "High",
        "003-004",
    ),
    MapUnit(
        "Kr",
        "Ruddenfell Sandstone",
        "Cretaceous",
        "Medium-bedded quartz sandstone with thin siltstone partings; makes low ridges.",
        "Sandstone",
        "High",
        "002-005",
    ),
    MapUnit(
        "Ks",
        "Skarreth Shale",
        "Cretaceous",
        "Grey clay shale and mudstone with siltstone bands, softening to plastic red-brown clay in gullies; "
        "pyrite in the lowest beds.",
        "Mudstone",
        "High",
        "002-007",
    ),
    MapUnit(
        "Kp",
        "Pellingorm Limestone Lens",
        "Cretaceous",
        "Thick-bedded shelly limestone with chert nodules, within the Skarreth Shale; sinkholes, red clay in pockets.",
        "Limestone",
        "High",
        "002-006",
    ),
    MapUnit(
        "Tw",
        "Wyverlow Tuff",
        "Eocene",
        "White rhyolitic tuff and tuffite, thinly bedded, laid in a freshwater lake; altered to pale claystone in "
        "the upper beds beside the coal swamp.",
        "Volcaniclastic (fragmental) material",
        "Medium",
        "002-003",
    ),
    MapUnit(
        "Td",
        "Dunmarrow Mudstone",
        "Eocene",
        "Olive and brown mudstone, massive, slaking quickly on exposure; a few ironstone nodules.",
        "Mostly mudstone",
        "High",
        "002-002",
    ),
    MapUnit(
        "Tc",
        "Cindermoss Beds",
        "Oligocene",
        "Claystone, sandstone and thin lignite; a seam of lignite 0.4 m thick at the base over a grey underclay.",
        "Coal and lignite",
        "Low",
        "002-001",
    ),
    MapUnit(
        "Tt",
        "Tarrowick Dyke",
        "Miocene",
        "Dark diabase dyke 40 to 70 m wide, standing as a rib where streams cross it.",
        "Fine-grained, mafic-composition intrusive igneous rock",
        "High",
        "003-001",
    ),
)
"""In the order of the rock classes."""

COVER = (
    MapUnit(
        "Qas",
        "Levee and bar deposits",
        "Holocene",
        "Sand and fine gravel of the river's levees and bars.",
        "Alluvial sediment, mostly coarse-grained",
        "High",
        "001-001",
    ),
    MapUnit(
        "Qaf",
        "Flood-plain deposits",
        "Holocene",
        "Clay, silty clay and silt laid down by floods; backswamp clay at the valley margin, organic near the surface.",
        "Alluvial sediment, mostly fine-grained",
        "High",
        "001-002",
    ),
    MapUnit(
        "Qt",
        "Terrace deposits",
        "Pleistocene",
        "Weathered clay and silt over sand and gravel, in a stream terrace 5 to 7 m above the flood plain.",
        "Alluvial sediment",
        "High",
        "001-003",
    ),
    MapUnit(
        "Ql",
        "Deposits of the drained lake",
        "Pleistocene",
        "Laminated lacustrine clay and silty clay, grey below and yellow-brown in the leached upper metre; "
        "sand at the old inlets.",
        "Lacustrine sediment, mostly fine-grained",
        "High",
        "001-004",
    ),
)
"""What lies over the bedrock; classes count on from the rocks'."""

HEADINGS = (
    ("001", "Surficial deposits"),
    ("002", "Layered rocks"),
    ("003", "Crystalline rocks"),
)

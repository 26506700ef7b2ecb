"""The invented soils: what a pit in each of them shows."""

from __future__ import annotations

from dataclasses import dataclass

Layer = tuple[str, int, int, int, int, float, float, int, float]
"""Name, top and bottom (cm), sand %, clay %, organic matter %, carbonate %, fragments vol %, Ksat µm/s."""


@dataclass(frozen=True)
class Series:
    """One soil.

    Attributes
    ----------
    taxon, particles, minerals
        Family name in full, its particle-size class and its mineralogy class.
    activity, swell, plastic
        CEC in cmol(+)/kg, linear extensibility in % and plasticity index in points, each per % of clay.
    drainage, landform, profile
        Drainage class, landform and place on the hillslope.
    parent
        Text, and (modifier, kind, origin) of each parent material from the top down.
    layers
        The pit, from the top down.
    stops
        (kind, depth in cm) of what the auger meets.
    flooding
        Flooding frequency class.
    wet_cm
        Depth of the seasonal water table; 0 = none within the pit.
    """

    name: str
    taxon: str
    particles: str
    minerals: str
    activity: float
    swell: float
    plastic: float
    drainage: str
    landform: str
    profile: str
    parent: tuple[str, tuple[tuple[str, str, str], ...]]
    layers: tuple[Layer, ...]
    stops: tuple[tuple[str, int], ...] = ()
    flooding: str = "None"
    wet_cm: int = 0


SERIES = (
    Series(
        "Ommer",
        "Fine, kaolinitic, mesic Typic Kanhapludults",
        "fine",
        "kaolinitic",
        0.14,
        0.055,
        0.42,
        "Well drained",
        "interfluves",
        "Summit",
        (
            "clayey residuum over saprolite weathered from granite",
            (("Clayey", "Residuum", "Granite"), ("", "Saprolite", "Granite")),
        ),
        (
            ("Ap", 0, 18, 58, 17, 1.8, 0, 4, 28.0),
            ("Bt1", 18, 62, 34, 47, 0.5, 0, 3, 7.0),
            ("Bt2", 62, 124, 37, 44, 0.2, 0, 4, 7.0),
            ("C", 124, 203, 56, 21, 0.1, 0, 6, 14.0),
        ),
    ),
    Series(
        "Quathe",
        "Fine-loamy, mixed, semiactive, mesic Typic Hapludults",
        "fine-loamy",
        "mixed",
        0.28,
        0.06,
        0.40,
        "Well drained",
        "hillslopes",
        "Shoulder",
        ("loamy residuum weathered from granite", (("Loamy", "Residuum", "Granite"),)),
        (
            ("A", 0, 14, 64, 13, 2.4, 0, 10, 40.0),
            ("Bt", 14, 70, 52, 27, 0.5, 0, 12, 12.0),
            ("BC", 70, 105, 62, 18, 0.2, 0, 18, 20.0),
            ("Cr", 105, 160, 0, 0, 0, 0, 0, 0),
        ),
        (("Paralithic bedrock", 105),),
    ),
    Series(
        "Drennet",
        "Loamy-skeletal, mixed, superactive, mesic Lithic Dystrudepts",
        "loamy-skeletal",
        "mixed",
        0.62,
        0.06,
        0.30,
        "Somewhat excessively drained",
        "hillslopes",
        "Backslope",
        ("gravelly residuum weathered from granite", (("Gravelly", "Residuum", "Granite"),)),
        (
            ("A", 0, 12, 70, 9, 3.0, 0, 32, 70.0),
            ("Bw", 12, 38, 71, 11, 0.9, 0, 45, 60.0),
            ("R", 38, 90, 0, 0, 0, 0, 0, 0),
        ),
        (("Lithic bedrock", 38),),
    ),
    Series(
        "Velthorn",
        "Fine-loamy, micaceous, mesic Typic Hapludults",
        "fine-loamy",
        "micaceous",
        0.33,
        0.06,
        0.36,
        "Well drained",
        "hillslopes",
        "Backslope",
        ("loamy residuum weathered from biotite gneiss", (("Loamy", "Residuum", "Biotite gneiss"),)),
        (
            ("A", 0, 13, 48, 16, 2.6, 0, 8, 32.0),
            ("Bt", 13, 58, 38, 31, 0.6, 0, 9, 10.0),
            ("C", 58, 92, 52, 17, 0.2, 0, 20, 20.0),
            ("Cr", 92, 150, 0, 0, 0, 0, 0, 0),
        ),
        (("Paralithic bedrock", 92),),
    ),
    Series(
        "Skarreth",
        "Fine-silty, mixed, active, mesic Typic Hapludalfs",
        "fine-silty",
        "mixed",
        0.44,
        0.09,
        0.45,
        "Moderately well drained",
        "hillslopes",
        "Footslope",
        ("silty residuum weathered from shale", (("Silty", "Residuum", "Shale"),)),
        (
            ("Ap", 0, 16, 18, 27, 2.2, 0, 3, 9.0),
            ("Bt1", 16, 58, 14, 31, 0.7, 0, 8, 2.6),
            ("Bt2", 58, 108, 12, 33, 0.4, 1, 14, 1.9),
            ("Cr", 108, 170, 0, 0, 0, 0, 0, 0),
        ),
        (("Paralithic bedrock", 108),),
        wet_cm=75,
    ),
    Series(
        "Hollin Edge",
        "Loamy-skeletal, mixed, active, mesic, shallow Typic Hapludalfs",
        "loamy-skeletal",
        "mixed",
        0.45,
        0.10,
        0.48,
        "Well drained",
        "hillslopes",
        "Backslope",
        ("channery residuum weathered from shale", (("Channery", "Residuum", "Shale"),)),
        (
            ("A", 0, 9, 28, 20, 2.8, 0, 22, 9.0),
            ("Bt", 9, 43, 24, 26, 0.8, 0, 40, 5.0),
            ("Cr", 43, 110, 0, 0, 0, 0, 0, 0),
        ),
        (("Paralithic bedrock", 43),),
    ),
    Series(
        "Ruddenfell",
        "Coarse-loamy, siliceous, semiactive, mesic Typic Dystrudepts",
        "coarse-loamy",
        "siliceous",
        0.30,
        0.04,
        0.20,
        "Somewhat excessively drained",
        "ridges",
        "Shoulder",
        ("sandy residuum weathered from sandstone", (("Sandy", "Residuum", "Sandstone"),)),
        (
            ("A", 0, 15, 76, 7, 1.9, 0, 6, 70.0),
            ("Bw", 15, 64, 74, 11, 0.4, 0, 12, 50.0),
            ("R", 64, 120, 0, 0, 0, 0, 0, 0),
        ),
        (("Lithic bedrock", 64),),
    ),
    Series(
        "Pellingorm",
        "Very-fine, mixed, active, mesic Typic Paleudalfs",
        "very-fine",
        "mixed",
        0.42,
        0.11,
        0.58,
        "Well drained",
        "sinkholes",
        "Shoulder",
        ("clayey residuum weathered from limestone", (("Clayey", "Residuum", "Limestone"),)),
        (
            ("A", 0, 12, 12, 34, 3.1, 1, 12, 7.0),
            ("Bt", 12, 66, 7, 63, 0.8, 3, 18, 2.0),
            ("Btk", 66, 96, 8, 58, 0.4, 14, 26, 2.0),
            ("R", 96, 150, 0, 0, 0, 0, 0, 0),
        ),
        (("Lithic bedrock", 96),),
    ),
    Series(
        "Wyverlow",
        "Fine, halloysitic, mesic Typic Hapludults",
        "fine",
        "halloysitic",
        0.30,
        0.075,
        0.50,
        "Well drained",
        "hillslopes",
        "Backslope",
        ("clayey residuum weathered from tuff", (("Clayey", "Residuum", "Tuff"),)),
        (
            ("A", 0, 15, 24, 24, 3.0, 0, 2, 14.0),
            ("Bt1", 15, 60, 14, 46, 0.7, 0, 2, 4.0),
            ("Bt2", 60, 132, 12, 52, 0.3, 0, 2, 3.0),
            ("Cr", 132, 180, 0, 0, 0, 0, 0, 0),
        ),
        (("Paralithic bedrock", 132),),
    ),
    Series(
        "Dunmarrow",
        "Fine, smectitic, mesic Vertic Hapludalfs",
        "fine",
        "smectitic",
        0.72,
        0.185,
        0.74,
        "Somewhat poorly drained",
        "hillslopes",
        "Backslope",
        ("clayey residuum weathered from mudstone", (("Clayey", "Residuum", "Mudstone"),)),
        (
            ("A", 0, 14, 14, 34, 2.9, 0, 1, 2.0),
            ("Btss", 14, 74, 8, 54, 0.8, 1, 1, 0.3),
            ("BC", 74, 118, 9, 50, 0.4, 2, 3, 0.3),
            ("Cr", 118, 170, 0, 0, 0, 0, 0, 0),
        ),
        (("Paralithic bedrock", 118),),
        wet_cm=45,
    ),
    Series(
        "Cindermoss",
        "Fine, mixed, semiactive, mesic Aquic Hapludults",
        "fine",
        "mixed",
        0.34,
        0.08,
        0.48,
        "Somewhat poorly drained",
        "hillslopes",
        "Footslope",
        ("clayey residuum weathered from claystone and coal", (("Clayey", "Residuum", "Claystone"),)),
        (
            ("A", 0, 18, 26, 22, 5.2, 0, 4, 9.0),
            ("Bt", 18, 64, 17, 40, 1.4, 0, 6, 2.0),
            ("Btg", 64, 120, 14, 45, 0.9, 0, 6, 1.0),
            ("Cr", 120, 170, 0, 0, 0, 0, 0, 0),
        ),
        (("Paralithic bedrock", 120),),
        wet_cm=50,
    ),
    Series(
        "Tarrowick",
        "Fine, smectitic, mesic Typic Hapludalfs",
        "fine",
        "smectitic",
        0.66,
        0.15,
        0.66,
        "Well drained",
        "ridges",
        "Shoulder",
        ("clayey residuum weathered from diabase", (("Clayey", "Residuum", "Diabase"),)),
        (
            ("A", 0, 14, 22, 28, 2.6, 0, 8, 7.0),
            ("Bt", 14, 72, 14, 49, 0.7, 0, 8, 1.0),
            ("C", 72, 112, 30, 28, 0.3, 1, 20, 4.0),
            ("R", 112, 160, 0, 0, 0, 0, 0, 0),
        ),
        (("Lithic bedrock", 112),),
    ),
    Series(
        "Teskbank",
        "Sandy, mixed, mesic Typic Udifluvents",
        "sandy",
        "mixed",
        0.50,
        0.04,
        0.15,
        "Somewhat excessively drained",
        "natural levees",
        "Toeslope",
        ("sandy alluvium", (("Sandy", "Alluvium", ""),)),
        (
            ("Ap", 0, 20, 78, 7, 1.2, 0, 0, 60.0),
            ("C1", 20, 90, 84, 5, 0.4, 0, 0, 90.0),
            ("C2", 90, 200, 90, 3, 0.2, 0, 4, 120.0),
        ),
        flooding="Occasional",
        wet_cm=150,
    ),
    Series(
        "Sallowmere",
        "Fine, mixed, active, nonacid, mesic Vertic Endoaquepts",
        "fine",
        "mixed",
        0.48,
        0.115,
        0.56,
        "Poorly drained",
        "backswamps",
        "Toeslope",
        ("clayey backswamp deposits", (("Clayey", "Backswamp deposits", ""),)),
        (
            ("Ap", 0, 15, 6, 44, 3.4, 0, 0, 1.4),
            ("Bg1", 15, 60, 4, 56, 1.2, 0, 0, 0.5),
            ("Bg2", 60, 128, 3, 60, 0.7, 1, 0, 0.3),
            ("Cg", 128, 203, 16, 36, 0.4, 2, 0, 1.0),
        ),
        flooding="Frequent",
        wet_cm=15,
    ),
    Series(
        "Osmer",
        "Fine-silty, mixed, active, nonacid, mesic Aeric Fluvaquents",
        "fine-silty",
        "mixed",
        0.46,
        0.08,
        0.46,
        "Somewhat poorly drained",
        "flood plains",
        "Toeslope",
        ("silty alluvium", (("Silty", "Alluvium", ""),)),
        (
            ("Ap", 0, 22, 20, 21, 2.2, 0, 0, 9.0),
            ("Bg", 22, 92, 12, 32, 0.8, 0, 0, 3.0),
            ("Cg", 92, 200, 26, 24, 0.4, 0, 0, 6.0),
        ),
        flooding="Occasional",
        wet_cm=40,
    ),
    Series(
        "Tannery Flat",
        "Fine, mixed, semiactive, mesic Typic Hapludults",
        "fine",
        "mixed",
        0.34,
        0.085,
        0.50,
        "Moderately well drained",
        "stream terraces",
        "Summit",
        (
            "clayey alluvium over sandy and gravelly alluvium",
            (("Clayey", "Alluvium", ""), ("Gravelly", "Alluvium", "")),
        ),
        (
            ("Ap", 0, 24, 24, 20, 1.7, 0, 0, 9.0),
            ("Bt1", 24, 78, 14, 43, 0.5, 0, 0, 1.6),
            ("Bt2", 78, 140, 19, 40, 0.3, 0, 1, 1.8),
            ("2C", 140, 203, 72, 9, 0.1, 0, 24, 70.0),
        ),
        flooding="Rare",
        wet_cm=80,
    ),
    Series(
        "Lowmere",
        "Fine, illitic, nonacid, mesic Aeric Endoaquepts",
        "fine",
        "illitic",
        0.32,
        0.085,
        0.52,
        "Poorly drained",
        "lake plains",
        "Toeslope",
        ("clayey lacustrine deposits", (("Clayey", "Lacustrine deposits", ""),)),
        (
            ("Ap", 0, 19, 5, 40, 3.0, 0, 0, 1.8),
            ("Bg1", 19, 70, 3, 54, 0.9, 0, 0, 0.6),
            ("Bg2", 70, 124, 2, 57, 0.5, 1, 0, 0.4),
            ("Cg", 124, 203, 2, 52, 0.4, 6, 0, 0.4),
        ),
        flooding="None",
        wet_cm=20,
    ),
    Series(
        "Marloch",
        "Fine-silty, carbonatic, mesic Fluventic Endoaquolls",
        "fine-silty",
        "carbonatic",
        0.52,
        0.09,
        0.45,
        "Somewhat poorly drained",
        "flood plains",
        "Toeslope",
        (
            "calcareous silty alluvium derived from limestone and shale",
            (("Silty", "Alluvium", "Limestone and shale"),),
        ),
        (
            ("Ap", 0, 24, 14, 27, 4.2, 11, 1, 6.0),
            ("Bk", 24, 80, 9, 37, 1.4, 21, 4, 2.0),
            ("Cg", 80, 200, 15, 33, 0.7, 17, 2, 2.0),
        ),
        flooding="Occasional",
        wet_cm=45,
    ),
    Series(
        "Brackle",
        "Fine-loamy, mixed, active, mesic Cumulic Hapludolls",
        "fine-loamy",
        "mixed",
        0.46,
        0.07,
        0.40,
        "Moderately well drained",
        "drainageways",
        "Toeslope",
        (
            "loamy colluvium over loamy alluvium",
            (("Loamy", "Colluvium", ""), ("Loamy", "Alluvium", "")),
        ),
        (
            ("A", 0, 40, 36, 20, 3.6, 0, 5, 14.0),
            ("Bw", 40, 110, 32, 26, 1.1, 0, 9, 9.0),
            ("C", 110, 180, 44, 18, 0.5, 0, 20, 20.0),
        ),
        flooding="Rare",
        wet_cm=90,
    ),
)

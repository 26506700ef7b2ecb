"""The map units of the invented soil survey, and which soils each of them holds."""

from __future__ import annotations

from dataclasses import dataclass

Component = tuple[str, int, float]
"""Name of the soil (or of a miscellaneous area), percent of the map unit, slope %."""


@dataclass(frozen=True)
class SoilUnit:
    """One map unit of the survey: symbol, name, kind and components, the largest first."""

    symbol: str
    name: str
    kind: str
    components: tuple[Component, ...]


SOIL_UNITS = (
    SoilUnit(
        "OmB",
        "Ommer sandy loam, 2 to 8 percent slopes",
        "Consociation",
        (("Ommer", 80, 5), ("Quathe", 12, 7)),
    ),
    SoilUnit(
        "OqC",
        "Ommer-Quathe complex, 8 to 15 percent slopes",
        "Complex",
        (("Ommer", 55, 11), ("Quathe", 30, 12), ("Drennet", 8, 14)),
    ),
    SoilUnit(
        "QdE",
        "Quathe-Drennet-Rock outcrop complex, 15 to 50 percent slopes",
        "Complex",
        (("Quathe", 45, 24), ("Drennet", 35, 34), ("Rock outcrop", 12, 45)),
    ),
    SoilUnit(
        "VeC",
        "Velthorn loam, 4 to 15 percent slopes",
        "Consociation",
        (("Velthorn", 82, 10), ("Ommer", 8, 6)),
    ),
    SoilUnit(
        "VdE",
        "Velthorn-Drennet complex, 15 to 45 percent slopes",
        "Complex",
        (("Velthorn", 60, 26), ("Drennet", 28, 34)),
    ),
    SoilUnit(
        "SkB",
        "Skarreth silty clay loam, 2 to 10 percent slopes",
        "Consociation",
        (("Skarreth", 78, 6), ("Hollin Edge", 10, 10), ("Brackle", 5, 3)),
    ),
    SoilUnit(
        "ShD",
        "Skarreth-Hollin Edge complex, 10 to 35 percent slopes",
        "Complex",
        (("Hollin Edge", 50, 22), ("Skarreth", 38, 14)),
    ),
    SoilUnit(
        "RuD",
        "Ruddenfell sandy loam, 5 to 30 percent slopes",
        "Consociation",
        (("Ruddenfell", 85, 16), ("Hollin Edge", 8, 18)),
    ),
    SoilUnit(
        "PmC",
        "Pellingorm clay loam, rocky, 4 to 25 percent slopes",
        "Consociation",
        (("Pellingorm", 76, 12), ("Rock outcrop", 9, 20)),
    ),
    SoilUnit(
        "WyC",
        "Wyverlow clay loam, 4 to 25 percent slopes",
        "Consociation",
        (("Wyverlow", 80, 12), ("Skarreth", 10, 9)),
    ),
    SoilUnit(
        "DuC",
        "Dunmarrow clay loam, 3 to 20 percent slopes",
        "Consociation",
        (("Dunmarrow", 78, 10), ("Wyverlow", 10, 10)),
    ),
    SoilUnit(
        "CmC",
        "Cindermoss loam, 3 to 20 percent slopes",
        "Consociation",
        (("Cindermoss", 74, 9), ("Dunmarrow", 14, 10)),
    ),
    SoilUnit(
        "TrD",
        "Tarrowick clay loam, 3 to 30 percent slopes",
        "Consociation",
        (("Tarrowick", 82, 14), ("Velthorn", 8, 16)),
    ),
    SoilUnit(
        "TkA",
        "Teskbank loamy sand, 0 to 3 percent slopes, occasionally flooded",
        "Consociation",
        (("Teskbank", 84, 1), ("Osmer", 10, 1)),
    ),
    SoilUnit(
        "OsA",
        "Osmer silt loam, 0 to 2 percent slopes, occasionally flooded",
        "Consociation",
        (("Osmer", 75, 1), ("Sallowmere", 15, 0.5), ("Teskbank", 6, 1)),
    ),
    SoilUnit(
        "SaA",
        "Sallowmere clay, 0 to 1 percent slopes, frequently flooded",
        "Consociation",
        (("Sallowmere", 86, 0.5), ("Osmer", 9, 1)),
    ),
    SoilUnit(
        "TfA",
        "Tannery Flat silt loam, 0 to 3 percent slopes",
        "Consociation",
        (("Tannery Flat", 82, 1), ("Osmer", 8, 1)),
    ),
    SoilUnit(
        "LmA",
        "Lowmere silty clay, 0 to 1 percent slopes",
        "Consociation",
        (("Lowmere", 88, 0.5), ("Brackle", 6, 2)),
    ),
    SoilUnit(
        "MrA",
        "Marloch silty clay loam, 0 to 3 percent slopes",
        "Consociation",
        (("Marloch", 80, 1), ("Osmer", 10, 1)),
    ),
    SoilUnit(
        "BkB",
        "Brackle loam, 1 to 6 percent slopes",
        "Consociation",
        (("Brackle", 72, 3), ("Osmer", 12, 1), ("Skarreth", 6, 5)),
    ),
    SoilUnit("W", "Water", "Consociation", (("Water", 100, 0),)),
    SoilUnit("NOTCOM", "No digital data available", "Consociation", (("NOTCOM", 100, 0),)),
)
"""Miscellaneous areas (Water, Rock outcrop, NOTCOM) have no pit."""

"""What drying and firing do to a test bar: shrinkage, absorption, loss of weight."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

ATOMIC_WEIGHTS: Mapping[str, float] = MappingProxyType(
    {
        "H": 1.008,
        "C": 12.011,
        "O": 15.999,
        "Mg": 24.305,
        "Al": 26.982,
        "Si": 28.085,
        "S": 32.06,
        "Ca": 40.078,
        "Fe": 55.845,
    }
)
"""Abridged standard atomic weights (IUPAC)."""

# What each mineral is made of, and what of it leaves in the kiln.
_MINERALS: Mapping[str, tuple[Mapping[str, float], Mapping[str, float]]] = MappingProxyType(
    {
        "kaolinite": ({"Al": 2, "Si": 2, "O": 9, "H": 4}, {"H": 4, "O": 2}),
        "calcite": ({"Ca": 1, "C": 1, "O": 3}, {"C": 1, "O": 2}),
        "dolomite": ({"Ca": 1, "Mg": 1, "C": 2, "O": 6}, {"C": 2, "O": 4}),
        "gypsum": ({"Ca": 1, "S": 1, "O": 6, "H": 4}, {"H": 4, "O": 2}),
        "goethite": ({"Fe": 1, "O": 2, "H": 1}, {"H": 1, "O": 0.5}),
        "siderite": ({"Fe": 1, "C": 1, "O": 3}, {"C": 1, "O": 2}),
    }
)


@dataclass(frozen=True, slots=True)
class BoiledBar:
    """What the boiling test says of a fired piece.

    Attributes
    ----------
    absorption_pct
        Water taken up, in percent of dry weight.
    exterior_volume_cm3
        Volume with the open pores.
    apparent_porosity_pct
        Open pores in percent of the exterior volume.
    apparent_specific_gravity
        Density of the piece without its open pores, relative to water.
    bulk_density_g_cm3
        Dry weight over exterior volume.
    """

    absorption_pct: float
    exterior_volume_cm3: float
    apparent_porosity_pct: float
    apparent_specific_gravity: float
    bulk_density_g_cm3: float


def linear_shrinkage(before_mm: float, after_mm: float) -> float:
    """Return the linear shrinkage in percent of the length before; negative when the bar grew."""
    _positive(before_mm=before_mm, after_mm=after_mm)
    return 100 * (before_mm - after_mm) / before_mm


def total_shrinkage(drying_pct: float, firing_pct: float) -> float:
    """Return the linear shrinkage from plastic to fired, in percent of the plastic length.

    Parameters
    ----------
    drying_pct
        Of the plastic length.
    firing_pct
        Of the dry length; shrinkages one after the other multiply, they do not add.
    """
    _share(drying_pct=drying_pct, firing_pct=firing_pct)
    return 100 * (1 - (1 - drying_pct / 100) * (1 - firing_pct / 100))


def volume_shrinkage(linear_pct: float) -> float:
    """Return the loss of volume in percent that goes with a linear shrinkage the same in all directions."""
    _share(linear_pct=linear_pct)
    return 100 * (1 - (1 - linear_pct / 100) ** 3)


def water_of_plasticity(plastic_g: float, dry_g: float) -> float:
    """Return the water of a workable piece in percent of its dry weight."""
    _positive(plastic_g=plastic_g, dry_g=dry_g)
    if plastic_g < dry_g:
        raise ValueError(f"a wet piece cannot weigh less than dry, got {plastic_g} g and {dry_g} g")
    return 100 * (plastic_g - dry_g) / dry_g


def absorption(dry_g: float, saturated_g: float) -> float:
    """Return the water absorption in percent of the dry weight (ASTM C373)."""
    _positive(dry_g=dry_g, saturated_g=saturated_g)
    if saturated_g < dry_g:
        raise ValueError(f"a soaked piece cannot weigh less than dry, got {saturated_g} g and {dry_g} g")
    return 100 * (saturated_g - dry_g) / dry_g


def boiled_bar(dry_g: float, suspended_g: float, saturated_g: float) -> BoiledBar:
    """Return everything the boiling test gives.

    Parameters
    ----------
    dry_g
        Weight dry.
    suspended_g
        Weight of the soaked piece hanging in water.
    saturated_g
        Weight of the soaked piece in air, wiped.

    Raises
    ------
    ValueError
        When the three weights are not suspended < dry <= saturated.

    Notes
    -----
    ASTM C373, with a water density of 1 g/cm3 as the method allows.
    """
    taken_up = absorption(dry_g, saturated_g)
    _positive(suspended_g=suspended_g)
    if suspended_g >= dry_g:
        raise ValueError(f"a piece weighs less in water than dry, got {suspended_g} g and {dry_g} g")
    volume = saturated_g - suspended_g
    return BoiledBar(
        absorption_pct=taken_up,
        exterior_volume_cm3=volume,
        apparent_porosity_pct=100 * (saturated_g - dry_g) / volume,
        apparent_specific_gravity=dry_g / (dry_g - suspended_g),
        bulk_density_g_cm3=dry_g / volume,
    )


def loss_on_ignition(dried_g: float, fired_g: float) -> float:
    """Return the loss in percent of the weight dried at 110 °C; negative when the sample gained weight."""
    _positive(dried_g=dried_g, fired_g=fired_g)
    return 100 * (dried_g - fired_g) / dried_g


def mineral_loss_on_ignition(mineral: str) -> float:
    """Return what a pure mineral loses in the kiln, in percent of its weight.

    Parameters
    ----------
    mineral
        kaolinite, calcite, dolomite, gypsum (water only), goethite or siderite.

    Raises
    ------
    ValueError
        When the mineral is another one.
    """
    if mineral not in _MINERALS:
        raise ValueError(f"unknown mineral '{mineral}', expected one of {', '.join(sorted(_MINERALS))}")
    whole, leaves = _MINERALS[mineral]
    return 100 * _weight(leaves) / _weight(whole)


def ignition_hint(loss_pct: float) -> str:
    """Return what a clay's loss on ignition hints at; a hint, no analysis.

    Notes
    -----
    Pure kaolinite loses 13.96 % (`mineral_loss_on_ignition`); illite and smectite lose 4 to 8 % and quartz and feldspar
    nothing (textbook values, from memory); where the lines are drawn is own judgement.
    """
    if not math.isfinite(loss_pct):
        raise ValueError(f"a loss must be a number, got {loss_pct}")
    if loss_pct < 0:
        return "it gained weight: weigh again"
    limits = (
        (4.0, "little clay mineral in it, or much sand"),
        (9.0, "a usual clay"),
        (mineral_loss_on_ignition("kaolinite") + 0.5, "much kaolinite, or some roots or lime"),
    )
    return next(
        (hint for limit, hint in limits if loss_pct < limit), "more than any clay: roots, humus or lime in it"
    )


def _weight(formula: Mapping[str, float]) -> float:
    return sum(ATOMIC_WEIGHTS[element] * count for element, count in formula.items())


def _positive(**amounts: float) -> None:
    for name, amount in amounts.items():
        if not (0 < amount < math.inf):
            raise ValueError(f"{name} must be above 0, got {amount}")


def _share(**shares: float) -> None:
    for name, share in shares.items():
        if not (-100 < share < 100):
            raise ValueError(f"{name} must be between -100 and 100 %, got {share}")

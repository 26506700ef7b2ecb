"""Reads a clay's plasticity from its liquid and plastic limits."""

from __future__ import annotations

import math

LIMIT_OF_HIGH = 50.0
"""Liquid limit from which a soil is of high plasticity (ASTM D2487)."""

ORGANIC_RATIO = 0.75
"""Below this share of the liquid limit left after oven drying, a soil is organic (ASTM D2487)."""


def plasticity_index(liquid_limit_pct: float, plastic_limit_pct: float) -> float:
    """Return the plasticity index, in percent water (ASTM D4318: liquid less plastic limit).

    Raises
    ------
    ValueError
        When a limit is negative or not a number, or the plastic limit is above the liquid one.
    """
    if not (0 <= plastic_limit_pct <= liquid_limit_pct < math.inf):
        raise ValueError(
            f"the plastic limit must be between 0 and the liquid limit, "
            f"got {plastic_limit_pct} and {liquid_limit_pct}"
        )
    return liquid_limit_pct - plastic_limit_pct


def a_line(liquid_limit_pct: float) -> float:
    """Return the plasticity index of the A-line, 0.73 (LL - 20), between clays above and silts below."""
    return 0.73 * (liquid_limit_pct - 20)


def u_line(liquid_limit_pct: float) -> float:
    """Return the plasticity index of the U-line, 0.9 (LL - 8), above which a test should be repeated."""
    return 0.9 * (liquid_limit_pct - 8)


def needs_retest(liquid_limit_pct: float, plastic_limit_pct: float) -> bool:
    """Whether a pair of limits lies above the U-line, where natural soils are not found (ASTM D2487)."""
    index = plasticity_index(liquid_limit_pct, plastic_limit_pct)
    # The U-line starts vertical at a liquid limit of 16 up to an index of 7.
    return index > max(u_line(liquid_limit_pct), 0.0) or (liquid_limit_pct < 16 and index > 0)


def plasticity_class(
    liquid_limit_pct: float, plastic_limit_pct: float, dried_liquid_limit_pct: float | None = None
) -> str:
    """Return the group symbol of a fine-grained soil: CL, CL-ML, ML, CH, MH, OL or OH.

    Parameters
    ----------
    liquid_limit_pct, plastic_limit_pct
        Water contents in percent of dry weight, on material below 0.425 mm.
    dried_liquid_limit_pct
        Liquid limit after oven drying, when it was tested; tells organic soils.

    Raises
    ------
    ValueError
        When the limits cannot be (see `plasticity_index`).

    Notes
    -----
    ASTM D2487 (Unified Soil Classification System), Casagrande's chart.
    """
    index = plasticity_index(liquid_limit_pct, plastic_limit_pct)
    high = liquid_limit_pct >= LIMIT_OF_HIGH
    if dried_liquid_limit_pct is not None and dried_liquid_limit_pct < ORGANIC_RATIO * liquid_limit_pct:
        return "OH" if high else "OL"
    above = index >= a_line(liquid_limit_pct)
    if high:
        return "CH" if above else "MH"
    if not above or index < 4:
        return "ML"
    return "CL" if index > 7 else "CL-ML"


def activity(plasticity_index_pct: float, clay_pct: float) -> float:
    """Return Skempton's activity: plasticity index over the percentage finer than 0.002 mm.

    Raises
    ------
    ValueError
        When the clay share is not above 0 and up to 100, or the index is negative.

    Notes
    -----
    Skempton (1953), The colloidal "activity" of clays.
    """
    if not (0 < clay_pct <= 100) or not (0 <= plasticity_index_pct < math.inf):
        raise ValueError(f"needs an index from 0 and clay above 0 %, got {plasticity_index_pct}, {clay_pct}")
    return plasticity_index_pct / clay_pct


def activity_class(value: float) -> str:
    """Return 'inactive' (below 0.75), 'normal' or 'active' (above 1.25), after Skempton (1953)."""
    if not value >= 0:
        raise ValueError(f"activity must be a number from 0, got {value}")
    if value < 0.75:
        return "inactive"
    return "normal" if value <= 1.25 else "active"


def mineral_hint(value: float) -> str:
    """Return which clay mineral an activity hints at; a hint, no analysis.

    Notes
    -----
    After Skempton (1953; kaolinite 0.38, illite 0.9, calcium montmorillonite 1.5, sodium montmorillonite 7.2) and Grim
    (1968; kaolinite 0.3 to 0.4, illite 0.3 to 0.6, calcium smectite 1.2 to 1.3, sodium smectite 3 to 7); the limits
    between them are own judgement. Quartz of the clay's size lowers it.
    """
    if not value >= 0:
        raise ValueError(f"activity must be a number from 0, got {value}")
    limits = (
        (0.3, "kaolinite, or much that is no clay mineral"),
        (0.65, "kaolinite or illite"),
        (1.1, "illite"),
        (2.0, "swelling clay (calcium smectite)"),
    )
    return next(
        (mineral for limit, mineral in limits if value < limit), "strongly swelling clay (sodium smectite)"
    )

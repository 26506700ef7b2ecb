"""What hands and a drop of acid say: how much clay a ribbon means, how much lime a fizz."""

from __future__ import annotations

import math

_RIBBON_CM = ((2.5, (10.0, 27.0)), (5.0, (27.0, 40.0)), (math.inf, (40.0, 100.0)))
_FIZZ_PCT = {
    "none": (0.0, 1.0),
    "very slight": (1.0, 5.0),
    "slight": (5.0, 10.0),
    "strong": (10.0, 15.0),
    "violent": (15.0, 100.0),
}


def clay_from_ribbon(ribbon_cm: float) -> tuple[float, float]:
    """Return the range of clay in percent that goes with the length of a ribbon.

    Parameters
    ----------
    ribbon_cm
        Length at which a ribbon squeezed between finger and thumb breaks of its own weight; 0 = none forms.

    Notes
    -----
    Limits of 2.5 and 5 cm after Thien (1979), A flow diagram for teaching texture-by-feel analysis; the percents are
    the triangle's bands for loams, clay loams and clays (own judgement).
    """
    if not (0 <= ribbon_cm < math.inf):
        raise ValueError(f"a ribbon's length must be 0 cm or more, got {ribbon_cm}")
    if ribbon_cm == 0:
        return 0.0, 10.0
    return next(clay for limit, clay in _RIBBON_CM if ribbon_cm < limit or limit == math.inf)


def lime_from_fizz(fizz: str, fizz_with: str = "acid") -> tuple[float, float] | None:
    """Return the range of carbonate (as CaCO3, percent) that goes with a fizz; None when it was not looked for.

    Parameters
    ----------
    fizz
        `none`, `very slight`, `slight`, `strong` or `violent`.
    fizz_with
        `acid` (1 M hydrochloric) or `vinegar`, which reacts slower: its silence rules out less.

    Notes
    -----
    Australian soil method 19D1 (Rayment & Higginson 1992, after Kalra & Maynard); the last class from memory. What
    vinegar may miss is own judgement. Dolomite fizzes only when powdered or warm.
    """
    if fizz not in _FIZZ_PCT:
        return None
    least, most = _FIZZ_PCT[fizz]
    if fizz_with == "vinegar":
        return (least, 5.0) if fizz == "none" else (least, 100.0)
    return least, most

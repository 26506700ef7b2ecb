"""Makes `layers/palettes/munsell.csv` from the open renotation data in colour-science; a test holds the file to it.

Run ``python tests/charts/make_munsell.py``. Real colours of the renotation (Newhall, Nickerson & Judd 1943) for
illuminant C, adapted to D65 (Bradford) and written as sRGB; colours that no screen can show are cut to the nearest edge
and marked.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from pathlib import Path

import numpy as np

TARGET = Path(__file__).parents[2] / "layers" / "palettes" / "munsell.csv"
HEAD = (
    "# Munsell colours as sRGB, from the renotation of Newhall, Nickerson & Judd (1943), illuminant C adapted to D65.\n"
    "# Made by tests/charts/make_munsell.py with the open data in colour-science; cut = no screen shows it as it is.\n"
    "hue,value,chroma,red,green,blue,cut\n"
)


def rows() -> Iterator[str]:
    """Yield one line for each real colour."""
    import colour

    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["C"]
    data = [
        ((hue, value, chroma), xyy)
        for (hue, value, chroma), xyy in colour.notation.MUNSELL_COLOURS["Munsell Colours Real"]
        if 1 <= value <= 9
    ]
    xyy = np.array([entry for _, entry in data], dtype=float)
    xyy[:, 2] /= 100.0
    yield from _lines([name for name, _ in data], colour.xyY_to_XYZ(xyy), white)
    grey = np.array([colour.notation.munsell_value_ASTMD1535(y) for y in np.linspace(0.5, 100, 400)])
    lightness = np.interp(np.arange(0, 10.25, 0.5), grey, np.linspace(0.5, 100, 400), left=0.0)
    neutral = np.column_stack(
        [np.full(lightness.size, white[0]), np.full(lightness.size, white[1]), lightness / 100.0]
    )
    names = [("N", value, 0.0) for value in np.arange(0, 10.25, 0.5)]
    yield from _lines(names, colour.xyY_to_XYZ(neutral), white)


def _lines(names: list, xyz: np.ndarray, white: np.ndarray) -> Iterator[str]:
    import colour

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        rgb = colour.XYZ_to_sRGB(xyz, white, "Bradford")
    for (hue, value, chroma), here in zip(names, rgb, strict=True):
        cut = bool((here < -0.004).any() or (here > 1.004).any())
        red, green, blue = (np.clip(here, 0, 1) * 255).round().astype(int)
        yield f"{hue},{value:g},{chroma:g},{red},{green},{blue},{int(cut)}"


def content() -> str:
    """Return the whole file."""
    return HEAD + "\n".join(rows()) + "\n"


if __name__ == "__main__":
    TARGET.write_text(content(), encoding="utf-8")

"""Shows kept photos small: turned the way the camera was held, and without anything that a camera writes into them."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path

from PIL import Image, ImageOps

from prospect.records import Bar
from prospect.ui.bench_measures import heat_in_words
from prospect.ui.reading import words

SIDE_PX = 360
SWATCH_PX = 96
"""Side of the square that is cut from the middle of a photo of a fired bar."""
_NOT_SHOWN = '<span class="cw-no-photo">The picture is not in the ground\'s folder</span>'


def photo_row(folder: Path, names: Iterable[str], of: str) -> str:
    """Return photos side by side; empty where there is none.

    Parameters
    ----------
    folder
        Where they are kept (`Ground.photos_folder`).
    names
        Their names there.
    of
        What they show, in words.
    """
    cells = "".join(
        f"<li>{_image(folder / name, SIDE_PX, False, f'{of}, photo {number}')}</li>"
        for number, name in enumerate(names, 1)
    )
    return f'<ul class="cw-photos">{cells}</ul>' if cells else ""


def photo_swatch(folder: Path, bar: Bar) -> str:
    """Return the middle of a bar's photo as a small field of colour; empty where it has none."""
    if not bar.photo:
        return ""
    heat = heat_in_words(bar.cone, bar.fired_c)
    return _image(folder / bar.photo, SWATCH_PX, True, f"photo of bar {bar.bar_id} {heat}".strip())


def _image(path: Path, side_px: int, square: bool, told: str) -> str:
    held = _small(path, side_px, square) if path.is_file() else ""
    if not held:
        return _NOT_SHOWN
    look = "cw-photo-swatch" if square else "cw-photo"
    return f'<img class="{look}" src="data:image/jpeg;base64,{held}" alt="{words(told)}">'


@lru_cache(maxsize=256)
def _small(path: Path, side_px: int, square: bool) -> str:
    """Return a picture of at most so many pixels a side as JPEG in base 64; empty where it cannot be read."""
    try:
        with Image.open(path) as picture:
            picture.draft("RGB", (2 * side_px, 2 * side_px))
            upright = ImageOps.exif_transpose(picture).convert("RGB")
            if square:
                upright = ImageOps.fit(upright, (side_px, side_px))
            else:
                upright.thumbnail((side_px, side_px))
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return ""
    sink = io.BytesIO()
    upright.save(sink, "JPEG", quality=78)
    return base64.b64encode(sink.getvalue()).decode()

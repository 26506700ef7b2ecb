"""One page of paper: its margins, its type, its lines, and the PDF that comes of it."""

from __future__ import annotations

import importlib.util
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal, cast

from prospect.errors import InputRefused, NothingToWorkWith
from prospect.palette import Rgb, colours
from prospect.text import plain

if TYPE_CHECKING:
    from fpdf import FPDF

TYPE_SIZES_PT = (10.5, 10.0, 9.5, 9.0, 8.5)
"""Sizes that are tried in turn until everything fits on the page; the last one is the smallest that is readable."""
SIZES_MM = {"metric": (210.0, 297.0), "us": (215.9, 279.4)}  # ISO 216 A4; ANSI A, "US Letter"
SUBSTITUTE = "□"
"""Stands for a character that no font here has."""
_SIDE_MM, _END_MM = 18.0, 15.0
_NARROWED_PCT = 92  # the face is a wide one
_MM_PER_PT = 25.4 / 72
_BOX_EM = 0.86
_FACES = {
    "serif": {"": "DejaVuSerif", "B": "DejaVuSerif-Bold", "I": "DejaVuSerif-Italic"},
    "sans": {"": "DejaVuSans"},  # for letters that the serif lacks, in every weight
}
_FALLBACK = "sans"
_BLACK: Rgb = (0, 0, 0)


def _rgb(colour: str) -> Rgb:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


@dataclass(frozen=True, slots=True)
class Look:
    """How words look: `weight` is '', 'B' or 'I', `scale` multiplies the type size, `leading` the line height."""

    weight: Literal["", "B", "I"] = ""
    scale: float = 1.0
    leading: float = 1.28
    accent: bool = False
    align: Literal["L", "R", "C"] = "L"


BODY = Look()
STRONG = Look("B")
LABEL = Look("I", 0.94)
SMALL = Look("", 0.86, 1.24)
TITLE = Look("B", 1.7, 1.2)
HEADING = Look("B", 1.08, 1.3, accent=True)


class Paper:
    """A page being set; lengths in mm from the top left corner.

    Attributes
    ----------
    lacking
        Characters that no font here has; the page shows `SUBSTITUTE` in their place.
    """

    def __init__(self, units: Literal["metric", "us"], type_pt: float, title: str, made_on: str) -> None:
        from fpdf import FPDF

        self.width, self.height = SIZES_MM[units]
        self.left, self.right = _SIDE_MM, self.width - _SIDE_MM
        self.top, self.bottom = _END_MM, self.height - _END_MM
        self.type_pt = type_pt
        self.lacking: set[str] = set()
        pdf = FPDF(unit="mm", format=(self.width, self.height))
        pdf.set_auto_page_break(False)
        pdf.c_margin = 0
        for family, files in _FACES.items():
            for weight, file in files.items():
                pdf.add_font(family, weight, _fonts_folder() / f"{file}.ttf")
        pdf.set_fallback_fonts([_FALLBACK], exact_match=False)
        pdf.set_producer("")
        pdf.set_creation_date(datetime.fromisoformat(made_on[:10]).replace(tzinfo=UTC))
        self._known = _characters(pdf)
        self._pdf: FPDF = pdf
        pdf.set_title(self._shown(title, 200))
        pdf.add_page()
        pdf.set_stretching(_NARROWED_PCT)
        pdf.set_text_shaping(True, features={"liga": False})

    @property
    def across(self) -> float:
        """Width between the margins, mm."""
        return self.right - self.left

    @property
    def em(self) -> float:
        """Side of the body type, mm; distances are multiples of it so that they shrink with the type."""
        return self.type_pt * _MM_PER_PT

    def write(self, x: float, y: float, width: float, words: str, look: Look = BODY) -> float:
        """Write words from a corner within a width, over as many lines as they need; return y below them."""
        self._dress(look)
        self._pdf.set_xy(x, y)
        self._pdf.multi_cell(
            width, self.line(look), self._shown(words), align=look.align, new_x="LEFT", new_y="NEXT"
        )
        return float(self._pdf.get_y())

    def high(self, words: str, width: float, look: Look = BODY) -> float:
        """Return how high words stand within a width, mm."""
        self._dress(look)
        lines = self._pdf.multi_cell(
            width, self.line(look), self._shown(words), align=look.align, dry_run=True, output="LINES"
        )
        return len(cast(list[str], lines)) * self.line(look)

    def wide(self, words: str, look: Look = BODY) -> float:
        """Return how wide words are on one line, mm."""
        self._dress(look)
        return float(self._pdf.get_string_width(self._shown(words)))

    def line(self, look: Look = BODY) -> float:
        """Return the height of a line, mm."""
        return self.em * look.scale * look.leading

    def blank(self, x: float, y: float, width: float, look: Look = BODY) -> float:
        """Draw a line to write on where a line of words would stand; return y below it."""
        below = y + self.line(look)
        self.stroke([(x, below - 0.18 * self.em), (x + width, below - 0.18 * self.em)], 0.2, grey=0.45)
        return below

    @property
    def box_width(self) -> float:
        """Width of a box to tick with the gap after it, mm."""
        return (_BOX_EM + 0.55) * self.em

    def box(self, x: float, y: float) -> None:
        """Draw a box to tick beside a line of words."""
        side = _BOX_EM * self.em
        self._pdf.set_draw_color(*_BLACK)
        self._pdf.set_line_width(0.25)
        self._pdf.rect(x, y + (self.line() - side) / 2, side, side)

    def stroke(
        self,
        points: Sequence[tuple[float, float]],
        thick: float,
        *,
        grey: float = 0.0,
        accent: bool = False,
        closed: bool = False,
        dash: tuple[float, float] | None = None,
    ) -> None:
        """Draw a line through points; grey runs from 0 (black) to 1 (white)."""
        level = round(255 * grey)
        self._pdf.set_draw_color(*(_iron() if accent else (level, level, level)))
        self._pdf.set_line_width(thick)
        self._pdf.set_dash_pattern(*(dash or (0, 0)))
        (self._pdf.polygon if closed else self._pdf.polyline)([(x, y) for x, y in points])
        self._pdf.set_dash_pattern()

    def fill(self, points: Sequence[tuple[float, float]], grey: float) -> None:
        """Fill the shape within points."""
        level = round(255 * grey)
        self._pdf.set_fill_color(level, level, level)
        self._pdf.polygon([(x, y) for x, y in points], style="F")

    def disc(self, x: float, y: float, radius: float, *, grey: float = 0.0, rim: float = 0.0) -> None:
        """Draw a filled circle, with a black rim of that width."""
        level = round(255 * grey)
        self._pdf.set_fill_color(level, level, level)
        self._pdf.set_draw_color(*_BLACK)
        self._pdf.set_line_width(rim)
        self._pdf.circle(x, y, radius, style="DF" if rim else "F")

    def shape(
        self,
        points: Sequence[tuple[float, float]],
        *,
        closed: bool = False,
        fill: Rgb | None = None,
        stroke: Rgb | None = None,
        thick: float = 0.2,
        dash: tuple[float, float] | None = None,
    ) -> None:
        """Draw a line through points or the shape within them, in colours."""
        self._pdf.set_line_width(thick)
        if fill is not None:
            self._pdf.set_fill_color(*fill)
        if stroke is not None:
            self._pdf.set_draw_color(*stroke)
        self._pdf.set_dash_pattern(*(dash or (0, 0)))
        style = ("D" if stroke is not None else "") + ("F" if fill is not None else "")
        (self._pdf.polygon if closed else self._pdf.polyline)([(x, y) for x, y in points], style=style or "D")
        self._pdf.set_dash_pattern()

    def word(
        self,
        x: float,
        y: float,
        words: str,
        size_pt: float,
        colour: Rgb,
        anchor: Literal["start", "middle", "end"] = "start",
        *,
        bold: bool = False,
        turn: float = 0.0,
    ) -> None:
        """Write words on one line from, about or up to a place on their base line, turned against the clock."""
        shown = self._shown(words, 200)
        self._pdf.set_font("serif", "B" if bold else "", size_pt)
        self._pdf.set_text_color(*colour)
        wide = float(self._pdf.get_string_width(shown))
        left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
        with self._pdf.rotation(turn, x, y):
            self._pdf.text(left, y, shown)

    def next_page(self) -> None:
        """Begin another page."""
        self._pdf.add_page()

    def pdf(self) -> bytes:
        """Return the page as a PDF with its fonts inside: the title, the date given, and no other word about it."""
        return bytes(self._pdf.output())

    def _dress(self, look: Look) -> None:
        self._pdf.set_font("serif", look.weight, self.type_pt * look.scale)
        self._pdf.set_text_color(*(_iron() if look.accent else _BLACK))

    def _shown(self, words: str, most: int = 4000) -> str:
        text = unicodedata.normalize("NFC", plain(words, most))
        lacking = {char for char in text if ord(char) not in self._known}
        self.lacking |= lacking
        return text.translate({ord(char): SUBSTITUTE for char in lacking})


@dataclass(frozen=True, slots=True)
class Sheet:
    """A finished page.

    Attributes
    ----------
    pdf
        The file's bytes.
    type_pt
        The size of type that made everything fit.
    notes
        Sentences to tell the person who had it made.
    """

    pdf: bytes
    type_pt: float
    notes: tuple[str, ...] = ()


def one_page(
    lay: Callable[[Paper], float],
    *,
    units: Literal["metric", "us"],
    title: str,
    made_on: str,
    shorten: str,
) -> Sheet:
    """Set a page in the largest type that makes it fit.

    Parameters
    ----------
    lay
        Sets everything on a page and returns how much of its height is left over, mm; negative = it does not fit.
    units
        Decides the paper: A4, or US Letter for `us`.
    title, made_on
        What the file says of itself; the date is ISO.
    shorten
        What to shorten when it fits in no size, in words.

    Raises
    ------
    InputRefused
        When it does not fit even in the smallest type.
    """
    for type_pt in TYPE_SIZES_PT:
        paper = Paper(units, type_pt, title, made_on)
        if lay(paper) >= 0:
            return Sheet(paper.pdf(), type_pt, about_characters(paper.lacking))
    raise InputRefused(
        f"This does not fit on one page, not even in type of {TYPE_SIZES_PT[-1]:g} pt. {shorten}"
    )


def with_notes(sheet: Sheet, *notes: str) -> Sheet:
    """Return a page with more to tell."""
    return replace(sheet, notes=(*notes, *sheet.notes))


def about_characters(lacking: set[str]) -> tuple[str, ...]:
    """Return what to say of characters that no font here has."""
    if not lacking:
        return ()
    shown = ", ".join(f"{char} (U+{ord(char):04X})" for char in sorted(lacking)[:8])
    more = f" and {len(lacking) - 8} more" if len(lacking) > 8 else ""
    return (f"No font here has {shown}{more}: the page shows {SUBSTITUTE} there. Write it in by hand.",)


def _characters(pdf: FPDF) -> frozenset[int]:
    """Return the code points that can be shown in every weight: those of all serif faces or of a fallback."""
    from fpdf.fonts import TTFFont

    faces = {key: set(font.cmap) for key, font in pdf.fonts.items() if isinstance(font, TTFFont)}
    text = [points for key, points in faces.items() if not key.startswith(_FALLBACK)]
    fallback = [points for key, points in faces.items() if key.startswith(_FALLBACK)]
    return frozenset(set.intersection(*text) | set.union(*fallback))


def _iron() -> Rgb:
    return _rgb(colours().light.iron)


def _fonts_folder() -> Path:
    """Return the folder of the free DejaVu fonts, which travel with matplotlib; without importing it."""
    found = importlib.util.find_spec("matplotlib")
    folder = Path(found.origin or "").parent / "mpl-data" / "fonts" / "ttf" if found else None
    if folder is None or not folder.is_dir():
        raise NothingToWorkWith(
            "The fonts for a PDF are not here; they come with matplotlib: pip install matplotlib."
        )
    return folder

"""A picture as a list of shapes, and how it is written for a screen; paper draws the same shapes."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

from prospect.palette import colours
from prospect.text import escape_html, plain

_FACES = "Source Sans 3, Source Sans Pro, DejaVu Sans, sans-serif"
Anchor = Literal["start", "middle", "end"]
Point = tuple[float, float]
THEMED = ("paper", "shelf", "line", "slate", "faded", "iron", "reed", "glaze")
"""Colours that follow the theme of the page; any other is `#rrggbb` and stays as it is."""


@dataclass(frozen=True, slots=True)
class Shape:
    """Lines through points.

    Attributes
    ----------
    points
        In the drawing's units.
    closed
        Whether the last point leads back to the first.
    fill, stroke
        Names of colours; empty = none.
    width
        Of the stroke.
    dash
        Lengths of dash and gap; empty = unbroken.
    hatch
        Colour of slanting lines over the fill; empty = none.
    """

    points: tuple[Point, ...]
    closed: bool = False
    fill: str = ""
    stroke: str = ""
    width: float = 1.0
    dash: tuple[float, ...] = ()
    hatch: str = ""


@dataclass(frozen=True, slots=True)
class Dot:
    """A small mark at a point: `round` or `diamond`."""

    at: Point
    radius: float
    fill: str
    stroke: str = "paper"
    shape: Literal["round", "diamond"] = "round"


@dataclass(frozen=True, slots=True)
class Words:
    """Text at a point.

    Attributes
    ----------
    at
        Where its base line begins, has its middle or ends, by `anchor`.
    text
        What it says; foreign text is cut and cleaned here.
    size
        Height of the type in the drawing's units.
    colour, anchor, bold
        How it looks.
    turn_deg
        Turned against the clock about `at`.
    halo
        Whether the paper shows around the letters, so that lines do not run through them.
    """

    at: Point
    text: str
    size: float = 12.0
    colour: str = "slate"
    anchor: Anchor = "start"
    bold: bool = False
    turn_deg: float = 0.0
    halo: bool = False


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture.

    Attributes
    ----------
    width, height
        Of the whole, in its own units; y grows downwards.
    title
        What it shows, for those who do not see it.
    items
        From back to front.
    """

    width: float
    height: float
    title: str
    items: tuple[Shape | Dot | Words, ...] = field(default=())

    def svg(self) -> str:
        """Return it as SVG, light or dark as its reader's screen is, without script and without outside parts."""
        hatches = dict.fromkeys(item.hatch for item in self.items if isinstance(item, Shape) and item.hatch)
        lines = "".join(
            f'<pattern id="{_hatch_id(name)}" width="6" height="6" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="6" stroke="{_colour(name)}" '
            'stroke-width="1.6"/></pattern>'
            for name in hatches
        )
        light, dark = (
            "".join(f"--{name}:{theme_colour(name, dark=dark)};" for name in THEMED) for dark in (False, True)
        )
        return "".join(
            [
                f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width:g} {self.height:g}" '
                f'width="{self.width:g}" height="{self.height:g}" font-family="{_FACES}">',
                f"<style>:root{{{light}}}@media (prefers-color-scheme: dark){{:root{{{dark}}}}}</style>",
                f"<defs>{lines}</defs>" if lines else "",
                f'<path d="M0 0H{self.width:g}V{self.height:g}H0Z" fill="{_colour("paper")}"/>',
                *map(_svg_of, self.items),
                "</svg>",
            ]
        )

    def picture(self) -> str:
        """Return it as HTML: an image of its own, since a page takes no drawing that stands in it."""
        held = base64.b64encode(self.svg().encode()).decode()
        return (
            f'<img class="cw-chart" src="data:image/svg+xml;base64,{held}" width="{self.width:.0f}" '
            f'height="{self.height:.0f}" alt="{escape_html(plain(self.title, 400))}">'
        )


def rectangle(left: float, top: float, right: float, bottom: float, **look: object) -> Shape:
    """Return a closed box."""
    corners = ((left, top), (right, top), (right, bottom), (left, bottom))
    return Shape(corners, closed=True, **look)  # type: ignore[arg-type]


def line(*points: Point, stroke: str = "slate", width: float = 1.0, dash: Sequence[float] = ()) -> Shape:
    """Return an open line."""
    return Shape(tuple(points), stroke=stroke, width=width, dash=tuple(dash))


def shown(text: object, most: int) -> str:
    """Return foreign text as it may stand in a picture, cut to a number of letters."""
    return plain(text, most)


def theme_colour(name: str, *, dark: bool = False) -> str:
    """Return the `#rrggbb` of a colour's name in one of the themes, for paper and for fallbacks."""
    surfaces = colours().dark if dark else colours().light
    return str(getattr(surfaces, name)) if name in THEMED else name


def _hatch_id(name: str) -> str:
    return f"cw-hatch-{name.lstrip('#')}"


def _colour(name: str) -> str:
    return f"var(--{name})" if name in THEMED else name


def _svg_of(item: Shape | Dot | Words) -> str:
    if isinstance(item, Words):
        return _words_svg(item)
    if isinstance(item, Dot):
        return _dot_svg(item)
    path = "M" + "L".join(f"{x:.4g} {y:.4g}" for x, y in item.points) + ("Z" if item.closed else "")
    look = f'fill="{_colour(item.fill) if item.fill else "none"}"'
    if item.stroke:
        look += f' stroke="{_colour(item.stroke)}" stroke-width="{item.width:g}" stroke-linejoin="round"'
    if item.dash:
        look += f' stroke-dasharray="{" ".join(f"{part:g}" for part in item.dash)}"'
    drawn = f'<path d="{path}" {look}/>'
    if item.hatch:
        drawn += f'<path d="{path}" fill="url(#{_hatch_id(item.hatch)})"/>'
    return drawn


def _dot_svg(dot: Dot) -> str:
    x, y = dot.at
    look = f'fill="{_colour(dot.fill)}" stroke="{_colour(dot.stroke)}" stroke-width="1.5"'
    if dot.shape == "round":
        return f'<circle cx="{x:.5g}" cy="{y:.5g}" r="{dot.radius:g}" {look}/>'
    r = dot.radius * 1.25
    return f'<path d="M{x:.5g} {y - r:.5g}L{x + r:.5g} {y:.5g}L{x:.5g} {y + r:.5g}L{x - r:.5g} {y:.5g}Z" {look}/>'


def _words_svg(words: Words) -> str:
    x, y = words.at
    turn = f' transform="rotate({-words.turn_deg:g} {x:.5g} {y:.5g})"' if words.turn_deg else ""
    weight = ' font-weight="600"' if words.bold else ""
    halo = (
        f' stroke="{_colour("paper")}" stroke-width="{words.size / 4:g}" stroke-linejoin="round" '
        'paint-order="stroke"'
        if words.halo
        else ""
    )
    return (
        f'<text x="{x:.5g}" y="{y:.5g}" font-size="{words.size:g}" text-anchor="{words.anchor}" '
        f'fill="{_colour(words.colour)}"{weight}{halo}{turn}>{escape_html(plain(words.text, 200))}</text>'
    )


def kept_apart(places: Iterable[float], least: float, low: float, high: float) -> list[float]:
    """Return places moved as little as needed so that none is nearer than `least` to the next, within limits.

    Parameters
    ----------
    places
        In any order; the result has the same order.
    least
        Wanted distance; where there is no room for it, what room there is is shared out.
    low, high
        Limits.
    """
    given = list(places)
    order = sorted(range(len(given)), key=given.__getitem__)
    if len(order) > 1:
        least = min(least, (high - low) / (len(order) - 1))
    moved = dict.fromkeys(order, 0.0)
    floor = low
    for at in order:
        moved[at] = max(given[at], floor)
        floor = moved[at] + least
    ceiling = high
    for at in reversed(order):
        moved[at] = min(moved[at], ceiling)
        ceiling = moved[at] - least
    return [moved[at] for at in range(len(given))]

"""Numbers to pictures: texture triangle, plasticity chart, firing curve, hole strips, the colours of Munsell."""

from prospect.charts.drawing import Dot, Drawing, Shape, Words, theme_colour
from prospect.charts.firing import firing_curve
from prospect.charts.munsell_colour import munsell_to_srgb
from prospect.charts.of_a_clay import clay_pictures
from prospect.charts.plasticity import LimitsPoint, plasticity_chart
from prospect.charts.section import MOST_HOLES, hole_section
from prospect.charts.texture import TexturePoint, texture_triangle

__all__ = [
    "MOST_HOLES",
    "Dot",
    "Drawing",
    "LimitsPoint",
    "Shape",
    "TexturePoint",
    "Words",
    "clay_pictures",
    "firing_curve",
    "hole_section",
    "munsell_to_srgb",
    "plasticity_chart",
    "texture_triangle",
    "theme_colour",
]

"""Colours against the standards for lightness and contrast."""

import csv

import numpy as np
import pytest

from prospect.definitions import layers_folder
from prospect.errors import WrongUsage
from prospect.palette import colours, ramp, rock_family, verdict_mark


def linear(channels):
    """sRGB to linear light, IEC 61966-2-1."""
    share = np.asarray(channels, dtype=float) / 255
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def luminance(channels):
    """Relative luminance, WCAG 2.2 / IEC 61966-2-1."""
    return linear(channels) @ np.array([0.2126, 0.7152, 0.0722])


def lightness(channels):
    """CIE 1976 L*, CIE 15."""
    y = luminance(channels)
    return np.where(y > (6 / 29) ** 3, 116 * np.cbrt(y) - 16, y * (29 / 3) ** 3)


def channels(text):
    return [int(text[k : k + 2], 16) for k in (1, 3, 5)]


def contrast(one, other):
    """Contrast ratio, WCAG 2.2 definition."""
    light, dark = sorted((luminance(channels(one)), luminance(channels(other))), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_ramp_darkens_steadily_from_poor_to_good():
    # A perceptually uniform sequential map has lightness that falls without a turn and in even steps
    # (Crameri, Shephard & Heron 2020).
    steps = np.diff(lightness(ramp().table)[::8])
    assert (steps < 0).all()
    assert steps.min() > 2.5 * steps.mean()


def test_the_ramp_holds_the_published_rows():
    # Scientific colour maps, lajolla: first and last row as distributed (dark to pale).
    rows = np.loadtxt(layers_folder() / "palettes" / "lajolla.txt")
    assert rows.shape == (256, 3)
    assert rows[0] == pytest.approx([0.098791, 0.099669, 0.000088])
    assert rows[-1] == pytest.approx([1.0, 0.997796, 0.794247])
    assert (layers_folder() / "palettes" / "lajolla.licence.txt").read_text().count("MIT License") == 1


def test_ramp_ends_and_gaps():
    table = ramp().table
    assert ramp().rgb(-3) == tuple(table[0])
    assert ramp().rgb(7) == tuple(table[-1])
    assert ramp().indices(np.array([np.nan, 0.5])).tolist() == [0, 128]
    with pytest.raises(WrongUsage, match="lajolla"):
        ramp("rainbow")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_text_can_be_read_on_its_ground(theme):
    # WCAG 2.2, success criterion 1.4.3: 4.5 for text, 1.4.11: 3 for shapes.
    surfaces = getattr(colours(), theme)
    for ground in (surfaces.paper, surfaces.shelf):
        assert contrast(surfaces.slate, ground) >= 7
        assert contrast(surfaces.faded, ground) >= 4.5
        assert contrast(surfaces.iron, ground) >= 4.5
        assert contrast(surfaces.reed, ground) >= 3
        assert contrast(surfaces.glaze, ground) >= 4.5
        assert contrast(surfaces.kiln, ground) >= 3
    assert contrast("#FFFFFF", surfaces.kiln) >= 4.5


def test_every_verdict_has_a_shape_of_its_own():
    marks = [verdict_mark(word) for word in ("go", "ask first", "stay out", "unknown")]
    assert len({mark.shape for mark in marks}) == 4
    assert verdict_mark("nonsense").word == "unknown"


def test_a_rock_takes_the_nearest_family():
    assert rock_family(("basalt", "basic_igneous_rock", "igneous_rock")).key == "dark_igneous"
    assert rock_family(("monzogranite", "granite", "granitoid")).key == "granite"
    assert rock_family(()).key == "unread"
    assert rock_family(("never heard of",)).key == "unread"


def test_every_term_belongs_to_one_family_and_every_family_has_a_pattern_of_its_own():
    families = colours().families
    terms = [term for family in families for term in family.terms]
    assert len(terms) == len(set(terms))
    assert len({family.pattern for family in families}) == len(families)
    assert len({family.colour for family in families}) == len(families)


def test_every_open_lithology_term_is_given_a_family():
    path = layers_folder() / "vocabularies" / "lithology.csv"
    if not path.exists():
        pytest.skip("the lithology vocabulary is not in this checkout")
    with path.open(newline="", encoding="utf-8") as handle:
        rows = list(csv.DictReader(line for line in handle if not line.startswith("#")))
    broader = {row["term"]: [part for part in row["broader"].split(";") if part] for row in rows}
    known = {term for family in colours().families for term in family.terms}

    def reaches(term):
        return term in known or any(reaches(parent) for parent in broader.get(term, []))

    assert [term for term in broader if not reaches(term)] == []

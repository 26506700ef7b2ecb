"""What a clay's measurements mean, against published definitions, tables and an independent colour library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from prospect.clay.cones import cone_name, cone_temperature_c, cones, fahrenheit, nearest_cone
from prospect.clay.feel import clay_from_ribbon, lime_from_fizz
from prospect.clay.firing import absorption, boiled_bar, linear_shrinkage, total_shrinkage
from prospect.clay.munsell import expected_fired, fired_group, read_munsell
from prospect.clay.settling import jar_shares, settling_time_s, settling_velocity_m_s
from prospect.clay.spread import spread_of

HOUR = 3600.0


@pytest.mark.parametrize(("water_c", "hours"), [(10, 10.09), (15, 8.78), (20, 7.73), (25, 6.86), (30, 6.14)])
def test_two_micrometres_through_ten_centimetres(water_c, hours):
    """Stokes' law worked out by hand with textbook constants (density of quartz 2650, water from memory)."""
    assert settling_time_s(2.0, 10.0, water_c) / HOUR == pytest.approx(hours, abs=0.02)


@pytest.mark.parametrize(
    ("phi", "depth_cm", "seconds"),
    [(5, 10, 116), (6, 10, 464), (7, 10, 31 * 60), (8, 10, 2 * HOUR + 180), (9, 5, 4 * HOUR + 360)],
)
def test_withdrawal_times_of_the_pipette_method(phi, depth_cm, seconds):
    """Times at 20 °C as printed in USGS Open-File Report 00-358, after Folk; they hold within 3 %."""
    assert settling_time_s(1000.0 * 2.0**-phi, depth_cm, 20.0) == pytest.approx(seconds, rel=0.03)


@given(st.floats(0.5, 60.0), st.floats(10.0, 30.0), st.floats(1.0, 50.0))
def test_grains_sink_faster_larger_and_warmer(diameter_um, water_c, depth_cm):
    """Stokes' law: with the square of the diameter, and with warmer, thinner water."""
    speed = settling_velocity_m_s(diameter_um, water_c)
    assert settling_velocity_m_s(2 * diameter_um, water_c) == pytest.approx(4 * speed)
    assert settling_velocity_m_s(diameter_um, min(water_c + 1.0, 30.0)) >= speed
    assert settling_time_s(diameter_um, depth_cm, water_c) * speed == pytest.approx(depth_cm / 100.0)


@pytest.mark.parametrize("bad", [(0.0, 20.0), (-1.0, 20.0), (2.0, 5.0), (2.0, 31.0), (float("nan"), 20.0)])
def test_what_stokes_cannot_say_is_refused(bad):
    with pytest.raises(ValueError, match="must be"):
        settling_velocity_m_s(*bad)


def test_a_jar_keeps_its_doubt():
    """Heights to shares; settled clay is packed loosely, hence ten points of doubt (own judgement)."""
    shares = jar_shares(20.0, 50.0, 100.0)
    assert (shares.sand_pct, shares.silt_pct, shares.clay_pct, shares.error_pct) == (20.0, 30.0, 50.0, 10.0)
    with pytest.raises(ValueError, match="rise"):
        jar_shares(60.0, 50.0, 100.0)


@pytest.mark.parametrize(
    ("cone", "celsius"),
    [("06", 999), ("04", 1060), ("02", 1120), ("1", 1154), ("4", 1186), ("5", 1196), ("6", 1222), ("8", 1263),
     ("9", 1280), ("10", 1305)],
)  # fmt: skip
def test_cones_go_down_where_their_table_says(cone, celsius):
    """Orton's published temperatures for large cones at 150 °C an hour."""
    assert cone_temperature_c(cone) == celsius
    assert nearest_cone(celsius + 3.0) == cone


def test_the_table_of_cones_rises_and_names_each_once():
    table = cones()
    assert len(table.names) == len(set(table.names)) == len(table.celsius)
    assert list(table.celsius) == sorted(table.celsius)
    assert [cone_name(text) for text in ("cone 06", "^6", "C10", "6", "99", "kiln")] == [
        "06",
        "6",
        "10",
        "6",
        None,
        None,
    ]
    assert fahrenheit(cone_temperature_c("6")) == pytest.approx(2231.6)
    assert nearest_cone(600.0) is None


@pytest.mark.parametrize(
    ("ribbon_cm", "clay"), [(0, (0, 10)), (1.5, (10, 27)), (3, (27, 40)), (6, (40, 100))]
)
def test_a_ribbon_means_a_range_of_clay(ribbon_cm, clay):
    """Limits of 2.5 and 5 cm: Thien (1979), A flow diagram for teaching texture-by-feel analysis."""
    assert clay_from_ribbon(ribbon_cm) == clay


@pytest.mark.parametrize(
    ("fizz", "lime"),
    [
        ("none", (0, 1)),
        ("very slight", (1, 5)),
        ("slight", (5, 10)),
        ("strong", (10, 15)),
        ("violent", (15, 100)),
    ],
)
def test_a_fizz_means_a_range_of_lime(fizz, lime):
    """Australian soil method 19D1 (Rayment & Higginson 1992); the last class from memory."""
    assert lime_from_fizz(fizz) == lime
    assert lime_from_fizz("") is None


def test_vinegar_rules_out_less_than_acid():
    """Common practice, no source: acetic acid reacts slower, so its silence is the weaker evidence."""
    assert lime_from_fizz("none", "vinegar")[1] > lime_from_fizz("none", "acid")[1]


@given(st.floats(1, 1000), st.floats(0.01, 0.99), st.floats(0.0, 0.6))
def test_porosity_is_absorption_times_density(dry_g, of_dry, taken_up):
    """ASTM C373: apparent porosity equals water absorption times bulk density, for any three weights."""
    suspended, saturated = dry_g * of_dry, dry_g * (1 + taken_up)
    bar = boiled_bar(dry_g, suspended, saturated)
    assert bar.apparent_porosity_pct == pytest.approx(bar.absorption_pct * bar.bulk_density_g_cm3, rel=1e-9)
    assert bar.absorption_pct == absorption(dry_g, saturated)


@given(st.floats(50, 200), st.floats(0.8, 1.0), st.floats(0.8, 1.0))
def test_shrinkages_one_after_the_other_multiply(plastic_mm, drying, firing):
    """By the definitions of linear shrinkage (ASTM C326): plastic to dry, dry to fired, plastic to fired."""
    dry_mm, fired_mm = plastic_mm * drying, plastic_mm * drying * firing
    one, other = linear_shrinkage(plastic_mm, dry_mm), linear_shrinkage(dry_mm, fired_mm)
    assert total_shrinkage(one, other) == pytest.approx(linear_shrinkage(plastic_mm, fired_mm), abs=1e-9)


@pytest.mark.parametrize(
    ("text", "notation"),
    [("10YR 5/4", "10YR 5/4"), ("10yr5/4", "10YR 5/4"), ("2.5 y 6/3", "2.5Y 6/3"), ("N 4/", "N 4/"), ("N4", "N 4/"),
     ("5pb 3 / 2", "5PB 3/2"), ("7.5R 4.5/6", "7.5R 4.5/6")],
)  # fmt: skip
def test_munsell_notation_is_read_as_people_write_it(text, notation):
    """Notation after ASTM D1535."""
    assert read_munsell(text).notation == notation


@pytest.mark.parametrize("text", ["", "grey", "11YR 5/4", "10XX 5/4", "10YR 12/4", "10YR", "5/4"])
def test_what_is_no_munsell_notation_is_not_taken_for_one(text):
    assert read_munsell(text) is None


def test_raw_colours_let_expect_what_the_trade_expects():
    """Own judgement after trade practice: grey may fire red, dark and weak burns out, pale has little iron."""
    assert expected_fired("10YR 8/1")[0] == ("white", "buff")
    assert "red" in expected_fired("5GY 5/1")[0]
    assert expected_fired("10YR 2/1")[0] == ()
    assert expected_fired("2.5YR 4/6")[0] == ("red",)
    fired = {
        "N 9/": "white", "10YR 8/2": "white", "2.5YR 5/8": "red", "10YR 7/4": "buff", "5YR 3/2": "dark",
        "brick red": "red", "cream": "buff",
    }  # fmt: skip
    assert {chip: fired_group(chip) for chip in fired} == fired


def test_an_outlier_is_questioned_and_still_counts():
    """The rule of Iglewicz & Hoaglin (1993), beside their definition worked out with numpy."""
    values = [6.1, 6.3, 5.9, 6.2, 6.0, 9.8]
    found = spread_of(values)
    middle = np.median(values)
    score = 0.6745 * np.abs(np.array(values) - middle) / np.median(np.abs(np.array(values) - middle))
    assert found.questioned == tuple(np.flatnonzero(score > 3.5)) == (5,)
    assert found.mean == pytest.approx(np.mean(values))
    assert found.deviation == pytest.approx(np.std(values, ddof=1))
    assert spread_of([6.0, 6.0, 6.0, 6.0, 6.0, 9.0]).questioned == (5,)
    assert spread_of([6.0, 9.0]).questioned == ()
    assert spread_of([6.0, 6.0, 6.0, 6.4], least_step=0.7).questioned == ()


@given(st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=30))
def test_the_mean_lies_among_the_readings(values):
    found = spread_of(values)
    assert found.low - 1e-9 <= found.mean <= found.high + 1e-9
    assert found.n == len(values)

"""The roll-up of a mix over the parent-rock table; the rules are own judgement, the arithmetic is checked by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from prospect.rock import RockMix, mix_of, parent_rocks, roll_up


def of(**shares: float) -> RockMix:
    return mix_of(shares)


def test_fitness_is_the_weighted_mean() -> None:
    # .7 × .85 + .3 × .75 = .82 and .7 × .8 + .3 × .9 = .83, by hand
    fitness = roll_up(of(granite=0.7, shale=0.3))
    assert fitness.residual_fitness == pytest.approx(0.82)
    assert fitness.downstream_share == pytest.approx(0.83)
    assert fitness.known_share == pytest.approx(1.0)


def test_provenance_example_by_hand() -> None:
    # 6 parts granite (.8), 3 parts shale (.9), 1 part limestone (.1): (4.8 + 2.7 + .1) / 10 = .76, lime .10
    fitness = roll_up(of(granite=0.6, shale=0.3, limestone=0.1))
    assert fitness.downstream_share == pytest.approx(0.76)
    assert fitness.carbonate == pytest.approx(0.10)


def test_umbrella_terms_are_unknown_and_the_rest_is_renormalised() -> None:
    fitness = roll_up(of(granite=0.4, rock=0.6))
    assert fitness.residual_fitness == pytest.approx(0.85)
    assert fitness.known_share == pytest.approx(0.4)
    assert math.isnan(roll_up(of(sedimentary_rock=1.0)).residual_fitness)


def test_nothing_read_is_unknown_not_zero() -> None:
    fitness = roll_up(RockMix())
    assert math.isnan(fitness.residual_fitness)
    assert math.isnan(fitness.carbonate)
    assert fitness.known_share == 0.0


def test_a_term_without_a_row_takes_the_nearest_broader_one() -> None:
    assert parent_rocks().of("quartz_syenite").read_from == ("syenitoid",)
    assert parent_rocks().of("komatiitic_rock").asbestos


def test_several_nearest_parents_are_averaged() -> None:
    # carbonate_wackestone lies under carbonate_sedimentary_rock only; impure_dolostone under two broader terms
    rocks = parent_rocks()
    found = rocks.of("impure_dolostone")
    rows = [rocks.rows[term] for term in found.read_from]
    assert len(rows) >= 1
    assert found.residual_fitness == pytest.approx(sum(row.residual_fitness for row in rows) / len(rows))


def test_flags() -> None:
    assert roll_up(of(serpentinite=0.2, schist=0.8)).asbestos
    assert not roll_up(of(schist=1.0)).asbestos
    assert roll_up(of(anthropogenic_unconsolidated_material=1.0)).anthropogenic
    assert not roll_up(of(anthropogenic_unconsolidated_material=0.2, clay=0.8)).anthropogenic
    assert roll_up(of(rock_salt=1.0)).gates == ("gypsum or salt",)
    assert "arsenic" in roll_up(of(greisen=1.0)).hazards[0]


def test_colour_is_that_of_the_main_parts() -> None:
    assert roll_up(of(granite=1.0)).fired_colour == "L–B"
    assert roll_up(of(basalt=0.9, granite=0.1)).fired_colour == "R–D"
    assert roll_up(of(clay=1.0)).fired_colour == ""


def test_composition_by_words_fills_only_what_the_term_leaves_open() -> None:
    tuff = of(ash_tuff_lapillistone_and_lapilli_tuff=1.0)
    assert math.isnan(roll_up(tuff).felsic)
    assert roll_up(tuff, felsic_by_words=1.0).felsic == pytest.approx(1.0)
    assert roll_up(of(basalt=1.0), felsic_by_words=1.0).felsic == pytest.approx(0.15)


@given(
    st.dictionaries(
        st.sampled_from(["granite", "shale", "limestone", "basalt", "rock", "clay"]),
        st.floats(0.01, 1.0),
        min_size=1,
    )
)
def test_a_mean_lies_within_its_parts(shares: dict[str, float]) -> None:
    fitness = roll_up(mix_of(shares))
    parts = [
        row.residual_fitness for row in map(parent_rocks().of, shares) if row.residual_fitness is not None
    ]
    if parts:
        assert min(parts) - 1e-9 <= fitness.residual_fitness <= max(parts) + 1e-9
    else:
        assert math.isnan(fitness.residual_fitness)

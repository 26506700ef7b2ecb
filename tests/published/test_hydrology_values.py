"""Water figures against published formulas and worked grids."""

from __future__ import annotations

import numpy as np
import pytest

from prospect.hydrology import (
    direction_codes,
    fill_depressions,
    flow_accumulation,
    flow_direction,
    height_above_nearest_drainage,
    regional_curve,
    sediment_transport_index,
    specific_stream_power,
    stream_power_index,
    topographic_wetness_index,
    upstream_share,
)

GROUND = np.array(
    [[9, 8, 7, 6, 5], [8, 7, 6, 5, 4], [9, 8, 5, 4, 3], [9, 7, 6, 3, 2], [9, 8, 7, 2, 1]], dtype=np.float32
)


def test_routing_of_a_small_grid():
    # Steepest of eight neighbours (O'Callaghan & Mark 1984), ties to the first from east round by south;
    # directions, cell counts and heights worked out by hand (computed check).
    network = flow_direction(fill_depressions(GROUND), 1.0)
    assert direction_codes(network).tolist() == [
        [2, 2, 2, 2, 4],
        [1, 2, 2, 2, 4],
        [2, 1, 2, 2, 4],
        [1, 128, 1, 2, 4],
        [128, 128, 1, 1, 0],
    ]
    cells = flow_accumulation(network)
    assert cells.tolist() == [
        [1, 1, 1, 1, 1],
        [1, 3, 2, 2, 3],
        [1, 1, 9, 3, 6],
        [1, 4, 2, 12, 10],
        [1, 1, 1, 2, 25],
    ]
    # Height above nearest drainage (Rennó et al. 2008) with channels from five cells on (computed check).
    assert height_above_nearest_drainage(GROUND, network, cells >= 5).tolist() == [
        [4, 6, 4, 3, 2],
        [3, 2, 4, 2, 1],
        [4, 3, 0, 2, 0],
        [4, 2, 3, 0, 0],
        [4, 5, 6, 1, 0],
    ]


@pytest.mark.parametrize(
    ("area", "gradient", "wetness", "power", "transport"),
    # ln(a / tan b), Beven & Kirkby (1979); a tan b and the transport index, Moore & Burch (1986), exponents
    # from memory (computed checks).
    [
        (1000.0, 0.1, 9.2103, 100.0, 5.2626),
        (100.0, 0.02, 8.5172, 2.0, 0.2602),
        (5000.0, 0.01, 13.1224, 50.0, 0.5053),
        (10.0, 0.5, 2.9957, 5.0, 5.8841),
    ],
)
def test_indices_of_area_and_slope(area, gradient, wetness, power, transport):
    assert topographic_wetness_index(area, gradient) == pytest.approx(wetness, abs=1e-4)
    assert stream_power_index(area, gradient) == pytest.approx(power, abs=1e-4)
    assert sediment_transport_index(area, gradient) == pytest.approx(transport, abs=1e-4)


@pytest.mark.parametrize(
    ("discharge", "slope", "width", "power"), [(50, 0.001, 30, 16.35), (20, 0.01, 12, 163.5)]
)
def test_specific_stream_power(discharge, slope, width, power):
    # omega = rho g Q S / w with rho 1000 kg/m³, g 9.81 m/s²; the quantity of Nanson & Croke (1992)
    # (computed check).
    assert specific_stream_power(discharge, slope, width) == pytest.approx(power, rel=1e-6)


def test_regional_curve_is_a_power_of_area():
    # Leopold & Maddock's form of downstream hydraulic geometry, numbers of our own.
    assert regional_curve(np.array([1.0, 100.0]), 2.0, 0.5).tolist() == [2.0, 20.0]


def test_share_of_the_catchment():
    # 6 km² granite (.8), 3 km² shale (.9), 1 km² limestone (.1): (4.8 + 2.7 + .1) / 10 = .76, limestone .10
    # (computed check). Ten cells in a row, all above the last one.
    elevation = np.arange(10, 0, -1, dtype=np.float32)[None, :]
    network = flow_direction(elevation, 1000.0)
    fitness = np.array([[0.8] * 6 + [0.9] * 3 + [0.1]])
    limestone = np.array([[0.0] * 9 + [1.0]])
    # float32 results carry seven digits
    assert upstream_share(network, fitness)[0, 9] == pytest.approx(0.76, abs=1e-7)
    assert upstream_share(network, limestone)[0, 9] == pytest.approx(0.10, abs=1e-8)

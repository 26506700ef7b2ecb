"""A whole county's worth of spots: the answers of the fast way are those of one spot at a time."""

from __future__ import annotations

import importlib.util
import time
from collections import Counter
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from prospect.land import Spot, check_spot, check_spots, uncertain_band


@pytest.fixture(scope="module")
def bench() -> ModuleType:
    path = Path(__file__).parents[1] / "benchmarks" / "bench_land.py"
    spec = importlib.util.spec_from_file_location("bench_land", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.slow
def test_ten_thousand_spots_against_fifty_thousand_parcels(bench, figures):
    layers, ledger, extent = bench.invented_land()
    at = bench.strewn_spots(10_000, extent)
    check_spots(at[:10, 0], at[:10, 1], layers, ledger=ledger, on=bench.TODAY)
    clock, processor = time.perf_counter(), time.process_time()
    many = check_spots(at[:, 0], at[:, 1], layers, ledger=ledger, on=bench.TODAY)
    verdicts = many.verdicts()
    clock, processor = time.perf_counter() - clock, time.process_time() - processor
    counts = Counter(verdicts)
    figures["10,000 spots against 51,000 parcels, 5,000 other shapes, 2,000 ledger entries"] = (
        f"{clock:.2f} s by the clock, {processor:.2f} s of processor time; "
        + ", ".join(f"{count} {word}" for word, count in counts.most_common())
    )
    assert set(counts) >= {"ask first", "stay out", "unknown"}
    some = np.random.default_rng(4).choice(len(at), 60, replace=False)
    rare = [number for number, word in enumerate(verdicts) if word == "unknown"][:10]
    for number in (*some, *rare):
        one = check_spot(Spot(*at[number]), layers, ledger=ledger, on=bench.TODAY)
        both = many[number]
        assert (one.verdict, one.reasons, one.setbacks) == (both.verdict, both.reasons, both.setbacks)
        assert [hit.parcel_id for hit in one.parcels] == [hit.parcel_id for hit in both.parcels]
        assert [hit.chance_inside for hit in one.parcels] == pytest.approx(
            [hit.chance_inside for hit in both.parcels], abs=1e-12
        )


@pytest.mark.slow
def test_the_uncertain_band_of_fifty_thousand_parcels(bench, figures):
    layers, _, _ = bench.invented_land(shapes=10, entries=0, looked=0)
    clock, processor = time.perf_counter(), time.process_time()
    band = uncertain_band(layers.parcels, 5.0, 3.0)
    clock, processor = time.perf_counter() - clock, time.process_time() - processor
    figures["uncertain band of 51,000 parcels"] = (
        f"{clock:.1f} s by the clock, {processor:.1f} s of processor time"
    )
    assert len(band) == len(layers.parcels)
    assert bool(band.geometry.is_valid.all())
    assert bool((band.area > 0).all())

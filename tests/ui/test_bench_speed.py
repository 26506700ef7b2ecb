"""The bench with many years on record: how long each page takes, printed and not asserted."""

from __future__ import annotations

import time

import pytest
from entering import open_room, press

from prospect.records import Bar, BenchTest, LogBook, Sample


@pytest.mark.slow
def test_pages_beside_a_full_log(ground, figures):
    samples = tuple(Sample(f"S{n}", -128.991, -47.5285, f"H{n % 300}", top_cm=1.0) for n in range(2000))
    bars = tuple(
        Bar(
            f"S{n}a",
            f"S{n}",
            plastic_mm=100.0,
            dry_mm=93.0,
            fired_mm=89.0,
            fired_g=58.0,
            saturated_g=63.0,
            cone="04",
        )
        for n in range(2000)
    )
    tests = tuple(
        BenchTest(f"t{n}", f"S{n}", "limits", values={"liquid_limit_pct": 45.0, "plastic_limit_pct": 22.0})
        for n in range(1000, 2000)
    )
    ground.add_log(LogBook(samples=samples, bars=bars, tests=tests))
    took = {}
    for name, action in (
        ("samples", lambda: open_room("samples")),
        ("page of one sample", lambda: press(open_room("samples"), "Open sample 1 of the list")),
        ("bench", lambda: open_room("bench")),
        ("batches", lambda: open_room("batches")),
        ("holes", lambda: open_room("holes")),
    ):
        action()
        started = time.perf_counter()
        app = action()
        took[name] = time.perf_counter() - started
        assert not app.exception
    figures["bench, 2,000 samples, 2,000 bars, 1,000 tests"] = ", ".join(
        f"{name} {seconds:.2f} s" for name, seconds in took.items()
    )
